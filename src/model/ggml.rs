//! Conversion of a Whisper model from CTranslate2's file to the ggml file that whisper.cpp loads.
//!
//! The file (whisper.cpp, `models/convert-pt-to-ggml.py` and the loader in `src/whisper.cpp`),
//! little-endian: u32 magic; eleven i32 of the model's shape; the mel filter bank; the base words; then
//! tensors to the end of the file, each i32 rank, i32 name length, i32 type, sizes fastest first, name,
//! data. One-dimensional tensors, convolution biases and positional embeddings are 32-bit, convolutions
//! 16-bit floats, matrices 16-bit floats or blocks of 8-bit numbers ([`Matrices`]).
//!
//! Two passes over the source: [`Shape::scan`] learns and checks the shape, [`write`](fn@write) converts in a
//! stream. Memory is bounded by a small buffer and the list of names.

use crate::model::ct2::{Ct2Reader, Dtype, FormatError, Variable};
use crate::model::mel;
use half::f16;
use std::collections::HashMap;
use std::io::{Read, Write};

/// First four bytes of a ggml file, as a little-endian number.
pub const MAGIC: u32 = 0x6767_6d6c;

/// Bytes at the start that [`check_head`] wants.
pub const HEAD_BYTES: usize = 48;

/// File type "mostly 16-bit floats".
const FTYPE_F16: u32 = 1;
/// File type "mostly q8_0" in version 2 of ggml's block formats, which is written in the thousands.
const FTYPE_Q8_0: u32 = 2_007;
/// Numbers that share a scale in a block of q8_0.
const Q8_BLOCK: usize = 32;
/// Numbers converted at a time.
const CHUNK: usize = 16 * 1024;

/// Bounds of a believable Whisper model; the largest published has 32 layers and 1280 channels.
const MAX_LAYERS: u32 = 64;
const MAX_STATE: u32 = 4_096;
const MAX_CONTEXT: u32 = 8_192;
const MAX_ROWS: u32 = 200_000;
/// Channels a head in every published Whisper model.
const HEAD_CHANNELS: u32 = 64;

/// How the weight matrices are stored.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Matrices {
    /// 16-bit floats.
    F16,
    /// ggml's q8_0: blocks of 32 numbers of 8 bits with one 16-bit scale. Half the size, and faster.
    Q8_0,
}

/// How one tensor is stored, with ggml's number for it.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Storage {
    F32 = 0,
    F16 = 1,
    Q8_0 = 8,
}

/// The shape of a Whisper model.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Shape {
    /// Rows of the token embedding.
    pub rows: u32,
    /// Encoder positions.
    pub audio_context: u32,
    /// Encoder channels.
    pub audio_state: u32,
    /// Encoder layers.
    pub audio_layers: u32,
    /// Decoder positions.
    pub text_context: u32,
    /// Decoder channels.
    pub text_state: u32,
    /// Decoder layers.
    pub text_layers: u32,
}

/// One tensor of the ggml file, cut out of a source variable.
#[derive(Clone, Debug, PartialEq, Eq)]
struct Target {
    name: String,
    /// Sizes, slowest first.
    dims: Vec<u32>,
    wide: bool,
}

impl Target {
    fn storage(&self, matrices: Matrices) -> Storage {
        if self.wide {
            Storage::F32
        } else if matrices == Matrices::Q8_0 && self.dims.len() == 2 {
            // Rows are whole blocks: every width is a multiple of a head's 64 channels.
            Storage::Q8_0
        } else {
            Storage::F16
        }
    }
}

/// A source variable that is wanted, and what becomes of it, in the order of its data.
#[derive(Clone, Debug, PartialEq, Eq)]
struct Wanted {
    dims: Vec<u32>,
    parts: Vec<Part>,
}

#[derive(Clone, Debug, PartialEq, Eq)]
enum Part {
    Keep(Target),
    /// This many numbers are left out.
    Drop(u64),
}

