//! `twinsow calibrate` and `twinsow order` from the outside, on the built-in scenario.

use std::fs;
use std::path::Path;
use std::process::{Command, Output};

fn twinsow(folder: &Path, args: &[&str]) -> Output {
    Command::new(env!("CARGO_BIN_EXE_twinsow"))
        .args(args)
        .current_dir(folder)
        .env("SOURCE_DATE_EPOCH", "0")
        .output()
        .expect("the program starts")
}

fn json(output: &Output) -> serde_json::Value {
    serde_json::from_slice(&output.stdout).unwrap_or_else(|error| panic!("{error}: {output:?}"))
}

fn demo() -> tempfile::TempDir {
    let folder = tempfile::tempdir().expect("a folder");
    let made = twinsow(folder.path(), &["demo", "--out", "a"]);
    assert!(made.status.code().is_some_and(|code| code < 2), "{made:?}");
    folder
}

/// The scenario as a second field, with something else in its job.
fn second(folder: &Path, name: &str, change: (&str, &str)) {
    let to = folder.join(name);
    fs::create_dir(&to).unwrap();
    for entry in fs::read_dir(folder.join("a")).unwrap() {
        let path = entry.unwrap().path();
        if path.is_file() {
            fs::copy(&path, to.join(path.file_name().unwrap())).unwrap();
        }
    }
    let job = fs::read_to_string(to.join("job.toml")).unwrap();
    assert!(job.contains(change.0));
    fs::write(to.join("job.toml"), job.replace(change.0, change.1)).unwrap();
}

#[test]
fn the_catch_is_rate_times_area_at_both_ends_of_the_map() {
    let folder = demo();
    let plan: serde_json::Value =
        serde_json::from_slice(&fs::read(folder.path().join("a/job-plan/plan.json")).unwrap())
            .unwrap();
    let out = twinsow(
        folder.path(),
        &[
            "calibrate",
            "a/job.toml",
            "--area",
            "1000",
            "--caught",
            "barley=10",
            "--json",
        ],
    );
    assert_eq!(out.status.code(), Some(0), "{out:?}");
    let out = json(&out);
    assert_eq!(out["plan"], plan["id"]);
    for (calibration, tally) in out["calibrations"]
        .as_array()
        .unwrap()
        .iter()
        .zip(plan["tally"]["products"].as_array().unwrap())
    {
        for (test, end) in calibration["tests"]
            .as_array()
            .unwrap()
            .iter()
            .zip(["lowest_kg_per_ha", "highest_kg_per_ha"])
        {
            let number = |value: &serde_json::Value| value.as_f64().unwrap();
            // A tenth of a hectare.
            assert!((number(&test["catch_kg"]) - number(&tally[end]) / 10.0).abs() < 1e-9);
            let turns = number(&test["revolutions"]) * number(&calibration["kg_per_rev"]);
            assert!((turns - number(&test["catch_kg"])).abs() < 1e-9);
        }
    }
    let caught = &out["calibrations"][0]["tests"][1]["caught"];
    let expected = plan["tally"]["products"][0]["highest_kg_per_ha"]
        .as_f64()
        .unwrap()
        / 10.0;
    assert!((caught["correction"].as_f64().unwrap() - 10.0 / expected).abs() < 1e-12);
}

#[test]
fn wrong_names_and_numbers_are_one_fault() {
    let folder = demo();
    for (args, words) in [
        (["--caught", "wheat=3"], "no product has the id 'wheat'"),
        (["--rotor", "barley=huge"], "has no rotor 'huge'"),
        (["--area", "0"], "a number above 0"),
        (["--caught", "barley"], "such as barley=7.4"),
        (
            ["--caught", "barley=5400"],
            "if 5400 g were weighed, write barley=5.4",
        ),
        (["--caught", "barley=0.05"], "a catch of 0.05 kg"),
    ] {
        let out = twinsow(
            folder.path(),
            &["calibrate", "a/job.toml", args[0], args[1]],
        );
        assert_eq!(out.status.code(), Some(2), "{out:?}");
        let text = String::from_utf8_lossy(&out.stderr);
        assert!(text.contains(words), "{text}");
    }
}

#[test]
fn one_list_pools_fields_but_not_lots() {
    let folder = demo();
    second(
        folder.path(),
        "b",
        ("name = \"Long Shoal\"", "name = \"Short Shoal\""),
    );
    second(
        folder.path(),
        "c",
        ("lot = \"LS-01 (invented)\"", "lot = \"LS-02 (invented)\""),
    );
    let out = twinsow(
        folder.path(),
        &[
            "order",
            "a/job-plan",
            "b/job.toml",
            "c/job.toml",
            "--csv",
            "list.csv",
            "--json",
        ],
    );
    assert!(out.status.code().is_some_and(|code| code < 2), "{out:?}");
    let lines = json(&out)["order"].as_array().unwrap().clone();
    // Barley of two lots, the starter of one, and what is broadcast for its balance.
    assert_eq!(lines.len(), 4);
    let of = |line: &serde_json::Value, key: &str| line[key].as_f64().unwrap();
    let (first, starter, balance, other) = (&lines[0], &lines[1], &lines[2], &lines[3]);
    assert!(
        balance["needs"]
            .as_array()
            .unwrap()
            .iter()
            .all(|need| need["broadcast"] == true)
    );
    assert_eq!(first["needs"].as_array().unwrap().len(), 2);
    assert_eq!(starter["needs"].as_array().unwrap().len(), 3);
    assert_eq!(other["needs"].as_array().unwrap().len(), 1);
    assert!((of(first, "sown_kg") - 2.0 * of(other, "sown_kg")).abs() < 1e-6);
    // What stays in the hopper counts once.
    assert_eq!(of(first, "residue_kg"), of(other, "residue_kg"));
    for line in &lines {
        let needed = of(line, "sown_kg") + of(line, "reserve_kg") + of(line, "residue_kg");
        let pack = line["article"]["pack_kg"].as_f64().unwrap();
        assert_eq!(of(line, "order_kg"), (needed / pack).ceil() * pack);
    }
    let csv = fs::read_to_string(folder.path().join("list.csv")).unwrap();
    assert_eq!(csv.lines().count(), 5);
}

