//! The week's list over planned fields: kilograms as in the plans, the files, and what is refused.

mod farm_support;

use farm_support::{JOB, farm};
use serde_json::Value;
use std::fs;
use std::path::{Path, PathBuf};
use std::process::{Command, Output};
use tempfile::TempDir;

fn twinsow(arguments: &[&str]) -> Output {
    Command::new(env!("CARGO_BIN_EXE_twinsow"))
        .args(arguments)
        .env("SOURCE_DATE_EPOCH", "1767225600")
        .output()
        .expect("the program starts")
}

fn path(path: &Path) -> &str {
    path.to_str().expect("unicode")
}

fn said(output: &Output) -> String {
    let [out, err] =
        [&output.stdout, &output.stderr].map(|text| String::from_utf8_lossy(text).into_owned());
    format!("{out}{err}")
}

/// Plans of three fields, with this lot; the drive gives hours.
fn planned(folder: &Path, name: &str, lot: &str, date: &str) -> PathBuf {
    let job = farm(folder, &[8.0, 8.003, 8.1], None);
    let text = JOB
        .replace(
            "name = \"Spring\"",
            &format!("name = \"Spring {lot}\"\nsowing_date = \"{date}\""),
        )
        .replace("name = \"Square\"", &format!("name = \"Square of {lot}\""))
        .replace(
            "[drill]",
            "[drive]\nheading = \"longest_edge\"\nfield_efficiency_percent = 70.0\n\n[drill]",
        )
        .replace(
            "kind = \"seed\"",
            &format!(
                "kind = \"seed\"\nlot = \"{lot}\"\ndressing = \"fungicide A\"\npack_kg = 25.0"
            ),
        );
    fs::write(&job, text).expect("the job");
    let out = folder.join(name);
    let output = twinsow(&["plan", path(&job), "--out", path(&out), "--only", "tables"]);
    assert!(output.status.code() < Some(2), "{}", said(&output));
    out
}

#[test]
fn kilograms_are_those_of_the_plans_and_lots_are_kept_apart() {
    let folder = TempDir::new().expect("a folder");
    let first = planned(folder.path(), "first", "7", "2026-03-20");
    let second = planned(folder.path(), "second", "8", "2026-03-21");
    let [csv, page] = ["week.csv", "week.html"].map(|name| folder.path().join(name));
    let week = |plans: [&Path; 2]| {
        twinsow(&[
            "week",
            path(plans[0]),
            path(plans[1]),
            "--from",
            "2026-03-20",
            "--yard",
            "8.0,50.0",
            "--csv",
            path(&csv),
            "--page",
            path(&page),
            "--json",
        ])
    };
    let output = week([&first, &second]);
    assert!(output.status.code() < Some(2), "{}", said(&output));
    let found: Value = serde_json::from_slice(&output.stdout).expect("JSON");
    let drill = &found["drills"][0];
    let fields = drill["fields"].as_array().expect("fields");
    assert_eq!(fields.len(), 6);
    assert_eq!(drill["is_best"], true);
    // Kilograms of each field as its plan counts them, and what is filled less what is left.
    let (mut sown, mut filled, mut left) = (0.0, 0.0, 0.0);
    for row in fields {
        let product = &row["products"][0];
        let kg = product["sown_kg"].as_f64().expect("kg");
        sown += kg;
        filled += product["filled_kg"].as_f64().expect("kg");
        for own in row["cleaned"].as_array().expect("a list") {
            left += own["kg"].as_f64().expect("kg");
        }
        let id = row["plan"].as_str().expect("a plan");
        let of_plan = steps_kg(&[&first, &second], id);
        assert!((kg - of_plan).abs() < 1e-9, "{id}: {kg} {of_plan}");
    }
    for own in drill["left"].as_array().expect("a list") {
        left += own["kg"].as_f64().expect("kg");
    }
    assert!(
        (filled - left - sown).abs() < 1e-6,
        "{filled} {left} {sown}"
    );
    let brought: f64 = drill["tender"]
        .as_array()
        .expect("a list")
        .iter()
        .map(|own| own["kg"].as_f64().expect("kg"))
        .sum();
    assert!((brought - filled).abs() < 1e-9);
    // Another plan of a field that is in the list already is refused.
    let third = planned(folder.path(), "third", "7", "2026-03-22");
    let refused = week([&first, &third]);
    assert_eq!(refused.status.code(), Some(2), "{}", said(&refused));
    assert!(said(&refused).contains("and so is the plan in"));
    // One change of the lot, and nothing before its date.
    let cleaned = fields
        .iter()
        .filter(|row| row["cleaned"] != serde_json::json!([]));
    assert_eq!(cleaned.count(), 1);
    for row in fields {
        let begins = row["begins"]["date"].as_str().expect("a date");
        assert!(begins >= row["sowing_date"].as_str().expect("a date"));
    }
    let text = fs::read_to_string(&csv).expect("the table");
    assert_eq!(text.lines().count(), 7);
    let shown = fs::read_to_string(&page).expect("the page");
    assert!(shown.contains("Treated seed") && shown.contains("clean out hopper"));
    // The order in which plans are named changes nothing.
    let turned = week([&second, &first]);
    assert_eq!(output.stdout, turned.stdout);
    assert_eq!(text, fs::read_to_string(&csv).expect("the table"));
}

