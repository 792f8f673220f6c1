//! Files that were drawn here. One is there before the job names it, and goes only after the job has let go of it, so that a
//! job that names a file that is not there never lies on the disk.

use super::server::put;
use crate::findings::{Fault, Outcome, Place};
use std::collections::BTreeMap;
use std::fs::{self, OpenOptions};
use std::io::{ErrorKind, Write};
use std::path::Path;

/// What is in the files that were drawn since the job was opened, by name.
#[derive(Default)]
pub struct DrawnFiles(BTreeMap<String, String>);

impl DrawnFiles {
    /// Writes a new file; gives the name that it got.
    ///
    /// # Errors
    /// As [`put`].
    pub(super) fn put(&mut self, folder: &Path, name: &str, text: String) -> Outcome<String> {
        let name = put(folder, name, text.as_bytes())?;
        self.0.insert(name.clone(), text);
        Ok(name)
    }

    /// Writes a file again that has been taken away; one that is there as it was drawn stays. Whether it was written.
    ///
    /// # Errors
    /// Another file under its name; a disk that will not have it.
    pub(super) fn back(&self, folder: &Path, name: &str) -> Outcome<bool> {
        let Some(text) = self.0.get(name) else {
            return Ok(false);
        };
        let path = folder.join(name);
        let written = OpenOptions::new().write(true).create_new(true).open(&path);
        match written.and_then(|mut file| file.write_all(text.as_bytes()).and(file.sync_all())) {
            Ok(()) => Ok(true),
            Err(error) if error.kind() == ErrorKind::AlreadyExists => {
                match fs::read_to_string(&path).is_ok_and(|own| own == *text) {
                    true => Ok(false),
                    false => Err(taken(&path)),
                }
            }
            Err(error) => {
                let _ = fs::remove_file(&path);
                Err(Fault::machine(
                    "edit.unwritable",
                    Place::file(&path),
                    format!("this file cannot be written: {error}"),
                    "a folder you may write to, with room on the disk",
                    "free some room or mend the permissions, and do this again",
                ))
            }
        }
    }

    /// Takes a file away that the job names no more. It stays where somebody has changed it since, and where another job of the
    /// folder names it.
    pub(super) fn away(&self, job: &Path, folder: &Path, name: &str) {
        let path = folder.join(name);
        let as_drawn = fs::read_to_string(&path).ok();
        if as_drawn.is_some()
            && as_drawn.as_ref() == self.0.get(name)
            && !others_name(job, folder, name)
        {
            // Left behind, it harms nobody.
            let _ = fs::remove_file(&path);
        }
    }
}

fn taken(path: &Path) -> Box<Fault> {
    Fault::input(
        "edit.name_taken",
        Place::file(path),
        "this file is not what was drawn: somebody has changed it, or put another there",
        "the file as it was drawn, or none under its name",
        "move it away and do this again, or draw once more; nothing was written",
    )
}

/// Whether the text of another job file beside this one has the name in it.
fn others_name(job: &Path, folder: &Path, name: &str) -> bool {
    let entries = fs::read_dir(folder).into_iter().flatten().flatten();
    let others = entries.map(|entry| entry.path()).filter(|path| {
        let is_job = path.extension().is_some_and(|ending| ending == "toml");
        is_job && path.file_name() != job.file_name()
    });
    others
        .into_iter()
        .any(|path| fs::read_to_string(path).is_ok_and(|text| text.contains(name)))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_was_drawn_comes_back_and_is_not_taken_for_another_file() {
        let folder = tempfile::tempdir().expect("a folder");
        let mut drawn = DrawnFiles::default();
        let put = drawn.put(folder.path(), "pond.geojson", "drawn".to_owned());
        let name = put.map_err(|fault| fault.to_string()).expect("a name");
        let back = |drawn: &DrawnFiles| drawn.back(folder.path(), &name);
        assert!(matches!(back(&drawn), Ok(false)), "it is there");
        fs::remove_file(folder.path().join(&name)).expect("it");
        assert!(matches!(back(&drawn), Ok(true)), "it was away");
        fs::write(folder.path().join(&name), "another").expect("written");
        let fault = back(&drawn).expect_err("another");
        assert_eq!(fault.code, "edit.name_taken");
    }
}
