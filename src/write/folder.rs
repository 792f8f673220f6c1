//! An output folder that is replaced as a whole or not at all.
//!
//! The new content is written to a folder beside the target (`<name>.twinsow-new`). Then the old
//! result is moved aside (`<name>.twinsow-old`), the new one takes its name, and the old one is
//! deleted. Whatever an interruption leaves behind is recognised at the next run:
//!
//! | target | `-old` | `-new` | what happened | what the next run does first |
//! | --- | --- | --- | --- | --- |
//! | any | no | yes | stopped while writing | deletes `-new` |
//! | no or empty | yes | any | stopped between the two moves | moves `-old` back, deletes `-new` |
//! | yes | yes | any | stopped while deleting | deletes `-old` |
//!
//! What is ours is removed with its marker last, so that what a stop leaves of it is still known for ours. Both moves
//! are on the disk before anything else is done, and a lock beside the target tells a second run from a leftover.
//!
//! The folder carries a marker with the list of its files. A folder without it, or with files that
//! are not on the list, is not ours to delete: it is refused before anything is touched.

use super::disk;
use crate::findings::{Fault, Outcome, Place};
use std::collections::BTreeSet;
use std::fs;
use std::io::{self, ErrorKind};
use std::path::{Path, PathBuf};

/// Name of the marker file.
pub const MARKER: &str = ".twinsow-plan";
/// First line of the marker file.
const FIRST_LINE: &str = "twinsow-plan 1";
const FILES_LINE: &str = "files:";

/// What a folder is to us.
#[derive(Debug, PartialEq)]
enum State {
    Missing,
    Empty,
    Ours,
    /// Not ours, with the first thing that shows it.
    Foreign(String),
}

/// Fills a folder that does not exist yet, is empty, or holds an older result of ours.
///
/// `fill` writes everything into the folder it is given. `about` are lines for the marker file
/// (version, plan id). Only when `fill` has succeeded does anything change at `target`.
///
/// # Errors
/// The target is not ours to replace (input); what `fill` returns; the disk (machine). In each case
/// the old result is where it was and the temporary folder is gone.
pub fn replace<T>(
    target: &Path,
    about: &str,
    fill: impl FnOnce(&Path) -> Outcome<T>,
) -> Outcome<T> {
    let target = real_path(target)?;
    let new = beside(&target, "twinsow-new")?;
    let old = beside(&target, "twinsow-old")?;
    refuse_foreign(&target, look(&target)?)?;
    disk::folder(disk::folder_of(&target))?;
    let _lock = Lock::on(&target, &beside(&target, "twinsow-lock")?)?;
    // The two names beside the target are ours by name; still nothing foreign is deleted.
    for leftover in [&new, &old] {
        refuse_foreign(leftover, look_at_leftover(leftover)?)?;
    }
    recover(&target, &new, &old)?;
    may_be_removed(&target)?;

    let temporary = Temporary(&new);
    fs::create_dir(&new).map_err(|error| disk::fault(&new, "made", &error))?;
    write_marker(&new, about, &BTreeSet::new())?;
    let result = fill(&new).map_err(|fault| as_target(fault, &new, &target))?;
    let files = files_in(&new)?;
    for file in &files {
        disk::keep(&new.join(file)).map_err(|fault| as_target(fault, &new, &target))?;
    }
    write_marker(&new, about, &files)?;
    swap(&target, &new, &old)?;
    drop(temporary);
    // If this fails (a file is open elsewhere), the result stands and the next run deletes it.
    let _ = remove_ours(&old);
    Ok(result)
}

/// Copies a folder that [`replace`] has made under another name, as a whole or not at all.
///
/// # Errors
/// Either folder is not ours (input); the disk (machine). The first one is never touched.
pub fn copy(from: &Path, to: &Path) -> Outcome<()> {
    let from = real_path(from)?;
    refuse_foreign(&from, look(&from)?)?;
    let (about, _) = read_marker(&from)?.unwrap_or_default();
    let files = files_in(&from)?;
    replace(to, &about, |folder| {
        for file in &files {
            let (own, copy) = (from.join(file), folder.join(file));
            let made = fs::create_dir_all(disk::folder_of(&copy));
            let made = made.and_then(|()| fs::copy(&own, &copy));
            made.map_err(|error| disk::fault(&copy, "written", &error))?;
        }
        Ok(())
    })
}

