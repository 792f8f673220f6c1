//! KMZ: a zip file with a KML file in it, and its pictures (OGC 12-007r2, annex C).

use crate::findings::Outcome;
use crate::read::file::{self, MOST_BYTES};
use crate::read::zipped::Zipped;
use std::path::Path;

/// Whether this is a zip file that holds KML and no Shapefile.
pub(in crate::read) fn is_packed(path: &Path) -> Outcome<bool> {
    if !file::head(path, 4)?.starts_with(b"PK") {
        return Ok(false);
    }
    // What cannot be opened is for the reader of zip files to speak about.
    let Ok(zipped) = Zipped::open(path) else {
        return Ok(false);
    };
    let any = |end: &str| zipped.names.iter().any(|name| has_ending(name, end));
    Ok(any(".kml") && !any(".shp"))
}

/// All KML files in the archive, with their names: the main one links to the others, as far as they are to be seen.
pub(super) fn files(path: &Path) -> Outcome<Vec<(String, Vec<u8>)>> {
    let mut zipped = Zipped::open(path)?;
    let names: Vec<String> = zipped.names.clone();
    let kml = names
        .into_iter()
        .enumerate()
        .filter(|(_, name)| has_ending(name, ".kml"));
    kml.map(|(at, name)| Ok((name, zipped.unpack(at, MOST_BYTES)?)))
        .collect()
}

fn has_ending(name: &str, end: &str) -> bool {
    // Shadow files that one system packs beside the real ones are no content.
    !name.starts_with("__MACOSX/") && name.to_ascii_lowercase().ends_with(end)
}
