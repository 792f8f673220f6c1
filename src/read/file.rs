//! Getting at a file: is it there, may it be read, is it a file at all.

use super::other_system;
use crate::findings::{Fault, Outcome, Place};
use std::fs::{self, File, Metadata};
use std::io::{self, Read};
use std::path::{Path, PathBuf};

/// Which files are read, for messages.
pub(super) const FORMATS: &str = "GeoJSON (.geojson, .json), Shapefile (.shp, or one zipped), GeoPackage (.gpkg), points in CSV (.csv) or a spreadsheet (.xlsx, .ods), GPX (.gpx), KML (.kml, .kmz), GML (.gml) and task data (folder TASKDATA, or zipped)";

/// Most bytes of a file that is held in memory as a whole. Neither a .shp nor a .dbf can be larger by its
/// format.
pub(super) const MOST_BYTES: u64 = 1 << 31;

/// So many bytes at the start of a file say what it holds.
const HEAD: u64 = 4096;

/// Checks that this is a file with something in it.
pub(super) fn check(path: &Path) -> Outcome<()> {
    let place = Place::file(path);
    let about = about(path)?;
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
    if head(path, HEAD)?.iter().all(|byte| *byte == 0) {
        return Err(Fault::input(
            "read.zeros",
            place,
            "The file begins with zeros and nothing else, as no format does",
            FORMATS,
            "Export or copy it again; a broken copy or a download that was cut short leaves such files.",
        ));
    }
    Ok(())
}

/// What the disk says about a file or folder; links are followed.
///
/// # Errors
/// It is not there; its name is none that the disk takes; links lead in a circle; it is neither file nor folder.
pub(super) fn about(path: &Path) -> Outcome<Metadata> {
    about_of(path, FORMATS)
}

/// The same where only `allowed` may be.
///
/// # Errors
/// As [`about`].
pub(super) fn about_of(path: &Path, allowed: &str) -> Outcome<Metadata> {
    let about = fs::metadata(path).map_err(|error| match is_missing(&error) {
        true => missing(path, allowed),
        false => unreadable(path, &error),
    })?;
    ends(path, &about)?;
    Ok(about)
}

fn is_missing(error: &io::Error) -> bool {
    let kinds = [io::ErrorKind::NotFound, io::ErrorKind::NotADirectory];
    kinds.contains(&error.kind())
}

/// Checks that reading comes to an end: it does for a file or a folder, not for a pipe or a device.
///
/// # Errors
/// It is neither.
fn ends(path: &Path, about: &Metadata) -> Outcome<()> {
    if about.is_file() || about.is_dir() {
        return Ok(());
    }
    Err(Fault::input(
        "read.no_regular_file",
        Place::file(path),
        "This is a pipe, a device or a socket, and no file",
        "a file on a disk",
        "Save what comes out of it as a file, and name that.",
    ))
}

/// The same check for a path that somebody else reads and speaks about. One that is not there passes.
///
/// # Errors
/// A pipe or a device; a name that no disk takes; links in a circle.
pub fn no_endless(path: &Path) -> Outcome<()> {
    match fs::metadata(path) {
        Ok(about) => ends(path, &about),
        Err(error) => bad_path(path, &error).map_or(Ok(()), Err),
    }
}

/// Opens a file whose end comes.
pub(super) fn opened(path: &Path) -> Outcome<File> {
    about(path)?;
    File::open(path).map_err(|error| unreadable(path, &error))
}

/// All bytes of a file.
pub(super) fn bytes(path: &Path) -> Outcome<Vec<u8>> {
    let file = opened(path)?;
    let too_large = |length: u64| {
        Fault::input(
            "read.too_large",
            Place::file(path),
            format!("The file has {}", size(length)),
            format!("up to {} in one file of this format", size(MOST_BYTES)),
            "Cut the layer to the land around the field in a GIS, and export that; or export it as GeoPackage, of which only what is asked for is read.",
        )
    };
    let length = file
        .metadata()
        .map_err(|error| unreadable(path, &error))?
        .len();
    if length > MOST_BYTES {
        return Err(too_large(length));
    }
    let mut bytes = Vec::with_capacity(length as usize);
    // It may grow while it is read.
    file.take(MOST_BYTES + 1)
        .read_to_end(&mut bytes)
        .map_err(|error| unreadable(path, &error))?;
    match bytes.len() as u64 > MOST_BYTES {
        true => Err(too_large(bytes.len() as u64)),
        false => Ok(bytes),
    }
}

/// A number of bytes for people: `12 bytes`, `34 MB`.
pub(super) fn size(bytes: u64) -> String {
    match bytes {
        0..1_000_000 => format!("{bytes} bytes"),
        1_000_000..1_000_000_000 => format!("{} MB", bytes / 1_000_000),
        _ => format!("{:.1} GB", bytes as f64 / 1e9),
    }
}