/// Whether the files in a folder are those of the plan with this id, by its marker.
pub fn is_of_plan(folder: &Path, id: &str) -> bool {
    let marker = fs::read_to_string(folder.join(MARKER)).unwrap_or_default();
    let of_plan = format!("plan {id}");
    marker.lines().any(|line| line == of_plan)
}

/// Adds one file to a folder that [`replace`] has made, and to its list.
///
/// # Errors
/// The folder is not ours (input); the disk (machine).
pub fn add(target: &Path, name: &str, bytes: &[u8]) -> Outcome<()> {
    let target = real_path(target)?;
    let state = look(&target)?;
    if state != State::Ours {
        refuse_foreign(&target, State::Foreign(format!("no {MARKER}")))?;
    }
    let (about, mut files) = read_marker(&target)?.unwrap_or_default();
    let path = target.join(name);
    let part = disk::part_of(Path::new(name));
    files.extend([name.to_string(), part.to_string_lossy().into_owned()]);
    // The list first: a name on it without a file does no harm.
    write_marker(&target, &about, &files)?;
    disk::save(&path, bytes).map_err(|error| disk::fault(&path, "written", &error))
}

/// Does something with a folder that is added to, one run at a time.
///
/// # Errors
/// Another run has it (machine); what `work` returns; the disk (machine).
pub fn locked<T>(target: &Path, work: impl FnOnce() -> Outcome<T>) -> Outcome<T> {
    let target = real_path(target)?;
    disk::folder(disk::folder_of(&target))?;
    let _lock = Lock::on(&target, &beside(&target, "twinsow-lock")?)?;
    work()
}

/// Names the file where the user will look for it, not where it lay for a moment.
fn as_target(mut fault: Box<Fault>, new: &Path, target: &Path) -> Box<Fault> {
    if let Some(file) = &mut fault.place.file {
        *file = file.replace(&new.display().to_string(), &target.display().to_string());
    }
    fault
}

/// Deletes the temporary folder however the run ends.
struct Temporary<'a>(&'a Path);

impl Drop for Temporary<'_> {
    fn drop(&mut self) {
        let _ = remove_ours(self.0);
    }
}

/// Deletes a folder of ours: its marker last, so that what is left after a stop is still ours.
fn remove_ours(folder: &Path) -> io::Result<()> {
    let marker = folder.join(MARKER);
    for entry in fs::read_dir(folder)? {
        let entry = entry?;
        let path = entry.path();
        match entry.file_type()?.is_dir() {
            true => fs::remove_dir_all(path)?,
            false if path != marker => fs::remove_file(path)?,
            false => {}
        }
    }
    disk::keep_names(folder)?;
    match fs::remove_file(&marker) {
        Err(error) if error.kind() != ErrorKind::NotFound => return Err(error),
        _ => {}
    }
    fs::remove_dir(folder)
}

/// Refuses an older result that this user could move aside and then not delete, as one of another user's: what is
/// left of it would stand in the way of every later run.
fn may_be_removed(target: &Path) -> Outcome<()> {
    if look(target)? != State::Ours {
        return Ok(());
    }
    let mut open = vec![target.to_path_buf()];
    while let Some(folder) = open.pop() {
        let probe = disk::part_of(&folder.join(MARKER));
        let tried = fs::File::create(&probe).and_then(|_| fs::remove_file(&probe));
        tried.map_err(|error| disk::fault(&folder, "replaced", &error))?;
        let entries =
            fs::read_dir(&folder).map_err(|error| disk::fault(&folder, "read", &error))?;
        for entry in entries.flatten() {
            if entry.file_type().is_ok_and(|kind| kind.is_dir()) {
                open.push(entry.path());
            }
        }
    }
    Ok(())
}

/// A file beside the target that one run at a time holds locked. The system lets go of the lock when the run ends,
/// however it ends.
struct Lock {
    path: PathBuf,
    _held: fs::File,
}

impl Lock {
    fn on(target: &Path, path: &Path) -> Outcome<Self> {
        loop {
            let file = fs::File::create(path);
            let file = file.map_err(|error| disk::fault(path, "made", &error))?;
            match file.try_lock() {
                Ok(()) => {}
                Err(fs::TryLockError::WouldBlock) => return Err(busy(target)),
                Err(fs::TryLockError::Error(error)) => {
                    return Err(disk::fault(path, "locked", &error));
                }
            }
            // The run before may have removed the file between the two steps: then this is a lock on nothing.
            if is_still_there(&file, path) {
                return Ok(Self {
                    path: path.to_path_buf(),
                    _held: file,
                });
            }
        }
    }
}

