//! A job whose seedbed is not known, on the page: its map is that for a dry one, and how far it is stands in the folders of both plans.

#[path = "edit_support/page.rs"]
mod page;

use page::Page;
use serde_json::{Value, json};
use std::fs;

const JOB: &str = r#"
name = "Shoal"
seedbed = "not_known"
[field]
name = "Shoal"
boundary = { file = "b.geojson" }
[headland]
bouts = 0
[drill]
working_width_m = 6
rows = 48
row_spacing_m = 0.125
[[drill.hopper]]
name = "front"
usable_l = 1900
[[drill.hopper]]
name = "rear"
usable_l = 900
[[product]]
id = "seed"
name = "barley"
kind = "seed"
hopper = "front"
crop = "barley"
rate = { kg_per_ha = 150 }
[[product]]
id = "starter"
name = "starter"
kind = "fertiliser"
hopper = "rear"
form = "monoammonium_phosphate"
grade = { n_percent = 12, p2o5_percent = 52 }
rate = { kg_per_ha = 30 }
[[seed_safe]]
table = "manitoba_phosphate"
crop = "barley"
spread_m = 0.03
texture = "medium"
"#;

#[test]
fn a_job_for_two_seedbeds_is_shown_dry_and_known_by_both_its_folders() {
    let folder = tempfile::tempdir().expect("a folder");
    let border = json!({
        "type": "Feature", "properties": {},
        "geometry": { "type": "Polygon", "coordinates": [[[0.0, 0.0], [0.002, 0.0], [0.002, 0.002], [0.0, 0.002], [0.0, 0.0]]] },
    });
    fs::write(folder.path().join("b.geojson"), border.to_string()).expect("written");
    fs::write(folder.path().join("job.toml"), JOB).expect("written");
    let page = Page::of(folder, "job.toml");
    let cookie = page.cookie();
    let state = page.worked_out(&cookie);
    assert_eq!(state["fault"], Value::Null, "{state}");
    assert_eq!(state["plan"]["is_one_of_two"], true);
    let post = |path: &str, body: Value| {
        page.send(
            page.post(path, &page.own(&cookie), &body.to_string())
                .as_bytes(),
        )
    };
    let stick = post("/stick", json!({ "drive": "/nowhere" }));
    assert_eq!(stick.code(), "edit.two_seedbeds");
    let is = || page.look(&cookie, "/jobs").json()["jobs"][0]["state"].clone();
    let before = is();
    assert_ne!(before, "written");
    let handed = post("/handover", json!({})).json();
    let files: Vec<&str> = handed["files"]
        .as_array()
        .expect("files")
        .iter()
        .filter_map(|file| file["path"].as_str())
        .collect();
    let plans = page.folder.path().join("job-plan");
    for of in ["dry", "moist"] {
        let report = format!("{of}/report.html");
        assert!(files.contains(&report.as_str()), "{files:?}");
        let seen = page.look(&cookie, &format!("/handed/{report}"));
        assert_eq!(seen.status, 200, "{of}");
    }
    // The plan on the desk is the dry one of the two that were written.
    let marker = fs::read_dir(plans.join("dry"))
        .expect("a folder")
        .flatten()
        .filter_map(|entry| fs::read_to_string(entry.path()).ok())
        .any(|text| {
            text.contains(&format!(
                "plan {}",
                state["plan"]["id"].as_str().unwrap_or("?")
            ))
        });
    assert!(marker, "{}", state["plan"]["id"]);
    let expected = match handed["ready"].as_bool() {
        Some(true) => "written",
        _ => "open",
    };
    assert_eq!(is(), expected, "{handed}");
    fs::remove_dir_all(plans.join("moist")).expect("removed");
    assert_ne!(is(), "written", "one of two is missing");
}
