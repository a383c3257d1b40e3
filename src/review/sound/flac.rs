//! FLAC with chapter marks in its Vorbis comments.

use super::{Part, Sound};
use crate::record::CLIP_RATE_HZ;
use flacenc::bitsink::ByteSink;
use flacenc::component::{BitRepr, MetadataBlockData, Stream, StreamInfo};
use flacenc::encode_fixed_size_frame;
use flacenc::error::{SourceError, Verify};
use flacenc::source::{Context, Fill, FrameBuf, Source};
use std::fs::File;
use std::io::{self, BufWriter, Seek, SeekFrom, Write};

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

/// Writes frame by frame: the sound of a whole day is never in memory.
pub(super) fn write(file: &mut File, part: &Part<'_>, sound: Sound<'_>) -> io::Result<()> {
    let config = flacenc::config::Encoder::default()
        .into_verified()
        .map_err(|(_, e)| failed(e))?;
    let block = config.block_size;
    let comments = comments(part);
    let mut source = Samples {
        sound,
        samples: usize::try_from(part.samples).map_err(io::Error::other)?,
    };
    let (channels, bits) = (source.channels(), source.bits_per_sample());
    let mut info = StreamInfo::new(source.sample_rate(), channels, bits).map_err(failed)?;
    let mut out = BufWriter::new(file);
    // It has its place; lengths and hash are known at the end.
    out.write_all(&head(info.clone(), &comments)?)?;
    let context = Context::new(bits, channels);
    let mut buffer = (
        FrameBuf::with_size(channels, block).map_err(failed)?,
        context,
    );
    let mut sink = ByteSink::new();
    for number in 0.. {
        if source.read_samples(block, &mut buffer).map_err(failed)? == 0 {
            break;
        }
        let frame = encode_fixed_size_frame(&config, &buffer.0, number, &info).map_err(failed)?;
        info.update_frame_info(&frame);
        sink.clear();
        frame.write(&mut sink).map_err(failed)?;
        out.write_all(sink.as_slice())?;
    }
    // As the format wants it (RFC 9639, section 8.2): the last frame, which may be shorter, does not count.
    info.set_block_sizes(block, block).map_err(failed)?;
    info.set_md5_digest(&buffer.1.md5_digest());
    info.set_total_samples(source.samples);
    out.seek(SeekFrom::Start(0))?;
    out.write_all(&head(info, &comments)?)?;
    out.flush()
}

/// What stands before the frames; of one length whatever the lengths in it are.
fn head(info: StreamInfo, comments: &[u8]) -> io::Result<Vec<u8>> {
    let mut stream = Stream::with_stream_info(info);
    let block = MetadataBlockData::new_unknown(VORBIS_COMMENT, comments).map_err(failed)?;
    stream.add_metadata_block(block);
    let mut sink = ByteSink::new();
    stream.write(&mut sink).map_err(failed)?;
    Ok(sink.into_inner())
}

fn failed(why: impl std::fmt::Display) -> io::Error {
    io::Error::other(why.to_string())
}

/// Vorbis comments: vendor, then `NAME=text` each, lengths before (Xiph's format, little-endian).
fn comments(part: &Part<'_>) -> Vec<u8> {
    let mut lines = vec![
        format!("TITLE={}", part.title),
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
