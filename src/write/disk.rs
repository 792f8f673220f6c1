//! Bytes to the disk, and what to say when the disk will not have them.

use crate::findings::{Fault, Outcome, Place};
use std::fs::{self, OpenOptions};
use std::io::{self, ErrorKind, Write};
use std::path::{Path, PathBuf};

/// Writes a file. The system may still hold it back: [`keep`] waits until it is on the disk.
pub(super) fn put(path: &Path, bytes: &[u8]) -> Outcome<()> {
    fs::write(path, bytes).map_err(|error| fault(path, "written", &error))
}

/// Waits until a file is on the disk, so that a full disk is found here and not later.
///
/// Many files are first written and then kept one after another: with the first of them the system brings
/// most of the others to the disk as well, and waits for it once instead of every time.
pub(super) fn keep(path: &Path) -> Outcome<()> {
    // Some systems want the right to write for this.
    let kept = OpenOptions::new().write(true).open(path);
    let kept = kept.and_then(|file| file.sync_all());
    kept.map_err(|error| fault(path, "written", &error))
}

/// Waits until what a folder holds by name (what was made, moved or removed in it) is on the disk. Windows keeps names by
/// itself and opens no folders.
///
/// # Errors
/// Those of the system.
pub fn keep_names(folder: &Path) -> io::Result<()> {
    #[cfg(unix)]
    return fs::File::open(folder)?.sync_all();
    #[cfg(not(unix))]
    return folder.metadata().map(|_| ());
}

/// What is put beside a file while it is being written.
const PART: &str = ".twinsow-part";

/// The name under which a file is written before it takes its own.
pub(super) fn part_of(path: &Path) -> PathBuf {
    let mut name = path.file_name().unwrap_or_default().to_os_string();
    name.push(PART);
    path.with_file_name(name)
}

/// Writes a file as a whole or not at all: under another name beside it first, and on the disk before it takes its
/// own name, so that the file that was there stays whole until then. A link is followed; what is no file, such as a
/// terminal or a pipe, is written to as it is.
///
/// # Errors
/// Those of the system; what was there is as it was, and nothing lies beside it.
pub fn save(path: &Path, bytes: &[u8]) -> io::Result<()> {
    save_together(&[(path, bytes)]).map_err(|(_, error)| error)
}

/// Writes files that belong together, each as [`save`] does. All of them are on the disk before the first takes its name, so that
/// a disk that is full or may not be written leaves none of them new. The names are then given one after the
/// other, in this order: what speaks of another file comes last.
///
/// # Errors
/// The file, and what the system says.
pub fn save_together(files: &[(&Path, &[u8])]) -> Result<(), (PathBuf, io::Error)> {
    let mut parts = Parts(Vec::new());
    for (path, bytes) in files {
        let written = parts.write(path, bytes);
        written.map_err(|error| (path.to_path_buf(), error))?;
    }
    parts.take_names()
}

/// Files that are on the disk under another name, and their own names; such as have not taken these are removed in the end.
struct Parts(Vec<(PathBuf, PathBuf)>);

impl Parts {
    fn write(&mut self, path: &Path, bytes: &[u8]) -> io::Result<()> {
        match fs::metadata(path) {
            Ok(found) if !found.is_file() => return fs::write(path, bytes),
            Ok(found) if found.permissions().readonly() => {
                return Err(ErrorKind::PermissionDenied.into());
            }
            _ => {}
        }
        let path = fs::canonicalize(path).unwrap_or_else(|_| path.to_path_buf());
        let part = part_of(&path);
        self.0.push((part.clone(), path.clone()));
        let mut file = fs::File::create(&part)?;
        if let Ok(found) = fs::metadata(&path) {
            file.set_permissions(found.permissions())?;
        }
        file.write_all(bytes)?;
        file.sync_all()
    }

