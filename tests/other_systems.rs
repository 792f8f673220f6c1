//! Files and paths that come from another system: lines that end in CRLF, `\` between folders, drive letters, capitals.
//! Nothing is compiled for other systems here; what a job from there meets on this one is.

use std::fs;
use std::path::Path;
use std::process::{Command, Output};

const DEMO: &str = concat!(env!("CARGO_MANIFEST_DIR"), "/examples/demo");

fn twinsow(folder: &Path, arguments: &[&str]) -> Output {
    Command::new(env!("CARGO_BIN_EXE_twinsow"))
        .args(arguments)
        .current_dir(folder)
        .env("SOURCE_DATE_EPOCH", "1767225600")
        .output()
        .expect("the program starts")
}

/// The demo in a folder of its own, each file passed through `change`.
fn demo(folder: &Path, change: impl Fn(&str, String) -> String) {
    for entry in fs::read_dir(DEMO).expect("the demo") {
        let entry = entry.expect("an entry");
        let name = entry.file_name().into_string().expect("UTF-8");
        let text = fs::read_to_string(entry.path()).expect("text");
        fs::write(folder.join(&name), change(&name, text)).expect("written");
    }
}

/// What is delivered of the demo in `folder`, without the plan's id, which goes by the bytes of the inputs.
fn delivered(folder: &Path) -> Vec<String> {
    let done = twinsow(folder, &["plan", "job.toml", "--only", "geojson,tables"]);
    let said = String::from_utf8_lossy(&done.stderr);
    assert!(matches!(done.status.code(), Some(0 | 1)), "{said}");
    let text = |name: &str| fs::read_to_string(folder.join("job-plan").join(name)).expect(name);
    let plan: serde_json::Value = serde_json::from_str(&text("plan.json")).expect("JSON");
    let id = plan["id"].as_str().expect("an id").to_owned();
    ["gis/rates.geojson", "rates.csv", "order.csv"]
        .map(|name| text(name).replace(&id, "ID"))
        .into()
}

#[test]
fn lines_may_end_in_crlf() {
    let (own, other) = (tempfile::tempdir().unwrap(), tempfile::tempdir().unwrap());
    demo(own.path(), |_, text| text);
    demo(other.path(), |_, text| text.replace('\n', "\r\n"));
    assert_eq!(delivered(own.path()), delivered(other.path()));
}

#[test]
#[cfg(not(windows))]
fn a_job_with_paths_of_windows_is_told_what_to_write() {
    let folder = tempfile::tempdir().unwrap();
    for (path, says) in [
        (r"Layers\soil.geojson", "Layers/soil.geojson' is there"),
        (r"C:\farm\soil.geojson", "drive of Windows"),
        ("layers/Soil.geojson", "Layers/soil.geojson' is there"),
    ] {
        demo(folder.path(), |name, text| match name {
            "job.toml" => text.replace("file = \"soil.geojson\"", &format!("file = '{path}'")),
            _ => text,
        });
        fs::create_dir_all(folder.path().join("Layers")).unwrap();
        let moved = folder.path().join("Layers/soil.geojson");
        fs::rename(folder.path().join("soil.geojson"), moved).unwrap();
        let done = twinsow(folder.path(), &["plan", "job.toml"]);
        let said = String::from_utf8_lossy(&done.stderr);
        assert_eq!(done.status.code(), Some(2), "{path}: {said}");
        assert!(said.contains(says), "{path}: {said}");
        assert!(!folder.path().join("job-plan").exists(), "{path}");
    }
}
