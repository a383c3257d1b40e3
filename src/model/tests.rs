use super::corrections::Corrections;
use super::ct2::{Ct2Reader, FormatError};
use super::ggml::{Matrices, Shape};
use super::*;
use std::io::Cursor;

/// Writes the format of CTranslate2's `model.bin` version 6, as its own writer does.
#[derive(Default)]
struct Ct2 {
    body: Vec<u8>,
    count: u32,
}

impl Ct2 {
    fn string(to: &mut Vec<u8>, text: &str) {
        to.extend((text.len() as u16 + 1).to_le_bytes());
        to.extend(text.as_bytes());
        to.push(0);
    }

    /// A variable of 16-bit floats, its n-th number being n / 1024 from `from` on.
    fn add(&mut self, name: &str, dims: &[u32], from: u32) {
        let count: u32 = dims.iter().product();
        let data: Vec<u8> = (0..count)
            .flat_map(|i| half::f16::from_f32((from + i) as f32 / 1024.0).to_le_bytes())
            .collect();
        self.raw(name, dims, 4, &data);
    }

    fn raw(&mut self, name: &str, dims: &[u32], dtype: u8, data: &[u8]) {
        Self::string(&mut self.body, name);
        self.body.push(dims.len() as u8);
        for dim in dims {
            self.body.extend(dim.to_le_bytes());
        }
        self.body.push(dtype);
        self.body.extend((data.len() as u32).to_le_bytes());
        self.body.extend(data);
        self.count += 1;
    }

    fn bytes(&self) -> Vec<u8> {
        let mut bytes = 6_u32.to_le_bytes().to_vec();
        Self::string(&mut bytes, "WhisperSpec");
        bytes.extend(3_u32.to_le_bytes());
        bytes.extend(self.count.to_le_bytes());
        bytes.extend(&self.body);
        bytes.extend(1_u32.to_le_bytes());
        Self::string(&mut bytes, "decoder/projection/weight");
        Self::string(&mut bytes, "decoder/embeddings/weight");
        bytes
    }
}

/// A Whisper model of one layer a side and 64 channels, without the variables named in `without`.
fn small(without: &[&str]) -> Ct2 {
    let mut model = Ct2::default();
    let state = 64;
    let mut add = |name: &str, dims: &[u32]| {
        if !without.contains(&name) {
            model.add(name, dims, 0);
        }
    };
    add("decoder/embeddings/weight", &[70, state]);
    add("decoder/position_encodings/encodings", &[8, state]);
    add("encoder/position_encodings/encodings", &[12, state]);
    for (conv, channels) in [("encoder/conv1", 80), ("encoder/conv2", state)] {
        add(&format!("{conv}/weight"), &[state, channels, 3]);
        add(&format!("{conv}/bias"), &[state]);
    }
    let norms = [
        "encoder/layer_norm",
        "decoder/layer_norm",
        "encoder/layer_0/self_attention/layer_norm",
        "encoder/layer_0/ffn/layer_norm",
        "decoder/layer_0/self_attention/layer_norm",
        "decoder/layer_0/attention/layer_norm",
        "decoder/layer_0/ffn/layer_norm",
    ];
    for norm in norms {
        add(&format!("{norm}/gamma"), &[state]);
        add(&format!("{norm}/beta"), &[state]);
    }
    for (linear, rows, columns) in [
        ("encoder/layer_0/self_attention/linear_0", 3 * state, state),
        ("encoder/layer_0/self_attention/linear_1", state, state),
        ("encoder/layer_0/ffn/linear_0", 4 * state, state),
        ("encoder/layer_0/ffn/linear_1", state, 4 * state),
        ("decoder/layer_0/self_attention/linear_0", 3 * state, state),
        ("decoder/layer_0/self_attention/linear_1", state, state),
        ("decoder/layer_0/attention/linear_0", state, state),
        ("decoder/layer_0/attention/linear_1", 2 * state, state),
        ("decoder/layer_0/attention/linear_2", state, state),
        ("decoder/layer_0/ffn/linear_0", 4 * state, state),
        ("decoder/layer_0/ffn/linear_1", state, 4 * state),
    ] {
        add(&format!("{linear}/weight"), &[rows, columns]);
        add(&format!("{linear}/bias"), &[rows]);
    }
    model.raw("decoder/num_heads", &[], 2, &[1, 0]);
    model
}

/// Name, sizes fastest first, whether 32-bit, and the numbers of each tensor of a ggml file, read as
/// whisper.cpp's loader reads it.
type Tensor = (String, Vec<u32>, bool, Vec<f32>);

