//! A folder of fields: they are planned by themselves in the background, ordered in the units of their jobs, and a job for many fields
//! becomes one for each.

#[path = "edit_support/page.rs"]
mod page;

use page::Page;
use serde_json::{Value, json};
use std::fs;
use std::path::Path;
use std::thread;
use std::time::Duration;

fn job(boundary: &str, more: &str) -> String {
    format!(
        r#"name = "Shoal"
[field]
name = "Shoal"
boundary = {{ file = "b.geojson"{boundary} }}
{more}
[drill]
working_width_m = 6
[[drill.hopper]]
name = "front"
usable_l = 1900
[[product]]
id = "seed"
name = "barley"
kind = "seed"
hopper = "front"
crop = "barley"
pack_kg = 25
rate = {{ kg_per_ha = 150 }}
"#
    )
}

fn square(west: f64, name: &str) -> Value {
    let east = west + 0.002;
    json!({
        "type": "Feature", "properties": { "block": name },
        "geometry": { "type": "Polygon", "coordinates": [[[west, 0.0], [east, 0.0], [east, 0.002], [west, 0.002], [west, 0.0]]] },
    })
}

fn write(folder: &Path, name: &str, text: &str) {
    let file = folder.join(name);
    fs::create_dir_all(file.parent().expect("a folder")).expect("made");
    fs::write(file, text).expect("written");
}

fn post(page: &Page, cookie: &str, path: &str, body: &Value) -> Value {
    let answer = page.send(
        page.post(path, &page.own(cookie), &body.to_string())
            .as_bytes(),
    );
    assert_eq!(
        answer.status,
        200,
        "{path}: {}",
        String::from_utf8_lossy(&answer.body)
    );
    answer.json()
}

/// State of every job, by its file.
fn states(page: &Page, cookie: &str, path: &str) -> Vec<(String, String)> {
    let jobs = page.look(cookie, path).json();
    let all = jobs["jobs"].as_array().expect("jobs").iter();
    let text = |value: &Value| value.as_str().unwrap_or_default().to_owned();
    all.map(|job| (text(&job["file"]), text(&job["state"])))
        .collect()
}

#[test]
fn the_fields_of_a_folder_are_planned_by_themselves() {
    let folder = tempfile::tempdir().expect("a folder");
    for (nth, name) in ["a", "b", "c", "d"].into_iter().enumerate() {
        write(
            folder.path(),
            &format!("{name}/b.geojson"),
            &square(0.01 * nth as f64, name).to_string(),
        );
    }
    write(folder.path(), "a/job.toml", &job("", ""));
    // A grain weight far above every published one asks for a person; a file that is not there makes no plan.
    let asks = job("", "").replace(
        "crop = \"barley\"",
        "crop = \"barley\"\nthousand_grain_weight_g = 95",
    );
    write(folder.path(), "b/job.toml", &asks);
    write(
        folder.path(),
        "c/job.toml",
        &job("", "").replace("b.geojson", "gone.geojson"),
    );
    write(
        folder.path(),
        "d/job.toml",
        &job("", "").replace("kg_per_ha = 150", "kg_per_ha = \"?\""),
    );
    let page = Page::of(folder, "");
    let cookie = page.cookie();
    page.worked_out(&cookie);
    // Nobody has looked at all fields yet.
    let before: Vec<String> = states(&page, &cookie, "/jobs")
        .into_iter()
        .map(|(_, state)| state)
        .collect();
    assert_eq!(before[1..], ["unplanned", "unplanned", "unfinished"]);
    let beat = page.look(&cookie, "/state").json()["of_farm"].clone();
    let mut now = Vec::new();
    for _ in 0..400 {
        now = states(&page, &cookie, "/jobs?plan=true");
        if now.iter().all(|(_, state)| state != "unplanned") {
            break;
        }
        thread::sleep(Duration::from_millis(50));
    }
    let after: Vec<&str> = now.iter().map(|(_, state)| state.as_str()).collect();
    assert_eq!(after[1..], ["open", "faulty", "unfinished"], "{now:?}");
    assert_ne!(
        page.look(&cookie, "/state").json()["of_farm"],
        beat,
        "the page hears of it"
    );
    // Another text is another job.
    write(page.folder.path(), "b/job.toml", &job("", ""));
    assert_eq!(states(&page, &cookie, "/jobs")[1].1, "unplanned");
}

