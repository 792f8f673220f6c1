//! A new job, or one for each of several fields, from files that were put into the folder.

use super::super::desk::Desk;
use super::super::split;
use super::{Room, files};
use crate::edit::{NewJob, NewLayer, WhichField};
use crate::findings::{Fault, Outcome, Place};
use crate::job::Source;
use serde::Deserialize;
use serde_json::{Value, json};
use std::fs;
use std::path::{Path, PathBuf};
use std::sync::Arc;

/// What the page knows of a new job.
#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct Start {
    /// Name of a folder for it; the folder that is open without one.
    #[serde(default)]
    folder: Option<String>,
    boundary: Source,
    #[serde(default)]
    field: Which,
    #[serde(default)]
    layers: Vec<Layer>,
}

/// A file of zones or values.
#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Layer {
    source: Source,
    #[serde(default)]
    column: Option<String>,
}

/// Which features of the boundary file are the field.
#[derive(Deserialize, Default)]
#[serde(rename_all = "snake_case", deny_unknown_fields)]
enum Which {
    #[default]
    Unsaid,
    /// All: parts of one field.
    Parts,
    /// Those with these values of the attributes, a job for each in a folder of its own where there are several.
    Fields {
        attributes: Vec<String>,
        values: Vec<Vec<String>>,
    },
}

impl Start {
    /// The jobs to write, the first of them to be opened.
    ///
    /// # Errors
    /// A path that leads out of the folder; no field is named.
    pub(super) fn jobs(self, room: &Room) -> Outcome<Vec<NewJob>> {
        let home = room.desk().map_or(room.home.clone(), |desk| desk.folder());
        let boundary = below(&home, self.boundary)?;
        let mut layers = Vec::new();
        for layer in self.layers {
            layers.push(NewLayer {
                source: below(&home, layer.source)?,
                column: layer.column.filter(|column| !column.is_empty()),
            });
        }
        let job = |folder: PathBuf, field: WhichField| NewJob {
            folder,
            boundary: boundary.clone(),
            field,
            layers: layers.clone(),
            language: room.language(),
        };
        let own = match self.folder.as_deref() {
            None | Some("") => home.clone(),
            Some(name) => files::new_below(&home, name)?,
        };
        Ok(match self.field {
            Which::Unsaid => vec![job(own, WhichField::Unsaid)],
            Which::Parts => vec![job(own, WhichField::Parts)],
            Which::Fields { values, .. } if values.is_empty() => return Err(none_chosen()),
            Which::Fields { attributes, values } => {
                let several = values.len() > 1;
                let mut jobs = Vec::new();
                for values in values {
                    let folder = match several {
                        true => free_folder(&own, &values.join(", "), &jobs)?,
                        false => own.clone(),
                    };
                    let only = attributes.iter().cloned().zip(values).collect();
                    jobs.push(job(folder, WhichField::Only(only)));
                }
                jobs
            }
        })
    }
}

/// Writes the jobs: all of them, or none.
///
/// # Errors
/// What a job cannot be begun for: then what was written here for others is away again.
pub(super) fn begun(
    jobs: &[NewJob],
    new: fn(&NewJob) -> Outcome<PathBuf>,
) -> Outcome<Vec<PathBuf>> {
    let mut files = Vec::new();
    let mut folders = Vec::new();
    for job in jobs {
        if !job.folder.exists() {
            folders.push(&job.folder);
        }
        match new(job) {
            Ok(file) => files.push(file),
            Err(fault) => {
                for file in &files {
                    // Left behind, it is a job of the folder like any other.
                    let _ = fs::remove_file(file);
                }
                for folder in folders {
                    // Only if it is empty.
                    let _ = fs::remove_dir(folder);
                }
                return Err(fault);
            }
        }
    }
    Ok(files)
}

/// Makes one job for each field of a job with `split_by`, beside it, and opens the first of them. The job itself is kept under another
/// name, for its fields are planned by their own.
///
/// # Errors
/// A job for one field; files that cannot be written: then what was written here is away again.
pub(super) fn split(room: &Room, desk: &Desk) -> Outcome<Value> {
    desk.unspoilt()?;
    let file = desk.file();
    let folder = desk.folder();
    let text = desk.look(|inner| Arc::clone(inner.edit.text()));
    let values = (room.commands.fields)(&file)?;
    let jobs = split::texts(&text, &file, &values, &room.commands.text)?;
    let stem = file.file_stem().unwrap_or_default().to_string_lossy();
    let mut made: Vec<String> = Vec::new();
    let away = |made: &[String]| {
        for name in made {
            // Left behind, it is a job of the folder like any other.
            let _ = fs::remove_file(folder.join(name));
        }
    };
    for (value, text) in &jobs {
        match files::put(&folder, &format!("{stem} {value}.toml"), text.as_bytes()) {
            Ok(name) => made.push(name),
            Err(fault) => {
                away(&made);
                return Err(fault);
            }
        }
    }
    let name = file.file_name().unwrap_or_default().to_string_lossy();
    let kept = files::put(&folder, &format!("{name}.split"), text.as_bytes());
    let kept = kept.inspect_err(|_| away(&made))?;
    let changed = changed_over(
        &file,
        made.first().map(|first| folder.join(first)).as_deref(),
        &|job| room.open(job),
    );
    changed.inspect_err(|_| {
        away(&made);
        away(std::slice::from_ref(&kept));
    })?;
    Ok(json!({ "files": made, "kept": kept }))
}

