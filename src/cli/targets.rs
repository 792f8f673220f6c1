//! Where a command writes, looked at before it writes anything: a slip in the command is told and changes nothing, and a folder
//! that is missing is made.

use crate::findings::{Fault, Outcome, Place};
use crate::write;
use std::fs;
use std::path::{Path, PathBuf};

/// The files NAME.ENDING.
///
/// # Errors
/// A name that ends in no name of a file, such as `.` or `records/`.
pub(super) fn named<const N: usize>(name: &Path, endings: [&str; N]) -> Outcome<[PathBuf; N]> {
    check_name(name)?;
    Ok(endings.map(|ending| {
        let mut file = name.as_os_str().to_owned();
        file.push(ending);
        PathBuf::from(file)
    }))
}

/// Looks at all files that a command is about to write, so that none is written where another cannot be.
///
/// # Errors
/// A folder stands where the file is to be, or a file where a folder is to be; two of them are the same file.
pub(super) fn check<'a>(files: impl IntoIterator<Item = &'a Path>) -> Outcome<()> {
    let mut seen: Vec<PathBuf> = Vec::new();
    for file in files {
        check_name(file)?;
        if file.is_dir() {
            let next = "Name a file, or move the folder away; nothing was written.";
            return Err(wrong(file, "This is a folder", "the name of a file", next));
        }
        check_folder(folder_of(file))?;
        let own = in_full(file);
        if seen.contains(&own) {
            let next = "Name another file; nothing was written.";
            let found = "Two results are to be written into this one file";
            return Err(wrong(file, found, "a file for each", next));
        }
        seen.push(own);
    }
    Ok(())
}

/// Makes the folders that files lie in, where they are missing.
///
/// # Errors
/// As [`make_folder`].
pub(super) fn make_folders<'a>(files: impl IntoIterator<Item = &'a Path>) -> Outcome<()> {
    files
        .into_iter()
        .try_for_each(|file| make_folder(folder_of(file)))
}

/// Makes a folder and those that it lies in, where they are missing.
///
/// # Errors
/// A file stands in the way (input); the disk (machine).
pub(super) fn make_folder(folder: &Path) -> Outcome<()> {
    check_folder(folder)?;
    fs::create_dir_all(folder).map_err(|error| unwritable(folder, &error))
}

/// Writes files that belong together, as [`write::save_together`] does.
///
/// # Errors
/// The disk.
pub(super) fn put(files: &[(PathBuf, Vec<u8>)]) -> Outcome<()> {
    let all: Vec<(&Path, &[u8])> = files
        .iter()
        .map(|(file, bytes)| (file.as_path(), bytes.as_slice()))
        .collect();
    write::save_together(&all).map_err(|(file, error)| unwritable(&file, &error))
}

/// The disk will not have a file.
pub(super) fn unwritable(file: &Path, error: &std::io::Error) -> Box<Fault> {
    Fault::machine(
        "output.unwritable",
        Place::file(file),
        format!("This cannot be written: {error}"),
        "a folder you may write to, with room on the disk",
        "Free the disk or the file, or name another.",
    )
}

fn wrong(path: &Path, found: &str, allowed: &str, next: &str) -> Box<Fault> {
    Fault::input("output.target", Place::file(path), found, allowed, next)
}

/// What is typed has to end in a name: a library would look past `/` and `/.` at the end.
fn check_name(file: &Path) -> Outcome<()> {
    let text = file.to_string_lossy();
    let last = text.rsplit(std::path::is_separator).next();
    match last.unwrap_or_default() {
        "" | "." | ".." => {
            let next = "Put a name behind it; nothing was written.";
            let found = "This names a folder and no file in it";
            Err(wrong(file, found, "a name", next))
        }
        _ => Ok(()),
    }
}

/// Whether a folder is there or can be made.
fn check_folder(folder: &Path) -> Outcome<()> {
    let there = folder
        .ancestors()
        .find_map(|own| Some((own, fs::metadata(own).ok()?)));
    match there {
        Some((own, found)) if !found.is_dir() => {
            let next = "Name a folder, or move the file away; nothing was written.";
            Err(wrong(own, "This is a file", "a folder", next))
        }
        _ => Ok(()),
    }
}

fn folder_of(file: &Path) -> &Path {
    match file.parent() {
        Some(folder) if folder != Path::new("") => folder,
        _ => Path::new("."),
    }
}

/// The same path for the same file, whether it is there or not.
fn in_full(file: &Path) -> PathBuf {
    if let Ok(found) = fs::canonicalize(file) {
        return found;
    }
    let folder = folder_of(file);
    let folder = fs::canonicalize(folder).or_else(|_| std::path::absolute(folder));
    match (folder, file.file_name()) {
        (Ok(folder), Some(name)) => folder.join(name),
        _ => file.to_path_buf(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_cannot_be_written_is_told_before() {
        let folder = tempfile::tempdir().expect("a folder");
        let at = |name: &str| folder.path().join(name);
        fs::write(at("file"), "").expect("written");
        fs::create_dir(at("there")).expect("made");
        let refused = |names: &[&str]| {
            let files: Vec<PathBuf> = names.iter().map(|name| at(name)).collect();
            let told = check(files.iter().map(PathBuf::as_path));
            told.err().map(|fault| fault.to_string())
        };
        for (names, part) in [
            (&["there"][..], "a folder"),
            (&["file/page.html"], "a file"),
            (&["new/"], "no file in it"),
            (&["there/."], "no file in it"),
            (&["file", "there/../file"], "one file"),
            (&["new/a", "new/./a"], "one file"),
        ] {
            let told = refused(names).unwrap_or_default();
            assert!(told.contains(part), "{names:?}: {told}");
        }
        assert_eq!(refused(&["file", "new/deep/page.html", "there/new"]), None);
        assert!(!at("new").exists(), "looking makes nothing");
        make_folders([at("new/deep/page.html").as_path()]).expect("made");
        assert!(at("new/deep").is_dir());
        assert!(make_folder(&at("file")).is_err());
        assert!(named(Path::new("records/."), [".csv"]).is_err());
    }
}
