//! The files a shapefile consists of, beside each other in a folder or in a zip file.

use super::super::file::{self, MOST_BYTES, folder_of, listed};
use super::super::zipped::{Zipped, nothing_to_read};
use crate::findings::{Fault, Outcome, Place};
use std::fs;
use std::path::{Path, PathBuf};

/// The extensions that are read, the main file first.
pub(super) const EXTENSIONS: [&str; 5] = ["shp", "dbf", "prj", "cpg", "shx"];

/// The bytes of each file.
pub(super) struct Parts {
    /// Name inside the zip file, without extension.
    pub(super) name: Option<String>,
    pub(super) shp: Vec<u8>,
    pub(super) dbf: Option<Vec<u8>>,
    pub(super) prj: Option<Vec<u8>>,
    pub(super) cpg: Option<Vec<u8>>,
    pub(super) shx: Option<Vec<u8>>,
}

/// The file with the same name and this extension, in any case. A path that has it is its own.
pub(super) fn sibling(path: &Path, extension: &str) -> Option<PathBuf> {
    let has = |path: &Path| {
        path.extension()
            .is_some_and(|own| own.eq_ignore_ascii_case(extension))
    };
    if has(path) {
        return path.is_file().then(|| path.to_path_buf());
    }
    let stem = path.file_stem()?;
    let mut found: Vec<PathBuf> = fs::read_dir(folder_of(path))
        .ok()?
        .flatten()
        .map(|entry| entry.path())
        .filter(|other| has(other) && other.file_stem() == Some(stem))
        .collect();
    // Where two differ only by case, the lower case one is taken, whatever order the disk has.
    found.sort();
    let name = found.pop()?.file_name()?.to_os_string();
    Some(path.with_file_name(name))
}

pub(super) fn loose(path: &Path) -> Outcome<Parts> {
    let part = |extension| {
        sibling(path, extension)
            .map(|path| file::bytes(&path))
            .transpose()
    };
    Ok(Parts {
        name: None,
        shp: file::bytes(path)?,
        dbf: part("dbf")?,
        prj: part("prj")?,
        cpg: part("cpg")?,
        shx: part("shx")?,
    })
}

/// The names of the shapefiles in a zip file, folders included, without extension, sorted.
pub(in super::super) fn names_in_zip(path: &Path) -> Outcome<Vec<String>> {
    named(&Zipped::open(path)?, path)
}

fn named(zipped: &Zipped, path: &Path) -> Outcome<Vec<String>> {
    let names = shapefiles(&zipped.names);
    match names.is_empty() {
        true => Err(nothing_to_read(path, &zipped.names)),
        false => Ok(names),
    }
}

pub(super) fn zipped(path: &Path, table: Option<&str>) -> Outcome<Parts> {
    let mut zipped = Zipped::open(path)?;
    let names = named(&zipped, path)?;
    let base = |name: &str| name.rsplit('/').next().unwrap_or(name).to_string();
    let chosen = match (table, names.as_slice()) {
        (None, [only]) => only,
        (None, _) => {
            return Err(Fault::input(
                "read.several_tables",
                Place::file(path),
                format!("The zip file holds {} shapefiles", names.len()),
                format!("one of {}", listed(names.iter().map(String::as_str))),
                "Say which one with `table` in the job.",
            ));
        }
        (Some(table), _) => names
            .iter()
            .find(|name| *name == table)
            .or_else(|| names.iter().find(|name| base(name) == table))
            .ok_or_else(|| {
                Fault::input(
                    "read.no_such_table",
                    Place::file(path),
                    format!("The zip file holds no shapefile '{table}'"),
                    format!("one of {}", listed(names.iter().map(String::as_str))),
                    "Correct `table` in the job.",
                )
            })?,
    };
    let mut part = |extension: &str| -> Outcome<Option<Vec<u8>>> {
        let wanted = |entry: &String| {
            split(entry)
                .is_some_and(|(stem, own)| stem == chosen && own.eq_ignore_ascii_case(extension))
        };
        match zipped.names.iter().position(wanted) {
            Some(at) => zipped.unpack(at, MOST_BYTES).map(Some),
            None => Ok(None),
        }
    };
    Ok(Parts {
        name: Some(base(chosen)),
        shp: part("shp")?.unwrap_or_default(),
        dbf: part("dbf")?,
        prj: part("prj")?,
        cpg: part("cpg")?,
        shx: part("shx")?,
    })
}

/// Stem (with folders) and extension of an entry.
fn split(entry: &str) -> Option<(&str, &str)> {
    let (stem, extension) = entry.rsplit_once('.')?;
    (!extension.contains('/')).then_some((stem, extension))
}

fn shapefiles(entries: &[String]) -> Vec<String> {
    let mut names: Vec<String> = entries
        .iter()
        // macOS adds a shadow of every file under this folder.
        .filter(|entry| !entry.starts_with("__MACOSX/"))
        .filter_map(|entry| split(entry))
        .filter(|(_, extension)| extension.eq_ignore_ascii_case("shp"))
        .map(|(stem, _)| stem.to_string())
        .collect();
    names.sort();
    names.dedup();
    names
}