impl Shape {
    /// Reads through a source once: its shape, with every variable present and sized as it should be.
    ///
    /// # Errors
    /// When the source is damaged, or not a Whisper model that the ggml file can hold.
    pub fn scan(source: impl Read) -> Result<Self, FormatError> {
        let mut reader = Ct2Reader::open(source)?;
        if reader.specification() != "WhisperSpec" {
            return Err(FormatError::Unsupported(format!(
                "a model of kind {:?}, not of kind WhisperSpec",
                reader.specification()
            )));
        }
        let mut found: HashMap<String, Variable> = HashMap::new();
        while let Some(variable) = reader.next_variable()? {
            if variable.dims.is_empty() {
                continue; // Settings such as the activation; the shape follows from the weights.
            }
            if !matches!(variable.dtype, Dtype::F16 | Dtype::F32) {
                return Err(FormatError::Unsupported(format!(
                    "{} is stored as {:?}; 16-bit or 32-bit floats are needed",
                    variable.name, variable.dtype
                )));
            }
            if let Some(twice) = found.insert(variable.name.clone(), variable) {
                return Err(FormatError::Damaged(format!("{} comes twice", twice.name)));
            }
        }
        reader.finish()?;
        let shape = Self::of(&found)?;
        let wanted = shape.wanted();
        for (name, want) in &wanted {
            let dims = &found.get(name).ok_or_else(|| missing(name))?.dims;
            if *dims != want.dims {
                return Err(FormatError::Damaged(format!(
                    "{name} has sizes {dims:?}, and {:?} are due",
                    want.dims
                )));
            }
        }
        match found.keys().find(|name| !wanted.contains_key(*name)) {
            Some(name) => Err(FormatError::Unsupported(format!(
                "{name} has no place in a Whisper model"
            ))),
            None => Ok(shape),
        }
    }

    fn of(found: &HashMap<String, Variable>) -> Result<Self, FormatError> {
        let sizes = |name: &str, rank: usize| {
            let dims = &found.get(name).ok_or_else(|| missing(name))?.dims;
            if dims.len() == rank {
                Ok(dims.clone())
            } else {
                Err(FormatError::Damaged(format!(
                    "{name} has rank {}, and {rank} is due",
                    dims.len()
                )))
            }
        };
        let layers = |side: &str| {
            let prefix = format!("{side}/layer_");
            found
                .keys()
                .filter_map(|name| name.strip_prefix(&prefix)?.split('/').next())
                .filter_map(|number| number.parse::<u32>().ok())
                .max()
                .map_or(0, |last| last.saturating_add(1))
        };
        let embedding = sizes("decoder/embeddings/weight", 2)?;
        let audio = sizes("encoder/position_encodings/encodings", 2)?;
        let text = sizes("decoder/position_encodings/encodings", 2)?;
        let shape = Self {
            rows: embedding[0],
            audio_context: audio[0],
            audio_state: audio[1],
            audio_layers: layers("encoder"),
            text_context: text[0],
            text_state: embedding[1],
            text_layers: layers("decoder"),
        };
        let believable = [
            (shape.rows, MAX_ROWS),
            (shape.audio_context, MAX_CONTEXT),
            (shape.audio_state, MAX_STATE),
            (shape.audio_layers, MAX_LAYERS),
            (shape.text_context, MAX_CONTEXT),
            (shape.text_state, MAX_STATE),
            (shape.text_layers, MAX_LAYERS),
        ]
        .iter()
        .all(|&(value, most)| (1..=most).contains(&value))
            && shape.audio_state.is_multiple_of(HEAD_CHANNELS)
            && shape.text_state.is_multiple_of(HEAD_CHANNELS);
        if believable {
            Ok(shape)
        } else {
            Err(FormatError::Unsupported(format!(
                "a shape that no Whisper model has: {shape:?}"
            )))
        }
    }

