use super::*;
use hound::{SampleFormat, WavSpec, WavWriter};
use std::f64::consts::TAU;
use std::io::Cursor;

fn tone(hz: f64, rate: u32, seconds: f64) -> Vec<f32> {
    let count = (f64::from(rate) * seconds) as usize;
    (0..count)
        .map(|i| (0.5 * (TAU * hz * i as f64 / f64::from(rate)).sin()) as f32)
        .collect()
}

/// Root of the mean square, edges left out.
fn level(samples: &[f32]) -> f64 {
    let inner = &samples[samples.len() / 4..samples.len() * 3 / 4];
    let sum: f64 = inner.iter().map(|&s| f64::from(s).powi(2)).sum();
    (sum / inner.len() as f64).sqrt()
}

fn wav(spec: WavSpec, write: impl FnOnce(&mut WavWriter<Cursor<&mut Vec<u8>>>)) -> Vec<u8> {
    let mut bytes = Vec::new();
    let mut writer = WavWriter::new(Cursor::new(&mut bytes), spec).unwrap();
    write(&mut writer);
    writer.finalize().unwrap();
    bytes
}

fn spec(rate: u32, channels: u16, bits: u16, sample_format: SampleFormat) -> WavSpec {
    WavSpec {
        channels,
        sample_rate: rate,
        bits_per_sample: bits,
        sample_format,
    }
}

#[test]
fn every_sample_format_reads_as_the_same_tone() {
    for (bits, step) in [(8, 1.0 / 128.0), (16, 1e-4), (24, 1e-6), (32, 1e-6)] {
        for channels in [1, 2, 6] {
            let rate = 16_000;
            let made = tone(440.0, rate, 0.25);
            let scale = f64::from(2.0_f32).powi(i32::from(bits) - 1);
            let bytes = wav(spec(rate, channels, bits, SampleFormat::Int), |writer| {
                for &s in &made {
                    for _ in 0..channels {
                        writer
                            .write_sample((f64::from(s) * scale).round() as i32)
                            .unwrap();
                    }
                }
            });
            let read = read_wav_bytes(&bytes).unwrap();
            assert_eq!(read.len(), made.len());
            for (a, b) in read.iter().zip(&made) {
                assert!((a - b).abs() <= step, "{bits} bits: {a} {b}");
            }
        }
    }
    let made = tone(440.0, 16_000, 0.25);
    let bytes = wav(spec(16_000, 1, 32, SampleFormat::Float), |writer| {
        for &s in &made {
            writer.write_sample(s).unwrap();
        }
    });
    assert_eq!(*read_wav_bytes(&bytes).unwrap(), made);
}

#[test]
fn any_rate_keeps_speech_and_loses_what_would_alias() {
    for rate in [8_000, 11_025, 22_050, 44_100, 48_000, 96_000] {
        let bytes = wav_bytes_at(&tone(1_000.0, rate, 1.0), rate);
        let read = read_wav_bytes(&bytes).unwrap();
        assert_eq!(read.len(), RATE as usize, "{rate}");
        let gain = level(&read) / level(&tone(1_000.0, RATE, 1.0));
        assert!((gain - 1.0).abs() < 0.01, "{rate} Hz: gain {gain}");
    }
    for rate in [44_100, 48_000, 96_000] {
        // 10 kHz would fold to 6 kHz; 60 dB is common practice for speech, no source.
        let folded = resample(tone(10_000.0, rate, 1.0), rate, RATE).unwrap();
        assert!(level(&folded) < 0.35 * 1e-3, "{rate}: {}", level(&folded));
        // Sibilants reach 7 kHz.
        let kept = resample(tone(7_000.0, rate, 1.0), rate, RATE).unwrap();
        assert!(level(&kept) > 0.3, "{rate}: {}", level(&kept));
    }
}

#[test]
fn a_resampled_click_stays_where_it_was() {
    for rate in [8_000_u32, 22_050, 44_100, 48_000] {
        let mut click = vec![0.0; rate as usize];
        click[rate as usize / 2] = 1.0;
        let out = resample(click, rate, RATE).unwrap();
        let peak = (0..out.len())
            .max_by(|&a, &b| out[a].total_cmp(&out[b]))
            .unwrap();
        assert!(peak.abs_diff(RATE as usize / 2) <= 2, "{rate}: at {peak}");
    }
}

#[test]
fn a_rate_that_is_refused_is_told_with_those_that_are_not() {
    for rate in [*RATES.start(), *RATES.end()] {
        assert!(resample(vec![0.0; 1_000], rate, RATE).is_ok(), "{rate}");
    }
    for rate in [RATES.start() - 1, RATES.end() + 1] {
        let error = resample(vec![0.0; 1_000], rate, RATE).unwrap_err();
        let told = error.to_string();
        assert!(told.ends_with("use one from 4000 to 384000 Hz"), "{told}");
    }
}