/// Half of the need is placed, half broadcast: as the same product, and as one of its own at a price per pack.
#[test]
fn what_is_broadcast_is_in_the_list() {
    let folder = demo();
    let rule = "nutrient = \"p2o5\"";
    let placed = format!("{rule}\nplaced_percent = 50.0");
    second(folder.path(), "b", (rule, &placed));
    second(folder.path(), "c", (rule, &placed));
    let change = |name: &str, from: &str, to: &str| {
        let job = folder.path().join(name).join("job.toml");
        let text = fs::read_to_string(&job).unwrap();
        assert!(text.contains(from));
        fs::write(&job, text.replace(from, to)).unwrap();
    };
    let own = "[product.balance]\nname = \"Triple superphosphate 0-46-0\"\ngrade = { p2o5_percent = 46.0 }\npack_kg = 600.0\n";
    change("b", own, "");
    change("c", own, &format!("{own}price_per_pack = 21.0\n"));
    let list = |args: &[&str]| {
        let all: Vec<&str> = [&["order"], args, &["--json"]].concat();
        let out = twinsow(folder.path(), &all);
        assert!(out.status.code().is_some_and(|code| code < 2), "{out:?}");
        json(&out)["order"].as_array().unwrap().clone()
    };
    let pooled = list(&["b/job.toml"]);
    // Barley, and the starter for both.
    assert_eq!(pooled.len(), 2);
    let needs = pooled[1]["needs"].as_array().unwrap();
    assert_eq!(
        (&needs[0]["broadcast"], &needs[1]["broadcast"]),
        (&false.into(), &true.into())
    );
    let sown = |need: &serde_json::Value| need["kg"]["sown"].as_f64().unwrap();
    assert!(
        (sown(&needs[0]) + sown(&needs[1]) - pooled[1]["sown_kg"].as_f64().unwrap()).abs() < 1e-9
    );
    // As much is broadcast as is placed, but for overlap, limits and rounding of what is placed.
    let ratio = sown(&needs[1]) / sown(&needs[0]);
    assert!((0.7..1.3).contains(&ratio), "{ratio}");
    let apart = list(&["c/job.toml"]);
    let line = apart
        .iter()
        .find(|line| line["article"]["product"] == "Triple superphosphate 0-46-0")
        .expect("a line of its own");
    assert_eq!(line["needs"][0]["broadcast"], true);
    let packs = line["packs"].as_f64().unwrap();
    assert_eq!(line["cost"].as_f64(), Some(packs * 21.0));
    // 46 % instead of 52 %.
    let more = sown(&line["needs"][0]) / sown(&needs[1]);
    assert!((more - 52.0 / 46.0).abs() < 0.02, "{more}");
}

#[test]
fn lists_that_would_be_wrong_are_refused() {
    let folder = demo();
    fs::write(
        folder.path().join("broken.json"),
        "{\"format\": \"other\", \"version\": 1}",
    )
    .unwrap();
    for (args, words) in [
        (vec!["order", "a/job-plan", "a/job.toml"], "a/job-plan"),
        (vec!["order", "broken.json"], "its format is 'other'"),
        (vec!["order", "missing.json"], "cannot be read"),
        (
            vec!["order", "a/job.toml", "--csv", "a/job.toml"],
            "a file name that ends in .csv",
        ),
    ] {
        let out = twinsow(folder.path(), &args);
        assert_eq!(out.status.code(), Some(2), "{out:?}");
        let text = String::from_utf8_lossy(&out.stderr);
        assert!(text.contains(words), "{text}");
    }
}

#[test]
fn a_rhythm_that_cannot_be_closed_stops_the_plan_and_explains_itself() {
    let folder = demo();
    second(
        folder.path(),
        "b",
        ("sprayer_width_m = 36.0", "sprayer_width_m = 24.0"),
    );
    let out = twinsow(folder.path(), &["plan", "b/job.toml"]);
    assert_eq!(out.status.code(), Some(2), "{out:?}");
    let text = String::from_utf8_lossy(&out.stderr);
    for words in [
        "24 is no whole multiple of 7.2",
        "nearest that it can close: sprayer_width_m = 21.6 with start = \"whole\", or sprayer_width_m = 36 with",
    ] {
        assert!(text.contains(words), "{text}");
    }
}
