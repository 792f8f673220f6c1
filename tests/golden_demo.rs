//! Every byte that the demo delivers, by the hash of each file: no change of the inside may change an output
//! unnoticed, nor may the number of threads.
//!
//! After a change that is meant to be seen in the files: look at them, then
//! `TWINSOW_BLESS=1 cargo test --test golden_demo`, and commit the list with the reason. Sines and cosines differ in their
//! last bit from system to system, so the list holds for Linux on x86-64.

#![cfg(all(target_os = "linux", target_arch = "x86_64"))]

use sha2::{Digest, Sha256};
use std::collections::BTreeMap;
use std::fmt::Write as _;
use std::fs;
use std::path::Path;
use std::process::Command;

const LIST: &str = concat!(env!("CARGO_MANIFEST_DIR"), "/tests/golden/demo.sha256");

/// Hash by path of all files below a folder.
fn hashes(folder: &Path) -> BTreeMap<String, String> {
    let mut found = BTreeMap::new();
    let mut waiting = vec![folder.to_path_buf()];
    while let Some(here) = waiting.pop() {
        for entry in fs::read_dir(&here).expect("a folder") {
            let path = entry.expect("an entry").path();
            if path.is_dir() {
                waiting.push(path);
                continue;
            }
            let name = path.strip_prefix(folder).expect("below");
            let hash = Sha256::digest(fs::read(&path).expect("a file"));
            let hash = hash.iter().fold(String::new(), |mut text, byte| {
                let _ = write!(text, "{byte:02x}");
                text
            });
            found.insert(name.display().to_string(), hash);
        }
    }
    found
}

/// The demo's files, planned at a fixed time.
fn delivered(threads: &str) -> BTreeMap<String, String> {
    let temp = tempfile::tempdir().expect("a folder");
    let out = temp.path().join("plan");
    let output = Command::new(env!("CARGO_BIN_EXE_twinsow"))
        .args(["plan", "examples/demo/job.toml", "--pictures"])
        .args(["--threads", threads, "--out"])
        .arg(&out)
        .current_dir(env!("CARGO_MANIFEST_DIR"))
        .env("SOURCE_DATE_EPOCH", "1767225600")
        .output()
        .expect("the program starts");
    let said = String::from_utf8_lossy(&output.stderr);
    assert!(matches!(output.status.code(), Some(0 | 1)), "{said}");
    hashes(&out)
}

/// `HASH  PATH` a line, as sha256sum writes and checks it.
fn list(hashes: &BTreeMap<String, String>) -> String {
    hashes.iter().fold(String::new(), |mut text, (path, hash)| {
        let _ = writeln!(text, "{hash}  {path}");
        text
    })
}

#[test]
fn every_file_of_the_demo_is_what_it_was_for_any_number_of_threads() {
    let [one, two] = ["1", "2"].map(delivered);
    assert!(
        one == two,
        "threads change bytes:\n{}\n{}",
        list(&one),
        list(&two)
    );
    assert!(one.len() > 15, "{}", list(&one));
    if std::env::var_os("TWINSOW_BLESS").is_some() {
        fs::write(LIST, list(&one)).expect("the list is written");
        return;
    }
    let text = fs::read_to_string(LIST).unwrap_or_default();
    let known: BTreeMap<String, String> = text
        .lines()
        .filter_map(|line| line.split_once("  "))
        .map(|(hash, path)| (path.to_owned(), hash.to_owned()))
        .collect();
    let mut differing: Vec<&String> = one
        .keys()
        .chain(known.keys())
        .filter(|path| one.get(*path) != known.get(*path))
        .collect();
    differing.dedup();
    assert!(
        differing.is_empty(),
        "these files differ from {LIST}: {differing:#?}\nIf that is meant: TWINSOW_BLESS=1 cargo test --test golden_demo"
    );
    // The README shows two of them.
    let shown = hashes(&Path::new(env!("CARGO_MANIFEST_DIR")).join("docs/pictures"));
    for picture in ["map-barley.svg", "map-starter.svg"] {
        assert_eq!(
            shown.get(picture),
            one.get(&format!("pictures/{picture}")),
            "docs/pictures/{picture} is not what `twinsow plan examples/demo/job.toml --pictures` draws: copy it"
        );
    }
}