impl Drop for Lock {
    fn drop(&mut self) {
        // Removed while it is held, so that no other run holds what is removed.
        let _ = fs::remove_file(&self.path);
    }
}

#[cfg(unix)]
fn is_still_there(file: &fs::File, path: &Path) -> bool {
    use std::os::unix::fs::MetadataExt;
    let of = |found: fs::Metadata| (found.dev(), found.ino());
    let held = file.metadata().map(of);
    let there = fs::metadata(path).map(of);
    matches!((held, there), (Ok(held), Ok(there)) if held == there)
}

#[cfg(not(unix))]
fn is_still_there(_: &fs::File, path: &Path) -> bool {
    path.exists()
}

fn busy(target: &Path) -> Box<Fault> {
    Fault::machine(
        "write.busy",
        Place::file(target),
        "Another run is writing to this folder",
        "one run at a time for each output folder",
        "Wait until it has ended, or name another output folder; nothing was touched.",
    )
}

/// The absolute path, with a link followed, so that the folder behind it is the one replaced.
fn real_path(target: &Path) -> Outcome<PathBuf> {
    let is_link = fs::symlink_metadata(target).is_ok_and(|found| found.is_symlink());
    let path = if is_link {
        fs::canonicalize(target)
    } else {
        std::path::absolute(target)
    };
    path.map_err(|error| disk::fault(target, "found", &error))
}

fn beside(target: &Path, suffix: &str) -> Outcome<PathBuf> {
    let Some(name) = target.file_name() else {
        return Err(Fault::input(
            "write.folder_name",
            Place::file(target),
            "The output folder has no name of its own",
            "a folder that can be replaced as a whole",
            "Name a folder inside it, such as 'plan'.",
        ));
    };
    let mut name = name.to_os_string();
    name.push(".");
    name.push(suffix);
    Ok(target.with_file_name(name))
}

fn refuse_foreign(path: &Path, state: State) -> Outcome<()> {
    let State::Foreign(what) = state else {
        return Ok(());
    };
    Err(Fault::input(
        "write.foreign_folder",
        Place::file(path),
        format!("The folder holds something that is not from an earlier plan: {what}"),
        "a new or empty folder, or one that holds only an earlier plan",
        "Move that elsewhere or name another output folder; nothing was touched.",
    ))
}

fn look(path: &Path) -> Outcome<State> {
    match fs::metadata(path) {
        Err(error) if error.kind() == ErrorKind::NotFound => return Ok(State::Missing),
        Err(error) => return Err(disk::fault(path, "read", &error)),
        Ok(found) if !found.is_dir() => {
            return Ok(State::Foreign("it is a file, not a folder".to_string()));
        }
        Ok(_) => {}
    }
    let there = files_in(path)?;
    let Some((_, listed)) = read_marker(path)? else {
        let has_folders = fs::read_dir(path)
            .map_err(|error| disk::fault(path, "read", &error))?
            .flatten()
            .any(|entry| entry.file_type().is_ok_and(|kind| kind.is_dir()));
        return Ok(match there.first() {
            Some(first) => State::Foreign(format!("'{first}'")),
            None if has_folders => State::Foreign("other folders".to_string()),
            None => State::Empty,
        });
    };
    let foreign = there
        .iter()
        .find(|file| !listed.contains(*file) && !is_dropping(file));
    Ok(match foreign {
        Some(file) => State::Foreign(format!("'{file}'")),
        None => State::Ours,
    })
}

/// A leftover is ours with any marker: its list may not have been written yet.
fn look_at_leftover(path: &Path) -> Outcome<State> {
    match look(path)? {
        State::Foreign(_) if path.is_dir() && read_marker(path)?.is_some() => Ok(State::Ours),
        state => Ok(state),
    }
}

/// Files that systems and GIS programs drop beside a file they were shown.
fn is_dropping(file: &str) -> bool {
    let name = file.rsplit('/').next().unwrap_or(file);
    let names = [".DS_Store", "Thumbs.db", "desktop.ini"];
    let ends = [
        ".aux.xml",
        ".ovr",
        ".qix",
        ".sbn",
        ".sbx",
        ".gpkg-wal",
        ".gpkg-shm",
        ".gpkg-journal",
    ];
    names.contains(&name) || name.starts_with("._") || ends.iter().any(|end| name.ends_with(end))
}

