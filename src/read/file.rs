//! Getting at a file: is it there, may it be read, is it a file at all.

use crate::findings::{Fault, Outcome, Place};
use std::fs::{self, File};
use std::io::{self, Read};
use std::path::{Path, PathBuf};

/// Which files are read, for messages.
pub(super) const FORMATS: &str = "GeoJSON (.geojson, .json), Shapefile (.shp, or one zipped), GeoPackage (.gpkg), points in CSV (.csv) and task data (folder TASKDATA, or zipped)";

/// Checks that this is a file with something in it.
pub(super) fn check(path: &Path) -> Outcome<()> {
    let place = Place::file(path);
    let about = fs::metadata(path).map_err(|error| unreadable(path, &error))?;
    if about.is_dir() {
        return Err(Fault::input(
            "read.folder",
            place,
            "This is a folder without TASKDATA.XML, and other folders are not read",
            FORMATS,
            "Name the file inside the folder.",
        ));
    }
    if about.len() == 0 {
        return Err(Fault::input(
            "read.zero_bytes",
            place,
            "The file is empty (0 bytes)",
            FORMATS,
            "Export or copy it again; a full disk or a broken copy leaves such files.",
        ));
    }
    Ok(())
}

/// All bytes of a file.
pub(super) fn bytes(path: &Path) -> Outcome<Vec<u8>> {
    fs::read(path).map_err(|error| unreadable(path, &error))
}

/// The first bytes of a file, at most `length`.
pub(super) fn head(path: &Path, length: u64) -> Outcome<Vec<u8>> {
    let mut head = Vec::new();
    File::open(path)
        .and_then(|file| file.take(length).read_to_end(&mut head))
        .map_err(|error| unreadable(path, &error))?;
    Ok(head)
}

/// The fault for a file that the machine does not hand out.
pub(super) fn unreadable(path: &Path, error: &io::Error) -> Box<Fault> {
    if matches!(
        error.kind(),
        io::ErrorKind::NotFound | io::ErrorKind::NotADirectory
    ) {
        return missing(path);
    }
    let next = match error.kind() {
        io::ErrorKind::PermissionDenied => "Give yourself the right to read it.",
        _ => "Check the disk or the connection to it, then try again.",
    };
    Fault::machine(
        "read.unreadable",
        Place::file(path),
        format!("The file cannot be read ({error})"),
        "a file that may be read",
        next,
    )
}

fn missing(path: &Path) -> Box<Fault> {
    let folder = folder_of(path);
    let next = if !folder.is_dir() {
        format!(
            "There is no folder '{}' either; correct the path.",
            folder.display()
        )
    } else {
        match nearest(path, &folder) {
            Some(name) => format!("The nearest name in that folder is '{name}'."),
            None => {
                "Correct the path; relative paths start from the folder of the job file.".into()
            }
        }
    };
    Fault::input(
        "read.missing",
        Place::file(path),
        "There is no such file",
        FORMATS,
        next,
    )
}

/// The folder a file lies in; `.` for a bare name.
pub(super) fn folder_of(path: &Path) -> PathBuf {
    match path.parent() {
        Some(folder) if !folder.as_os_str().is_empty() => folder.to_path_buf(),
        _ => PathBuf::from("."),
    }
}

/// The file name of that folder that looks most like the wanted one.
fn nearest(path: &Path, folder: &Path) -> Option<String> {
    let wanted = path.file_name()?.to_string_lossy().to_lowercase();
    let mut names: Vec<String> = fs::read_dir(folder)
        .ok()?
        .flatten()
        .filter(|entry| entry.path().is_file())
        .map(|entry| entry.file_name().to_string_lossy().into_owned())
        .collect();
    // The order of a folder differs from machine to machine.
    names.sort();
    closest(&wanted, names.iter().map(String::as_str)).map(str::to_string)
}

/// The name most like `wanted`, if any is like it at all. The first wins where several are.
pub(super) fn closest<'a>(
    wanted: &str,
    names: impl IntoIterator<Item = &'a str>,
) -> Option<&'a str> {
    let wanted = wanted.to_lowercase();
    let mut best: Option<(f64, &str)> = None;
    for name in names {
        let likeness = strsim::jaro_winkler(&wanted, &name.to_lowercase());
        if likeness >= 0.75 && best.is_none_or(|(so_far, _)| likeness > so_far) {
            best = Some((likeness, name));
        }
    }
    best.map(|(_, name)| name)
}

/// Names in quotes, in a row, at most ten of them.
pub(super) fn listed<'a>(names: impl IntoIterator<Item = &'a str>) -> String {
    const MOST: usize = 10;
    let all: Vec<&str> = names.into_iter().collect();
    let mut text = all
        .iter()
        .take(MOST)
        .map(|name| format!("'{name}'"))
        .collect::<Vec<_>>()
        .join(", ");
    if all.len() > MOST {
        text.push_str(&format!(" and {} more", all.len() - MOST));
    }
    text
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_nearest_name_is_offered_only_if_it_is_near() {
        let names = ["boundary.geojson", "soil.shp"];
        assert_eq!(closest("boundry.geojson", names), Some("boundary.geojson"));
        assert_eq!(closest("Soil.SHP", names), Some("soil.shp"));
        assert_eq!(closest("xyz", names), None);
    }

    #[test]
    fn long_lists_are_cut_and_say_so() {
        assert_eq!(listed(["a", "b"]), "'a', 'b'");
        assert!(listed(["x"; 13]).ends_with("'x' and 3 more"));
    }

    #[test]
    fn a_missing_file_names_the_nearest_one() {
        let folder = tempfile::tempdir().unwrap();
        fs::write(folder.path().join("boundary.geojson"), "{}").unwrap();
        let fault = check(&folder.path().join("bondary.geojson")).unwrap_err();
        assert_eq!(fault.code, "read.missing");
        assert!(fault.next.contains("'boundary.geojson'"), "{fault}");
        let fault = check(&folder.path().join("none").join("a.shp")).unwrap_err();
        assert!(fault.next.contains("no folder"), "{fault}");
    }
}
