use super::*;
use crate::findings::Blame;
use tempfile::TempDir;

fn put(path: &Path, text: &str) {
    fs::create_dir_all(path.parent().unwrap()).unwrap();
    fs::write(path, text).unwrap();
}

/// A result with one file in a folder.
fn write(target: &Path, text: &str) -> Outcome<()> {
    replace(target, "plan abc", |folder| {
        put(&folder.join("gis/map.txt"), text);
        Ok(())
    })
}

fn result_is(target: &Path, text: &str) {
    assert_eq!(
        fs::read_to_string(target.join("gis/map.txt")).unwrap(),
        text
    );
}

/// Nothing beside the target.
fn alone(target: &Path) {
    let beside: Vec<_> = fs::read_dir(target.parent().unwrap())
        .unwrap()
        .map(|entry| entry.unwrap().file_name())
        .filter(|name| name != target.file_name().unwrap())
        .collect();
    assert!(beside.is_empty(), "{beside:?}");
}

fn new_and_old(target: &Path) -> (PathBuf, PathBuf) {
    (
        beside(target, "twinsow-new").unwrap(),
        beside(target, "twinsow-old").unwrap(),
    )
}

#[test]
fn a_new_an_empty_and_an_older_folder_are_filled() {
    let home = TempDir::new().unwrap();
    let target = home.path().join("deep/plan");
    write(&target, "one").unwrap();
    result_is(&target, "one");
    write(&target, "two").unwrap();
    result_is(&target, "two");
    alone(&target);
    let empty = home.path().join("empty");
    fs::create_dir(&empty).unwrap();
    write(&empty, "three").unwrap();
    result_is(&empty, "three");
}

#[test]
fn files_that_are_gone_from_the_new_result_are_gone() {
    let home = TempDir::new().unwrap();
    let target = home.path().join("plan");
    write(&target, "one").unwrap();
    replace(&target, "plan abc", |_| Ok(())).unwrap();
    assert!(!target.join("gis").exists());
}

#[test]
fn foreign_folders_are_refused_and_untouched() {
    let home = TempDir::new().unwrap();
    let target = home.path().join("plan");
    put(&target.join("thesis.txt"), "mine");
    let fault = write(&target, "one").unwrap_err();
    assert_eq!(
        (fault.code, fault.blame),
        ("write.foreign_folder", Blame::Input)
    );
    assert!(fault.found.contains("thesis.txt"), "{fault}");
    assert_eq!(
        fs::read_to_string(target.join("thesis.txt")).unwrap(),
        "mine"
    );
    alone(&target);

    // Folders count, and so does a file that was put into a result of ours.
    let folders = home.path().join("folders");
    fs::create_dir_all(folders.join("a/b")).unwrap();
    assert_eq!(
        write(&folders, "one").unwrap_err().code,
        "write.foreign_folder"
    );
    let ours = home.path().join("ours");
    write(&ours, "one").unwrap();
    put(&ours.join("gis/notes.txt"), "mine");
    let fault = write(&ours, "two").unwrap_err();
    assert!(fault.found.contains("gis/notes.txt"), "{fault}");
    result_is(&ours, "one");
}

#[test]
fn a_marker_of_somebody_else_is_foreign() {
    let home = TempDir::new().unwrap();
    let target = home.path().join("plan");
    put(&target.join(MARKER), "something else");
    put(&target.join("a.txt"), "mine");
    assert_eq!(
        write(&target, "one").unwrap_err().code,
        "write.foreign_folder"
    );
}

#[test]
fn a_file_is_no_folder() {
    let home = TempDir::new().unwrap();
    let target = home.path().join("plan");
    put(&target, "a file");
    assert_eq!(
        write(&target, "one").unwrap_err().code,
        "write.foreign_folder"
    );
    assert_eq!(fs::read_to_string(&target).unwrap(), "a file");
}