#[test]
fn one_order_is_told_in_the_units_of_the_jobs() {
    let folder = tempfile::tempdir().expect("a folder");
    let us = "[report]\nunits = \"us_customary\"\n";
    for (nth, name) in ["a", "b"].into_iter().enumerate() {
        write(
            folder.path(),
            &format!("{name}/b.geojson"),
            &square(0.01 * nth as f64, name).to_string(),
        );
        write(
            folder.path(),
            &format!("{name}/job.toml"),
            &(job("", "") + us),
        );
    }
    let page = Page::of(folder, "");
    let cookie = page.cookie();
    let files = json!({ "files": ["a/job.toml", "b/job.toml"] });
    let order = post(&page, &cookie, "/order", &files);
    let line = &order["order"][0];
    let pounds = |text: &Value| {
        let digits: String = text
            .as_str()
            .unwrap_or_default()
            .chars()
            .filter(|c| c.is_ascii_digit() || *c == '.')
            .collect();
        digits.parse::<f64>().expect("a number")
    };
    // The international pound is 0.45359237 kg exactly (NIST Special Publication 811, appendix B.8).
    let kg = line["order_kg"].as_f64().expect("kilograms");
    assert_eq!(order["mass_unit"], "lb");
    assert!(
        (pounds(&line["order_text"]) - kg / 0.453_592_37).abs() < 1.0,
        "{line}"
    );
    assert!(
        (pounds(&line["pack_text"]) - 25.0 / 0.453_592_37).abs() < 0.6,
        "{line}"
    );
    // One job in metric units: all of it in kilograms.
    write(page.folder.path(), "b/job.toml", &job("", ""));
    let order = post(&page, &cookie, "/order", &files);
    assert_eq!(order["mass_unit"], "kg");
}

#[test]
fn a_job_for_many_fields_becomes_a_job_for_each() {
    let folder = tempfile::tempdir().expect("a folder");
    let fields = json!({ "type": "FeatureCollection", "features": [square(0.0, "North"), square(0.01, "South")] });
    write(folder.path(), "b.geojson", &fields.to_string());
    let text = job("", "split_by = \"block\"") + "# the end\n";
    write(folder.path(), "farm.toml", &text);
    let page = Page::of(folder, "farm.toml");
    let cookie = page.cookie();
    let state = page.worked_out(&cookie);
    assert!(
        !state["fault"].is_null(),
        "a job for many fields has no plan of its own"
    );
    let made = post(&page, &cookie, "/split", &json!({}));
    assert_eq!(made["files"].as_array().map(Vec::len), Some(2), "{made}");
    let kept = made["kept"].as_str().expect("a name");
    assert_eq!(
        fs::read_to_string(page.folder.path().join(kept)).expect("kept"),
        text
    );
    assert!(!page.folder.path().join("farm.toml").exists());
    let state = page.worked_out(&cookie);
    assert_eq!(state["fault"], Value::Null, "{}", state["fault"]);
    assert_eq!(state["job"]["field"], "Shoal North");
    let files: Vec<String> = states(&page, &cookie, "/jobs")
        .into_iter()
        .map(|(file, _)| file)
        .collect();
    assert_eq!(json!(files), made["files"]);
    // The first field lies west of the other one.
    let area = state["plan"]["area_m2"].as_f64().expect("an area");
    // 0.002 degrees of the equator and of its meridian are 222.64 by 221.15 m (WGS 84).
    assert!((area - 222.64 * 221.15).abs() < 30.0, "{area}");
    let again = page.send(page.post("/split", &page.own(&cookie), "{}").as_bytes());
    assert_eq!(again.code(), "edit.one_field");
}
