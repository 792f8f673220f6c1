//! `twinsow plan --only`: what is written is the same to the byte, and nothing else is.

use std::collections::BTreeMap;
use std::fs;
use std::path::Path;
use std::process::{Command, Output};

fn plan(out: &Path, options: &[&str]) -> Output {
    let job = concat!(env!("CARGO_MANIFEST_DIR"), "/examples/demo/job.toml");
    Command::new(env!("CARGO_BIN_EXE_twinsow"))
        .args(["plan", job, "--out"])
        .arg(out)
        .args(options)
        .env("SOURCE_DATE_EPOCH", "1785000000")
        .output()
        .expect("the program starts")
}

/// All files below a folder but its marker, by path with `/`.
fn files(folder: &Path) -> BTreeMap<String, Vec<u8>> {
    let mut found = BTreeMap::new();
    let mut open = vec![folder.to_path_buf()];
    while let Some(here) = open.pop() {
        for entry in fs::read_dir(&here).expect("a folder").flatten() {
            let path = entry.path();
            if path.is_dir() {
                open.push(path);
                continue;
            }
            let name = path.strip_prefix(folder).expect("inside").to_string_lossy();
            if !name.starts_with('.') {
                found.insert(name.replace('\\', "/"), fs::read(&path).expect("bytes"));
            }
        }
    }
    found
}

#[test]
fn a_choice_of_forms_leaves_files_out_and_changes_none() {
    let folder = tempfile::tempdir().expect("a folder");
    let whole = folder.path().join("whole");
    assert_eq!(
        plan(&whole, &[]).status.code(),
        Some(0),
        "decisions of the demo"
    );
    let whole = files(&whole);

    let few = folder.path().join("few");
    assert_eq!(
        plan(&few, &["--only", "geojson,geotiff"]).status.code(),
        Some(0)
    );
    let few = files(&few);
    let endings = [".geojson", ".tif", ".qml", "gis/metadata.xml"];
    let by_ending = |name: &str| endings.iter().any(|ending| name.ends_with(ending));
    for (name, bytes) in &whole {
        match by_ending(name) {
            true => assert!(few.get(name) == Some(bytes), "{name}"),
            false => assert_eq!(
                few.contains_key(name),
                name == "plan.json" || name == "audit.json",
                "{name}"
            ),
        }
    }
    let read = |files: &BTreeMap<String, Vec<u8>>| -> serde_json::Value {
        serde_json::from_slice(&files["plan.json"]).expect("JSON")
    };
    let (mut of_few, mut of_whole) = (read(&few), read(&whole));
    assert_eq!(of_few["only"], serde_json::json!(["geojson", "geotiff"]));
    // Polygons for terminals are made only for the files that hold them.
    for json in [&mut of_few, &mut of_whole] {
        json["only"] = serde_json::Value::Null;
        json["terminal"]["polygons"] = serde_json::Value::Null;
    }
    assert_eq!(of_few, of_whole);
}

#[test]
fn maps_for_the_terminal_and_the_report_need_no_other_form() {
    let folder = tempfile::tempdir().expect("a folder");
    let whole = folder.path().join("whole");
    plan(&whole, &[]);
    let whole = files(&whole);
    for (forms, some) in [
        ("fallback,task-data", "terminal/fallback/README.txt"),
        ("report", "report.html"),
        ("shapefile,geopackage,tables", "gis/rates.gpkg"),
    ] {
        let out = folder.path().join("few");
        assert_eq!(
            plan(&out, &["--only", forms]).status.code(),
            Some(0),
            "{forms}"
        );
        let few = files(&out);
        assert!(few.contains_key(some), "{forms}");
        assert_eq!(few.contains_key("audit.json"), forms != "report", "{forms}");
        for (name, bytes) in few.iter().filter(|(name, _)| !name.ends_with("json")) {
            assert!(whole.get(name) == Some(bytes), "{forms}: {name}");
        }
    }
}

#[test]
fn an_unknown_form_is_refused_and_no_audit_is_said() {
    let folder = tempfile::tempdir().expect("a folder");
    let out = folder.path().join("out");
    let refused = plan(&out, &["--only", "geojson,gpx"]);
    assert_eq!(refused.status.code(), Some(2));
    let said = String::from_utf8_lossy(&refused.stderr).into_owned();
    assert!(said.contains("gpx") && said.contains("task-data"), "{said}");
    assert!(!out.exists());

    let quick = plan(&out, &["--only", "geojson", "--no-audit"]);
    assert_eq!(quick.status.code(), Some(0));
    let said = String::from_utf8_lossy(&quick.stdout).into_owned();
    assert!(said.contains("were not read back"), "{said}");
    assert!(!files(&out).contains_key("audit.json"));
}
