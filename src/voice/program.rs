//! Synthesisers that are programs on this machine, run once a phrase.

use crate::audio::{self, Clip};
use crate::voice::{Voice, VoiceError, spoken};
use std::ffi::OsStr;
use std::io::{Read, Write};
use std::path::{Path, PathBuf};
use std::process::{Child, Command, Stdio};
use std::sync::mpsc;
use std::time::Duration;

/// Longest phrase given to a synthesiser, bytes; well under what a pipe takes at once.
const MAX_TEXT: usize = 4_000;
/// Longest answer taken, bytes: ten minutes of speech.
const MAX_WAV: u64 = 32 << 20;
/// Time given to a synthesiser; one phrase takes about 0.1 s.
const PATIENCE: Duration = Duration::from_secs(15);
/// Words a minute. Slower than the 175 that espeak-ng starts with: common practice for numbers and
/// names in noise, no source.
const WORDS_A_MINUTE: f32 = 155.0;
/// Peak of a phrase, full scale 1, so that all voices are equally loud.
const PEAK: f32 = 0.8;
/// Quieter than this at either end is silence to be cut.
const SILENCE: f32 = 0.003;
/// Silence kept at the end, seconds.
const KEEP_SECONDS: f32 = 0.03;
/// The same before the beginning, which is waited for.
const LEAD_SECONDS: f32 = 0.005;

/// Programs known.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Kind {
    /// espeak-ng.
    EspeakNg,
    /// flite.
    Flite,
}

impl Kind {
    /// Programs in order of preference.
    pub const ALL: [Self; 2] = [Self::EspeakNg, Self::Flite];

    /// The program's name.
    pub fn command(self) -> &'static str {
        match self {
            Self::EspeakNg => "espeak-ng",
            Self::Flite => "flite",
        }
    }
}

/// A synthesiser that is a program.
#[derive(Clone, Debug)]
pub struct Program {
    kind: Kind,
    path: PathBuf,
    patience: Duration,
}

impl Program {
    /// The program, if it is on the search path.
    pub fn find(kind: Kind) -> Option<Self> {
        Self::find_in(kind, &std::env::var_os("PATH")?)
    }

    fn find_in(kind: Kind, path: &OsStr) -> Option<Self> {
        let name = format!("{}{}", kind.command(), std::env::consts::EXE_SUFFIX);
        let path = std::env::split_paths(path)
            .map(|dir| dir.join(&name))
            .find(|file| file.is_file())?;
        Some(Self::at(kind, &path))
    }

    /// The program at a path.
    pub fn at(kind: Kind, path: &Path) -> Self {
        Self {
            kind,
            path: path.to_owned(),
            patience: PATIENCE,
        }
    }

    /// Waits at most so long for a phrase.
    pub fn with_patience(mut self, patience: Duration) -> Self {
        self.patience = patience;
        self
    }

    /// Runs the program and gives the WAV that it wrote.
    fn run(&self, text: &str, rate: f32) -> Result<Vec<u8>, VoiceError> {
        let mut command = Command::new(&self.path);
        match self.kind {
            Kind::EspeakNg => {
                let pace = (WORDS_A_MINUTE * rate).round() as u32;
                command
                    .args(["-v", "en-us", "-b", "1", "-z", "-g", "1"])
                    .args(["-s", &pace.to_string(), "--stdin", "--stdout"])
                    .stdin(Stdio::piped());
            }
            Kind::Flite => {
                let stretch = format!("duration_stretch={:.2}", 1.05 / rate);
                command
                    .args(["-voice", "slt", "--setf", &stretch])
                    .args(["-t", text, "-o", "/dev/stdout"])
                    .stdin(Stdio::null());
            }
        }
        let mut child = command
            .stdout(Stdio::piped())
            .stderr(Stdio::null())
            .spawn()
            .map_err(|source| VoiceError::Run {
                program: self.kind.command().to_owned(),
                source,
            })?;
        let wav = self.converse(&mut child, text);
        // Ends what did not end by itself, and takes its exit code either way.
        let _ = child.kill();
        let _ = child.wait();
        wav
    }

    fn converse(&self, child: &mut Child, text: &str) -> Result<Vec<u8>, VoiceError> {
        if let Some(mut stdin) = child.stdin.take() {
            // A program that closes early shows in its output.
            let _ = stdin.write_all(text.as_bytes());
        }
        let (send, receive) = mpsc::channel();
        let stdout = child.stdout.take();
        std::thread::spawn(move || {
            let mut wav = Vec::new();
            let read = stdout.map_or(Ok(0), |out| out.take(MAX_WAV).read_to_end(&mut wav));
            // The receiver is gone where it lost patience.
            let _ = send.send(read.map(|_| wav));
        });
        match receive.recv_timeout(self.patience) {
            Ok(Ok(wav)) => Ok(wav),
            Ok(Err(error)) => Err(self.failed(error.to_string())),
            Err(_) => Err(VoiceError::TooSlow {
                program: self.kind.command().to_owned(),
                seconds: self.patience.as_secs(),
            }),
        }
    }

    fn failed(&self, what: String) -> VoiceError {
        VoiceError::Failed {
            program: self.kind.command().to_owned(),
            what,
        }
    }
}

impl Voice for Program {
    fn name(&self) -> &str {
        self.kind.command()
    }

    fn synthesise(&mut self, text: &str, rate: f32) -> Result<Clip, VoiceError> {
        if text.len() > MAX_TEXT {
            return Err(VoiceError::TooLong(text.len()));
        }
        let text = spoken(text);
        if !text.contains(char::is_alphanumeric) {
            return Err(self.failed("no word to say".to_owned()));
        }
        let wav = self.run(&text, rate)?;
        let clip = audio::decode_wav(&wav).map_err(|e| self.failed(e.to_string()))?;
        level(clip).ok_or_else(|| self.failed("it made no sound".to_owned()))
    }
}

/// Cuts silence off both ends and brings the peak to [`PEAK`]; `None` where all is silence.
fn level(mut clip: Clip) -> Option<Clip> {
    let loud = |sample: &f32| sample.abs() > SILENCE;
    let long = |seconds: f32| (seconds * clip.rate as f32) as usize;
    let (lead, keep) = (long(LEAD_SECONDS), long(KEEP_SECONDS));
    let first = clip.samples.iter().position(loud)?.saturating_sub(lead);
    let last = clip.samples.iter().rposition(loud)?;
    clip.samples.truncate(last + 1 + keep);
    clip.samples.drain(..first);
    let peak = clip
        .samples
        .iter()
        .fold(0.0_f32, |most, s| most.max(s.abs()));
    for sample in &mut clip.samples {
        *sample *= PEAK / peak;
    }
    Some(clip)
}