/// Brings the folder into one of the states that a run may start from.
fn recover(target: &Path, new: &Path, old: &Path) -> Outcome<()> {
    if new.exists() {
        remove_ours(new).map_err(|error| disk::fault(new, "removed", &error))?;
    }
    if !old.exists() {
        return Ok(());
    }
    if look(target)? == State::Ours {
        return remove_ours(old).map_err(|error| disk::fault(old, "removed", &error));
    }
    remove_empty(target)?;
    moved(old, target).map_err(|error| disk::fault(old, "moved back", &error))
}

fn remove_empty(target: &Path) -> Outcome<()> {
    match fs::remove_dir(target) {
        Err(error) if error.kind() != ErrorKind::NotFound => {
            Err(disk::fault(target, "replaced", &error))
        }
        _ => Ok(()),
    }
}

fn swap(target: &Path, new: &Path, old: &Path) -> Outcome<()> {
    let replaces = look(target)? == State::Ours;
    if replaces {
        moved(target, old).map_err(|error| disk::fault(target, "moved aside", &error))?;
    } else {
        remove_empty(target)?;
    }
    moved(new, target).map_err(|error| {
        if replaces {
            let _ = moved(old, target);
        }
        disk::fault(target, "replaced", &error)
    })
}

/// Gives a folder another name beside its own, on the disk too; where that fails it has its own name again.
fn moved(from: &Path, to: &Path) -> io::Result<()> {
    fs::rename(from, to)?;
    disk::keep_names(disk::folder_of(to)).inspect_err(|_| {
        let _ = fs::rename(to, from);
    })
}

/// All files below a folder, relative, with `/`, the marker left out.
fn files_in(folder: &Path) -> Outcome<BTreeSet<String>> {
    let mut found = BTreeSet::new();
    let mut open = vec![(folder.to_path_buf(), String::new())];
    while let Some((path, prefix)) = open.pop() {
        let entries = fs::read_dir(&path).map_err(|error| disk::fault(&path, "read", &error))?;
        for entry in entries {
            let entry = entry.map_err(|error| disk::fault(&path, "read", &error))?;
            let name = format!("{prefix}{}", entry.file_name().to_string_lossy());
            let kind = entry
                .file_type()
                .map_err(|error| disk::fault(&path, "read", &error))?;
            if kind.is_dir() {
                open.push((entry.path(), format!("{name}/")));
            } else if name != MARKER && !is_part_of_marker(&name) {
                found.insert(name);
            }
        }
    }
    Ok(found)
}

fn write_marker(folder: &Path, about: &str, files: &BTreeSet<String>) -> Outcome<()> {
    let mut text = format!("{FIRST_LINE}\n{}\n{FILES_LINE}\n", about.trim_end());
    for file in files {
        text.push_str(file);
        text.push('\n');
    }
    let marker = folder.join(MARKER);
    disk::save(&marker, text.as_bytes()).map_err(|error| disk::fault(&marker, "written", &error))
}

/// The marker before it takes its name, in this folder or one below it.
fn is_part_of_marker(name: &str) -> bool {
    let name = name.rsplit('/').next().unwrap_or(name);
    disk::part_of(Path::new(MARKER)).as_os_str() == name
}

/// What the marker says about the plan, and its list; `None` if the folder has no marker of ours.
fn read_marker(folder: &Path) -> Outcome<Option<(String, BTreeSet<String>)>> {
    let path = folder.join(MARKER);
    let bytes = match fs::read(&path) {
        Ok(bytes) => bytes,
        Err(error) if error.kind() == ErrorKind::NotFound => return Ok(None),
        Err(error) => return Err(disk::fault(&path, "read", &error)),
    };
    // A stop, or a disk that was full, may leave it empty.
    if bytes.is_empty() {
        return Ok(Some((String::new(), BTreeSet::new())));
    }
    let text = String::from_utf8_lossy(&bytes);
    let mut lines = text.lines();
    if lines.next() != Some(FIRST_LINE) {
        return Ok(None);
    }
    let about: Vec<&str> = lines
        .by_ref()
        .take_while(|line| *line != FILES_LINE)
        .collect();
    Ok(Some((
        about.join("\n"),
        lines.map(str::to_string).collect(),
    )))
}

#[cfg(test)]
#[path = "folder_tests.rs"]
mod tests;
