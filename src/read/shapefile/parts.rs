//! The files a shapefile consists of, beside each other in a folder or in a zip file.

use super::super::file::{self, folder_of, listed};
use crate::findings::{Fault, Outcome, Place};
use std::fs;
use std::io::{Cursor, Read};
use std::path::{Path, PathBuf};
use zip::ZipArchive;

/// The extensions that are read, the main file first.
pub(super) const EXTENSIONS: [&str; 5] = ["shp", "dbf", "prj", "cpg", "shx"];

/// Neither a .shp nor a .dbf can be larger by its format; a zip file that unpacks to more is none.
const LARGEST: u64 = 1 << 31;

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
    let mut archive = archive(path)?;
    let entries = entries(&mut archive, path)?;
    let names = shapefiles(&entries);
    if names.is_empty() {
        return Err(Fault::input(
            "read.zip_without_shapefile",
            Place::file(path),
            match entries.is_empty() {
                true => "The zip file is empty".to_string(),
                false => format!(
                    "The zip file holds no .shp, only {}",
                    listed(entries.iter().map(String::as_str))
                ),
            },
            "a zip file with the files of a shapefile",
            "Unpack it and name the map file inside.",
        ));
    }
    Ok(names)
}

pub(super) fn zipped(path: &Path, table: Option<&str>) -> Outcome<Parts> {
    let names = names_in_zip(path)?;
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
    let mut archive = archive(path)?;
    let entries = entries(&mut archive, path)?;
    let mut part = |extension: &str| -> Outcome<Option<Vec<u8>>> {
        let wanted = |entry: &String| {
            split(entry)
                .is_some_and(|(stem, own)| stem == chosen && own.eq_ignore_ascii_case(extension))
        };
        match entries.iter().position(wanted) {
            Some(at) => unpack(&mut archive, at, path).map(Some),
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

fn archive(path: &Path) -> Outcome<ZipArchive<Cursor<Vec<u8>>>> {
    ZipArchive::new(Cursor::new(file::bytes(path)?))
        .map_err(|error| damaged(path, &error.to_string()))
}

/// Names of all entries, by index, with `/` between folders.
fn entries(archive: &mut ZipArchive<Cursor<Vec<u8>>>, path: &Path) -> Outcome<Vec<String>> {
    (0..archive.len())
        .map(|at| {
            // Raw: names can be listed even where the packing method is not known.
            let entry = archive
                .by_index_raw(at)
                .map_err(|error| damaged(path, &error.to_string()))?;
            let name = entry
                .name()
                .map_err(|error| damaged(path, &error.to_string()))?;
            Ok(name.replace('\\', "/"))
        })
        .collect()
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

fn unpack(archive: &mut ZipArchive<Cursor<Vec<u8>>>, at: usize, path: &Path) -> Outcome<Vec<u8>> {
    let entry = archive
        .by_index(at)
        .map_err(|error| damaged(path, &error.to_string()))?;
    // The size that the zip file states is not believed: the buffer grows with what comes out.
    let mut bytes = Vec::new();
    let length = entry
        .take(LARGEST + 1)
        .read_to_end(&mut bytes)
        .map_err(|error| damaged(path, &error.to_string()))?;
    match length as u64 > LARGEST {
        true => Err(damaged(
            path,
            "a part unpacks to more than 2 GB, which no shapefile has",
        )),
        false => Ok(bytes),
    }
}

fn damaged(path: &Path, problem: &str) -> Box<Fault> {
    Fault::input(
        "read.zip",
        Place::file(path),
        format!("The zip file cannot be unpacked ({problem})"),
        "a whole zip file without password, packed the common way (deflate)",
        "Copy it again, or unpack it and name the .shp file.",
    )
}
