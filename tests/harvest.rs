//! Yield points come back: from file to page, with a trial whose truth is known.

use std::fmt::Write as _;
use std::fs;
use std::path::Path;
use std::process::{Command, Output};

/// A field of 400 x 300 m in UTM zone 31.
const FIELD: &str = r#"{"type":"Polygon","coordinates":[[[467000,6072000],[467400,6072000],[467400,6072300],[467000,6072300],[467000,6072000]]]}"#;
const JOB: &str = r#"
name = "harvested"
field = { name = "Small Piece", boundary = { file = "field.geojson", crs = "EPSG:32631" } }
drill = { working_width_m = 6, hopper = [{ name = "front", usable_l = 1000 }] }
[[product]]
id = "wheat"
name = "wheat"
kind = "seed"
hopper = "front"
thousand_grain_weight_g = 48
germination_percent = 96
rate.kg_per_ha = 150
"#;

fn twinsow(folder: &Path, arguments: &[&str]) -> Output {
    Command::new(env!("CARGO_BIN_EXE_twinsow"))
        .args(arguments)
        .current_dir(folder)
        .env("SOURCE_DATE_EPOCH", "1800000000")
        .output()
        .unwrap()
}

/// A plan, and yields of twelve strips of 12 m in six pairs; 'map' gives `effect` t/ha more than 'flat'.
fn harvested(effect: f64) -> tempfile::TempDir {
    let folder = tempfile::tempdir().unwrap();
    fs::write(folder.path().join("field.geojson"), FIELD).unwrap();
    fs::write(folder.path().join("job.toml"), JOB).unwrap();
    let output = twinsow(
        folder.path(),
        &["plan", "job.toml", "--out", "plan", "--only", "geopackage"],
    );
    assert!(
        output.status.code().is_some_and(|code| code < 2),
        "{}",
        String::from_utf8_lossy(&output.stderr)
    );
    let mut state = 11_u64;
    let mut noise = || {
        state = state
            .wrapping_mul(6_364_136_223_846_793_005)
            .wrapping_add(1);
        (state >> 33) as f64 / f64::from(1_u32 << 31) - 0.5
    };
    let mut csv = String::from("easting,northing,yield,moisture,what,pair\n");
    let mut plots = String::from("{\"type\":\"FeatureCollection\",\"features\":[");
    for strip in 0..12 {
        // Which of a pair is first changes from pair to pair.
        let is_map = (strip % 2 == 0) == (strip / 2 % 3 != 1);
        let what = if is_map { "map" } else { "flat" };
        let x = 467_030.0 + f64::from(strip) * 12.0;
        for row in 0..130 {
            let along = if strip % 2 == 0 { row } else { 129 - row };
            let y = 6_072_020.0 + f64::from(along) * 2.0;
            let truth = 8.0 + 0.002 * (x - 467_000.0) + 0.3 * (y / 40.0).sin();
            let value = truth + if is_map { effect } else { 0.0 } + 0.3 * noise();
            let _ = writeln!(csv, "{x},{y},{value:.3},20,{what},{}", strip / 2);
        }
        let (low, high) = (x - 6.0, x + 6.0);
        let comma = if strip == 0 { "" } else { "," };
        let _ = write!(
            plots,
            "{comma}{{\"type\":\"Feature\",\"properties\":{{\"what\":\"{what}\",\"pair\":{}}},\"geometry\":{{\"type\":\"Polygon\",\"coordinates\":[[[{low},6072010],[{high},6072010],[{high},6072290],[{low},6072290],[{low},6072010]]]}}}}",
            strip / 2
        );
    }
    plots.push_str("]}");
    fs::write(folder.path().join("yield.csv"), csv).unwrap();
    fs::write(folder.path().join("plots.geojson"), plots).unwrap();
    folder
}

const COMMON: [&str; 9] = [
    "harvest",
    "plan",
    "yield.csv",
    "--crs",
    "EPSG:32631",
    "--column",
    "yield=yield:t/ha",
    "--moisture-basis",
    "14.5",
];
const PLOTS: [&str; 8] = [
    "--plots",
    "plots.geojson",
    "--plots-crs",
    "EPSG:32631",
    "--treatment",
    "what",
    "--block",
    "pair",
];

fn told(folder: &Path, more: &[&str]) -> serde_json::Value {
    let output = twinsow(folder, &[&COMMON, more, &["--json"]].concat());
    assert!(
        output.status.success(),
        "{}",
        String::from_utf8_lossy(&output.stderr)
    );
    serde_json::from_slice(&output.stdout).unwrap()
}

