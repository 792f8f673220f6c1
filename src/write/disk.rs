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
pub(super) fn keep_names(folder: &Path) -> io::Result<()> {
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
    match fs::metadata(path) {
        Ok(found) if !found.is_file() => return fs::write(path, bytes),
        Ok(found) if found.permissions().readonly() => {
            return Err(ErrorKind::PermissionDenied.into());
        }
        _ => {}
    }
    let path = fs::canonicalize(path).unwrap_or_else(|_| path.to_path_buf());
    let part = part_of(&path);
    let written = || -> io::Result<()> {
        let mut file = fs::File::create(&part)?;
        if let Ok(found) = fs::metadata(&path) {
            file.set_permissions(found.permissions())?;
        }
        file.write_all(bytes)?;
        file.sync_all()?;
        fs::rename(&part, &path)
    };
    written().inspect_err(|_| {
        let _ = fs::remove_file(&part);
    })?;
    keep_names(folder_of(&path))
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