    /// All source variables with weights, and what becomes of each.
    fn wanted(&self) -> HashMap<String, Wanted> {
        let mut all = HashMap::new();
        let (audio, text) = (self.audio_state, self.text_state);
        let bands = mel::BANDS as u32;
        for (number, channels) in [(1, bands), (2, audio)] {
            let (from, to) = (
                format!("encoder/conv{number}"),
                format!("encoder.conv{number}"),
            );
            one(&mut all, &from, "weight", &to, &[audio, channels, 3]);
            // A convolution's bias is two-dimensional in the ggml file.
            let bias = Target {
                name: format!("{to}.bias"),
                dims: vec![audio, 1],
                wide: true,
            };
            all.insert(
                format!("{from}/bias"),
                Wanted {
                    dims: vec![audio],
                    parts: vec![Part::Keep(bias)],
                },
            );
        }
        for (side, context, state) in [
            ("encoder", self.audio_context, audio),
            ("decoder", self.text_context, text),
        ] {
            let target = Target {
                name: format!("{side}.positional_embedding"),
                dims: vec![context, state],
                wide: true,
            };
            all.insert(
                format!("{side}/position_encodings/encodings"),
                Wanted {
                    dims: vec![context, state],
                    parts: vec![Part::Keep(target)],
                },
            );
        }
        one(
            &mut all,
            "decoder/embeddings",
            "weight",
            "decoder.token_embedding",
            &[self.rows, text],
        );
        norm(&mut all, "encoder/layer_norm", "encoder.ln_post", audio);
        norm(&mut all, "decoder/layer_norm", "decoder.ln", text);
        for layer in 0..self.audio_layers {
            block(&mut all, "encoder", layer, audio);
        }
        for layer in 0..self.text_layers {
            block(&mut all, "decoder", layer, text);
            let from = format!("decoder/layer_{layer}/attention");
            let to = format!("decoder.blocks.{layer}");
            norm(
                &mut all,
                &format!("{from}/layer_norm"),
                &format!("{to}.cross_attn_ln"),
                text,
            );
            linear(
                &mut all,
                &format!("{from}/linear_0"),
                &format!("{to}.cross_attn.query"),
                text,
                text,
            );
            stacked(
                &mut all,
                &format!("{from}/linear_1"),
                &format!("{to}.cross_attn"),
                &["key", "value"],
                text,
            );
            linear(
                &mut all,
                &format!("{from}/linear_2"),
                &format!("{to}.cross_attn.out"),
                text,
                text,
            );
        }
        all
    }
}

fn missing(name: &str) -> FormatError {
    FormatError::Unsupported(format!("{name} is missing"))
}

type Map = HashMap<String, Wanted>;

/// One tensor out of one variable; 32-bit where it has one dimension.
fn one(all: &mut Map, from: &str, leaf: &str, to: &str, dims: &[u32]) {
    let target = Target {
        name: format!("{to}.{leaf}"),
        dims: dims.to_vec(),
        wide: dims.len() == 1,
    };
    all.insert(
        format!("{from}/{leaf}"),
        Wanted {
            dims: dims.to_vec(),
            parts: vec![Part::Keep(target)],
        },
    );
}

fn linear(all: &mut Map, from: &str, to: &str, outputs: u32, inputs: u32) {
    one(all, from, "weight", to, &[outputs, inputs]);
    one(all, from, "bias", to, &[outputs]);
}

fn norm(all: &mut Map, from: &str, to: &str, state: u32) {
    for (leaf, ggml) in [("gamma", "weight"), ("beta", "bias")] {
        let target = Target {
            name: format!("{to}.{ggml}"),
            dims: vec![state],
            wide: true,
        };
        all.insert(
            format!("{from}/{leaf}"),
            Wanted {
                dims: vec![state],
                parts: vec![Part::Keep(target)],
            },
        );
    }
}

/// Projections stacked by rows. Whisper's key projection has no bias; the stack holds zeros for it.
fn stacked(all: &mut Map, from: &str, to: &str, names: &[&str], state: u32) {
    let rows = state * names.len() as u32;
    let weights = names.iter().map(|name| {
        Part::Keep(Target {
            name: format!("{to}.{name}.weight"),
            dims: vec![state, state],
            wide: false,
        })
    });
    let biases = names.iter().map(|&name| match name {
        "key" => Part::Drop(u64::from(state)),
        _ => Part::Keep(Target {
            name: format!("{to}.{name}.bias"),
            dims: vec![state],
            wide: true,
        }),
    });
    all.insert(
        format!("{from}/weight"),
        Wanted {
            dims: vec![rows, state],
            parts: weights.collect(),
        },
    );
    all.insert(
        format!("{from}/bias"),
        Wanted {
            dims: vec![rows],
            parts: biases.collect(),
        },
    );
}

