//! Where models are kept, and which are here.

use crate::model::manifest::{self, Model, Purpose};
use crate::model::{ModelError, ggml, sha256_of};
use std::fs::File;
use std::io::Read;
use std::path::{Path, PathBuf};

/// Environment variable that names the directory for models.
pub const DIR_VARIABLE: &str = "LOADWALK_MODELS";

/// A directory `models` beside where the program runs.
const BESIDE: &str = "models";

/// What is known of one model on this machine.
#[derive(Clone, Debug)]
pub struct Listed {
    /// The model.
    pub model: &'static Model,
    /// Where it is, and how it is there; `None` where it is not here.
    pub found: Option<(PathBuf, State)>,
}

/// How a model's file is.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum State {
    /// Its bytes are those that were pinned.
    Whole,
    /// Another size or other bytes.
    Damaged,
}

/// Directories that are looked in, in order: the one given (or named by `LOADWALK_MODELS`), and only
/// that; otherwise `models/` where the program runs, then the user's data directory.
pub fn directories(given: Option<&Path>) -> Vec<PathBuf> {
    if let Some(dir) = given.map(Path::to_owned).or_else(from_environment) {
        return vec![dir];
    }
    let beside = Path::new(BESIDE);
    let beside = beside.is_dir().then(|| beside.to_owned());
    beside.into_iter().chain(user_directory()).collect()
}

/// The directory that a fetch writes to: the one given, else `models/` where the program runs if it
/// exists and can be written, else the user's data directory.
///
/// # Errors
/// [`ModelError::Directory`] where the user has no home.
pub fn directory_to_write(given: Option<&Path>) -> Result<PathBuf, ModelError> {
    if let Some(dir) = given.map(Path::to_owned).or_else(from_environment) {
        return Ok(dir);
    }
    let beside = Path::new(BESIDE);
    if beside.is_dir() && tempfile::tempfile_in(beside).is_ok() {
        return Ok(beside.to_owned());
    }
    user_directory().ok_or_else(|| ModelError::Directory {
        dir: beside.to_owned(),
        what: "there is none, and no home directory either".to_owned(),
    })
}

fn from_environment() -> Option<PathBuf> {
    std::env::var_os(DIR_VARIABLE)
        .filter(|dir| !dir.is_empty())
        .map(PathBuf::from)
}

fn user_directory() -> Option<PathBuf> {
    let home = directories::ProjectDirs::from("", "", "loadwalk")?;
    Some(home.data_dir().join("models"))
}

/// The file of a model by name, or of the default for a purpose. Its size is checked, not its hash
/// (see [`list`]).
///
/// # Errors
/// [`ModelError::Unknown`], [`ModelError::Missing`], or [`ModelError::Damaged`] where the size is wrong.
pub fn find(
    name: Option<&str>,
    purpose: Purpose,
    dir: Option<&Path>,
) -> Result<PathBuf, ModelError> {
    let model = match name {
        Some(name) => manifest::named(name)?,
        None => manifest::default_for(purpose),
    };
    if model.purpose != purpose {
        return Err(ModelError::Unknown {
            name: model.name.clone(),
            known: manifest::models()
                .iter()
                .filter(|other| other.purpose == purpose)
                .map(|other| other.name.clone())
                .collect(),
        });
    }
    find_in(model, &directories(dir))
}

fn find_in(model: &Model, dirs: &[PathBuf]) -> Result<PathBuf, ModelError> {
    let Some((path, bytes)) = dirs.iter().find_map(|dir| size_in(model, dir)) else {
        return Err(ModelError::Missing {
            name: model.name.clone(),
            file: model.file.clone(),
            looked_in: dirs.to_vec(),
        });
    };
    if bytes == model.bytes {
        Ok(path)
    } else {
        Err(ModelError::Damaged {
            name: model.name.clone(),
            path,
            what: format!("{bytes} bytes, due {}", model.bytes),
        })
    }
}

fn size_in(model: &Model, dir: &Path) -> Option<(PathBuf, u64)> {
    let path = dir.join(&model.file);
    let about = std::fs::metadata(&path).ok()?;
    about.is_file().then_some((path, about.len()))
}

/// The speech model to load: a file brought by hand, or a model of the manifest by name, or the
/// default.
///
/// # Errors
/// As [`find`]; [`ModelError::Unreadable`] or [`ModelError::NotAModel`] for a file brought by hand.
pub fn speech(
    file: Option<&Path>,
    name: Option<&str>,
    dir: Option<&Path>,
) -> Result<PathBuf, ModelError> {
    match file {
        Some(file) => {
            check_ggml(file)?;
            Ok(file.to_owned())
        }
        None => find(name, Purpose::Speech, dir),
    }
}

/// Checks that a file looks like a ggml Whisper model: magic and a believable shape.
///
/// # Errors
/// [`ModelError::Unreadable`] or [`ModelError::NotAModel`].
pub fn check_ggml(path: &Path) -> Result<(), ModelError> {
    let unreadable = |source| ModelError::Unreadable {
        path: path.to_owned(),
        source,
    };
    let mut head = Vec::new();
    File::open(path)
        .and_then(|file| file.take(ggml::HEAD_BYTES as u64).read_to_end(&mut head))
        .map_err(unreadable)?;
    ggml::check_head(&head).map_err(|what| ModelError::NotAModel {
        path: path.to_owned(),
        what,
    })
}

/// All models of the manifest, with what is here of them; reads each file found to check its hash.
pub fn list(dir: Option<&Path>) -> Vec<Listed> {
    let dirs = directories(dir);
    manifest::models()
        .iter()
        .map(|model| {
            let found = dirs.iter().find_map(|dir| size_in(model, dir));
            let found = found.map(|(path, bytes)| {
                let whole = bytes == model.bytes
                    && sha256_of(&path).is_ok_and(|found| found == model.sha256);
                let state = if whole { State::Whole } else { State::Damaged };
                (path, state)
            });
            Listed { model, found }
        })
        .collect()
}