#[test]
fn a_stream_in_pieces_equals_the_whole() {
    let made = tone(700.0, 44_100, 0.5);
    let whole = resample(made.clone(), 44_100, RATE).unwrap();
    let mut resampler = Resampler::new(44_100, RATE).unwrap();
    for _ in 0..2 {
        let mut out = Vec::new();
        for piece in made.chunks(441) {
            resampler.push(piece, &mut out);
        }
        resampler.finish(&mut out);
        assert_eq!(out, whole);
    }
}

#[test]
fn what_is_written_reads_back_bit_for_bit() {
    let made: Vec<f32> = (-32_768..=32_767).map(|i| i as f32 / 32_768.0).collect();
    let bytes = wav_bytes(&made);
    assert_eq!(bytes.len(), 44 + 2 * made.len());
    let read = read_wav_bytes(&bytes).unwrap();
    assert_eq!(*read, made);
    assert_eq!(wav_bytes(&read), bytes);
    let clipped = read_wav_bytes(&wav_bytes(&[2.0, -2.0, f32::NAN])).unwrap();
    assert_eq!(*clipped, [32_767.0 / 32_768.0, -1.0, 0.0]);
}

#[test]
fn faults_are_told_apart() {
    let good = wav_bytes(&tone(440.0, RATE, 0.1));
    let check = |bytes: &[u8], word: &str| {
        let error = read_sound_bytes(bytes).unwrap_err().to_string();
        assert!(error.contains(word), "{error:?} lacks {word:?}");
    };
    check(&[], "empty");
    check(b"MZ not sound", "not a WAV or FLAC");
    check(b"RIFF\0\0\0\0AVI LIST", "not a WAV or FLAC");
    check(&good[..10], "cut short");
    check(&good[..30], "cut short");
    check(&good[..good.len() - 2], "cut short");
    check(&wav_bytes(&[]), "no sound");
    let mut zero_rate = good.clone();
    zero_rate[24..32].fill(0);
    check(&zero_rate, "sample rate of 0 Hz");
    let mut no_channels = good.clone();
    no_channels[22..24].fill(0);
    check(&no_channels, "damaged");
    let mut compressed = good.clone();
    compressed[20] = 0x55; // MP3 in a WAV
    check(&compressed, "convert it");
    let not_a_number = wav(spec(RATE, 1, 32, SampleFormat::Float), |writer| {
        writer.write_sample(f32::NAN).unwrap();
    });
    check(&not_a_number, "not a number");
    // Found by the fuzz target: the resampler made infinity of it.
    let huge = wav(spec(48_000, 1, 32, SampleFormat::Float), |writer| {
        writer.write_sample(-2e38_f32).unwrap();
    });
    check(&huge, "far beyond full scale");
    let long = vec![0.0; (MAX_SECONDS as usize + 1) * 4_000];
    check(&wav_bytes_at(&long, 4_000), "longer than");
    check(b"fLaC", "cut short");
}

#[test]
fn a_wav_from_a_pipe_and_one_with_other_chunks_are_read() {
    let made = tone(440.0, RATE, 0.1);
    let good = wav_bytes(&made);
    let mut piped = good.clone();
    piped[40..44].copy_from_slice(&0x7FFF_F000_u32.to_le_bytes());
    piped.push(7); // half a sample
    assert_eq!(
        *read_wav_bytes(&piped).unwrap(),
        *read_wav_bytes(&good).unwrap()
    );
    // An odd-length chunk is padded; some readers forget that.
    let mut noted = good[..36].to_vec();
    noted.extend(b"note\x03\0\0\0abc\0");
    noted.extend(&good[36..]);
    assert_eq!(
        *read_wav_bytes(&noted).unwrap(),
        *read_wav_bytes(&good).unwrap()
    );
}

#[test]
fn a_file_error_names_the_file() {
    let error = read(std::path::Path::new("no/such.wav")).unwrap_err();
    assert!(error.to_string().starts_with("no/such.wav: "), "{error}");
}

proptest::proptest! {
    #[test]
    fn no_bytes_make_the_reader_panic(bytes: Vec<u8>) {
        let _ = read_sound_bytes(&bytes);
    }

    #[test]
    fn no_damage_makes_the_reader_panic(
        at in 0_usize..64, to: u8, cut in 0_usize..300, flac: bool
    ) {
        let mut bytes = if flac {
            include_bytes!("tests/tone.flac").to_vec()
        } else {
            wav_bytes(&tone(440.0, RATE, 0.01))
        };
        let last = bytes.len() - 1;
        bytes[at.min(last)] = to;
        bytes.truncate(bytes.len() - cut.min(last));
        let _ = read_sound_bytes(&bytes);
    }
}

#[test]
fn flac_reads_as_the_wav_it_was_made_from() {
    // tone.flac: 0.05 s of 440 Hz at half scale, 16 kHz, two equal channels, made by libFLAC through
    // ffmpeg from `wav_bytes` of the same tone.
    let read = read_sound_bytes(include_bytes!("tests/tone.flac")).unwrap();
    let made = read_wav_bytes(&wav_bytes(&tone(440.0, RATE, 0.05))).unwrap();
    assert_eq!(*read, *made);
}
