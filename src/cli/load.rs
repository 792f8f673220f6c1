//! A job from a file.

use crate::findings::{Fault, Outcome, Place};
use crate::job::Job;
use crate::read::no_endless;
use std::fs;
use std::io::ErrorKind;
use std::path::Path;

/// A job file is text written by hand; one beyond this is something else.
const MOST_BYTES: u64 = 10_000_000;

impl Job {
    /// Reads a job file.
    ///
    /// # Errors
    /// No such file, a folder, too large, not UTF-8, unreadable (machine), or what [`Job::parse_with`]
    /// says.
    pub fn load(path: &Path) -> Outcome<Self> {
        let job = Self::parse_with(&text(path)?, path, &text)?;
        grids_are_there(&job)?;
        Ok(job)
    }
}

/// The text of a job file or a machine file.
pub(super) fn text(path: &Path) -> Outcome<String> {
    String::from_utf8(read(path)?).map_err(|error| {
        let good = error.utf8_error().valid_up_to();
        let before = error.as_bytes().iter().take(good);
        let line = before.filter(|byte| **byte == b'\n').count() + 1;
        Fault::input(
            "job.not_utf8",
            Place::file(path).line(line),
            "the job file is not UTF-8 text",
            "text in UTF-8",
            "save the file as UTF-8 in your editor (not UTF-16, not the system code page)",
        )
    })
}

/// PROJ passes over a folder that is not there without a word; the user who named it should hear.
fn grids_are_there(job: &Job) -> Outcome<()> {
    let Some(folder) = &job.transformation_grids else {
        return Ok(());
    };
    let folder = job.folder.join(folder);
    if let Ok(entries) = fs::read_dir(&folder) {
        // PROJ opens what is in it, and a pipe would never end.
        return entries
            .flatten()
            .try_for_each(|entry| no_endless(&entry.path()));
    }
    Err(Fault::input(
        "job.no_grids_folder",
        Place::file(&job.file),
        format!(
            "transformation_grids = {} is not there, or is no folder",
            folder.display()
        ),
        "a folder that holds grids in the NTv2 form (.gsb)",
        "name the folder that holds them, relative to the job file, or leave the setting out",
    ))
}

fn read(path: &Path) -> Outcome<Vec<u8>> {
    no_endless(path)?;
    let metadata = fs::metadata(path).map_err(|error| unreadable(path, &error))?;
    if metadata.is_dir() {
        let inside = path.join("job.toml");
        let next = match inside.is_file() {
            true => format!("name the file in it: {}", inside.display()),
            false => "name a job file; 'twinsow new' starts one".to_owned(),
        };
        return Err(Fault::input(
            "job.folder",
            Place::file(path),
            "this is a folder, not a job file",
            "a job file in TOML",
            next,
        ));
    }
    if metadata.len() > MOST_BYTES {
        return Err(Fault::input(
            "job.too_large",
            Place::file(path),
            format!(
                "the file has {} bytes, too many for a job file",
                metadata.len()
            ),
            format!("a job file in TOML of up to {MOST_BYTES} bytes"),
            "name the job file; boundary and layers are named inside it",
        ));
    }
    fs::read(path).map_err(|error| unreadable(path, &error))
}

fn unreadable(path: &Path, error: &std::io::Error) -> Box<Fault> {
    match error.kind() {
        ErrorKind::NotFound | ErrorKind::NotADirectory | ErrorKind::InvalidInput => Fault::input(
            "job.no_file",
            Place::file(path),
            "there is no such file",
            "the path of a job file",
            "check the path and the folder you are in; 'twinsow new' starts a job file",
        ),
        _ => Fault::machine(
            "job.unreadable",
            Place::file(path),
            format!("the job file cannot be read: {error}"),
            "a file you may read",
            "check its permissions and the disk",
        ),
    }
}
