//! Plant counts come back as next season's establishment.

use std::fs;
use std::path::Path;
use std::process::{Command, Output};
use twinsow::job::{Job, Lookup};

/// A field of 400 x 200 m in UTM zone 31: clay in the west, sand in the east, and rock that nobody counts on.
const FIELD: &str = r#"{"type":"Polygon","coordinates":[[[467000,6072000],[467400,6072000],[467400,6072200],[467000,6072200],[467000,6072000]]]}"#;
const SOIL: &str = r#"{"type":"FeatureCollection","features":[
{"type":"Feature","properties":{"soil":"clay"},"geometry":{"type":"Polygon","coordinates":[[[466980,6071990],[467200,6071990],[467200,6072210],[466980,6072210],[466980,6071990]]]}},
{"type":"Feature","properties":{"soil":"sand"},"geometry":{"type":"Polygon","coordinates":[[[467200,6071990],[467380,6071990],[467380,6072210],[467200,6072210],[467200,6071990]]]}},
{"type":"Feature","properties":{"soil":"rock"},"geometry":{"type":"Polygon","coordinates":[[[467380,6071990],[467420,6071990],[467420,6072210],[467380,6072210],[467380,6071990]]]}}]}"#;

/// 192 kg/ha of 48 g are 400 seeds per m2.
fn job(folder: &Path, rate: &str, drill: &str) {
    fs::write(folder.join("field.geojson"), FIELD).unwrap();
    fs::write(folder.join("soil.geojson"), SOIL).unwrap();
    let text = format!(
        r#"
name = "counted"
field = {{ name = "Small Piece", boundary = {{ file = "field.geojson", crs = "EPSG:32631" }} }}
drill = {{ working_width_m = 6, {drill} hopper = [{{ name = "front", usable_l = 1000 }}] }}
[[layer]]
name = "soil"
source = {{ file = "soil.geojson", crs = "EPSG:32631" }}
class_attribute = "soil"
[[product]]
id = "wheat"
name = "wheat"
kind = "seed"
hopper = "front"
thousand_grain_weight_g = 48
germination_percent = 96
[product.rate]
kg_per_ha = 192
{rate}
"#
    );
    fs::write(folder.join("job.toml"), text).unwrap();
}

/// Counts per metre of row, five on clay and two on sand; the last lies off the field.
const COUNTS: [(f64, f64); 8] = [
    (467_050.0, 32.5),
    (467_060.0, 32.5),
    (467_070.0, 32.5),
    (467_080.0, 30.0),
    (467_090.0, 35.0),
    (467_300.0, 40.0),
    (467_310.0, 44.0),
    (467_500.0, 9.0),
];

fn counts(folder: &Path, counts: &[(f64, f64)], factor: f64) {
    let lines = counts
        .iter()
        .map(|(x, number)| format!("{x},6072100,{}\n", number * factor));
    let text = format!("easting,northing,plants\n{}", lines.collect::<String>());
    fs::write(folder.join("counts.csv"), text).unwrap();
}

fn establishment(folder: &Path, more: &[&str]) -> Output {
    let arguments = [
        "establishment",
        "job.toml",
        "counts.csv",
        "--column",
        "plants",
    ];
    Command::new(env!("CARGO_BIN_EXE_twinsow"))
        .args(arguments)
        .args(["--crs", "EPSG:32631"])
        .args(more)
        .current_dir(folder)
        .output()
        .unwrap()
}

fn said(output: Output) -> serde_json::Value {
    let errors = String::from_utf8(output.stderr).unwrap();
    assert!(output.status.success(), "{errors}");
    serde_json::from_slice(&output.stdout).unwrap()
}

const WIDE: &str = "rows = 48,";
const PLANNED: &str = "germination_joined = \"included\"\nestablishment_percent = { layer = \"soil\", by_class = { clay = 70, sand = 90, rock = 50 } }";