#[test]
fn what_programs_drop_beside_a_file_does_no_harm() {
    let home = TempDir::new().unwrap();
    let target = home.path().join("plan");
    write(&target, "one").unwrap();
    for name in ["gis/rates.tif.aux.xml", "gis/rates.gpkg-wal", ".DS_Store"] {
        put(&target.join(name), "");
    }
    write(&target, "two").unwrap();
    result_is(&target, "two");
}

#[test]
fn a_failure_leaves_the_old_result_and_nothing_else() {
    let home = TempDir::new().unwrap();
    let target = home.path().join("plan");
    write(&target, "one").unwrap();
    let fault = replace(&target, "plan abc", |folder| -> Outcome<()> {
        put(&folder.join("half.txt"), "half");
        Err(disk::fault(
            folder,
            "written",
            &ErrorKind::StorageFull.into(),
        ))
    });
    let fault = fault.unwrap_err();
    assert_eq!(fault.blame, Blame::Machine);
    assert_eq!(fault.place.file, Some(target.display().to_string()));
    result_is(&target, "one");
    alone(&target);
}

#[test]
fn a_folder_that_cannot_be_made_is_the_machines_fault() {
    let home = TempDir::new().unwrap();
    put(&home.path().join("file"), "");
    let target = home.path().join("file/plan");
    assert_eq!(write(&target, "one").unwrap_err().blame, Blame::Machine);
    // Longer than any file system takes.
    let target = home.path().join("x".repeat(300));
    assert_eq!(write(&target, "one").unwrap_err().blame, Blame::Machine);
}

#[test]
fn stopped_while_writing() {
    for with_old_result in [false, true] {
        let home = TempDir::new().unwrap();
        let target = home.path().join("plan");
        if with_old_result {
            write(&target, "one").unwrap();
        }
        let (new, _) = new_and_old(&target);
        put(&new.join(MARKER), "twinsow-plan 1\nplan abc\nfiles:\n");
        put(&new.join("half.txt"), "half");
        write(&target, "two").unwrap();
        result_is(&target, "two");
        assert!(!target.join("half.txt").exists());
        alone(&target);
    }
}

#[test]
fn stopped_between_the_moves_the_old_result_comes_back() {
    for empty_target in [false, true] {
        let home = TempDir::new().unwrap();
        let target = home.path().join("plan");
        write(&target, "one").unwrap();
        let (new, old) = new_and_old(&target);
        fs::rename(&target, &old).unwrap();
        put(&new.join(MARKER), "twinsow-plan 1\nplan abc\nfiles:\n");
        if empty_target {
            fs::create_dir(&target).unwrap();
        }
        // Even if this run fails, the user has a result again.
        let fault = replace(&target, "plan abc", |folder| -> Outcome<()> {
            Err(disk::fault(
                folder,
                "written",
                &ErrorKind::StorageFull.into(),
            ))
        });
        assert!(fault.is_err());
        result_is(&target, "one");
        alone(&target);
        write(&target, "two").unwrap();
        result_is(&target, "two");
    }
}

#[test]
fn stopped_while_deleting() {
    let home = TempDir::new().unwrap();
    let target = home.path().join("plan");
    write(&target, "one").unwrap();
    let (_, old) = new_and_old(&target);
    put(&old.join(MARKER), "twinsow-plan 1\nplan abc\nfiles:\n");
    put(&old.join("gis/map.txt"), "older");
    write(&target, "two").unwrap();
    result_is(&target, "two");
    alone(&target);
}

#[test]
fn foreign_leftovers_are_not_deleted() {
    let home = TempDir::new().unwrap();
    let target = home.path().join("plan");
    write(&target, "one").unwrap();
    let (new, old) = new_and_old(&target);
    for leftover in [new, old] {
        put(&leftover.join("mine.txt"), "mine");
        assert_eq!(
            write(&target, "two").unwrap_err().code,
            "write.foreign_folder"
        );
        result_is(&target, "one");
        assert!(leftover.join("mine.txt").exists());
        fs::remove_dir_all(leftover).unwrap();
    }
}