/// What the steps of a plan's one product sow, kg.
fn steps_kg(folders: &[&Path], id: &str) -> f64 {
    for folder in folders {
        for entry in fs::read_dir(folder).expect("plans") {
            let file = entry.expect("a plan").path().join("plan.json");
            let Ok(text) = fs::read_to_string(file) else {
                continue;
            };
            let plan: Value = serde_json::from_str(&text).expect("JSON");
            if plan["id"] == id {
                let steps = plan["tally"]["products"][0]["steps"]
                    .as_array()
                    .expect("steps");
                let sown = steps.iter().filter(|step| {
                    let name = step["step"].as_str().expect("a name");
                    !["reserve", "residue", "packs"].contains(&name)
                });
                return sown.map(|step| step["kg"].as_f64().expect("kg")).sum();
            }
        }
    }
    panic!("no plan {id}");
}

/// Which of two maps is driven is known on the day only, so the row has what either may need.
#[test]
fn of_two_seedbeds_the_larger_amount_and_what_is_open_count() {
    let folder = TempDir::new().expect("a folder");
    let plans = planned(folder.path(), "plans", "7", "2026-03-20");
    let one = fs::read_dir(&plans)
        .expect("plans")
        .map(|entry| entry.expect("a plan").path().join("plan.json"))
        .find(|file| file.exists())
        .expect("a plan");
    let made: Value =
        serde_json::from_str(&fs::read_to_string(one).expect("a plan")).expect("JSON");
    let own = made["id"].as_str().expect("an id").to_owned();
    let write = |name: &str, moisture: &str, ids: [&str; 2], change: &dyn Fn(&mut Value)| {
        let mut plan = made.clone();
        plan["id"] = Value::from(ids[0]);
        plan["seedbed"] = serde_json::json!({ "moisture": moisture, "other_plan": ids[1], "other_is_held_back": false });
        change(&mut plan);
        let folder = folder.path().join("beds").join(name);
        fs::create_dir_all(&folder).expect("a folder");
        fs::write(folder.join("plan.json"), plan.to_string()).expect("written");
        folder
    };
    let dry = write("dry", "dry", [&own, "ZZ9999"], &|_| ());
    let moist = write("moist", "moist", ["ZZ9999", &own], &|plan| {
        for step in plan["tally"]["products"][0]["steps"]
            .as_array_mut()
            .expect("steps")
        {
            step["kg"] = Value::from(1.5 * step["kg"].as_f64().expect("kg"));
        }
        let id = plan["tally"]["products"][0]["id"].clone();
        plan["terminal"]["held_back"] = Value::from(vec![id]);
    });
    let sown = |plans: &[&Path]| {
        let mut arguments = vec![
            "week",
            "--from",
            "2026-03-20",
            "--yard",
            "8.0,50.0",
            "--json",
        ];
        arguments.extend(plans.iter().map(|plan| path(plan)));
        let output = twinsow(&arguments);
        assert!(output.status.code() < Some(2), "{}", said(&output));
        let found: Value = serde_json::from_slice(&output.stdout).expect("JSON");
        let rows = found["drills"][0]["fields"]
            .as_array()
            .expect("fields")
            .clone();
        assert_eq!(rows.len(), 1);
        let kg = rows[0]["products"][0]["sown_kg"].as_f64().expect("kg");
        (kg, rows[0]["to_decide"].as_u64(), output.status.code())
    };
    let [alone, both, turned] = [&[&dry][..], &[&dry, &moist], &[&moist, &dry]]
        .map(|plans| sown(&plans.iter().map(|plan| plan.as_path()).collect::<Vec<_>>()));
    assert!((both.0 - 1.5 * alone.0).abs() < 1e-6, "{both:?} {alone:?}");
    assert_eq!(both, turned);
    assert!(both.1 >= Some(1) && both.2 == Some(1), "{both:?}");
}

#[test]
fn what_is_wrong_is_one_clear_error() {
    let folder = TempDir::new().expect("a folder");
    let plans = planned(folder.path(), "plans", "7", "2026-03-20");
    let refused = |more: &[&str], words: &str| {
        let mut arguments = vec!["week", path(&plans)];
        arguments.extend(more);
        let output = twinsow(&arguments);
        assert_eq!(output.status.code(), Some(2), "{}", said(&output));
        assert!(said(&output).contains(words), "{}", said(&output));
    };
    let day = ["--from", "2026-03-20"];
    refused(&["--from", "20.3.2026", "--yard", "8,50"], "YYYY-MM-DD");
    refused(&[&day[..], &["--yard", "8"]].concat(), "--yard is '8'");
    let yard = [&day[..], &["--yard", "8,50"]].concat();
    refused(
        &[&yard[..], &["--hours-a-day", "0"]].concat(),
        "--hours-a-day is 0",
    );
    refused(
        &[&yard[..], &["--hours-a-day", "nan"]].concat(),
        "--hours-a-day is NaN",
    );
    refused(&[&yard[..], &["--day-begins", "25:00"]].concat(), "HH:MM");
    refused(
        &[&yard[..], &["--csv", "job.toml"]].concat(),
        "ends in .csv",
    );
    refused(&[&[path(&plans)], &yard[..]].concat(), "which");
    let without = folder.path().join("without");
    fs::create_dir(&without).expect("a folder");
    let job = farm(&without, &[8.0, 8.2], None);
    let out = without.join("plans");
    let output = twinsow(&["plan", path(&job), "--out", path(&out), "--only", "tables"]);
    assert!(output.status.code() < Some(2), "{}", said(&output));
    let arguments = [&["week", path(&out)], &yard[..]].concat();
    let output = twinsow(&arguments);
    assert!(
        said(&output).contains("field_efficiency_percent"),
        "{}",
        said(&output)
    );
    let output = twinsow(&[&arguments[..], &["--ha-per-h", "3"]].concat());
    assert!(output.status.code() < Some(2), "{}", said(&output));
}