fn tensors(mut file: &[u8], words: usize) -> Vec<Tensor> {
    fn u32(file: &mut &[u8]) -> u32 {
        let (number, rest) = file.split_first_chunk().unwrap();
        *file = rest;
        u32::from_le_bytes(*number)
    }
    let file = &mut file;
    for _ in 0..14 {
        u32(file);
    }
    *file = &file[80 * 201 * 4..];
    assert_eq!(u32(file) as usize, words);
    for _ in 0..words {
        let length = u32(file) as usize;
        *file = &file[length..];
    }
    let mut all = Vec::new();
    while !file.is_empty() {
        let (rank, length, kind) = (u32(file), u32(file) as usize, u32(file));
        let dims: Vec<u32> = (0..rank).map(|_| u32(file)).collect();
        let name = String::from_utf8(file[..length].to_vec()).unwrap();
        *file = &file[length..];
        let size = if kind == 0 { 4 } else { 2 };
        let bytes = dims.iter().product::<u32>() as usize * size;
        let numbers = file[..bytes]
            .chunks(size)
            .map(|b| match *b {
                [a, b] => half::f16::from_le_bytes([a, b]).to_f32(),
                [a, b, c, d] => f32::from_le_bytes([a, b, c, d]),
                _ => unreachable!("numbers of two or four bytes"),
            })
            .collect();
        *file = &file[bytes..];
        all.push((name, dims, kind == 0, numbers));
    }
    all
}

fn written(
    source: &[u8],
    words: &[Vec<u8>],
    matrices: Matrices,
    corrections: &Corrections,
) -> Result<Vec<u8>, FormatError> {
    let shape = Shape::scan(source)?;
    let mut out = Vec::new();
    ggml::write(
        &shape,
        words,
        matrices,
        corrections,
        source,
        &mut out,
        &mut |_| {},
    )?;
    Ok(out)
}

fn convert(source: &[u8], words: &[Vec<u8>]) -> Vec<u8> {
    written(source, words, Matrices::F16, &Corrections::default()).unwrap()
}

#[test]
fn blocks_of_eight_bits_are_those_of_the_reference_quantiser() {
    // ggml-quants.c, `quantize_row_q8_0_ref`: d = max |x| / 127 as a 16-bit float, q = round(x / d).
    let source = small(&[]).bytes();
    let blocks = written(&source, &[], Matrices::Q8_0, &Corrections::default()).unwrap();
    assert_eq!(
        u32::from_le_bytes(blocks[44..48].try_into().unwrap()),
        2_007
    );
    let halves = convert(&source, &[]);
    let (name, wide) = (b"decoder.token_embedding.weight", 64 * 2 + 4);
    let data = |file: &[u8]| {
        let at = file.windows(name.len()).position(|w| w == name).unwrap() + name.len();
        file[at..].to_vec()
    };
    let exact: Vec<f32> = data(&halves)[..wide]
        .as_chunks::<2>()
        .0
        .iter()
        .map(|b| half::f16::from_le_bytes(*b).to_f32())
        .collect();
    let block = data(&blocks)[..34].to_vec();
    let scale = half::f16::from_le_bytes([block[0], block[1]]).to_f32();
    let greatest = exact[..32].iter().fold(0.0_f32, |top, v| top.max(v.abs()));
    assert!((scale * 127.0 - greatest).abs() <= greatest * 1e-3);
    for (q, value) in block[2..].iter().zip(&exact) {
        let back = f32::from(*q as i8) * scale;
        assert!(
            (back - value).abs() <= scale * 0.56,
            "{value} came back as {back}"
        );
    }
}

