//! Several files in one zip file.

use crate::findings::{Fault, Outcome, Place};
use std::io::{Cursor, Write};
use zip::write::SimpleFileOptions;
use zip::{CompressionMethod, DateTime, ZipWriter};

/// A zip file with these files, in this order. They carry no time of their own (the format's zero,
/// 1 January 1980), so that the same files give the same bytes.
///
/// # Errors
/// Names or sizes that a zip file cannot hold.
pub(super) fn zip(files: &[(String, Vec<u8>)]) -> Outcome<Vec<u8>> {
    pack(files).map_err(|error| {
        Fault::input(
            "write.zip",
            Place::nowhere(),
            format!("The files do not fit a zip file: {error}"),
            "files below 4 GB",
            "Simplify the zones, or use the other formats.",
        )
    })
}

fn pack(files: &[(String, Vec<u8>)]) -> zip::result::ZipResult<Vec<u8>> {
    let mut archive = ZipWriter::new(Cursor::new(Vec::new()));
    let options = SimpleFileOptions::default()
        .compression_method(CompressionMethod::Deflated)
        .last_modified_time(DateTime::default())
        .unix_permissions(0o644);
    for (name, bytes) in files {
        archive.start_file(name.as_str(), options)?;
        archive.write_all(bytes)?;
    }
    Ok(archive.finish()?.into_inner())
}