    fn take_names(mut self) -> Result<(), (PathBuf, io::Error)> {
        let mut parts = std::mem::take(&mut self.0).into_iter();
        let mut folders: Vec<PathBuf> = Vec::new();
        while let Some((part, path)) = parts.next() {
            if let Err(error) = fs::rename(&part, &path) {
                self.0.push((part, path.clone()));
                self.0.extend(parts);
                return Err((path, error));
            }
            let folder = folder_of(&path);
            if !folders.iter().any(|known| known == folder) {
                folders.push(folder.to_path_buf());
            }
        }
        for folder in folders {
            keep_names(&folder).map_err(|error| (folder, error))?;
        }
        Ok(())
    }
}

impl Drop for Parts {
    fn drop(&mut self) {
        for (part, _) in &self.0 {
            let _ = fs::remove_file(part);
        }
    }
}

/// Gives a file that is on the disk its name, on the disk too.
pub(super) fn named(part: &Path, path: &Path) -> Outcome<()> {
    let renamed = fs::rename(part, path).and_then(|()| keep_names(folder_of(path)));
    renamed.map_err(|error| fault(path, "written", &error))
}

/// The folder that a file lies in.
pub(super) fn folder_of(path: &Path) -> &Path {
    match path.parent() {
        Some(parent) if parent != Path::new("") => parent,
        _ => Path::new("."),
    }
}

/// Makes a folder and the folders it lies in.
pub(super) fn folder(path: &Path) -> Outcome<()> {
    // Mostly it is there: looking costs less than making it.
    if path.is_dir() {
        return Ok(());
    }
    fs::create_dir_all(path).map_err(|error| fault(path, "made", &error))
}

/// The fault for something that could not be `done` (made, written, moved, read, removed).
pub(super) fn fault(path: &Path, done: &str, error: &io::Error) -> Box<Fault> {
    let (allowed, next) = match error.kind() {
        ErrorKind::StorageFull | ErrorKind::QuotaExceeded | ErrorKind::FileTooLarge => (
            "a disk with enough free space",
            "Free some space or name an output folder on another disk; nothing was replaced.",
        ),
        ErrorKind::PermissionDenied | ErrorKind::ReadOnlyFilesystem => (
            "a folder that this user may write to, with no file in it open elsewhere",
            "Close programs that show the old result, or name another output folder; nothing was replaced.",
        ),
        _ => (
            "a folder on a disk that takes files",
            "Check the path and the disk, or name another output folder; nothing was replaced.",
        ),
    };
    Fault::machine(
        "write.disk",
        Place::file(path),
        format!("It could not be {done}: {error}"),
        allowed,
        next,
    )
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn files_that_belong_together_are_all_on_the_disk_before_one_changes() {
        let folder = tempfile::tempdir().expect("a folder");
        let [map, page] = ["map.csv", "page.html"].map(|name| folder.path().join(name));
        let there = || {
            let names = fs::read_dir(folder.path()).expect("a folder").flatten();
            let mut names: Vec<_> = names.map(|entry| entry.file_name()).collect();
            names.sort();
            names
        };
        fs::write(&map, "old").expect("written");
        let nowhere = folder.path().join("none/page.html");
        let failed = save_together(&[(&map, b"new"), (&nowhere, b"new")]);
        assert_eq!(failed.map_err(|(path, _)| path), Err(nowhere));
        assert_eq!(fs::read(&map).expect("there"), b"old");
        assert_eq!(there(), ["map.csv"]);
        // A folder stands where the second file should: its name cannot be given, and nothing lies beside it.
        fs::create_dir_all(page.join("in")).expect("a folder");
        let failed = save_together(&[(&map, b"new"), (&page, b"new")]);
        assert!(failed.is_err());
        assert_eq!(there(), ["map.csv", "page.html"]);
        fs::remove_dir_all(&page).expect("removed");
        assert!(save_together(&[(&map, b"newer"), (&page, b"new")]).is_ok());
        assert_eq!(fs::read(&map).expect("there"), b"newer");
        assert_eq!(there(), ["map.csv", "page.html"]);
    }
}
