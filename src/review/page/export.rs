//! The page as a folder of files that opens in a browser without a server.

use super::{ICON, INDEX, SCRIPT, STYLE, data, wave};
use crate::record::{RecordError, clip_bytes, clips_of, record_around, view};
use std::collections::BTreeSet;
use std::fs;
use std::io;
use std::path::{Path, PathBuf};

/// What a server says in a header stands in the page itself here; `file:` has no headers. Nothing from
/// outside, and nothing is sent anywhere.
const POLICY: &str = "<meta http-equiv=\"Content-Security-Policy\" content=\"default-src 'none'; \
     script-src 'self' file:; style-src 'self' file:; img-src 'self' file:; media-src 'self' file:; base-uri 'none'; \
     form-action 'none'\">";

/// The files beside the sounds.
const PARTS: [&str; 6] = [
    "index.html",
    "page.css",
    "page.js",
    "icon.svg",
    "record.js",
    "wave.js",
];

/// Why there is no copy of the page.
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
pub enum ExportError {
    /// The folder holds something.
    #[error("`{0}` is not empty; name a new folder for the page")]
    NotEmpty(PathBuf),
    /// The folder lies in a record.
    #[error(
        "`{path}` lies in the record `{record}`, which nothing is added to; name a folder elsewhere"
    )]
    Inside {
        /// The folder.
        path: PathBuf,
        /// The record.
        record: PathBuf,
    },
    /// A file cannot be written.
    #[error("`{path}` cannot be written ({source}); check the folder and the disk, then try again")]
    Write {
        /// The file.
        path: PathBuf,
        /// What the system said.
        source: io::Error,
    },
    /// The record cannot be read.
    #[error(transparent)]
    Record(#[from] RecordError),
}

/// Writes the page with the sounds that entries name into a new or empty folder; returns how many of
/// them were there to copy. It shows and plays, and takes no amendment.
///
/// # Errors
/// As the variants of [`ExportError`] say.
pub fn export(record: &Path, to: &Path) -> Result<usize, ExportError> {
    if let Some(record) = record_around(to) {
        let path = to.to_owned();
        return Err(ExportError::Inside { path, record });
    }
    if fs::read_dir(to).is_ok_and(|mut files| files.next().is_some()) {
        return Err(ExportError::NotEmpty(to.to_owned()));
    }
    fill(record, to).inspect_err(|_| {
        // Half a page would pass for the whole, and stand in the way of the next try.
        for name in PARTS {
            let _ = fs::remove_file(to.join(name));
        }
        let _ = fs::remove_dir_all(to.join("clips"));
    })
}

fn fill(record: &Path, to: &Path) -> Result<usize, ExportError> {
    let view = view(record)?;
    let write = |path: PathBuf, bytes: &[u8]| {
        fs::write(&path, bytes).map_err(|source| ExportError::Write { path, source })
    };
    let fail = |source| ExportError::Write {
        path: to.to_owned(),
        source,
    };
    let clips = to.join("clips");
    fs::create_dir_all(&clips).map_err(fail)?;
    let charset = "<meta charset=\"utf-8\">";
    let index = INDEX.replacen(charset, &format!("{charset}\n{POLICY}"), 1);
    let data = data::record(record, &view, None, true);
    let wave = wave::wave(record, &view.entries);
    let texts = [
        index,
        STYLE.to_owned(),
        SCRIPT.to_owned(),
        ICON.to_owned(),
        format!("const RECORD = {data};\n"),
        format!("const WAVE = {wave};\n"),
    ];
    for (name, text) in PARTS.into_iter().zip(texts) {
        write(to.join(name), text.as_bytes())?;
    }
    let named: BTreeSet<&str> = (view.entries.iter())
        .flat_map(|e| clips_of(&e.entry))
        .map(|clip| clip.file)
        .collect();
    let mut copied = 0;
    for file in named {
        // Only plain names inside the record pass.
        if let Some(bytes) = clip_bytes(record, file) {
            write(clips.join(file), &bytes)?;
            copied += 1;
        }
    }
    Ok(copied)
}
