//! Where a command writes, looked at before it writes anything: a slip in the command is told and changes nothing, and a folder
//! that is missing is made.

use crate::findings::{Fault, Outcome, Place};
use crate::report;
use crate::write;
use crate::write::folder::MARKER;
use std::fs::{self, File};
use std::io::Read as _;
use std::path::{Path, PathBuf};

/// What an earlier result of a command is known by. Anything else under its name belongs to somebody and is not written over.
#[derive(Clone, Copy)]
pub(super) enum Known<'a> {
    /// A page of ours, by the id of a heading that its template alone has.
    Page(&'a str),
    /// By how it begins, and by what it holds.
    Text(&'a str, &'a str),
    /// By whatever tells it.
    Seen(&'a dyn Fn(&Path) -> bool),
    /// Whoever reads what is there to add to it refuses what is not in its form.
    Read,
    /// By nothing: people fill it in, so no file under its name is ever written over. What it is, with its article.
    Never(&'a str),
}

/// How all pages of ours begin: no style but their own, no script, nothing from elsewhere.
const PAGE: [&str; 2] = [
    "<!doctype html>\n<html lang=\"",
    "content=\"default-src 'none'; style-src 'sha256-",
];
/// So much of a file is looked at: style and first headings of a page, or the first rows of a table.
const LOOKED_AT: u64 = 256 * 1024;

impl Known<'_> {
    /// Whether a file that is there is an earlier result. One that cannot be read is none.
    pub fn is_own(self, file: &Path) -> bool {
        let (begins, holds) = match self {
            Self::Read => return true,
            Self::Never(_) => return false,
            Self::Seen(tells) => return tells(file),
            Self::Page(id) => (
                PAGE[0],
                vec![PAGE[1].to_owned(), format!("<h2 id=\"{id}\">")],
            ),
            Self::Text(begins, holds) => (begins, vec![holds.to_owned()]),
        };
        let mut bytes = Vec::new();
        let read = File::open(file).and_then(|file| file.take(LOOKED_AT).read_to_end(&mut bytes));
        let text = String::from_utf8_lossy(&bytes);
        read.is_ok()
            && text.trim_start().starts_with(begins)
            && holds.iter().all(|part| text.contains(part.as_str()))
    }

    /// What to say of a file that is not written over.
    fn in_the_way(self, file: &Path) -> Box<Fault> {
        let (found, allowed, next) = match self {
            Self::Never(what) => (
                format!(
                    "A file of this name is here already, and {what} is never written over, for somebody may have filled it in"
                ),
                "a name that is free",
                "Choose another name or another folder, or move this file away; nothing was changed.",
            ),
            Self::Page(_) | Self::Text(..) | Self::Seen(_) | Self::Read => (
                "A file is here that this command has not written as it is".to_owned(),
                "a name that is free, or that of an earlier result of the same command",
                "Name another file, or move this one away; nothing was written.",
            ),
        };
        Fault::input("output.foreign", Place::file(file), found, allowed, next)
    }
}

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

/// Looks at all files that a command is about to write, so that none is written where another cannot be, and none over what
/// is not an earlier result of the command.
///
/// # Errors
/// A folder stands where the file is to be, or a file where a folder is to be; two of them are the same file; one lies in a
/// folder that is replaced as a whole, as that of a plan; something else is there under its name.
pub(super) fn check<'a>(files: impl IntoIterator<Item = (&'a Path, Known<'a>)>) -> Outcome<()> {
    let mut seen: Vec<PathBuf> = Vec::new();
    for (file, known) in files {
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
        outside_results(file)?;
        // What is no file, such as a terminal or a pipe, is written to as it is; an empty file loses nothing.
        let is_there = fs::metadata(file).is_ok_and(|found| found.is_file() && found.len() > 0);
        if is_there && !known.is_own(file) {
            return Err(known.in_the_way(file));
        }
        seen.push(own);
    }
    Ok(())
}