#[test]
fn files_can_be_added() {
    let home = TempDir::new().unwrap();
    let target = home.path().join("plan");
    assert_eq!(
        add(&target, "audit.json", b"{}").unwrap_err().code,
        "write.foreign_folder"
    );
    write(&target, "one").unwrap();
    add(&target, "audit.json", b"{}").unwrap();
    assert_eq!(fs::read(target.join("audit.json")).unwrap(), b"{}");
    write(&target, "two").unwrap();
    assert!(!target.join("audit.json").exists());
}

#[cfg(unix)]
#[test]
fn behind_a_link_the_folder_itself_is_replaced() {
    let home = TempDir::new().unwrap();
    let (target, link) = (home.path().join("plan"), home.path().join("link"));
    write(&target, "one").unwrap();
    std::os::unix::fs::symlink(&target, &link).unwrap();
    write(&link, "two").unwrap();
    assert!(fs::symlink_metadata(&link).unwrap().is_symlink());
    result_is(&target, "two");
}

/// What a stop leaves at any step of removing an older result is still ours, and the next run works.
#[test]
fn a_stop_while_an_older_result_is_removed_blocks_no_run() {
    let home = TempDir::new().unwrap();
    let target = home.path().join("plan");
    for removed in 0..4 {
        write(&target, "one").unwrap();
        let (new, old) = new_and_old(&target);
        // As `remove_ours` goes: the files first, the marker last.
        for folder in [&new, &old] {
            put(&folder.join(MARKER), FIRST_LINE);
            put(&folder.join("gis/map.txt"), "left");
            if removed > 0 {
                fs::remove_file(folder.join("gis/map.txt")).unwrap();
            }
            if removed > 1 {
                fs::remove_dir(folder.join("gis")).unwrap();
            }
            if removed > 2 {
                fs::remove_file(folder.join(MARKER)).unwrap();
            }
        }
        write(&target, "two").unwrap();
        result_is(&target, "two");
        alone(&target);
    }
}

#[test]
fn an_empty_marker_and_half_a_marker_are_ours() {
    let home = TempDir::new().unwrap();
    let target = home.path().join("plan");
    let (new, old) = new_and_old(&target);
    put(&new.join(MARKER), "");
    put(&new.join("gis/map.txt"), "left");
    put(&old.join(MARKER), "");
    write(&target, "zero").unwrap();
    // A marker that has not taken its name yet.
    put(&disk::part_of(&new.join(MARKER)), "twinsow-pl");
    write(&target, "one").unwrap();
    result_is(&target, "one");
    alone(&target);
}

#[test]
fn a_second_run_at_the_same_time_is_told_and_touches_nothing() {
    let home = TempDir::new().unwrap();
    let target = home.path().join("plan");
    write(&target, "one").unwrap();
    replace(&target, "plan abc", |folder| {
        let fault = write(&target, "two").unwrap_err();
        assert_eq!((fault.code, fault.blame), ("write.busy", Blame::Machine));
        put(&folder.join("gis/map.txt"), "three");
        Ok(())
    })
    .unwrap();
    result_is(&target, "three");
    alone(&target);
}

#[test]
fn a_file_is_saved_as_a_whole_and_nothing_lies_beside_it() {
    let home = TempDir::new().unwrap();
    let path = home.path().join("list.csv");
    disk::save(&path, b"one").unwrap();
    disk::save(&path, b"two").unwrap();
    assert_eq!(fs::read(&path).unwrap(), b"two");
    alone(&path);
    // Where the name is taken by a folder of the part's name, the old file stays.
    fs::create_dir(disk::part_of(&path)).unwrap();
    assert!(disk::save(&path, b"three").is_err());
    assert_eq!(fs::read(&path).unwrap(), b"two");
}

#[test]
fn one_run_at_a_time_has_a_folder_that_is_added_to() {
    let home = TempDir::new().unwrap();
    let target = home.path().join("ledger");
    let second = locked(&target, || Ok(locked(&target, || Ok(())))).unwrap();
    assert_eq!(second.unwrap_err().code, "write.busy");
    locked(&target, || Ok(())).unwrap();
    alone(&target);
}