#[test]
fn counts_per_metre_and_per_m2_say_the_same() {
    let folder = tempfile::tempdir().unwrap();
    job(folder.path(), PLANNED, WIDE);
    // Rows 12.5 cm apart: 260 plants/m2 are 32.5 per metre.
    counts(folder.path(), &COUNTS, 1.0);
    let per_metre = said(establishment(folder.path(), &["--per", "metre", "--json"]));
    counts(folder.path(), &COUNTS, 8.0);
    let per_m2 = said(establishment(folder.path(), &["--per", "m2", "--json"]));
    assert_eq!(per_metre, per_m2);
    let classes = per_metre["classes"].as_array().unwrap();
    let names: Vec<&str> = classes
        .iter()
        .map(|c| c["class"].as_str().unwrap())
        .collect();
    assert_eq!(names, ["clay", "rock", "sand"]);
    let (clay, rock, sand) = (&classes[0], &classes[1], &classes[2]);
    let number = |value: &serde_json::Value| value.as_f64().unwrap();
    let plants: Vec<f64> = clay["plants_per_m2"]
        .as_array()
        .unwrap()
        .iter()
        .map(number)
        .collect();
    assert_eq!(plants, [260.0, 240.0, 280.0]);
    assert!((number(&clay["establishment_percent"]) - 65.0).abs() < 1e-9);
    // 60, 65, 65, 65, 70: squares of 5 twice, over four.
    assert!((number(&clay["spread_percent"]) - 12.5f64.sqrt()).abs() < 1e-9);
    assert!((number(&sand["establishment_percent"]) - 84.0).abs() < 1e-9);
    assert_eq!(rock["counts"], 0);
    assert_eq!(number(&rock["next_percent"]), 50.0);
    assert_eq!(per_metre["left_out"], 1);
}

#[test]
fn germination_is_taken_out_again_as_the_job_joins_it() {
    let folder = tempfile::tempdir().unwrap();
    counts(folder.path(), &COUNTS[..5], 1.0);
    // 65 % of all seeds; of the 96 % that germinate it is more.
    for (joined, wanted) in [
        ("multiply", 65.0 / 0.96),
        ("subtract", 69.0),
        ("included", 65.0),
    ] {
        job(
            folder.path(),
            &format!("germination_joined = \"{joined}\""),
            WIDE,
        );
        let more = ["--per", "metre", "--json", "--layer", "soil"];
        let found = said(establishment(folder.path(), &more));
        let reached = found["classes"][0]["establishment_percent"]
            .as_f64()
            .unwrap();
        assert!((reached - wanted).abs() < 1e-9, "{joined}: {reached}");
    }
}

#[test]
fn the_next_job_has_what_was_counted_and_plans() {
    let folder = tempfile::tempdir().unwrap();
    job(folder.path(), PLANNED, WIDE);
    counts(folder.path(), &COUNTS, 1.0);
    let output = establishment(folder.path(), &["--per", "metre", "--next"]);
    assert!(output.status.success());
    let text = String::from_utf8(output.stdout).unwrap();
    assert!(text.contains("job-next.toml"), "{text}");
    let next = Job::load(&folder.path().join("job-next.toml")).unwrap();
    let Some(Lookup::ByClass(table)) = &next.products[0].rate.establishment_percent else {
        panic!("no table");
    };
    let classes: Vec<(&str, f64)> = table
        .by_class
        .iter()
        .map(|(c, v)| (c.as_str(), *v))
        .collect();
    assert_eq!(classes, [("clay", 65.0), ("rock", 50.0), ("sand", 84.0)]);
    twinsow::plan::plan(
        &next,
        &twinsow::plan::Disk,
        &twinsow::plan::Options::default(),
    )
    .unwrap_or_else(|fault| panic!("{fault}"));
}

/// What nobody has worked on gives way to what is counted anew; what somebody has worked on stays.
#[test]
fn the_next_job_is_written_again_until_somebody_works_on_it() {
    let folder = tempfile::tempdir().unwrap();
    job(folder.path(), PLANNED, WIDE);
    let file = folder.path().join("job-next.toml");
    let next = |scale: f64| {
        counts(folder.path(), &COUNTS, scale);
        establishment(folder.path(), &["--per", "metre", "--next"])
    };
    assert!(next(1.0).status.success());
    let first = fs::read_to_string(&file).unwrap();
    assert!(next(1.0).status.success());
    assert_eq!(fs::read_to_string(&file).unwrap(), first);
    assert!(next(0.9).status.success());
    let second = fs::read_to_string(&file).unwrap();
    assert_ne!(second, first);
    let worked_on = second.replacen("name = ", "name  = ", 1);
    assert_ne!(worked_on, second);
    fs::write(&file, &worked_on).unwrap();
    let refused = next(1.0);
    assert_eq!(refused.status.code(), Some(2));
    let why = String::from_utf8(refused.stderr).unwrap();
    assert!(why.contains("job-next.toml: A file is here"), "{why}");
    assert_eq!(fs::read_to_string(&file).unwrap(), worked_on);
}

