//! Mixes seeded pad noise into a sound file, which it overwrites; `hearing/pace.py` calls it.

use clap::Parser;
use loadwalk::audio::pad_noise::{Preset, mix};
use std::path::PathBuf;

/// Mixes pad noise into a sound file and writes it back as WAV (16 kHz, mono, 16-bit).
#[derive(Parser)]
struct Options {
    /// The file
    file: PathBuf,
    /// Signal-to-noise ratio in dB
    #[arg(long)]
    ratio: f64,
    /// Of the random numbers; the kind of noise changes with it too
    #[arg(long)]
    seed: u64,
}

fn main() -> anyhow::Result<()> {
    let options = Options::parse();
    let sound = loadwalk::audio::read(&options.file)?.into_vec();
    let preset = Preset::ALL[options.seed as usize % Preset::ALL.len()].parameters();
    let noise = preset.generate(sound.len(), options.seed);
    let mixed = mix(&sound, &noise, options.ratio)?;
    std::fs::write(&options.file, loadwalk::record::clip_wav(&mixed))?;
    Ok(())
}
