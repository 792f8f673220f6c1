//! `explain` tells the chain of one place, from the built-in scenario.

use serde_json::Value;
use std::fs;
use std::path::Path;
use std::process::{Command, Output};

fn twinsow(folder: &Path, arguments: &[&str]) -> Output {
    Command::new(env!("CARGO_BIN_EXE_twinsow"))
        .args(arguments)
        .current_dir(folder)
        .output()
        .expect("the program starts")
}

fn said(output: &Output) -> String {
    String::from_utf8_lossy(&output.stdout).into_owned()
}

#[test]
fn a_row_and_a_place_on_it_tell_the_same_as_the_plan() {
    let folder = tempfile::tempdir().expect("a folder");
    let demo = twinsow(folder.path(), &["demo", "--out", "demo"]);
    assert_eq!(demo.status.code(), Some(0), "{}", said(&demo));
    let read = |path: &str| -> Value {
        let text = fs::read_to_string(folder.path().join("demo").join(path)).expect("a file");
        serde_json::from_str(&text).expect("JSON")
    };
    let plan = read("job-plan/plan.json");
    let capped = |row: &&Value| row["rates"][1]["seed_safe"][0]["verdict"] == "capped";
    let rows = plan["rate_table"].as_array().expect("rows");
    let row = rows.iter().find(capped).expect("a row that is capped");
    let number = row["row"].to_string();
    let text = twinsow(
        folder.path(),
        &["explain", "demo/job.toml", "--unit", &number],
    );
    assert_eq!(text.status.code(), Some(0));
    let text = said(&text);
    for rate in row["rates"].as_array().expect("rates") {
        for reason in rate["reasons"].as_array().expect("reasons") {
            let (words, rule) = (&reason["text"], &reason["rule"]);
            let words = words.as_str().expect("text");
            assert!(text.contains(words), "{words}\n{text}");
            assert!(text.contains(rule.as_str().expect("a rule")), "{text}");
            if let Some(source) = reason["source"].as_str() {
                assert!(text.contains(source), "{source}\n{text}");
            }
        }
    }
    // The first corner of a map zone, moved a little into its own land, lies on one of its rows.
    let zones = read("job-plan/gis/rates.geojson");
    let zone = &zones["features"][0];
    let ring = zone["geometry"]["coordinates"][0][0]
        .as_array()
        .expect("a ring");
    let points: Vec<[f64; 2]> = ring
        .iter()
        .map(|point| [0, 1].map(|axis| point[axis].as_f64().expect("a number")))
        .collect();
    let [a, b] = [points[0], points[1]];
    // Exteriors run counter-clockwise: the land lies on the left of each edge.
    let left = [-(b[1] - a[1]) * 1e-3, (b[0] - a[0]) * 1e-3];
    let place = [(a[0] + b[0]) / 2.0 + left[0], (a[1] + b[1]) / 2.0 + left[1]];
    let at = format!("--at={},{}", place[0], place[1]);
    let text = said(&twinsow(folder.path(), &["explain", "demo/job.toml", &at]));
    let listed = plan["map"]["zones"][0]["rows"].as_array().expect("rows");
    let hit = |row: &&Value| text.contains(&format!("Row {row} of the rate table"));
    assert_eq!(listed.iter().filter(hit).count(), 1, "{listed:?}\n{text}");
}

#[test]
fn a_row_or_place_that_is_not_there_is_refused() {
    let folder = tempfile::tempdir().expect("a folder");
    let demo = twinsow(folder.path(), &["demo", "--out", "demo"]);
    assert_eq!(demo.status.code(), Some(0), "{}", said(&demo));
    for (arguments, word) in [
        (&["--unit", "0"][..], "has no row 0"),
        (&["--unit", "9999"], "has no row 9999"),
        (&["--at", "0,0"], "not on the land"),
        (&["--at", "54,8,2"], "longitude and latitude"),
        (&["--at", "east"], "longitude and latitude"),
    ] {
        let output = twinsow(
            folder.path(),
            &[&["explain", "demo/job.toml"], arguments].concat(),
        );
        let fault = String::from_utf8_lossy(&output.stderr);
        assert_eq!(output.status.code(), Some(2), "{fault}");
        assert!(fault.contains(word), "{fault}");
    }
}
