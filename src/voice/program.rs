//! Synthesisers that are programs on this machine, run once a phrase.

use crate::audio::{self, Clip};
use crate::voice::{Voice, VoiceError, spoken};
use std::ffi::OsStr;
use std::fs::File;
use std::io::{self, Read, Write};
use std::path::{Path, PathBuf};
use std::process::{Child, Command, Stdio};
use std::sync::mpsc;
use std::time::Duration;

/// Longest phrase given to a synthesiser as it is to be spoken, bytes: about ten minutes.
const MAX_TEXT: usize = 8_000;
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
    /// flite writes into a file that it is given the name of. Where the system names its standard output, that does, and
    /// a full disk does not silence it.
    by_file: bool,
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
            by_file: !cfg!(unix),
        }
    }

    /// Waits at most so long for a phrase.
    pub fn with_patience(mut self, patience: Duration) -> Self {
        self.patience = patience;
        self
    }

    /// Runs the program and gives the WAV that it wrote.
    fn run(&self, text: &str, rate: f32) -> Result<Vec<u8>, VoiceError> {
        let cannot = |source| VoiceError::Run {
            program: self.kind.command().to_owned(),
            source,
        };
        let mut command = Command::new(&self.path);
        let mut file = None;
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
                    .args(["-t", text, "-o"])
                    .stdin(Stdio::null());
                if self.by_file {
                    let made = tempfile::NamedTempFile::new().map_err(cannot)?;
                    // Closed here, or no other program may write it on some systems; it goes at the end.
                    command.arg(&*file.insert(made.into_temp_path()));
                } else {
                    command.arg("/dev/stdout");
                }
            }
        }
        let mut child = command
            .stdout(Stdio::piped())
            .stderr(Stdio::null())
            .spawn()
            .map_err(cannot)?;
        let wav = self.converse(&mut child, text);
        // Ends what did not end by itself, and takes its exit code either way.
        let _ = child.kill();
        let _ = child.wait();
        match file {
            // Its output's end told that it had ended.
            Some(file) => wav.and_then(|_| {
                let file = File::open(&file).map_err(cannot)?;
                bounded(file).map_err(cannot)
            }),
            None => wav,
        }
    }

    fn converse(&self, child: &mut Child, text: &str) -> Result<Vec<u8>, VoiceError> {
        if let Some(mut stdin) = child.stdin.take() {
            let text = text.to_owned();
            // A program that reads nothing would hold whoever writes to it. One that closes early shows in its output.
            std::thread::spawn(move || stdin.write_all(text.as_bytes()));
        }
        let (send, receive) = mpsc::channel();
        let stdout = child.stdout.take();
        std::thread::spawn(move || {
            // The receiver is gone where it lost patience.
            let _ = send.send(stdout.map_or(Ok(Vec::new()), bounded));
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
        let text = spoken(text);
        // Units in words make it longer.
        if text.len() > MAX_TEXT {
            return Err(VoiceError::TooLong(text.len()));
        }
        if !text.contains(char::is_alphanumeric) {
            return Err(self.failed("no word to say".to_owned()));
        }
        let wav = self.run(&text, rate)?;
        let clip = audio::decode_wav(&wav).map_err(|e| self.failed(e.to_string()))?;
        level(clip).ok_or_else(|| self.failed("it made no sound".to_owned()))
    }
}

/// What is read, no more than [`MAX_WAV`].
fn bounded(from: impl Read) -> io::Result<Vec<u8>> {
    let mut wav = Vec::new();
    from.take(MAX_WAV).read_to_end(&mut wav)?;
    Ok(wav)
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

/// Programs that stand in for a synthesiser.
#[cfg(all(test, unix))]
mod tests {
    use super::*;
    use std::os::unix::fs::PermissionsExt;
    use std::time::Instant;

    fn program(kind: Kind, script: &str) -> (tempfile::TempDir, Program) {
        let dir = tempfile::tempdir().unwrap();
        let path = dir.path().join("synthesiser");
        std::fs::write(&path, format!("#!/bin/sh\n{script}\n")).unwrap();
        std::fs::set_permissions(&path, std::fs::Permissions::from_mode(0o755)).unwrap();
        let program = Program::at(kind, &path).with_patience(Duration::from_millis(500));
        (dir, program)
    }

    /// A pipe takes 4 KiB on some systems and 64 on most; this is more than either.
    #[test]
    fn a_program_that_reads_nothing_holds_nobody() {
        let (_dir, program) = program(Kind::EspeakNg, "exec sleep 30");
        let begun = Instant::now();
        let run = program.run(&"word ".repeat(100_000), 1.0);
        assert!(matches!(run, Err(VoiceError::TooSlow { .. })), "{run:?}");
        assert!(begun.elapsed() < Duration::from_secs(20));
    }

    #[test]
    fn all_of_a_text_arrives() {
        let (_dir, mut program) = program(Kind::EspeakNg, "wc -c");
        program.patience = PATIENCE;
        let told = program.run(&"word ".repeat(100_000), 1.0).unwrap();
        assert_eq!(String::from_utf8(told).unwrap().trim(), "500000");
    }

    #[test]
    fn length_is_that_of_what_is_spoken() {
        let (_dir, mut program) = program(Kind::EspeakNg, "exit 1");
        // "1 tonne" for "1 t".
        let long = program.synthesise(&"1 t ".repeat(1_500), 1.0);
        assert!(matches!(long, Err(VoiceError::TooLong(11_999))), "{long:?}");
    }

    #[test]
    fn a_file_takes_the_sound_where_output_has_no_name_and_goes_afterwards() {
        let dir = tempfile::tempdir().unwrap();
        let (wav, seen) = (dir.path().join("speech.wav"), dir.path().join("seen"));
        std::fs::write(&wav, audio::wav_bytes(&[0.5; 1_600])).unwrap();
        // The name comes last.
        let script = format!(
            "for file; do :; done; cp {} \"$file\"; echo \"$file\" > {}",
            wav.display(),
            seen.display()
        );
        for by_file in [true, false] {
            let (_dir, mut program) = program(Kind::Flite, &script);
            program.patience = PATIENCE;
            program.by_file = by_file;
            let clip = program.synthesise("hook", 1.0).unwrap();
            assert_eq!(clip.samples.len(), 1_600);
            let file = std::fs::read_to_string(&seen).unwrap();
            assert_eq!(file.trim() == "/dev/stdout", !by_file);
            assert!(!by_file || !Path::new(file.trim()).exists());
        }
    }
}
