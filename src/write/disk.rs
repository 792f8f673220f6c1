//! Bytes to the disk, and what to say when the disk will not have them.

use crate::findings::{Fault, Outcome, Place};
use std::fs::{self, File};
use std::io::{self, ErrorKind, Write};
use std::path::Path;

/// Writes a file and waits until it is on the disk, so that a full disk is found here and not later.
pub(super) fn put(path: &Path, bytes: &[u8]) -> Outcome<()> {
    let written = File::create(path).and_then(|mut file| {
        file.write_all(bytes)?;
        file.sync_all()
    });
    written.map_err(|error| fault(path, "written", &error))
}

/// Makes a folder and the folders it lies in.
pub(super) fn folder(path: &Path) -> Outcome<()> {
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