#[test]
fn what_cannot_be_is_said() {
    let folder = tempfile::tempdir().unwrap();
    job(folder.path(), PLANNED, "");
    counts(folder.path(), &COUNTS, 1.0);
    let error = |output: Output| String::from_utf8(output.stderr).unwrap();
    let found = error(establishment(folder.path(), &["--per", "metre"]));
    assert!(found.contains("row spacing"), "{found}");
    job(folder.path(), PLANNED, WIDE);
    // Twice as many plants as seeds: a decision, and no establishment above 100 in the table.
    counts(folder.path(), &COUNTS[..6], 3.0);
    let output = establishment(folder.path(), &["--per", "metre", "--json"]);
    assert_eq!(output.status.code(), Some(1));
    let found: serde_json::Value = serde_json::from_slice(&output.stdout).unwrap();
    assert_eq!(found["classes"][0]["next_percent"], 100.0);
    assert!(found.to_string().contains("establishment.beyond"));
    counts(folder.path(), &COUNTS[7..], 1.0);
    let found = error(establishment(folder.path(), &["--per", "metre"]));
    assert!(found.contains("none of the 1 counts"), "{found}");
    counts(folder.path(), &[(467_050.0, -1.0)], 1.0);
    let found = error(establishment(folder.path(), &["--per", "metre"]));
    assert!(
        found.contains("is '-1', which is no number of 0 or more"),
        "{found}"
    );
    // A round that nobody has filled in is not a matter of its CRS.
    counts(folder.path(), &[(467_050.0, 1.0), (467_060.0, 1.0)], 1.0);
    let path = folder.path().join("counts.csv");
    let text = fs::read_to_string(&path).unwrap();
    let empty = text.lines().map(|line| match line.rsplit_once(',') {
        Some((place, number)) if number.trim().parse::<f64>().is_ok() => format!("{place},\n"),
        _ => format!("{line}\n"),
    });
    fs::write(&path, empty.collect::<String>()).unwrap();
    let found = error(establishment(folder.path(), &["--per", "metre"]));
    assert!(
        found.contains("column 'plants' is empty in all 2 lines"),
        "{found}"
    );
}

fn twinsow(folder: &Path, arguments: &[&str]) -> Output {
    Command::new(env!("CARGO_BIN_EXE_twinsow"))
        .args(arguments)
        .current_dir(folder)
        .output()
        .unwrap()
}

/// The round is walked, its table filled in, and every count lies where the round says; places of one class are well apart.
#[test]
fn a_counting_round_comes_back_as_counts() {
    let folder = tempfile::tempdir().unwrap();
    let here = folder.path();
    job(here, PLANNED, WIDE);
    let round = said(twinsow(here, &["counting", "job.toml", "round", "--json"]));
    let spots = round["spots"].as_array().unwrap();
    // 4 and 3.6 ha, and a strip of 20 m: two places by area, five at least.
    for class in ["clay", "sand", "rock"] {
        let own: Vec<&serde_json::Value> =
            spots.iter().filter(|own| own["class"] == class).collect();
        assert_eq!(own.len(), 5, "{class}");
        let lats = own.iter().map(|own| own["lon_lat"][1].as_f64().unwrap());
        let span = lats.clone().fold(f64::MIN, f64::max) - lats.fold(f64::MAX, f64::min);
        // 200 m are 0.0018 degrees; five evenly spread places reach over more than half of it.
        assert!(span > 0.0009, "{class}: {span}");
    }
    assert_eq!(round["short"], serde_json::json!([]));
    let gpx = fs::read_to_string(here.join("round.gpx")).unwrap();
    assert_eq!(gpx.matches("<wpt ").count(), 15);
    // Filled in: plants by the class that the table names.
    let table = fs::read_to_string(here.join("round.csv")).unwrap();
    let filled: String = table
        .lines()
        .map(|line| match line.split(',').nth(3) {
            Some("clay") => format!("{line}260\n"),
            Some("sand") => format!("{line}350\n"),
            Some("rock") => format!("{line}200\n"),
            _ => format!("{line}\n"),
        })
        .collect();
    fs::write(here.join("filled.csv"), filled).unwrap();
    let command = [
        "establishment",
        "job.toml",
        "filled.csv",
        "--column",
        "plants",
        "--per",
        "m2",
    ];
    let reached = said(twinsow(here, &[&command[..], &["--json"]].concat()));
    for (class, plants) in reached["classes"]
        .as_array()
        .unwrap()
        .iter()
        .zip([260.0, 200.0, 350.0])
    {
        assert_eq!(class["counts"], 5, "{class}");
        assert_eq!(
            class["plants_per_m2"],
            serde_json::json!([plants, plants, plants])
        );
    }
    // A round that may be filled in already is not written over.
    let again = twinsow(here, &["counting", "job.toml", "round"]);
    assert_eq!(again.status.code(), Some(2));
    let why = String::from_utf8_lossy(&again.stderr).into_owned();
    for part in [
        "round.gpx",
        "a counting round is never written over",
        "another folder",
        "nothing was changed",
    ] {
        assert!(why.contains(part), "{part}: {why}");
    }
    assert!(!why.contains("has not written"), "{why}");
    assert_eq!(table, fs::read_to_string(here.join("round.csv")).unwrap());
}

