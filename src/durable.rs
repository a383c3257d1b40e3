//! Files that stand under their name whole or not at all, and are on the disk when the call returns.

use std::fs::{self, File, OpenOptions};
use std::io::{self, Write};
use std::path::Path;
use tempfile::NamedTempFile;

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
    // A name of its own, so that two who write the same file do not take each other's away.
    let mut begun = begin(folder_of(&path))?;
    write(begun.as_file_mut())?;
    begun.as_file().sync_all()?;
    begun.persist(&path)?;
    // Without it the power may take the new name, never half of a file; not every system can do it.
    let _ = sync_folder(folder_of(&path));
    Ok(())
}

fn new(path: &Path) -> io::Result<File> {
    OpenOptions::new().write(true).create_new(true).open(path)
}

/// A file that has no name yet, with the permissions of any new one; it goes where it is given none.
fn begin(folder: &Path) -> io::Result<NamedTempFile> {
    let mut named = tempfile::Builder::new();
    named.prefix(UNFINISHED);
    #[cfg(unix)]
    {
        use std::os::unix::fs::PermissionsExt as _;
        // Less what the user's mask takes away.
        named.permissions(fs::Permissions::from_mode(0o666));
    }
    named.tempfile_in(folder)
}

/// How a file is called before it has its name.
const UNFINISHED: &str = ".unfinished-";

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
        replace(&path, |file| file.write_all(b"second")).unwrap();
        assert_eq!(fs::read(&path).unwrap(), b"second");
        assert_eq!(names(folder.path()), ["kept.json"]);
    }

    #[test]
    fn of_two_writers_the_last_to_end_has_the_name_and_both_succeed() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("kept.json");
        replace(&path, |file| {
            file.write_all(b"the first, ")?;
            // Another one begins and ends while this one writes.
            replace(&path, |file| file.write_all(b"the second"))?;
            assert_eq!(fs::read(&path)?, b"the second");
            file.write_all(b"whole")
        })
        .unwrap();
        assert_eq!(fs::read(&path).unwrap(), b"the first, whole");
        assert_eq!(names(folder.path()), ["kept.json"]);
        // As threads, which is how they come.
        let texts = ["a".repeat(20_000), "b".repeat(30_000)];
        std::thread::scope(|threads| {
            for text in &texts {
                threads.spawn(|| {
                    for _ in 0..20 {
                        let mut parts = text.as_bytes().chunks(1_000);
                        replace(&path, |file| parts.try_for_each(|p| file.write_all(p))).unwrap();
                        let found = fs::read_to_string(&path).unwrap();
                        assert!(texts.contains(&found), "{} bytes", found.len());
                    }
                });
            }
        });
        assert_eq!(names(folder.path()), ["kept.json"]);
    }

    #[cfg(unix)]
    #[test]
    fn who_may_read_it_is_as_of_any_new_file() {
        use std::os::unix::fs::PermissionsExt as _;
        let folder = tempfile::tempdir().unwrap();
        let (new, other) = (folder.path().join("new"), folder.path().join("other"));
        replace(&new, |file| file.write_all(b"new")).unwrap();
        fs::write(&other, "other").unwrap();
        let mode = |path: &Path| fs::metadata(path).unwrap().permissions().mode();
        assert_eq!(mode(&new), mode(&other));
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