/// Opens the first of the new jobs and takes the old file away, which is kept under another name.
///
/// # Errors
/// A job that cannot be opened; a file that cannot be removed: then the old job is open again.
fn changed_over(
    old: &Path,
    first: Option<&Path>,
    open: &dyn Fn(&Path) -> Outcome<()>,
) -> Outcome<()> {
    first.map_or(Ok(()), open)?;
    if let Err(error) = fs::remove_file(old) {
        open(old)?;
        return Err(Fault::machine(
            "edit.not_split",
            Place::file(old),
            format!("the job cannot be taken away once it is split: {error}"),
            "a job file that you may remove",
            "close other programs that hold it, and check the rights of the folder",
        ));
    }
    Ok(())
}

fn below(home: &Path, source: Source) -> Outcome<Source> {
    let named = source.file.to_string_lossy().into_owned();
    Ok(Source {
        file: files::below(home, &named)?,
        ..source
    })
}

/// A folder named after a field, for a job that is not there yet.
fn free_folder(home: &Path, value: &str, taken: &[NewJob]) -> Outcome<PathBuf> {
    let base = files::tidy(value).unwrap_or_else(|| "field".to_owned());
    for nth in 1_u32.. {
        let name = match nth {
            1 => base.clone(),
            nth => format!("{base}-{nth}"),
        };
        let folder = files::new_below(home, &name)?;
        let there = folder.join("job.toml").exists();
        if !there && !taken.iter().any(|job| job.folder == folder) {
            return Ok(folder);
        }
    }
    files::new_below(home, &base)
}

fn none_chosen() -> Box<Fault> {
    Fault::input(
        "edit.no_field",
        Place::nowhere(),
        "no field of the file is chosen",
        "one field, or several",
        "choose it on the map or in the list",
    )
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn where_one_job_cannot_be_begun_none_is() {
        let home = tempfile::tempdir().expect("a folder");
        let jobs = ["a", "b", "c"].map(|name| NewJob {
            folder: home.path().join(name),
            boundary: Source::default(),
            field: WhichField::Unsaid,
            layers: Vec::new(),
            language: crate::job::Language::default(),
        });
        let new = |job: &NewJob| {
            let file = job.folder.join("job.toml");
            fs::create_dir_all(&job.folder).expect("a folder");
            match job.folder.ends_with("b") {
                true => Err(none_chosen()),
                false => fs::write(&file, "")
                    .map(|()| file)
                    .map_err(|_| none_chosen()),
            }
        };
        // One folder was there before, with a file of somebody.
        fs::create_dir(&jobs[0].folder).expect("a folder");
        fs::write(jobs[0].folder.join("soil.csv"), "").expect("written");
        assert!(begun(&jobs, new).is_err());
        let left = |nth: usize| fs::read_dir(&jobs[nth].folder).map(Iterator::count).ok();
        assert_eq!([left(0), left(1), left(2)], [Some(1), None, None]);
        assert_eq!(
            begun(&jobs[..1], new).map(|files| files.len()).ok(),
            Some(1)
        );
    }

    #[test]
    fn a_split_that_fails_leaves_the_old_job_open() {
        let home = tempfile::tempdir().expect("a folder");
        let [old, first] = ["job.toml", "job a.toml"].map(|name| home.path().join(name));
        fs::write(&old, "").expect("written");
        let opened = std::cell::RefCell::new(Vec::new());
        let open = |job: &Path| {
            opened.borrow_mut().push(job.to_path_buf());
            Ok(())
        };
        // One that cannot be opened: the old file stays.
        let refused = |_: &Path| Err(none_chosen());
        assert!(changed_over(&old, Some(&first), &refused).is_err());
        assert!(old.exists());
        assert!(changed_over(&old, Some(&first), &open).is_ok());
        assert!(!old.exists());
        // One that cannot be removed, here because it is gone: told, and the old job is the open one.
        let fault = changed_over(&old, Some(&first), &open).map_err(|fault| fault.to_string());
        assert!(fault.is_err_and(|text| text.contains("cannot be taken away")));
        assert_eq!(opened.into_inner(), [first.clone(), first, old.clone()]);
    }

    #[test]
    fn a_long_name_is_still_one_of_a_folder_when_it_is_taken() {
        let home = tempfile::tempdir().expect("a folder");
        for name in ["f".repeat(120), "f".repeat(300), "深".repeat(120)] {
            let first = free_folder(home.path(), &name, &[]).map_err(|fault| fault.to_string());
            let first = first.expect("a folder");
            fs::create_dir(&first).expect("a folder");
            fs::write(first.join("job.toml"), "").expect("written");
            let next = free_folder(home.path(), &name, &[]).map_err(|fault| fault.to_string());
            assert_ne!(next, Ok(first), "{name}");
        }
    }
}
