//! To the stick: task data of a plan in which nothing is open, copied to a drive that is mounted, and read back.

use super::desk::Desk;
use crate::findings::{Fault, Outcome, Place};
use crate::write;
use crate::write::folder::is_of_plan;
use serde_json::{Value, json};
use std::fs;
use std::io;
use std::path::{Path, PathBuf};

/// Code of the fault about task data that are held back.
pub const HELD_BACK: &str = "edit.held_back";

/// The folder that a terminal reads.
const FOLDER: &str = "TASKDATA";

/// Under this name the folder is written before it takes its own.
const PART: &str = "TASKDATA.twinsow-part";

/// Below these, systems mount drives that come and go.
const MOUNTED_BELOW: [&str; 4] = ["/media/", "/run/media/", "/mnt/", "/Volumes/"];

/// The drives that are mounted, for the page.
pub(super) fn drives() -> Value {
    let drives = mounted().into_iter().map(|path| {
        let name = path
            .file_name()
            .map(|name| name.to_string_lossy().into_owned());
        json!({ "path": path, "name": name })
    });
    json!({ "drives": drives.collect::<Vec<_>>() })
}

fn mounted() -> Vec<PathBuf> {
    let mounts = fs::read_to_string("/proc/self/mounts").unwrap_or_default();
    let points = mounts.lines().filter_map(|line| line.split(' ').nth(1));
    let points = points.map(unescaped);
    // Where there is no such list, each folder there is a drive.
    let volumes = fs::read_dir("/Volumes").into_iter().flatten().flatten();
    let volumes = volumes.map(|entry| entry.path().display().to_string());
    let mut all: Vec<PathBuf> = points
        .chain(volumes)
        .filter(|point| MOUNTED_BELOW.iter().any(|below| point.starts_with(below)))
        .map(PathBuf::from)
        .filter(|point| point.is_dir())
        .collect();
    all.sort();
    all.dedup();
    all
}

/// A mount point as the list of mounts writes it: blanks as `\040` (proc_mounts(5), getmntent(3)).
fn unescaped(point: &str) -> String {
    [("\\040", " "), ("\\011", "\t"), ("\\134", "\\")]
        .iter()
        .fold(point.to_owned(), |text, (code, plain)| {
            text.replace(code, plain)
        })
}

/// Copies the task data of the plan of the job as it is.
///
/// # Errors
/// A decision that is open; files of another plan; no such drive; a drive with task data; a disk that will not have them.
pub(super) fn copy(desk: &Desk, drive: &Path) -> Outcome<Value> {
    let whole = desk.look(|inner| {
        let whole = inner.whole.clone();
        whole.filter(|whole| whole.serial == inner.serial)
    });
    let whole = whole.ok_or_else(|| held_back("the job has no plan yet"))?;
    if whole.all().any(|plan| plan.holds_any_back()) {
        return Err(held_back(
            "a decision is open, and files for terminals wait for it",
        ));
    }
    let folder = (desk.commands.plan_folder)(&desk.file());
    // Of two plans each has a folder of its own.
    let folders: Vec<PathBuf> = whole
        .all()
        .map(|plan| match &plan.other_seedbed {
            Some(own) => folder.join(own.moisture.word()),
            None => folder.clone(),
        })
        .collect();
    let mut of_plans = folders.iter().zip(whole.all());
    if !of_plans.all(|(folder, plan)| is_of_plan(folder, &plan.id)) {
        return Err(held_back(
            "the files in the plan folder are of another plan",
        ));
    }
    if !mounted().iter().any(|known| known == drive) {
        return Err(Fault::input(
            "edit.no_drive",
            Place::file(drive),
            "this is no drive that is mounted now",
            "a drive of the list",
            "put the stick in, wait until the system shows it, and look at the list again",
        ));
    }
    let from = match whole.other {
        // Both are tasks of one set, so that the one for the seedbed that is found can be chosen at the field.
        Some(_) => {
            let stick = beside(&folder);
            (desk.commands.stick)(&folders, &stick)?;
            stick.join(FOLDER)
        }
        None => folder.join("terminal").join(FOLDER),
    };
    if !from.is_dir() {
        return Err(held_back("the plan has no task data"));
    }
    let copied = onto(&from, drive)?;
    Ok(json!({ "copied": copied, "to": drive.join(FOLDER) }))
}