#[test]
fn a_small_model_becomes_what_the_loader_expects() {
    let words = [b"a".to_vec(), Vec::new(), b" hook".to_vec()];
    let file = convert(&small(&[]).bytes(), &words);
    let number = |at: usize| u32::from_le_bytes(file[4 * at..][..4].try_into().unwrap());
    // Magic, then the shape in the loader's order (whisper.cpp, `whisper_model_load`).
    let head: Vec<u32> = (0..14).map(number).collect();
    assert_eq!(
        head,
        [0x6767_6d6c, 70, 12, 64, 1, 1, 8, 64, 1, 1, 80, 1, 80, 201]
    );
    let all = tensors(&file, words.len());
    // The loader wants 11 + 15 a layer of the encoder + 24 a layer of the decoder.
    assert_eq!(all.len(), 11 + 15 + 24);
    let get = |name: &str| all.iter().find(|t| t.0 == name).expect(name);
    let (_, dims, wide, _) = get("encoder.conv1.bias");
    assert_eq!((&dims[..], *wide), (&[1, 64][..], true));
    let (_, dims, wide, _) = get("encoder.conv2.weight");
    assert_eq!((&dims[..], *wide), (&[3, 64, 64][..], false));
    assert!(get("decoder.positional_embedding").2);
    assert!(get("encoder.ln_post.weight").2);
    assert!(!get("decoder.token_embedding.weight").2);
    assert!(!all.iter().any(|t| t.0.ends_with("key.bias")));
    // Query, key, value are stacked by rows.
    for (at, name) in ["query", "key", "value"].into_iter().enumerate() {
        let (_, dims, _, numbers) = get(&format!("decoder.blocks.0.attn.{name}.weight"));
        assert_eq!(dims[..], [64, 64]);
        assert_eq!(numbers[0], (at * 64 * 64) as f32 / 1024.0);
    }
    let bias = &get("encoder.blocks.0.attn.value.bias").3;
    assert_eq!((bias.len(), bias[0]), (64, 128.0 / 1024.0));
    let cross = &get("decoder.blocks.0.cross_attn.value.bias").3;
    assert_eq!(cross[0], 64.0 / 1024.0);
}

#[test]
fn of_the_encoder_positions_the_first_can_be_kept_alone() {
    let source = small(&[]).bytes();
    let whole = convert(&source, &[]);
    let shape = Shape::scan(&source[..]).unwrap().keeping(5).unwrap();
    let mut short = Vec::new();
    let none = Corrections::default();
    ggml::write(
        &shape,
        &[],
        Matrices::F16,
        &none,
        &source[..],
        &mut short,
        &mut |_| {},
    )
    .unwrap();
    assert_eq!(short[8..12], 5_u32.to_le_bytes());
    let name = "encoder.positional_embedding";
    for (cut, all) in tensors(&short, 0).into_iter().zip(tensors(&whole, 0)) {
        if cut.0 == name {
            assert_eq!((&cut.1[..], &all.1[..]), (&[64, 5][..], &[64, 12][..]));
            assert_eq!(cut.3, all.3[..5 * 64]);
        } else {
            assert_eq!(cut, all);
        }
    }
    for positions in [0, 13] {
        let refused = Shape::scan(&source[..]).unwrap().keeping(positions);
        assert!(refused.is_err(), "{positions}");
    }
}

#[test]
fn the_mel_bank_is_that_of_the_models() {
    let bank = mel::bank();
    assert_eq!(bank.len(), 80 * 201);
    // Values of librosa 0.11 `filters.mel(sr=16000, n_fft=400, n_mels=80)`, the bank with which the
    // models were trained.
    for (band, bin, due) in MEL_VALUES {
        let made = bank[band * 201 + bin];
        assert!(
            (made - due).abs() < 1e-7,
            "band {band} bin {bin}: {made}, due {due}"
        );
    }
    // Each triangle has unit area over 40 Hz bins, up to its sampling.
    let top: f32 = bank[79 * 201..].iter().sum::<f32>() * 40.0;
    assert!((top - 1.0).abs() < 0.01, "{top}");
}

const MEL_VALUES: [(usize, usize, f32); 10] = [
    (0, 1, 0.024862595),
    (0, 2, 0.0),
    (10, 11, 0.004_954_375),
    (26, 26, 0.003_318_606),
    (40, 43, 0.014735566),
    (55, 77, 0.007_283_343),
    (60, 93, 0.006_591_093),
    (79, 190, 0.002_232_055),
    (79, 195, 0.002_243_795),
    (79, 200, 0.0),
];

