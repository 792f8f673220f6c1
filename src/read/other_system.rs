//! Paths that are written as on another system: why a file that is there may not be found under them.

use std::fs;
use std::path::{Component, Path, PathBuf};

/// What to do about a path that leads nowhere here, where another system's way of writing paths is why; `None` where it is not.
///
/// Looked for are a drive letter, `\` between folders, and capitals, which only some systems tell apart. The file itself is
/// never taken instead: which one is meant is for the job to say.
pub(super) fn advice(path: &Path) -> Option<String> {
    if cfg!(windows) {
        return None;
    }
    if on_a_drive(path) {
        return Some(
            "This is a path on a drive of Windows, which only that machine has: copy the file beside the job, and write its path from there, with / between folders.".to_owned(),
        );
    }
    let whole = path.to_str()?;
    if whole.contains('\\') {
        let slashes = PathBuf::from(whole.replace('\\', "/"));
        let there = match slashes.exists() {
            true => Some(slashes),
            false => in_other_case(&slashes),
        };
        return Some(match there {
            Some(there) => format!(
                r"Write / between folders, not \, which only Windows knows: '{}' is there.",
                there.display()
            ),
            None => r"Write / between folders, not \, which only Windows knows.".to_owned(),
        });
    }
    in_other_case(path).map(|there| {
        format!(
            "'{}' is there: write it so, for capitals count on this system.",
            there.display()
        )
    })
}

/// Whether the path has a drive letter, or is one of a server, as Windows writes them.
fn on_a_drive(path: &Path) -> bool {
    path.components().any(|part| {
        let Component::Normal(part) = part else {
            return false;
        };
        let Some(part) = part.to_str() else {
            return false;
        };
        let mut letters = part.chars();
        let drive = letters.next().is_some_and(|c| c.is_ascii_alphabetic())
            && letters.next() == Some(':')
            && matches!(letters.next(), None | Some('\\'));
        drive || part.starts_with(r"\\")
    })
}

/// The path of something that is there and differs from this one in capitals alone; `None` without one, and where
/// there are several.
fn in_other_case(path: &Path) -> Option<PathBuf> {
    let mut found = PathBuf::new();
    let mut changed = false;
    for part in path.components() {
        let next = found.join(part);
        let Component::Normal(name) = part else {
            found = next;
            continue;
        };
        if next.exists() {
            found = next;
            continue;
        }
        let name = name.to_str()?.to_lowercase();
        let folder = match found.as_os_str().is_empty() {
            true => Path::new("."),
            false => &found,
        };
        let mut alike = fs::read_dir(folder)
            .ok()?
            .flatten()
            .map(|entry| entry.file_name())
            .filter(|entry| entry.to_str().is_some_and(|e| e.to_lowercase() == name));
        let only = alike.next()?;
        if alike.next().is_some() {
            return None;
        }
        found.push(only);
        changed = true;
    }
    changed.then_some(found)
}

#[cfg(all(test, not(windows)))]
mod tests {
    use super::*;

    #[test]
    fn a_path_of_another_system_is_told_and_the_file_that_is_meant() {
        let folder = tempfile::tempdir().unwrap();
        fs::create_dir(folder.path().join("Maps")).unwrap();
        fs::write(folder.path().join("Maps/soil.shp"), "x").unwrap();
        let said = |name: &str| advice(&folder.path().join(name)).unwrap_or_default();
        for (name, parts) in [
            (r"Maps\soil.shp", ["/ between folders", "/Maps/soil.shp'"]),
            (r"maps\Soil.shp", ["/ between folders", "/Maps/soil.shp'"]),
            (r"maps\none.shp", ["/ between folders", "only Windows"]),
            (r"C:\Maps\soil.shp", ["drive", "beside the job"]),
            ("d:/Maps/soil.shp", ["drive", "beside the job"]),
            (r"\\barn\Maps\soil.shp", ["drive", "beside the job"]),
            ("maps/SOIL.shp", ["/Maps/soil.shp'", "capitals"]),
        ] {
            let said = said(name);
            assert!(
                parts.iter().all(|part| said.contains(part)),
                "{name}: {said}"
            );
        }
        // Neither a time in a name nor another letter is one.
        for name in ["Maps/soil 12:30.shp", "Maps/sail.shp", "none/soil.shp"] {
            assert_eq!(said(name), "", "{name}");
        }
    }

    #[test]
    fn of_two_names_that_differ_in_capitals_none_is_offered() {
        let folder = tempfile::tempdir().unwrap();
        fs::write(folder.path().join("Soil.shp"), "x").unwrap();
        if folder.path().join("soil.shp").exists() {
            return; // This disk does not tell capitals apart.
        }
        fs::write(folder.path().join("SOIL.shp"), "x").unwrap();
        assert_eq!(advice(&folder.path().join("soil.shp")), None);
    }
}