/// Self-attention and feed-forward of one layer.
fn block(all: &mut Map, side: &str, layer: u32, state: u32) {
    let from = format!("{side}/layer_{layer}");
    let to = format!("{side}.blocks.{layer}");
    let attention = format!("{from}/self_attention");
    norm(
        all,
        &format!("{attention}/layer_norm"),
        &format!("{to}.attn_ln"),
        state,
    );
    stacked(
        all,
        &format!("{attention}/linear_0"),
        &format!("{to}.attn"),
        &["query", "key", "value"],
        state,
    );
    linear(
        all,
        &format!("{attention}/linear_1"),
        &format!("{to}.attn.out"),
        state,
        state,
    );
    let forward = format!("{from}/ffn");
    norm(
        all,
        &format!("{forward}/layer_norm"),
        &format!("{to}.mlp_ln"),
        state,
    );
    let (wide, narrow) = (4 * state, state);
    linear(
        all,
        &format!("{forward}/linear_0"),
        &format!("{to}.mlp.0"),
        wide,
        narrow,
    );
    linear(
        all,
        &format!("{forward}/linear_1"),
        &format!("{to}.mlp.2"),
        narrow,
        wide,
    );
}

/// Writes the ggml file of a source whose shape was scanned. `advance` is told the number of source
/// bytes done so far.
///
/// # Errors
/// When the source is not the one that was scanned, or reading or writing fails.
pub fn write(
    shape: &Shape,
    words: &[Vec<u8>],
    matrices: Matrices,
    source: impl Read,
    to: &mut impl Write,
    advance: &mut dyn FnMut(u64),
) -> Result<(), FormatError> {
    head(shape, words, matrices, to)?;
    let wanted = shape.wanted();
    let mut reader = Ct2Reader::open(source)?;
    let mut done = 0;
    while let Some(variable) = reader.next_variable()? {
        if let Some(want) = wanted.get(&variable.name) {
            if variable.dims != want.dims {
                return Err(FormatError::Damaged(format!(
                    "{} changed between two readings",
                    variable.name
                )));
            }
            for part in &want.parts {
                match part {
                    Part::Keep(target) => {
                        let storage = target.storage(matrices);
                        tensor(target, storage, &mut reader, variable.dtype, to)?;
                    }
                    Part::Drop(numbers) => {
                        numbers_through(*numbers, &mut reader, variable.dtype, |_| Ok(()))?;
                    }
                }
            }
        }
        done += variable.bytes;
        advance(done);
    }
    reader.finish()?;
    to.flush().map_err(FormatError::Write)
}

/// Checks the first [`HEAD_BYTES`] bytes of a ggml Whisper file: magic and a believable shape.
///
/// # Errors
/// What is wrong, in a few words.
pub fn check_head(head: &[u8]) -> Result<(), String> {
    let numbers: Vec<u32> = head
        .as_chunks::<4>()
        .0
        .iter()
        .map(|&bytes| u32::from_le_bytes(bytes))
        .collect();
    match numbers[..] {
        [] => Err("it is empty".to_owned()),
        [magic, ..] if magic != MAGIC => {
            Err("it does not start with the mark of a ggml file".to_owned())
        }
        [
            _,
            rows,
            audio_context,
            audio_state,
            _,
            audio_layers,
            text_context,
            text_state,
            _,
            text_layers,
            bands,
            _,
        ] => {
            let believable = (50_000..=MAX_ROWS).contains(&rows)
                && (1..=MAX_CONTEXT).contains(&audio_context)
                && (1..=MAX_STATE).contains(&audio_state)
                && (1..=MAX_LAYERS).contains(&audio_layers)
                && (1..=MAX_CONTEXT).contains(&text_context)
                && (1..=MAX_STATE).contains(&text_state)
                && (1..=MAX_LAYERS).contains(&text_layers);
            if !believable {
                Err("its shape is not that of a Whisper model".to_owned())
            } else if bands as usize != mel::BANDS {
                Err(format!(
                    "it takes {bands} mel bands, and {} are made here",
                    mel::BANDS
                ))
            } else {
                Ok(())
            }
        }
        _ => Err("it ends within its head".to_owned()),
    }
}

