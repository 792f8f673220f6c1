//! The demo on a desk.

// Not every test uses all of it.
#![allow(dead_code)]

use std::path::{Path, PathBuf};
use std::sync::Arc;
use std::time::Duration;
use tempfile::TempDir;
use tokio::sync::watch;
use twinsow::cli::edit_commands;
use twinsow::edit::desk::Desk;
use twinsow::findings::Outcome;

/// The text of a job file.
pub fn read(file: &Path) -> Outcome<String> {
    (edit_commands().text)(file)
}

/// The demo in a folder of its own, with its drive.
pub fn driven_demo() -> (TempDir, PathBuf) {
    let folder = tempfile::tempdir().expect("a folder");
    for entry in std::fs::read_dir("examples/demo").expect("the demo") {
        let entry = entry.expect("an entry");
        if entry.file_type().expect("a kind").is_file() {
            std::fs::copy(entry.path(), folder.path().join(entry.file_name())).expect("copied");
        }
    }
    let file = folder.path().join("job.toml");
    (folder, file)
}

/// The same without the drive, which takes most of the time.
pub fn demo() -> (TempDir, PathBuf) {
    let (folder, file) = driven_demo();
    let text = std::fs::read_to_string(&file).expect("the job");
    let (before, drive) = text.split_once("[drive]").expect("a drive");
    let (_, after) = drive.split_once("# ---- the products").expect("products");
    std::fs::write(&file, format!("{before}# ---- the products{after}")).expect("written");
    (folder, file)
}

/// A desk with everything worked out.
pub fn desk(file: &Path) -> Arc<Desk> {
    let (beats, _) = watch::channel(1);
    let desk = Desk::open(file, &edit_commands(), beats).expect("a desk");
    assert!(desk.settle_whole(Duration::from_secs(120)), "worked out");
    desk
}

/// Waits until everything is worked out, without a fault.
pub fn worked_out(desk: &Desk) {
    assert!(desk.settle_whole(Duration::from_secs(120)), "worked out");
    let fault = desk.look(|inner| inner.fault.as_ref().map(|(_, fault)| fault.to_string()));
    assert_eq!(fault, None);
}
