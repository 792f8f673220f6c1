//! Files in the folder of a job: none above it, none that a link leads out of it to.

use crate::findings::{Fault, Outcome, Place};
use std::fs::{self, OpenOptions};
use std::io::{ErrorKind, Write};
use std::path::{Component, Path, PathBuf};

/// Code of the fault about a path that leads out of the folder.
pub const NOT_BELOW: &str = "edit.not_below";

/// A file below a folder, by a path that came with a request.
///
/// # Errors
/// A path that leads out of the folder, by `..`, from the root or by a link; nothing there.
pub fn below(folder: &Path, path: &str) -> Outcome<PathBuf> {
    let relative = Path::new(path);
    let plain = |part: Component| matches!(part, Component::Normal(_));
    // A backslash and a colon mean something on some systems; no file of a plan has one in its name.
    let odd = path.is_empty() || path.contains(['\\', ':', '\0']);
    if odd || !relative.components().all(plain) {
        return Err(not_below(path));
    }
    let found = fs::canonicalize(folder.join(relative)).map_err(|_| missing(path))?;
    let folder = fs::canonicalize(folder).map_err(|_| missing(path))?;
    match found.starts_with(&folder) {
        true => Ok(found),
        false => Err(not_below(path)),
    }
}

/// A folder that may be new, right below another, by a name that came with a request.
///
/// # Errors
/// A name that a folder cannot have.
pub fn new_below(folder: &Path, name: &str) -> Outcome<PathBuf> {
    let fits = |clean: &String| clean == name && clean.len() <= LONGEST_BYTES;
    match clean(name).filter(fits) {
        Some(name) if !folder.join(&name).is_symlink() => Ok(folder.join(name)),
        _ => Err(not_below(name)),
    }
}

fn not_below(path: &str) -> Box<Fault> {
    Fault::input(
        NOT_BELOW,
        Place::nowhere(),
        format!("'{}' leads out of the folder", short(path)),
        "a file below the folder of the job",
        "put the file there",
    )
}

fn missing(path: &str) -> Box<Fault> {
    Fault::input(
        super::NOT_FOUND,
        Place::nowhere(),
        format!("there is no '{}'", short(path)),
        "a file that is there",
        "look at its name",
    )
}

fn short(path: &str) -> String {
    path.chars().take(120).filter(|c| !c.is_control()).collect()
}

/// Puts a file into a folder under its own name, or one like it that is free; gives that name.
///
/// # Errors
/// A name without anything that a name can hold; a disk that will not have it.
pub fn put(folder: &Path, name: &str, content: &[u8]) -> Outcome<String> {
    let name = tidy(name).ok_or_else(|| {
        Fault::input(
            "edit.file_name",
            Place::nowhere(),
            format!("'{}' is no name for a file", short(name)),
            "letters, digits, and an ending such as .geojson",
            "give the file another name, and drop it again",
        )
    })?;
    let (stem, ending) = match name.rsplit_once('.') {
        Some((stem, ending)) => (stem, format!(".{ending}")),
        None => (name.as_str(), String::new()),
    };
    for nth in 1_u32.. {
        let free = match nth {
            1 => name.clone(),
            nth => format!("{stem}-{nth}{ending}"),
        };
        let path = folder.join(&free);
        // Never what is there already, and never through a link.
        match OpenOptions::new().write(true).create_new(true).open(&path) {
            Ok(mut file) => {
                let written = file.write_all(content).and_then(|()| file.sync_all());
                return match written {
                    Ok(()) => Ok(free),
                    Err(error) => {
                        let _ = fs::remove_file(&path);
                        Err(unwritable(&path, &error))
                    }
                };
            }
            Err(error) if error.kind() == ErrorKind::AlreadyExists && nth < MOST_ALIKE => {}
            Err(error) => return Err(unwritable(&path, &error)),
        }
    }
    Ok(name)
}

/// So many files of one name may lie in a folder.
const MOST_ALIKE: u32 = 1000;

fn unwritable(path: &Path, error: &std::io::Error) -> Box<Fault> {
    Fault::machine(
        "edit.unwritable",
        Place::file(path),
        format!("this file cannot be written: {error}"),
        "a folder you may write to, with room on the disk",
        "free some room or mend the permissions, and drop the file again",
    )
}

/// The last part of a name, with letters, digits and what commonly stands between them; none where nothing is left.
fn clean(name: &str) -> Option<String> {
    let last = name.rsplit(['/', '\\']).next()?;
    let kept = |c: char| match c.is_alphanumeric() || " -_.()".contains(c) {
        true => c,
        false => '_',
    };
    let kept: String = last.chars().map(kept).collect();
    let kept = kept.trim_matches([' ', '.']).to_owned();
    (!kept.is_empty()).then_some(kept)
}

