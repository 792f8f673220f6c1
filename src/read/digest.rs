//! What identifies an input: the hash of its bytes.

use super::open::input_files;
use crate::findings::{Fault, Outcome, Place};
use sha2::{Digest, Sha256};
use std::path::Path;

/// SHA-256, in hexadecimal, of all files that make up an input, in the order of
/// [`input_files`].
///
/// # Errors
/// A file that can no longer be read.
pub fn sha256(path: &Path) -> Outcome<String> {
    let mut digest = Sha256::new();
    for file in input_files(path) {
        let bytes = std::fs::read(&file).map_err(|error| {
            Fault::machine(
                "read.unreadable",
                Place::file(&file),
                format!("the file cannot be read: {error}"),
                "files that stay readable while the job runs",
                "check the permissions and run again",
            )
        })?;
        digest.update(&bytes);
    }
    Ok(hexadecimal(digest))
}

/// SHA-256, in hexadecimal, of a text that came by another way than a file.
pub fn sha256_of(text: &str) -> String {
    let mut digest = Sha256::new();
    digest.update(text);
    hexadecimal(digest)
}

fn hexadecimal(digest: Sha256) -> String {
    let bytes = digest.finalize();
    bytes.iter().map(|byte| format!("{byte:02x}")).collect()
}
