//! FLAC with chapter marks in its Vorbis comments.

use super::{Part, Sound};
use crate::record::CLIP_RATE_HZ;
use flacenc::bitsink::ByteSink;
use flacenc::component::{BitRepr, MetadataBlockData};
use flacenc::error::{SourceError, Verify};
use flacenc::source::{Fill, Source};
use std::io;
use std::path::Path;

/// Number of the metadata block of Vorbis comments (RFC 9639, section 8).
const VORBIS_COMMENT: u8 = 4;

struct Samples<'a> {
    sound: Sound<'a>,
    samples: usize,
}

impl Source for Samples<'_> {
    fn channels(&self) -> usize {
        1
    }

    fn bits_per_sample(&self) -> usize {
        16
    }

    fn sample_rate(&self) -> usize {
        CLIP_RATE_HZ as usize
    }

    fn read_samples<F: Fill>(&mut self, block: usize, dest: &mut F) -> Result<usize, SourceError> {
        let mut samples = vec![0i16; block];
        let n = self.sound.read(&mut samples);
        let wide: Vec<i32> = samples[..n].iter().map(|&s| i32::from(s)).collect();
        dest.fill_interleaved(&wide)?;
        Ok(n)
    }

    fn len_hint(&self) -> Option<usize> {
        Some(self.samples)
    }
}

pub(super) fn write(path: &Path, part: &Part<'_>, sound: Sound<'_>) -> io::Result<()> {
    let config = flacenc::config::Encoder::default()
        .into_verified()
        .map_err(|(_, e)| io::Error::other(e.to_string()))?;
    let source = Samples {
        sound,
        samples: usize::try_from(part.samples).map_err(io::Error::other)?,
    };
    let mut stream = flacenc::encode_with_fixed_block_size(&config, source, config.block_size)
        .map_err(|e| io::Error::other(e.to_string()))?;
    let block = MetadataBlockData::new_unknown(VORBIS_COMMENT, &comments(part))
        .map_err(|e| io::Error::other(e.to_string()))?;
    stream.add_metadata_block(block);
    let mut sink = ByteSink::new();
    stream
        .write(&mut sink)
        .map_err(|e| io::Error::other(e.to_string()))?;
    std::fs::write(path, sink.as_slice())
}

/// Vorbis comments: vendor, then `NAME=text` each, lengths before (Xiph's format, little-endian).
fn comments(part: &Part<'_>) -> Vec<u8> {
    let mut lines = vec![
        format!("TITLE=Walk round {}", part.load),
        format!("ARTIST={}", part.inspector),
        format!("DATE={}", part.starts.strftime("%Y-%m-%dT%H:%M:%S")),
    ];
    for (n, mark) in (1..).zip(&part.marks) {
        let ms = mark.at * 1_000 / u64::from(CLIP_RATE_HZ);
        let (s, ms) = (ms / 1_000, ms % 1_000);
        let (h, m, s) = (s / 3_600, s / 60 % 60, s % 60);
        lines.push(format!("CHAPTER{n:03}={h:02}:{m:02}:{s:02}.{ms:03}"));
        lines.push(format!("CHAPTER{n:03}NAME={}", mark.text));
    }
    let mut body = Vec::new();
    let text = |body: &mut Vec<u8>, text: &str| {
        body.extend((text.len() as u32).to_le_bytes());
        body.extend(text.as_bytes());
    };
    text(&mut body, "loadwalk");
    body.extend((lines.len() as u32).to_le_bytes());
    lines.iter().for_each(|line| text(&mut body, line));
    body
}
