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

use crate::model::corrections::Corrections;
use crate::model::ct2::{Ct2Reader, Dtype, FormatError};
use crate::model::mel;
pub use crate::model::shape::Shape;
use crate::model::shape::{
    HEAD_CHANNELS, MAX_CONTEXT, MAX_LAYERS, MAX_ROWS, MAX_STATE, Part, Target,
};
use half::f16;
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

impl Target {
    fn numbers(&self) -> usize {
        self.dims.iter().product::<u32>() as usize
    }

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

/// Writes the ggml file of a source whose shape was scanned, with corrections added. `advance` is told the
/// number of source bytes done so far.
///
/// # Errors
/// When the source is not the one that was scanned, the corrections are not for it, or reading or writing
/// fails.
pub fn write(
    shape: &Shape,
    words: &[Vec<u8>],
    matrices: Matrices,
    corrections: &Corrections,
    source: impl Read,
    to: &mut impl Write,
    advance: &mut dyn FnMut(u64),
) -> Result<(), FormatError> {
    head(shape, words, matrices, to)?;
    let wanted = shape.wanted();
    if let Some(name) = corrections.names().find(|name| !wanted.contains_key(*name)) {
        return Err(FormatError::Damaged(format!(
            "corrections: the model has no {name}"
        )));
    }
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
            let numbers = want.dims.iter().product::<u32>() as usize;
            let mut added = corrections.of(&variable.name, numbers)?;
            for part in &want.parts {
                match part {
                    Part::Keep(target) => {
                        let storage = target.storage(matrices);
                        let added = added.as_mut().and_then(|a| a.split_off(..target.numbers()));
                        tensor(target, storage, &mut reader, variable.dtype, added, to)?;
                    }
                    Part::Drop(numbers) => {
                        numbers_through(*numbers, &mut reader, variable.dtype, |_| Ok(()))?;
                        added = added.and_then(|a| a.get(*numbers as usize..));
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
        shape.audio_kept,
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
    mut added: Option<&[f32]>,
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
    numbers_through(target.numbers() as u64, reader, dtype, |chunk| {
        bytes.clear();
        if let Some(more) = added.as_mut().and_then(|a| a.split_off(..chunk.len())) {
            chunk.iter_mut().zip(more).for_each(|(v, d)| *v += d);
        }
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
    mut each: impl FnMut(&mut [f32]) -> Result<(), FormatError>,
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
        each(&mut values)?;
        left -= count as u64;
    }
    Ok(())
}
