//! At the gate: another lot, grain weight or catch, with map, order, sheets and stick anew, and the old plan marked as replaced.

use serde_json::Value;
use std::fs;
use std::path::Path;
use std::process::{Command, Output};
use tempfile::TempDir;

/// A field of 300 x 200 m, a rotor that is not full.
fn job(folder: &Path, name: &str, lon: f64) {
    let here = folder.join(name);
    fs::create_dir(&here).expect("a folder");
    let east = lon + 0.0042;
    let ring = format!("[[[{lon},50],[{east},50],[{east},50.0018],[{lon},50.0018],[{lon},50]]]");
    fs::write(
        here.join("field.geojson"),
        format!(r#"{{"type":"Polygon","coordinates":{ring}}}"#),
    )
    .expect("written");
    let text = format!(
        r#"# {name}, a comment that stays
name = "{name}"
field = {{ name = "{name}", customer = "Estate", boundary = {{ file = "field.geojson" }} }}
[drill]
working_width_m = 6.0
[[drill.hopper]]
name = "front"
usable_l = 1900.0
[[drill.hopper.rotor]]
name = "A"
cm3_per_rev = 500.0
min_rev_per_min = 1.0
max_rev_per_min = 200.0
filling_percent = 80.0
[[product]]
id = "barley"
name = "Spring barley"
kind = "seed"
crop = "spring barley"
hopper = "front"
lot = "B-17"
thousand_grain_weight_g = 40.0
bulk_density_kg_per_l = 0.7
pack_kg = 500.0
rate = {{ seeds_per_m2 = 350.0 }}
"#
    );
    fs::write(here.join("job.toml"), text).expect("the job");
}

fn twinsow(folder: &Path, arguments: &[&str]) -> Output {
    Command::new(env!("CARGO_BIN_EXE_twinsow"))
        .args(arguments)
        .current_dir(folder)
        .output()
        .expect("the program starts")
}

fn said(output: &Output) -> String {
    let [out, err] =
        [&output.stdout, &output.stderr].map(|text| String::from_utf8_lossy(text).into_owned());
    format!("{out}{err}")
}

fn plan(folder: &Path, name: &str) -> Value {
    let file = folder.join(name).join("job-plan/plan.json");
    serde_json::from_str(&fs::read_to_string(file).expect("a plan")).expect("JSON")
}

#[test]
fn another_lot_changes_all_that_leaves_the_farm_and_marks_the_old_plan() {
    let folder = TempDir::new().expect("a folder");
    let here = folder.path();
    job(here, "one", 8.0);
    job(here, "two", 8.1);
    let output = twinsow(here, &["plan", "one/job.toml"]);
    assert_eq!(output.status.code(), Some(0), "{}", said(&output));
    twinsow(here, &["plan", "two/job.toml"]);
    let output = twinsow(
        here,
        &["stick", "one/job-plan", "two/job-plan", "--to", "stick"],
    );
    assert_eq!(output.status.code(), Some(0), "{}", said(&output));
    let before = plan(here, "one");
    let text = fs::read_to_string(here.join("one/job.toml")).expect("the job");

    // Without the other field's plan the stick would lose it: nothing is made of the stick.
    let lot = [
        "reissue",
        "one/job.toml",
        "--lot",
        "barley=B-18",
        "--grain-weight",
        "barley=50",
        "--stick",
        "stick",
    ];
    let output = twinsow(here, &lot);
    assert_eq!(output.status.code(), Some(2), "{}", said(&output));
    assert!(said(&output).contains("two"), "{}", said(&output));
    let output = twinsow(
        here,
        &[&lot[..], &["--plans", "one/job-plan", "two/job-plan"]].concat(),
    );
    assert_eq!(output.status.code(), Some(0), "{}", said(&output));
    let now = plan(here, "one");
    assert_ne!(before["id"], now["id"]);
    // 350 seeds/m2 of 40 g are 140 kg/ha, of 50 g 175.
    let kg = |plan: &Value| {
        plan["tally"]["products"][0]["steps"][0]["kg"]
            .as_f64()
            .expect("kg")
    };
    assert!((kg(&now) / kg(&before) - 1.25).abs() < 1e-9);
    let changed = fs::read_to_string(here.join("one/job.toml")).expect("the job");
    assert_eq!(
        changed,
        text.replace("B-17", "B-18").replace(
            "thousand_grain_weight_g = 40.0",
            "thousand_grain_weight_g = 50.0"
        )
    );
    // The stick holds the new one, and says which it took the place of.
    let set = fs::read_to_string(here.join("stick/TASKDATA/TASKDATA.XML")).expect("the set");
    let id = |plan: &Value| plan["id"].as_str().expect("an id").to_owned();
    assert!(set.contains(&id(&now)) && !set.contains(&id(&before)));
    assert!(set.contains("Lot B-18"));
    let page = fs::read_to_string(here.join("stick/README.txt")).expect("the page");
    assert!(
        page.contains("REPLACED")
            && page.contains(&format!("{}, one: by {}", id(&before), id(&now))),
        "{page}"
    );

    // A set with the old task beside the record is told.
    let output = twinsow(here, &["contents", "stick"]);
    assert_eq!(output.status.code(), Some(0), "{}", said(&output));
    let old = here.join("stick/old/TASKDATA");
    fs::create_dir_all(&old).expect("a folder");
    for entry in fs::read_dir(here.join("stick/TASKDATA")).expect("a set") {
        let entry = entry.expect("a file").path();
        fs::copy(&entry, old.join(entry.file_name().expect("a name"))).expect("copied");
    }
    fs::write(
        old.join("TASKDATA.XML"),
        set.replace(&id(&now), &id(&before)),
    )
    .expect("written");
    let output = twinsow(here, &["contents", "stick"]);
    assert_eq!(output.status.code(), Some(1), "{}", said(&output));
    assert!(
        said(&output).contains(&format!("REPLACED by {}", id(&now))),
        "{}",
        said(&output)
    );
    fs::remove_dir_all(here.join("stick/old")).expect("gone");

    // Back to the old lot: it lies there again, and the other one is replaced.
    let back = [
        "reissue",
        "one/job.toml",
        "--lot",
        "barley=B-17",
        "--grain-weight",
        "barley=40",
        "--stick",
        "stick",
        "--plans",
        "two/job-plan",
    ];
    let output = twinsow(here, &back);
    assert_eq!(output.status.code(), Some(0), "{}", said(&output));
    assert_eq!(id(&plan(here, "one")), id(&before));
    let record: Value =
        serde_json::from_str(&fs::read_to_string(here.join("stick/stick.json")).expect("a record"))
            .expect("JSON");
    let replaced: Vec<&str> = record["replaced"]
        .as_array()
        .expect("a list")
        .iter()
        .map(|own| own["plan"].as_str().expect("an id"))
        .collect();
    assert_eq!(replaced, [id(&now)]);
}

#[test]
fn a_catch_corrects_what_the_rotor_fills_and_what_makes_no_plan_changes_nothing() {
    let folder = TempDir::new().expect("a folder");
    let here = folder.path();
    job(here, "one", 8.0);
    let text = fs::read_to_string(here.join("one/job.toml")).expect("the job");
    // 140 kg/ha on 250 m2 are 3.5 kg; 3.325 were caught: 95 %, so the rotor fills 76 and not 80 %.
    let output = twinsow(
        here,
        &["reissue", "one/job.toml", "--caught", "barley=3.325"],
    );
    assert_eq!(output.status.code(), Some(0), "{}", said(&output));
    let changed = fs::read_to_string(here.join("one/job.toml")).expect("the job");
    assert_eq!(
        changed,
        text.replace("filling_percent = 80.0", "filling_percent = 76.0")
    );
    let refused = |more: &[&str], words: &str| {
        let output = twinsow(here, &[&["reissue", "one/job.toml"], more].concat());
        assert_eq!(output.status.code(), Some(2), "{}", said(&output));
        assert!(said(&output).contains(words), "{}", said(&output));
        assert_eq!(
            fs::read_to_string(here.join("one/job.toml")).expect("the job"),
            changed
        );
    };
    refused(&[], "Nothing is to be changed");
    refused(&["--lot", "rye=1"], "no such product");
    refused(&["--lot", "barley"], "--lot PRODUCT=VALUE");
    refused(&["--grain-weight", "barley=heavy"], "--grain-weight");
    // The second of two changes makes no job: the first is taken back.
    refused(
        &["--lot", "barley=B-18", "--grain-weight", "barley=90000"],
        "thousand_grain_weight_g",
    );
    refused(&["--lot", "barley=B-18", "--sowing-date", "soon"], "date");
}