/// The first bytes of a file, at most `length`.
pub(super) fn head(path: &Path, length: u64) -> Outcome<Vec<u8>> {
    let mut head = Vec::new();
    opened(path)?
        .take(length)
        .read_to_end(&mut head)
        .map_err(|error| unreadable(path, &error))?;
    Ok(head)
}

/// The fault for a file that the machine does not hand out.
pub(super) fn unreadable(path: &Path, error: &io::Error) -> Box<Fault> {
    if is_missing(error) {
        return missing(path, FORMATS);
    }
    if let Some(fault) = bad_path(path, error) {
        return fault;
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

/// The fault for a path that leads nowhere however often it is tried: a name that no disk takes, or links in a
/// circle. `None` where that is not what is wrong.
fn bad_path(path: &Path, error: &io::Error) -> Option<Box<Fault>> {
    if matches!(
        error.kind(),
        io::ErrorKind::InvalidFilename | io::ErrorKind::InvalidInput
    ) {
        let letters = path.as_os_str().len();
        return Some(Fault::input(
            "read.bad_name",
            Place::file(shortened(path)),
            format!("No file can have this name, of {letters} letters, on this disk ({error})"),
            "the path of a file",
            "Correct the path.",
        ));
    }
    let link = path.ancestors().find(|part| {
        fs::symlink_metadata(part).is_ok_and(|about| about.is_symlink())
            && fs::metadata(part).is_err_and(|error| {
                !matches!(
                    error.kind(),
                    io::ErrorKind::NotFound | io::ErrorKind::PermissionDenied
                )
            })
    })?;
    Some(Fault::input(
        "read.link_loop",
        Place::file(path),
        format!(
            "The link '{}' leads to no file: links lead in a circle",
            link.display()
        ),
        "a file, or links that end at one",
        "Remove the link, and name the file itself.",
    ))
}

/// A path that a screen can show.
fn shortened(path: &Path) -> String {
    const MOST: usize = 120;
    let whole = path.display().to_string();
    match whole.chars().count() > MOST {
        true => whole.chars().take(MOST).chain("...".chars()).collect(),
        false => whole,
    }
}

/// The fault for a file that is not there, where `allowed` may be.
fn missing(path: &Path, allowed: &str) -> Box<Fault> {
    let folder = folder_of(path);
    let next = if let Some(advice) = other_system::advice(path) {
        advice
    } else if !folder.is_dir() {
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
        allowed,
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
        // Of short names one letter in common is much by that measure, and no likeness.
        let whole = strsim::normalized_damerau_levenshtein(&wanted, &name.to_lowercase());
        if likeness >= 0.75 && whole >= 0.4 && best.is_none_or(|(so_far, _)| likeness > so_far) {
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
        assert_eq!(closest("nope", ["o", "plan"]), None);
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

    #[test]
    fn what_is_too_large_or_zeros_only_is_refused_before_it_is_read() {
        let folder = tempfile::tempdir().unwrap();
        // Sparse: it takes no room on most disks.
        let path = folder.path().join("zeros.geojson");
        File::create(&path)
            .unwrap()
            .set_len(10_000_000_000)
            .unwrap();
        assert_eq!(check(&path).unwrap_err().code, "read.zeros");
        let fault = bytes(&path).unwrap_err();
        assert_eq!(fault.code, "read.too_large");
        assert!(fault.found.contains("10.0 GB"), "{fault}");
        assert!(fault.allowed.contains("2.1 GB"), "{fault}");
    }

    #[test]
    fn a_name_of_many_letters_is_the_fault_of_the_input() {
        let fault = check(Path::new(&"a".repeat(5000))).unwrap_err();
        assert_eq!(fault.code, "read.bad_name");
        assert_eq!(fault.blame, crate::findings::Blame::Input);
        assert!(fault.to_string().len() < 500, "{fault}");
    }

    #[cfg(unix)]
    #[test]
    fn links_in_a_circle_and_devices_are_told() {
        let folder = tempfile::tempdir().unwrap();
        let [one, two] = ["one.geojson", "two.geojson"].map(|name| folder.path().join(name));
        std::os::unix::fs::symlink(&one, &two).unwrap();
        std::os::unix::fs::symlink(&two, &one).unwrap();
        for path in [one.clone(), one.join("inside.shp")] {
            let fault = check(&path).unwrap_err();
            assert_eq!(fault.code, "read.link_loop", "{fault}");
        }
        assert_eq!(
            check(Path::new("/dev/zero")).unwrap_err().code,
            "read.no_regular_file"
        );
    }
}