#[test]
fn a_difference_that_is_there_is_shown_with_its_money() {
    let folder = harvested(0.4);
    let at_basis = [
        "--yield-at",
        "14.5",
        "--base",
        "flat",
        "--price",
        "150,180,210",
        "--cost",
        "map=20",
    ];
    let found = told(folder.path(), &[&PLOTS[..], &at_basis].concat());
    let effect = &found["answer"]["effect"];
    let [value, from, to] = ["kg_per_ha", "from", "to"].map(|key| effect[key].as_f64().unwrap());
    assert!(
        from < 400.0 && 400.0 < to && from > 0.0,
        "{value} {from} {to}"
    );
    assert_eq!(found["answer"]["shown"], true);
    assert_eq!(found["answer"]["blocks"], 6);
    let worth = found["answer"]["worth"][1]["per_ha"].as_f64().unwrap();
    assert!((worth - (value * 0.18 - 20.0)).abs() < 1e-9, "{worth}");
    let price = found["answer"]["break_even_per_t"].as_f64().unwrap();
    assert!((price - 20_000.0 / value).abs() < 1e-9, "{price}");
    // Nothing was weighed, and the page says so; it stands alone.
    assert_eq!(found["indication"], true);
    let page = fs::read_to_string(folder.path().join("harvest/harvest.html")).unwrap();
    // A stroke is written as a character reference.
    let page = page.replace("&#x2f;", "/");
    for text in [
        "Indication",
        found["sentence"].as_str().unwrap(),
        "Go on with map",
        "Small Piece",
    ] {
        assert!(page.contains(text), "{text}");
    }
    assert!(!page.contains("src=") && !page.contains("http:") && !page.contains("https:"));
    // Every reading is in the layer, with the step that took it.
    let layer = fs::read_to_string(folder.path().join("harvest/readings.geojson")).unwrap();
    let layer: serde_json::Value = serde_json::from_str(&layer).unwrap();
    let all = layer["features"].as_array().unwrap();
    assert_eq!(all.len(), 12 * 130);
    let counting = all
        .iter()
        .filter(|point| point["properties"]["taken_by"].is_null())
        .count();
    assert_eq!(found["counting"], counting);
    // Polygons and columns say the same.
    let columns = ["--column", "treatment=what", "--column", "block=pair"];
    let by_columns = told(folder.path(), &[&columns[..], &at_basis].concat());
    let other = by_columns["answer"]["effect"]["kg_per_ha"]
        .as_f64()
        .unwrap();
    assert!((other - value).abs() < 30.0, "{other} {value}");
    // A trial that is named is not passed over for the columns.
    let named = [&COMMON[..], &columns, &at_basis, &["--trial", "strips"]].concat();
    let output = twinsow(folder.path(), &named);
    assert_eq!(output.status.code(), Some(2));
    let said = String::from_utf8_lossy(&output.stderr);
    assert!(said.contains("the plan has no trial"), "{said}");
}

#[test]
fn what_is_not_there_is_not_shown() {
    let folder = harvested(0.0);
    let found = told(
        folder.path(),
        &[&PLOTS[..], &["--yield-at", "14.5", "--base", "flat"]].concat(),
    );
    assert_eq!(found["answer"]["shown"], false);
    let sentence = found["sentence"].as_str().unwrap();
    assert!(sentence.ends_with("not shown."), "{sentence}");
    let page = fs::read_to_string(folder.path().join("harvest/harvest.html")).unwrap();
    assert!(page.contains("Nothing was shown"));
}

#[test]
fn moisture_is_taken_off_once() {
    let folder = harvested(0.0);
    let mean = |more: &[&str]| {
        told(folder.path(), more)["mean_kg_per_ha"]
            .as_f64()
            .unwrap()
    };
    let at_basis = mean(&["--yield-at", "14.5"]);
    let wet = mean(&["--yield-at", "harvested", "--column", "moisture=moisture"]);
    assert!(
        (wet / at_basis - 80.0 / 85.5).abs() < 1e-9,
        "{wet} {at_basis}"
    );
}

