//! Two species in one pass: the example job from start to end, and mixtures that cannot be.

use std::fs;
use std::path::{Path, PathBuf};
use std::process::Command;
use twinsow::job::Job;

fn example() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("examples/oats-in-peas/job.toml")
}

#[test]
fn the_example_prints_rates_and_shares() {
    let folder = tempfile::tempdir().expect("a folder");
    let out = folder.path().join("plan");
    let output = Command::new(env!("CARGO_BIN_EXE_twinsow"))
        .arg("plan")
        .arg(example())
        .arg("--details")
        .arg("--out")
        .arg(&out)
        .output()
        .expect("the program starts");
    let said = String::from_utf8_lossy(&output.stdout).replace('\u{a0}', " ");
    assert_eq!(output.status.code(), Some(0), "{said}");
    let head = said.lines().find(|line| line.contains("peas kg/ha"));
    let head = head.expect("the head of the rate table");
    assert_eq!(head.matches("% of full rate").count(), 2, "{head}");
    assert_eq!(head.matches("plants/m2").count(), 2, "{head}");

    let table = fs::read_to_string(out.join("rates.csv")).expect("rates.csv");
    let mut reader = csv::Reader::from_reader(table.as_bytes());
    let names = reader.headers().expect("a head").clone();
    let mut soils = 0;
    for row in reader.records() {
        let row = row.expect("a row");
        let cell = |name: &str| {
            let at = names.iter().position(|known| known == name);
            row.get(at.expect(name)).expect("a cell")
        };
        let number = |name: &str| cell(name).parse::<f64>().expect("a number");
        let share = if cell("class_soil") == "clay" {
            50.0
        } else {
            30.0
        };
        // 80 x 250 / 88 and 250 x 40 / 85, in kg/ha.
        assert!((number("peas_kg_ha") - 227.272727).abs() < 1e-5);
        assert!((number("oats_kg_ha") - 117.647059 * share / 100.0).abs() < 1e-5);
        assert_eq!(number("peas_share_percent"), 100.0);
        assert_eq!(number("oats_share_percent"), share);
        soils += 1;
    }
    assert!(soils >= 4, "{soils} rows");

    let output = Command::new(env!("CARGO_BIN_EXE_twinsow"))
        .arg("explain")
        .arg(example())
        .output()
        .expect("the program starts");
    let said = String::from_utf8_lossy(&output.stdout).replace('\u{a0}', " ");
    assert!(
        said.contains("of its full rate; both species together 130 % of a full stand"),
        "{said}"
    );
}

#[test]
fn a_mixture_that_cannot_be_is_refused_with_its_line() {
    let text = fs::read_to_string(example()).expect("the example");
    for (good, bad, says) in [
        (
            "main = \"peas\"",
            "main = \"peese\"",
            "did you mean 'peas'?",
        ),
        (
            "companion = \"oats\"",
            "companion = \"peas\"",
            "mixed with itself",
        ),
        ("otherwise = 30.0", "otherwise = 0.3", "not a fraction"),
        (
            "series = \"additive\"",
            "series = \"replacement\"\nmain_percent = 70",
            "follows from companion_percent",
        ),
    ] {
        assert!(text.contains(good), "{good}");
        let fault = Job::parse(&text.replacen(good, bad, 1), Path::new("job.toml"));
        let fault = fault.expect_err(bad).to_string();
        assert!(
            fault.contains(says) && fault.contains("job.toml:"),
            "{bad}: {fault}"
        );
    }
    let (before, after) = text.split_once("id = \"oats\"").expect("the oats");
    let (_, mixture) = after.split_once("[mixture]").expect("the mixture");
    let fertiliser = "id = \"oats\"\nname = \"x\"\nkind = \"fertiliser\"\nhopper = \"rear\"\nrate = { kg_per_ha = 9 }\n[mixture]";
    let fault = Job::parse(
        &format!("{before}{fertiliser}{mixture}"),
        Path::new("job.toml"),
    );
    let fault = fault.expect_err("a fertiliser").to_string();
    assert!(fault.contains("a mixture is of two seeds"), "{fault}");
}