/// Refuses a list under a name that does not end as its form does, and under that of a plan's report: a slip must not fall on a job.
///
/// # Errors
/// Another ending.
pub(super) fn check_ending(file: Option<&Path>, ending: &str, such_as: &str) -> Outcome<()> {
    let is_right = |file: &&Path| {
        let own = file.extension().unwrap_or_default();
        own.eq_ignore_ascii_case(ending) && !file.ends_with(report::FILE)
    };
    match file.filter(|file| !is_right(file)) {
        None => Ok(()),
        Some(file) => Err(wrong(
            file,
            "This is no name for the list",
            &format!(
                "a file name that ends in .{ending}, and is not {}",
                report::FILE
            ),
            &format!("Name it, for example, {such_as}; nothing was written."),
        )),
    }
}

/// Refuses what lies in the folder of a plan, a stick or zones: such a folder is replaced as a whole, and never once it holds
/// anything else.
///
/// # Errors
/// It lies in one.
pub(super) fn outside_results(path: &Path) -> Outcome<()> {
    let whole = in_full(path);
    let inside = whole.ancestors().skip(1);
    match inside
        .into_iter()
        .find(|folder| folder.join(MARKER).is_file())
    {
        None => Ok(()),
        Some(folder) => Err(Fault::input(
            "output.inside",
            Place::file(path),
            format!(
                "This lies in {}, which holds a plan, a stick or zones and is replaced as a whole",
                folder.display()
            ),
            "a place outside of it",
            "Name another place, such as one beside it; nothing was written.",
        )),
    }
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

/// The same path for the same file, whether it is there or not: past all links as far as it is there.
fn in_full(file: &Path) -> PathBuf {
    if let Ok(found) = fs::canonicalize(file) {
        return found;
    }
    let whole = std::path::absolute(file).unwrap_or_else(|_| file.to_path_buf());
    let there = whole
        .ancestors()
        .find_map(|own| Some((own, fs::canonicalize(own).ok()?)));
    let full = there.and_then(|(own, found)| Some(found.join(whole.strip_prefix(own).ok()?)));
    full.unwrap_or(whole)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_cannot_be_written_is_told_before() {
        let folder = tempfile::tempdir().expect("a folder");
        let at = |name: &str| folder.path().join(name);
        const OWN: Known<'_> = Known::Text("a,b\n", "");
        fs::write(at("file"), "").expect("written");
        fs::write(at("own.csv"), "a,b\n1,2\n").expect("written");
        fs::write(at("other.csv"), "a,b,c\n1,2,3\n").expect("written");
        for made in ["there", "plan", "plan/in"] {
            fs::create_dir(at(made)).expect("made");
        }
        fs::write(at("plan").join(MARKER), "").expect("written");
        let refused = |names: &[&str]| {
            let files: Vec<PathBuf> = names.iter().map(|name| at(name)).collect();
            let told = check(files.iter().map(|file| (file.as_path(), OWN)));
            told.err().map(|fault| fault.to_string())
        };
        for (names, part) in [
            (&["there"][..], "a folder"),
            (&["file/page.html"], "a file"),
            (&["new/"], "no file in it"),
            (&["there/."], "no file in it"),
            (&["file", "there/../file"], "one file"),
            (&["new/a", "new/./a"], "one file"),
            (&["other.csv"], "has not written"),
            (&["own.csv", "plan/free.csv"], "replaced as a whole"),
            (&["there/../plan/in/new/free.csv"], "replaced as a whole"),
        ] {
            let told = refused(names).unwrap_or_default();
            assert!(told.contains(part), "{names:?}: {told}");
        }
        let free = ["file", "own.csv", "new/deep/page.html", "there/new"];
        assert_eq!(refused(&free), None);
        assert!(!at("new").exists(), "looking makes nothing");
        make_folders([at("new/deep/page.html").as_path()]).expect("made");
        assert!(at("new/deep").is_dir());
        assert!(make_folder(&at("file")).is_err());
        assert!(named(Path::new("records/."), [".csv"]).is_err());
    }
}