/// A clean name, cut so that a number that tells it from others can stand behind it. What a file is stands in its ending, which is
/// never cut off.
pub(super) fn tidy(name: &str) -> Option<String> {
    let name = clean(name)?;
    let (stem, ending) = match name.rsplit_once('.') {
        Some((stem, ending)) if ending.len() <= LONGEST_ENDING => (stem, format!(".{ending}")),
        _ => (name.as_str(), String::new()),
    };
    let mut bytes = 0;
    let fits = |c: &char| {
        bytes += c.len_utf8();
        bytes <= LONGEST_STEM
    };
    let stem: String = stem.chars().take_while(fits).collect();
    let stem = stem.trim_end_matches([' ', '.']);
    (!stem.is_empty()).then(|| format!("{stem}{ending}"))
}

/// Systems have names of up to 255 bytes, or as many UTF-16 units. So much of one is kept before its ending, and so long are
/// endings, bytes.
const LONGEST_STEM: usize = 200;
const LONGEST_ENDING: usize = 20;
const LONGEST_BYTES: usize = 250;

/// What a file of a plan is, by its ending.
pub fn media_type(path: &Path) -> &'static str {
    match path.extension().and_then(|ending| ending.to_str()) {
        Some("html") => "text/html; charset=utf-8",
        Some("svg") => "image/svg+xml",
        Some("png") => "image/png",
        Some("json" | "geojson") => "application/json",
        Some("csv" | "txt" | "toml" | "md") => "text/plain; charset=utf-8",
        _ => "application/octet-stream",
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn nothing_outside_the_folder_is_found() {
        let top = tempfile::tempdir().expect("a folder");
        let folder = top.path().join("job");
        fs::create_dir_all(folder.join("maps")).expect("folders");
        fs::write(folder.join("maps/a.json"), "{}").expect("a file");
        fs::write(top.path().join("secret"), "x").expect("a file");
        assert!(below(&folder, "maps/a.json").is_ok());
        let secret = top.path().join("secret").display().to_string();
        for path in [
            "../secret",
            "maps/../../secret",
            secret.as_str(),
            "",
            "/",
            "..",
            "maps\\a.json",
            "c:x",
        ] {
            let fault = below(&folder, path).expect_err(path);
            assert_eq!(fault.code, NOT_BELOW, "{path}");
        }
        #[cfg(unix)]
        {
            std::os::unix::fs::symlink(top.path().join("secret"), folder.join("link"))
                .expect("a link");
            std::os::unix::fs::symlink(top.path(), folder.join("up")).expect("a link");
            for path in ["link", "up/secret"] {
                assert_eq!(
                    below(&folder, path).expect_err(path).code,
                    NOT_BELOW,
                    "{path}"
                );
            }
        }
    }

    #[test]
    fn a_file_never_takes_the_place_of_another() {
        let folder = tempfile::tempdir().expect("a folder");
        let put = |name: &str| put(folder.path(), name, b"new").expect("a name");
        fs::write(folder.path().join("job.toml"), "old").expect("a file");
        assert_eq!(put("job.toml"), "job-2.toml");
        assert_eq!(put("../../soil map.geojson"), "soil map.geojson");
        assert_eq!(put("soil map.geojson"), "soil map-2.geojson");
        assert_eq!(
            fs::read(folder.path().join("job.toml")).expect("it"),
            b"old"
        );
        assert!(super::put(folder.path(), "..", b"").is_err());
    }

    #[test]
    fn a_long_name_keeps_its_ending_and_stays_a_name_when_it_is_numbered() {
        let folder = tempfile::tempdir().expect("a folder");
        // 255 bytes is the most that a name may have on common systems (POSIX NAME_MAX on ext4, NTFS: 255 characters).
        for letter in ["a", "ü", "深"] {
            let long = format!("{}.geojson", letter.repeat(300));
            for nth in 1..=3 {
                let name = put(folder.path(), &long, b"new").expect("a name");
                assert!(name.ends_with(".geojson") && name.len() <= 255, "{name}");
                assert_eq!(name.contains(&format!("-{nth}.")), nth > 1, "{name}");
                assert_eq!(clean(&name), Some(name));
            }
        }
        let field = tidy(&"b".repeat(120)).expect("a name");
        assert!(new_below(folder.path(), &format!("{field}-2")).is_ok());
    }
}