/// Where the stick of two plans is made: beside their folder, so that it keeps its ids when it is made again.
fn beside(plans: &Path) -> PathBuf {
    let mut name = plans.file_name().unwrap_or_default().to_os_string();
    name.push("-stick");
    plans.with_file_name(name)
}

/// Copies the files of a folder, which has none in it, to a drive that has no task data yet.
fn onto(from: &Path, drive: &Path) -> Outcome<Vec<String>> {
    let there = fs::read_dir(drive).map_err(|error| unwritable(drive, &error))?;
    let mut names = there.flatten().map(|entry| entry.file_name());
    if names.any(|name| name.eq_ignore_ascii_case(FOLDER)) {
        return Err(Fault::input(
            "edit.taskdata_there",
            Place::file(drive.join(FOLDER)),
            "the drive holds task data already, perhaps logs that nobody has read yet",
            "a drive without a folder TASKDATA",
            "copy that folder to a safe place and take it off the drive; nothing was changed",
        ));
    }
    let part = drive.join(PART);
    let _ = fs::remove_dir_all(&part);
    let copied = pieces(from, &part).and_then(|names| {
        fs::rename(&part, drive.join(FOLDER))?;
        // The stick may be drawn as soon as this is said to be done.
        write::keep_names(drive)?;
        Ok(names)
    });
    copied.map_err(|error| {
        let _ = fs::remove_dir_all(&part);
        unwritable(drive, &error)
    })
}

fn pieces(from: &Path, part: &Path) -> io::Result<Vec<String>> {
    fs::create_dir(part)?;
    let mut names = Vec::new();
    for entry in fs::read_dir(from)? {
        let entry = entry?;
        if !entry.file_type()?.is_file() {
            continue;
        }
        let content = fs::read(entry.path())?;
        let to = part.join(entry.file_name());
        fs::write(&to, &content)?;
        fs::File::open(&to)?.sync_all()?;
        if fs::read(&to)? != content {
            return Err(io::Error::other("what was written reads back otherwise"));
        }
        names.push(format!("{FOLDER}/{}", entry.file_name().to_string_lossy()));
    }
    write::keep_names(part)?;
    names.sort();
    Ok(names)
}

fn held_back(why: &str) -> Box<Fault> {
    Fault::input(
        HELD_BACK,
        Place::nowhere(),
        why,
        "a plan in which nothing is open, with its files written",
        "settle what is open, and write the files again; nothing was copied",
    )
}

fn unwritable(drive: &Path, error: &io::Error) -> Box<Fault> {
    Fault::machine(
        "edit.drive",
        Place::file(drive),
        format!("the drive cannot be written: {error}"),
        "a drive with room that you may write to",
        "look whether it is full or locked; it holds no task data of this plan",
    )
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn task_data_go_as_a_whole_and_never_over_others() {
        let top = tempfile::tempdir().expect("a folder");
        let from = top.path().join("from");
        let drive = top.path().join("drive");
        fs::create_dir_all(&from).expect("a folder");
        fs::create_dir_all(&drive).expect("a folder");
        fs::write(from.join("TASKDATA.XML"), "<a/>").expect("a file");
        fs::write(from.join("GRD00000.bin"), [0, 1]).expect("a file");
        let copied = onto(&from, &drive).expect("copied");
        assert_eq!(copied, ["TASKDATA/GRD00000.bin", "TASKDATA/TASKDATA.XML"]);
        assert_eq!(
            fs::read(drive.join("TASKDATA/TASKDATA.XML")).expect("it"),
            b"<a/>"
        );
        assert!(!drive.join(PART).exists());
        fs::rename(drive.join(FOLDER), drive.join("TaskData")).expect("renamed");
        assert_eq!(
            onto(&from, &drive).expect_err("there").code,
            "edit.taskdata_there"
        );
    }
}
