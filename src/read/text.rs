//! Text files: tables that a job names.

use super::file;
use crate::findings::{Fault, Outcome, Place};
use std::path::Path;

/// The text of a file in UTF-8.
///
/// # Errors
/// A file that is not there, is a folder, is empty, cannot be read, or is not UTF-8.
pub fn text(path: &Path) -> Outcome<String> {
    file::check(path)?;
    String::from_utf8(file::bytes(path)?).map_err(|error| {
        let good = error.utf8_error().valid_up_to();
        let before = error.as_bytes().iter().take(good);
        let line = 1 + before.filter(|byte| **byte == b'\n').count();
        Fault::input(
            "read.not_utf8",
            Place::file(path).line(line),
            "the file is not UTF-8 text",
            "text in UTF-8",
            "save it as UTF-8 in your editor (not UTF-16, not the system code page)",
        )
    })
}
