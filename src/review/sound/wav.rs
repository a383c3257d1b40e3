//! Broadcast Wave: `bext` after EBU Tech 3285, `cue ` and `LIST`-`adtl` after the RIFF specification
//! (Multimedia Programming Interface and Data Specifications 1.0).

use super::{Mark, Part, Sound, too_long};
use crate::record::CLIP_RATE_HZ;
use std::fs::File;
use std::io::{self, BufWriter, Write};

const BYTES: u32 = 2;

pub(super) fn write(file: &mut File, part: &Part<'_>, mut sound: Sound<'_>) -> io::Result<()> {
    let data_bytes = u32::try_from(part.samples * u64::from(BYTES)).map_err(|_| too_long())?;
    let (bext, cue, labels) = (bext(part), cue(&part.marks), labels(&part.marks));
    let chunks = [bext.len(), cue.len(), labels.len(), FORMAT_BYTES];
    let around: usize = chunks.iter().map(|n| 8 + n).sum::<usize>() + 4 + 8;
    let around = u32::try_from(around).map_err(|_| too_long())?;
    let all = data_bytes.checked_add(around).ok_or_else(too_long)?;
    let mut out = BufWriter::new(file);
    out.write_all(b"RIFF")?;
    out.write_all(&all.to_le_bytes())?;
    out.write_all(b"WAVE")?;
    chunk(&mut out, b"bext", &bext)?;
    chunk(&mut out, b"fmt ", &format())?;
    out.write_all(b"data")?;
    out.write_all(&data_bytes.to_le_bytes())?;
    let mut block = [0i16; 4_096];
    loop {
        let n = sound.read(&mut block);
        if n == 0 {
            break;
        }
        for sample in &block[..n] {
            out.write_all(&sample.to_le_bytes())?;
        }
    }
    chunk(&mut out, b"cue ", &cue)?;
    chunk(&mut out, b"LIST", &labels)?;
    out.flush()
}

/// A chunk of an even length.
fn chunk(out: &mut impl Write, id: &[u8; 4], body: &[u8]) -> io::Result<()> {
    out.write_all(id)?;
    out.write_all(
        &u32::try_from(body.len())
            .map_err(|_| too_long())?
            .to_le_bytes(),
    )?;
    out.write_all(body)
}

const FORMAT_BYTES: usize = 16;

fn format() -> [u8; FORMAT_BYTES] {
    let mut body = [0; FORMAT_BYTES];
    body[0..2].copy_from_slice(&1u16.to_le_bytes());
    body[2..4].copy_from_slice(&1u16.to_le_bytes());
    body[4..8].copy_from_slice(&CLIP_RATE_HZ.to_le_bytes());
    body[8..12].copy_from_slice(&(CLIP_RATE_HZ * BYTES).to_le_bytes());
    body[12..14].copy_from_slice(&(BYTES as u16).to_le_bytes());
    body[14..16].copy_from_slice(&16u16.to_le_bytes());
    body
}

/// EBU Tech 3285 version 1: 602 bytes of fixed fields, then the coding history.
fn bext(part: &Part<'_>) -> Vec<u8> {
    let mut body = Vec::with_capacity(700);
    let mut text = |text: &str, length: usize| {
        // The standard's texts are ASCII.
        let ascii = text.chars().map(|c| {
            if c.is_ascii() && !c.is_control() {
                c as u8
            } else {
                b'?'
            }
        });
        let mut field: Vec<u8> = ascii.take(length).collect();
        field.resize(length, 0);
        body.extend(field);
    };
    text(
        &format!("{}, inspected by {}", part.title, part.inspector),
        256,
    );
    text("loadwalk", 32);
    text(&part.starts.strftime("LW%Y%m%d%H%M%S").to_string(), 32);
    text(&part.starts.strftime("%Y-%m-%d").to_string(), 10);
    text(&part.starts.strftime("%H:%M:%S").to_string(), 8);
    body.extend(part.after_midnight.to_le_bytes());
    body.extend(1u16.to_le_bytes());
    // No unique material identifier; reserved.
    body.resize(602, 0);
    body.extend(format!("A=PCM,F={CLIP_RATE_HZ},W=16,M=mono,T=loadwalk\r\n").bytes());
    if body.len() % 2 == 1 {
        body.push(0);
    }
    body
}

fn cue(marks: &[Mark]) -> Vec<u8> {
    let mut body = (marks.len() as u32).to_le_bytes().to_vec();
    for (n, mark) in (1u32..).zip(marks) {
        // A file is shorter than 2^32 samples.
        let at = u32::try_from(mark.at).unwrap_or(u32::MAX).to_le_bytes();
        body.extend(n.to_le_bytes());
        body.extend(at);
        body.extend(b"data");
        body.extend([0; 8]);
        body.extend(at);
    }
    body
}

fn labels(marks: &[Mark]) -> Vec<u8> {
    let mut body = b"adtl".to_vec();
    for (n, mark) in (1u32..).zip(marks) {
        let mut text = mark.text.replace('\0', " ").into_bytes();
        text.push(0);
        body.extend(b"labl");
        body.extend((4 + text.len() as u32).to_le_bytes());
        body.extend(n.to_le_bytes());
        body.extend(&text);
        if text.len() % 2 == 1 {
            body.push(0);
        }
    }
    body
}
