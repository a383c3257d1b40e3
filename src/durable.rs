//! Files that stand under their name whole or not at all, and are on the disk when the call returns.

use std::ffi::OsString;
use std::fs::{self, File, OpenOptions};
use std::io::{self, Write};
use std::path::{Path, PathBuf};

/// Writes a file that must not exist, durable with its name; leaves none behind where it fails.
pub(crate) fn write_new(path: &Path, bytes: &[u8]) -> io::Result<()> {
    let mut file = new(path)?;
    let written = file
        .write_all(bytes)
        .and_then(|()| file.sync_all())
        .and_then(|()| sync_folder(folder_of(path)));
    if written.is_err() {
        // The error that made it fail says more than one from here.
        let _ = fs::remove_file(path);
    }
    written
}

/// Writes a file, over the one of that name where there is one, so that under the name there is all of the new one or
/// what was there before, whatever breaks off the writing.
///
/// # Errors
/// What the system says, or `write`; what was there before is there still.
pub(crate) fn replace(
    path: &Path,
    write: impl FnOnce(&mut File) -> io::Result<()>,
) -> io::Result<()> {
    // A link stays one.
    let path = path.canonicalize().unwrap_or_else(|_| path.to_owned());
    let begun = unfinished(&path);
    // What an earlier try left.
    let _ = fs::remove_file(&begun);
    let mut file = new(&begun)?;
    let written = write(&mut file).and_then(|()| file.sync_all());
    // An open file cannot be renamed on every system.
    drop(file);
    written
        .and_then(|()| fs::rename(&begun, &path))
        .inspect_err(|_| drop(fs::remove_file(&begun)))?;
    // Without it the power may take the new name, never half of a file; not every system can do it.
    let _ = sync_folder(folder_of(&path));
    Ok(())
}

fn new(path: &Path) -> io::Result<File> {
    OpenOptions::new().write(true).create_new(true).open(path)
}

/// Where a file is written before it has its name.
fn unfinished(path: &Path) -> PathBuf {
    let mut name = OsString::from(".");
    name.push(path.file_name().unwrap_or_default());
    name.push(".unfinished");
    path.with_file_name(name)
}

/// Makes a folder, with those above it that are missing; durable on return.
pub(crate) fn make_folders(folder: &Path) -> io::Result<()> {
    let new_names = folders_with_new_names(folder);
    fs::create_dir_all(folder)?;
    new_names.into_iter().try_for_each(sync_folder)
}

/// The folders in which a name is new once this one and all above it are made, the deepest first.
fn folders_with_new_names(folder: &Path) -> Vec<&Path> {
    let missing = folder.ancestors();
    let missing = missing.take_while(|f| !f.as_os_str().is_empty() && !f.exists());
    missing.map(folder_of).collect()
}

/// The folder in which a file or folder lies.
fn folder_of(path: &Path) -> &Path {
    match path.parent() {
        Some(folder) if !folder.as_os_str().is_empty() => folder,
        _ => Path::new("."),
    }
}

/// Makes the names in a folder durable. Windows has no such call and does without.
pub(crate) fn sync_folder(folder: &Path) -> io::Result<()> {
    if cfg!(windows) {
        return Ok(());
    }
    File::open(folder)?.sync_all()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn names(folder: &Path) -> Vec<String> {
        let files = fs::read_dir(folder).unwrap();
        let mut names: Vec<String> = files
            .map(|f| f.unwrap().file_name().into_string().unwrap())
            .collect();
        names.sort();
        names
    }

    #[test]
    fn a_writing_that_breaks_off_leaves_what_was_there() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("kept.json");
        replace(&path, |file| file.write_all(b"first")).unwrap();
        let error = replace(&path, |file| {
            file.write_all(b"se")?;
            Err(io::ErrorKind::StorageFull.into())
        });
        assert_eq!(error.unwrap_err().kind(), io::ErrorKind::StorageFull);
        assert_eq!(fs::read(&path).unwrap(), b"first");
        assert_eq!(names(folder.path()), ["kept.json"]);
        // The remains of a crash are in nobody's way.
        fs::write(folder.path().join(".kept.json.unfinished"), "se").unwrap();
        replace(&path, |file| file.write_all(b"second")).unwrap();
        assert_eq!(fs::read(&path).unwrap(), b"second");
        assert_eq!(names(folder.path()), ["kept.json"]);
    }

    #[cfg(unix)]
    #[test]
    fn a_link_stays_one() {
        let folder = tempfile::tempdir().unwrap();
        let (real, link) = (folder.path().join("real"), folder.path().join("link"));
        fs::write(&real, "old").unwrap();
        std::os::unix::fs::symlink(&real, &link).unwrap();
        replace(&link, |file| file.write_all(b"new")).unwrap();
        assert!(fs::symlink_metadata(&link).unwrap().is_symlink());
        assert_eq!(fs::read(&real).unwrap(), b"new");
    }

    #[test]
    fn every_folder_that_gets_a_new_name_is_made_durable() {
        let root = tempfile::tempdir().unwrap();
        let deep = root.path().join("2031/june/walk");
        assert_eq!(
            folders_with_new_names(&deep),
            [
                &root.path().join("2031/june"),
                &root.path().join("2031"),
                root.path()
            ]
        );
        make_folders(&deep).unwrap();
        assert!(deep.is_dir());
        assert!(folders_with_new_names(&deep).is_empty());
        assert_eq!(
            folders_with_new_names(Path::new("no-such-folder")),
            [Path::new(".")]
        );
    }
}
