//! Bytes to the disk, and what to say when the disk will not have them.

use crate::findings::{Fault, Outcome, Place};
use std::fs::{self, OpenOptions};
use std::io::{self, ErrorKind};
use std::path::Path;

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