/// The same command into the same folder: the same files, and another answer in place of the first; what is somebody else's stays.
#[test]
fn a_harvest_is_written_again_over_its_own_files_alone() {
    let folder = harvested(0.4);
    let here = folder.path();
    let answer = [&["--yield-at", "14.5", "--out", "cut"][..], &PLOTS].concat();
    let files = || {
        let all = fs::read_dir(here.join("cut")).unwrap();
        let mut all: Vec<(String, Vec<u8>)> = all
            .map(|entry| {
                let path = entry.unwrap().path();
                let name = path.file_name().unwrap().to_string_lossy().into_owned();
                (name, fs::read(path).unwrap())
            })
            .collect();
        all.sort();
        all
    };
    told(here, &answer);
    let first = files();
    assert!(first.len() > 2, "{}", first.len());
    told(here, &answer);
    assert!(files() == first, "the same answer");
    let other = [&["--yield-at", "20", "--out", "cut"][..], &PLOTS].concat();
    told(here, &other);
    assert!(files() != first, "another answer");
    for (name, bytes) in &first {
        fs::write(here.join("cut").join(name), bytes).unwrap();
    }
    for (name, _) in &first {
        let file = here.join("cut").join(name);
        let own = fs::read(&file).unwrap();
        fs::write(&file, "mine\n").unwrap();
        let refused = twinsow(here, &[&COMMON[..], &other].concat());
        let why = String::from_utf8_lossy(&refused.stderr).into_owned();
        assert_eq!(refused.status.code(), Some(2), "{why}");
        assert!(
            why.contains(name) && why.contains("has not written"),
            "{why}"
        );
        assert_eq!(fs::read_to_string(&file).unwrap(), "mine\n");
        fs::write(&file, own).unwrap();
        assert!(files() == first, "{name}: nothing was written");
    }
    // A map of ours that somebody changed below how it begins is still one of ours, and gives way.
    let maps = first.iter().filter(|(name, _)| name.ends_with(".geojson"));
    let changed = maps.map(|(name, bytes)| {
        let bytes = [bytes.as_slice(), b" \n"].concat();
        fs::write(here.join("cut").join(name), bytes).unwrap();
    });
    assert!(changed.count() > 0);
    told(here, &answer);
    assert!(files() == first, "written over");
}

#[test]
fn what_cannot_be_read_is_one_clear_error() {
    let folder = harvested(0.0);
    let cases: [(&[&str], &str); 11] = [
        (&["--yield-at", "14.5", "--base", "5"], "answers a trial"),
        (
            &[
                "--yield-at",
                "14.5",
                "--ledger",
                "yield.csv",
                "--harvested-on",
                "2027-08-12",
                "--straw",
                "left",
                "--crop",
                "wheat",
                "--out",
                "new",
            ],
            "This is a file",
        ),
        (&[], "--yield-at"),
        (&["--yield-at", "harvested"], "a column of moistures"),
        (&["--yield-at", "99"], "0 to 50 %"),
        (
            &["--yield-at", "14.5", "--column", "width=nothing:m"],
            "easting",
        ),
        (
            &["--yield-at", "14.5", "--column", "moisture=what"],
            "a number, or nothing",
        ),
        (
            &["--yield-at", "14.5", "--price", "3,2,1"],
            "low, expected and high",
        ),
        (&["--yield-at", "14.5", "--weighed", "red=100"], "combines:"),
        (
            &[
                "--yield-at",
                "14.5",
                "--column",
                "treatment=what",
                "--base",
                "none",
            ],
            "flat, map",
        ),
        (
            &[
                "--yield-at",
                "14.5",
                "--column",
                "treatment=pair",
                "--column",
                "block=what",
                "--cost",
                "nobody=3",
            ],
            "one of:",
        ),
    ];
    for (more, allowed) in cases {
        let output = twinsow(folder.path(), &[&COMMON, more].concat());
        let text = String::from_utf8(output.stderr).unwrap();
        assert_eq!(output.status.code(), Some(2), "{more:?}: {text}");
        assert!(text.contains(allowed), "{more:?}: {text}");
        assert!(!folder.path().join("new").exists(), "{more:?}");
    }
    // Another field's points.
    let text = fs::read_to_string(folder.path().join("yield.csv")).unwrap();
    fs::write(
        folder.path().join("yield.csv"),
        text.replace("\n467", "\n468"),
    )
    .unwrap();
    let output = twinsow(
        folder.path(),
        &[&COMMON[..], &["--yield-at", "14.5"]].concat(),
    );
    assert_eq!(output.status.code(), Some(2));
    assert!(
        String::from_utf8(output.stderr)
            .unwrap()
            .contains("of one field")
    );
}