#[test]
fn counts_below_a_published_line_name_the_land_and_its_cost() {
    let folder = tempfile::tempdir().unwrap();
    let here = folder.path();
    job(here, PLANNED, WIDE);
    // 10 and 16 plants per metre of row, 12.5 cm apart, are 80 and 128 per m2.
    let thin = [(467_050.0, 10.0), (467_300.0, 16.0)];
    counts(here, &thin, 1.0);
    let without = said(establishment(here, &["--per", "metre", "--json"]));
    assert_eq!(
        without["redrill"],
        serde_json::json!({ "lines": 0, "below": [] })
    );
    let text = fs::read_to_string(here.join("job.toml")).unwrap();
    let text = text.replace(
        "kind = \"seed\"",
        "kind = \"seed\"\ncrop = \"winter wheat\"\nprice_per_t = 500",
    );
    fs::write(here.join("job.toml"), text).unwrap();
    let more = ["--per", "metre", "--redrill-per-ha", "60", "--json"];
    let reached = said(establishment(here, &more));
    let below = reached["redrill"]["below"].as_array().unwrap();
    let told: Vec<(&str, f64)> = below
        .iter()
        .map(|own| {
            (
                own["class"].as_str().unwrap(),
                own["line_per_m2"].as_f64().unwrap().round(),
            )
        })
        .collect();
    assert_eq!(told, [("clay", 90.0), ("clay", 129.0), ("sand", 129.0)]);
    // 4 ha of clay: 768 kg of seed, 384 for it and 240 for drilling; UTM draws lengths 0.04 % short here.
    for (key, wanted) in [
        ("area_m2", 40_000.0),
        ("seed_kg", 768.0),
        ("seed_cost", 384.0),
        ("drilling_cost", 240.0),
    ] {
        let found = below[0][key].as_f64().unwrap();
        assert!((found / wanted - 1.0).abs() < 0.002, "{key}: {found}");
    }
    let shown = establishment(here, &["--per", "metre"]);
    let shown = String::from_utf8(shown.stdout).unwrap();
    assert!(
        shown.contains("Teagasc") && shown.contains("Dig first"),
        "{shown}"
    );
    // Lines are broken by the width of the screen.
    let as_one = |text: String| text.split_whitespace().collect::<Vec<_>>().join(" ");
    let shown = as_one(shown);
    assert!(
        shown.contains("80 plants/m2 in the mean, fewer than the 90 plants/m2"),
        "{shown}"
    );
    // A job in US units is told in them: 12 plants per square foot, as that source prints it.
    let text = fs::read_to_string(here.join("job.toml")).unwrap();
    let text = format!("{text}\n[report]\nunits = \"us_customary\"\n");
    fs::write(here.join("job.toml"), text).unwrap();
    let shown = establishment(here, &["--per", "metre"]);
    let shown = as_one(String::from_utf8(shown.stdout).unwrap());
    for wanted in [
        "7.4 plants/ft2 in the mean",
        "fewer than the 12 plants/ft2",
        "seeds/ft2 sown",
        " ac;",
        " lb of seed",
    ] {
        assert!(shown.contains(wanted), "{wanted}: {shown}");
    }
    assert!(!shown.contains("/m2"), "{shown}");
}