fn head(
    shape: &Shape,
    words: &[Vec<u8>],
    matrices: Matrices,
    to: &mut impl Write,
) -> Result<(), FormatError> {
    let mut bytes = Vec::new();
    for number in [
        MAGIC,
        shape.rows,
        shape.audio_context,
        shape.audio_state,
        shape.audio_state / HEAD_CHANNELS,
        shape.audio_layers,
        shape.text_context,
        shape.text_state,
        shape.text_state / HEAD_CHANNELS,
        shape.text_layers,
        mel::BANDS as u32,
        match matrices {
            Matrices::F16 => FTYPE_F16,
            Matrices::Q8_0 => FTYPE_Q8_0,
        },
        mel::BANDS as u32,
        mel::BINS as u32,
    ] {
        bytes.extend(number.to_le_bytes());
    }
    for weight in mel::bank() {
        bytes.extend(weight.to_le_bytes());
    }
    bytes.extend((words.len() as u32).to_le_bytes());
    for word in words {
        bytes.extend((word.len() as u32).to_le_bytes());
        bytes.extend(word);
    }
    to.write_all(&bytes).map_err(FormatError::Write)
}

fn tensor<R: Read>(
    target: &Target,
    storage: Storage,
    reader: &mut Ct2Reader<R>,
    dtype: Dtype,
    to: &mut impl Write,
) -> Result<(), FormatError> {
    let mut bytes = Vec::new();
    for number in [
        target.dims.len() as u32,
        target.name.len() as u32,
        storage as u32,
    ] {
        bytes.extend(number.to_le_bytes());
    }
    for dim in target.dims.iter().rev() {
        bytes.extend(dim.to_le_bytes());
    }
    bytes.extend(target.name.as_bytes());
    to.write_all(&bytes).map_err(FormatError::Write)?;
    let numbers = target.dims.iter().map(|&dim| u64::from(dim)).product();
    numbers_through(numbers, reader, dtype, |chunk| {
        bytes.clear();
        match storage {
            Storage::F32 => bytes.extend(chunk.iter().flat_map(|v| v.to_le_bytes())),
            Storage::F16 => {
                bytes.extend(chunk.iter().flat_map(|v| f16::from_f32(*v).to_le_bytes()));
            }
            // A chunk holds whole blocks.
            Storage::Q8_0 => chunk
                .chunks(Q8_BLOCK)
                .for_each(|block| q8_0(block, &mut bytes)),
        }
        to.write_all(&bytes).map_err(FormatError::Write)
    })
}

/// One block as ggml's reference quantiser writes it (`quantize_row_q8_0_ref` in `ggml-quants.c`): the
/// scale is the greatest magnitude over 127, numbers are rounded to the nearest.
fn q8_0(block: &[f32], to: &mut Vec<u8>) {
    let greatest = block.iter().fold(0.0_f32, |top, v| top.max(v.abs()));
    let scale = greatest / 127.0;
    let inverse = if scale == 0.0 { 0.0 } else { 1.0 / scale };
    to.extend(f16::from_f32(scale).to_le_bytes());
    // Within -127 to 127 by the choice of the scale.
    to.extend(block.iter().map(|v| (v * inverse).round() as i8 as u8));
}

/// Reads so many numbers of the current variable, a chunk at a time.
fn numbers_through<R: Read>(
    numbers: u64,
    reader: &mut Ct2Reader<R>,
    dtype: Dtype,
    mut each: impl FnMut(&[f32]) -> Result<(), FormatError>,
) -> Result<(), FormatError> {
    let size = dtype.size() as usize;
    let mut left = numbers;
    let mut raw = vec![0; CHUNK * size];
    let mut values = Vec::with_capacity(CHUNK);
    while left > 0 {
        let count = left.min(CHUNK as u64) as usize;
        let raw = &mut raw[..count * size];
        reader.read_data(raw)?;
        values.clear();
        match dtype {
            Dtype::F16 => values.extend(
                raw.as_chunks::<2>()
                    .0
                    .iter()
                    .map(|&b| f16::from_le_bytes(b).to_f32()),
            ),
            Dtype::F32 => {
                values.extend(
                    raw.as_chunks::<4>()
                        .0
                        .iter()
                        .map(|&b| f32::from_le_bytes(b)),
                );
            }
            other => {
                return Err(FormatError::Unsupported(format!(
                    "numbers stored as {other:?}"
                )));
            }
        }
        each(&values)?;
        left -= count as u64;
    }
    Ok(())
}