#[test]
fn faults_of_the_source_are_told_apart() {
    let fault = |bytes: &[u8]| Shape::scan(bytes).unwrap_err();
    let good = small(&[]).bytes();
    assert!(matches!(fault(&[]), FormatError::Short { .. }));
    assert!(matches!(
        fault(&good[..good.len() - 1]),
        FormatError::Short { .. }
    ));
    assert!(matches!(
        fault(&good[..good.len() / 2]),
        FormatError::Short { .. }
    ));
    let mut version = good.clone();
    version[0] = 7;
    let error = fault(&version).to_string();
    assert!(error.contains("version 7"), "{error}");
    let mut longer = good.clone();
    longer.push(0);
    assert!(fault(&longer).to_string().contains("after the end"));
    let error = fault(&small(&["encoder/conv1/bias"]).bytes()).to_string();
    assert!(error.contains("encoder/conv1/bias is missing"), "{error}");
    let mut wrong = small(&["encoder/conv1/bias"]);
    wrong.add("encoder/conv1/bias", &[65], 0);
    let error = fault(&wrong.bytes()).to_string();
    assert!(error.contains("[65]"), "{error}");
    let mut twice = small(&[]);
    twice.add("encoder/conv1/bias", &[64], 0);
    assert!(fault(&twice.bytes()).to_string().contains("twice"));
    let mut strange = small(&[]);
    strange.add("encoder/extra", &[1], 0);
    assert!(fault(&strange.bytes()).to_string().contains("no place"));
    let mut integers = small(&["encoder/conv1/bias"]);
    integers.raw("encoder/conv1/bias", &[64], 1, &[0; 64]);
    assert!(fault(&integers.bytes()).to_string().contains("I8"));
    let mut lying = Ct2::default();
    lying.raw("a", &[u32::MAX, u32::MAX, u32::MAX], 4, &[0; 2]);
    assert!(matches!(fault(&lying.bytes()), FormatError::Damaged(_)));
    let mut other = good;
    let at = other.windows(7).position(|w| w == b"Whisper").unwrap();
    other[at] = b'w';
    assert!(fault(&other).to_string().contains("not of kind"));
}

proptest::proptest! {
    #![proptest_config(proptest::prelude::ProptestConfig::with_cases(64))]

    #[test]
    fn no_bytes_make_the_reader_panic(bytes: Vec<u8>) {
        let _ = Shape::scan(&bytes[..]);
    }

    #[test]
    fn no_damage_makes_the_reader_panic(at in 0_usize..6_000, to: u8) {
        static GOOD: std::sync::LazyLock<Vec<u8>> =
            std::sync::LazyLock::new(|| small(&[]).bytes());
        let mut bytes = GOOD.clone();
        // Dense in the heads: most of the file is data, which any bytes may be.
        bytes[at] = to;
        let _ = written(&bytes, &[], Matrices::Q8_0, &Corrections::default());
    }
}

#[test]
fn more_than_a_variable_holds_is_refused() {
    let bytes = small(&[]).bytes();
    let mut reader = Ct2Reader::open(Cursor::new(bytes)).unwrap();
    let first = reader.next_variable().unwrap().unwrap();
    let mut buffer = vec![0; first.bytes as usize + 1];
    assert!(reader.read_data(&mut buffer).is_err());
}

#[test]
fn a_ggml_head_is_checked() {
    let dir = tempfile::tempdir().unwrap();
    let path = dir.path().join("by-hand.bin");
    let check = |bytes: &[u8], word: &str| {
        std::fs::write(&path, bytes).unwrap();
        let error = check_ggml(&path).unwrap_err();
        assert_eq!(error.exit_code(), 2);
        assert!(error.to_string().contains(word), "{error}");
    };
    check(b"", "empty");
    check(b"GGUF and more", "mark of a ggml file");
    check(b"lmgg\x40\xca\0\0", "ends within its head");
    check(&convert(&small(&[]).bytes(), &[]), "shape");
    assert!(matches!(
        check_ggml(&dir.path().join("none")),
        Err(ModelError::Unreadable { .. })
    ));
}

#[test]
fn a_missing_model_says_how_to_get_it() {
    let dir = tempfile::tempdir().unwrap();
    let error = find(None, Purpose::Speech, Some(dir.path())).unwrap_err();
    assert_eq!(error.exit_code(), 3);
    assert!(
        error.to_string().contains("run `loadwalk model fetch`"),
        "{error}"
    );
    std::fs::write(dir.path().join("ggml-tiny.en-pad-q8_0.bin"), "short").unwrap();
    let error = find(None, Purpose::Speech, Some(dir.path())).unwrap_err();
    assert!(matches!(error, ModelError::Damaged { .. }), "{error}");
    let listed = list(Some(dir.path()));
    let tiny = listed.iter().find(|l| l.model.name == "tiny.en").unwrap();
    assert!(matches!(tiny.found, Some((_, State::Damaged))));
    // A voice activity model is no speech model.
    for other in ["silero-vad", "tiny.en-published"] {
        let error = find(Some(other), Purpose::Speech, Some(dir.path())).unwrap_err();
        assert!(matches!(error, ModelError::Unknown { .. }), "{error}");
    }
}

mod corrections;
#[cfg(unix)]
mod fetching;
