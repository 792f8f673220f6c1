//! What identifies an input: the hash of its bytes.

use super::open::input_files;
use crate::findings::{Fault, Outcome, Place};
use sha2::{Digest, Sha256};
use std::fs::File;
use std::io::{self, BufRead, BufReader};
use std::path::Path;

/// SHA-256, in hexadecimal, of all files that make up an input, in the order of
/// [`input_files`].
///
/// # Errors
/// A file that can no longer be read.
pub fn sha256(path: &Path) -> Outcome<String> {
    let mut digest = Sha256::new();
    for file in input_files(path) {
        add(&file, &mut digest).map_err(|error| {
            Fault::machine(
                "read.unreadable",
                Place::file(&file),
                format!("the file cannot be read: {error}"),
                "files that stay readable while the job runs",
                "check the permissions and run again",
            )
        })?;
    }
    Ok(hexadecimal(digest))
}

/// Adds a file piece by piece: it may be larger than all that is made of it.
fn add(file: &Path, digest: &mut Sha256) -> io::Result<()> {
    let mut open = BufReader::with_capacity(64 * 1024, File::open(file)?);
    loop {
        let piece = open.fill_buf()?;
        if piece.is_empty() {
            return Ok(());
        }
        digest.update(piece);
        let length = piece.len();
        open.consume(length);
    }
}

/// SHA-256, in hexadecimal, of a text or of bytes that came by another way than a file.
pub fn sha256_of(text: impl AsRef<[u8]>) -> String {
    let mut digest = Sha256::new();
    digest.update(text);
    hexadecimal(digest)
}

fn hexadecimal(digest: Sha256) -> String {
    let bytes = digest.finalize();
    bytes.iter().map(|byte| format!("{byte:02x}")).collect()
}
