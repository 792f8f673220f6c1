//! A log made by a simulator of our own, held against its plan: what went in comes out.
//!
//! The simulator drives parallel bouts over the field, looks its rates up in the delivered map, and writes records with
//! seeded noise through the log writer of the codec. Nothing of the comparison is used in it.

mod log_support;

use log_support::{DRILL_M, HIGH_M, Noise, WIDE_M, degrees, run, text};
use std::fs;
use std::path::Path;
use twinsow::codec::taskdata::{Element, LogColumn, LogRecord, decode_log, encode_log, parse};
use twinsow::coordinates::LonLat;

/// The western half of the field gets the first rate, its eastern half the second.
const SEED: [f64; 2] = [150.0, 190.0];
const STARTER: f64 = 80.0;

fn square(west: f64, south: f64, east: f64, north: f64, class: &str) -> String {
    let ring = [
        [west, south],
        [east, south],
        [east, north],
        [west, north],
        [west, south],
    ];
    let ring = ring.map(|[x, y]| {
        let [lon, lat] = degrees(x, y);
        format!("[{lon},{lat}]")
    });
    format!(
        "{{\"type\":\"Feature\",\"properties\":{{\"soil\":\"{class}\"}},\"geometry\":{{\"type\":\"Polygon\",\"coordinates\":[[{}]]}}}}",
        ring.join(",")
    )
}

fn plan(folder: &Path) {
    let file = |name: &str, features: &[String]| {
        let text = format!(
            "{{\"type\":\"FeatureCollection\",\"features\":[{}]}}",
            features.join(",")
        );
        fs::write(folder.join(name), text).unwrap();
    };
    file("boundary.geojson", &[square(0.0, 0.0, WIDE_M, HIGH_M, "")]);
    let half = WIDE_M / 2.0;
    file(
        "soil.geojson",
        &[
            square(0.0, 0.0, half, HIGH_M, "sand"),
            square(half, 0.0, WIDE_M, HIGH_M, "clay"),
        ],
    );
    let job = format!(
        "name = \"log\"
[field]
name = \"Long Furrow\"
boundary = {{ file = \"boundary.geojson\" }}
[[layer]]
name = \"soil\"
source = {{ file = \"soil.geojson\" }}
class_attribute = \"soil\"
[drill]
working_width_m = {DRILL_M}
[[drill.hopper]]
name = \"front\"
usable_l = 1500
[[drill.hopper]]
name = \"rear\"
usable_l = 1000
[[product]]
id = \"barley\"
name = \"Barley\"
kind = \"seed\"
hopper = \"front\"
bulk_density_kg_per_l = 0.7
thousand_grain_weight_g = 50
[product.rate.kg_per_ha]
layer = \"soil\"
by_class = {{ sand = {}, clay = {} }}
[[product]]
id = \"starter\"
name = \"Starter\"
kind = \"fertiliser\"
hopper = \"rear\"
bulk_density_kg_per_l = 0.95
grade = {{ n_percent = 18, p2o5_percent = 46 }}
rate = {{ kg_per_ha = {STARTER} }}
[[own_seed_limit]]
product = \"starter\"
max_kg_per_ha = 5000.0
crop = \"barley\"
row_spacing_m = 2.0
grade = {{ n_percent = 18, p2o5_percent = 46 }}
because = \"invented for this test: no limit\"
by = \"the grower\"
on = \"2026-01-15\"
",
        SEED[0], SEED[1]
    );
    fs::write(folder.join("job.toml"), job).unwrap();
    let planned = run(folder, &["plan", "job.toml", "--out", "plan"]);
    assert!(
        planned.status.code().is_some_and(|code| code < 2),
        "{}",
        text(&planned.stderr)
    );
}

/// What is driven, and what came of it.
struct Drive {
    /// Bouts from the west; every bout runs the whole height.
    bouts: Vec<usize>,
    /// Barley in seeds instead of kilograms.
    count: bool,
    totals: bool,
    /// Bout in which the position is lost halfway.
    lost_in: Option<usize>,
    noise: f64,
}

/// Writes the log; gives the kilograms of both products.
fn drive(folder: &Path, drive: &Drive) -> [f64; 2] {
    let column = |ddi: u16, element: &str| LogColumn {
        ddi: Some(ddi),
        element: (!element.is_empty()).then(|| element.to_string()),
        constant: None,
    };
    let mut columns = vec![
        column(141, "DET1"),
        column(if drive.count { 12 } else { 7 }, "DET2"),
        column(7, "DET3"),
    ];
    if drive.totals {
        columns.extend([
            column(if drive.count { 82 } else { 352 }, "DET2"),
            column(352, "DET3"),
        ]);
    }
    let mut noise = Noise(0x5EED);
    let mut records = Vec::new();
    let mut kg = [0.0_f64; 2];
    let mut millisecond = 6 * 3_600_000;
    const STEP_M: f64 = 2.5;
    for (nth, bout) in drive.bouts.iter().enumerate() {
        let x = (*bout as f64 + 0.5) * DRILL_M;
        let steps = (HIGH_M / STEP_M) as usize;
        for step in 0..=steps {
            let along = step as f64 * STEP_M;
            let y = if nth % 2 == 0 { along } else { HIGH_M - along };
            let seed = SEED[usize::from(x > WIDE_M / 2.0)];
            let on = step < steps;
            let rates = [seed, STARTER].map(|rate| rate * (1.0 + drive.noise * noise.next()));
            let raw_seed = if drive.count {
                rates[0] / 50.0 * 100.0 * 1000.0
            } else {
                rates[0] * 100.0
            };
            let mut values = vec![
                (0, i32::from(on)),
                (1, raw_seed.round() as i32),
                (2, (rates[1] * 100.0).round() as i32),
            ];
            if drive.totals {
                let total = if drive.count {
                    kg[0] / 50e-6
                } else {
                    kg[0] * 1000.0
                };
                values.extend([
                    (3, total.round() as i32),
                    (4, (kg[1] * 1000.0).round() as i32),
                ]);
            }
            let lost = drive.lost_in == Some(*bout) && (20..40).contains(&step);
            records.push(LogRecord {
                day: 17_000,
                millisecond,
                lon_lat: (!lost).then(|| LonLat::of_pair(degrees(x, y))),
                status: Some(if lost { 0 } else { 4 }),
                values,
            });
            if on {
                for (kg, rate) in kg.iter_mut().zip(rates) {
                    *kg += rate * STEP_M * DRILL_M / 10_000.0;
                }
            }
            millisecond += 1000;
        }
        // The turn, with the drill out of the soil.
        millisecond += 20_000;
    }
    let (header, bytes) = encode_log(&columns, &records);
    let task = Element::new("TSK")
        .with("A", "TSK1")
        .with("B", "as driven")
        .with("G", 4)
        .child(Element::new("PAN").with("A", "PDT1").with("E", "DET2"))
        .child(Element::new("PAN").with("A", "PDT2").with("E", "DET3"))
        .child(Element::new("TLG").with("A", "TLG00001").with("C", 1));
    let root = Element::new("ISO11783_TaskData")
        .with("VersionMajor", 4)
        .with("VersionMinor", 3)
        .with("DataTransferOrigin", 2)
        .child(Element::new("PDT").with("A", "PDT1").with("B", "Barley"))
        .child(Element::new("PDT").with("A", "PDT2").with("B", "Starter"))
        .child(task);
    let stick = folder.join("TASKDATA");
    fs::create_dir_all(&stick).unwrap();
    fs::write(stick.join("TASKDATA.XML"), root.document().unwrap()).unwrap();
    fs::write(stick.join("TLG00001.XML"), header.document().unwrap()).unwrap();
    // A record that is cut off, as where the power goes.
    fs::write(
        stick.join("TLG00001.BIN"),
        [bytes.as_slice(), &[1, 2, 3]].concat(),
    )
    .unwrap();
    kg
}

fn compared(folder: &Path, more: &[&str]) -> serde_json::Value {
    let out = run(
        folder,
        &[&["compare", "plan", "TASKDATA", "--json"], more].concat(),
    );
    // 1: something to decide.
    assert!(
        out.status.code().is_some_and(|code| code < 2),
        "{}{}",
        text(&out.stdout),
        text(&out.stderr)
    );
    serde_json::from_slice(&out.stdout).unwrap()
}

fn near(value: &serde_json::Value, wanted: f64, share: f64) {
    let value = value.as_f64().unwrap();
    assert!(
        (value - wanted).abs() <= share * wanted.abs() + 1e-9,
        "{value}, not {wanted}"
    );
}

#[test]
fn a_whole_field_comes_back_by_mass_and_by_count() {
    let folder = tempfile::tempdir().unwrap();
    plan(folder.path());
    for (count, totals) in [(false, true), (true, true), (false, false)] {
        let kg = drive(
            folder.path(),
            &Drive {
                bouts: (0..40).collect(),
                count,
                totals,
                lost_in: None,
                noise: 0.02,
            },
        );
        let found = compared(folder.path(), &["--loaded", "barley=1000"]);
        near(&found["planned_m2"], WIDE_M * HIGH_M, 1e-3);
        near(&found["drilled_m2"], WIDE_M * HIGH_M, 5e-3);
        assert!(
            found["twice_m2"].as_f64().unwrap() < 0.005 * WIDE_M * HIGH_M,
            "{found}"
        );
        for (at, kg) in kg.iter().enumerate() {
            let product = &found["products"][at];
            near(&product["sown_kg"], *kg, 2e-3);
            assert_eq!(product["by_total"], totals);
            assert!(
                product["within_percent"][0].as_f64().unwrap() > 98.0,
                "{product}"
            );
        }
        // 4.8 ha: half at each rate of barley, all of it at one of starter.
        near(
            &found["products"][0]["planned_kg"],
            2.4 * (SEED[0] + SEED[1]),
            1e-3,
        );
        near(&found["products"][0]["left_kg"], 1000.0 - kg[0], 5e-3);
        let zones = found["zones"].as_array().unwrap();
        let sown: f64 = zones
            .iter()
            .map(|zone| zone["sown_kg"][0].as_f64().unwrap())
            .sum();
        let beyond = found["products"][0]["beyond_kg"].as_f64().unwrap();
        near(&serde_json::json!(sown + beyond), kg[0], 3e-3);
        for zone in zones {
            near(
                &zone["sown_kg"][0],
                zone["planned_kg"][0].as_f64().unwrap(),
                0.02,
            );
        }
    }
}

#[test]
fn missed_and_doubled_land_and_a_lost_position_are_told() {
    let folder = tempfile::tempdir().unwrap();
    plan(folder.path());
    // Bout 5 is left out, bout 8 is driven twice, and in bout 12 the position is lost for 20 of 80 steps.
    let mut bouts: Vec<usize> = (0..40).filter(|bout| *bout != 5).collect();
    bouts.push(8);
    let kg = drive(
        folder.path(),
        &Drive {
            bouts,
            count: false,
            totals: true,
            lost_in: Some(12),
            noise: 0.0,
        },
    );
    let found = compared(folder.path(), &[]);
    let bout_m2 = DRILL_M * HIGH_M;
    // The stretch without a position: from the last record that has one to the first that has one again.
    let lost_m2 = DRILL_M * 2.5 * 21.0;
    near(&found["missed_m2"], bout_m2 + lost_m2, 0.02);
    near(&found["twice_m2"], bout_m2, 0.02);
    let barley = &found["products"][0];
    near(&barley["sown_kg"], kg[0], 1e-3);
    near(&barley["not_placed_kg"], lost_m2 * SEED[0] / 10_000.0, 0.02);
    // Doubled land has twice the rate, so it is within none of the limits.
    near(&barley["within_percent"][2], 100.0 * 38.0 / 39.0, 0.01);
    let said = found["findings"].to_string() + &found["told"].to_string();
    assert!(
        said.contains("no usable position") && said.contains("make no record"),
        "{said}"
    );
}

#[test]
fn the_rest_is_planned_as_a_job_of_its_own() {
    let folder = tempfile::tempdir().unwrap();
    plan(folder.path());
    drive(
        folder.path(),
        &Drive {
            bouts: (0..25).collect(),
            count: false,
            totals: false,
            lost_in: None,
            noise: 0.0,
        },
    );
    compared(
        folder.path(),
        &["--rest", "job.toml", "--map", "difference.geojson"],
    );
    let map = twinsow::read::read(&folder.path().join("difference.geojson"), None).unwrap();
    assert!(
        map.attributes
            .iter()
            .any(|name| name == "barley_difference_kg_ha"),
        "{:?}",
        map.attributes
    );
    assert!(map.features.len() > 100);
    // The same as a layer of a GeoPackage, written over an older one.
    compared(folder.path(), &["--map", "difference.gpkg"]);
    compared(folder.path(), &["--map", "difference.gpkg"]);
    let layer = twinsow::read::read(&folder.path().join("difference.gpkg"), None).unwrap();
    assert_eq!(layer.table.as_deref(), Some("difference"));
    assert_eq!(layer.features.len(), map.features.len());
    let plan_column = layer.attributes.last().map(String::as_str);
    assert_eq!(plan_column, Some("plan"));
    let number = |value: &twinsow::read::Value| value.to_string().parse::<f64>().ok();
    for (one, other) in layer.features.iter().zip(&map.features) {
        for (name, value) in map.attributes.iter().zip(&other.values) {
            let column = layer.attributes.iter().position(|own| own == name);
            let same = column.and_then(|at| one.values.get(at)).and_then(number);
            assert!(same.is_some() && same == number(value), "{name}: {value}");
        }
    }
    let planned = run(folder.path(), &["plan", "job-rest.toml", "--out", "rest"]);
    assert!(
        planned.status.code().is_some_and(|code| code < 2),
        "{}",
        text(&planned.stderr)
    );
    let rest = fs::read_to_string(folder.path().join("rest/plan.json")).unwrap();
    let rest: serde_json::Value = serde_json::from_str(&rest).unwrap();
    near(&rest["tally"]["mapped_m2"], 15.0 * DRILL_M * HIGH_M, 0.01);
}

#[test]
fn what_cannot_be_compared_is_one_clear_error() {
    let folder = tempfile::tempdir().unwrap();
    plan(folder.path());
    let none = run(
        folder.path(),
        &["compare", "plan", "plan/terminal/TASKDATA"],
    );
    assert_eq!(none.status.code(), Some(2));
    assert!(
        text(&none.stderr).contains("no time log"),
        "{}",
        text(&none.stderr)
    );
    drive(
        folder.path(),
        &Drive {
            bouts: vec![0],
            count: false,
            totals: false,
            lost_in: None,
            noise: 0.0,
        },
    );
    for (more, part) in [
        (["--loaded", "oats=5"], "'oats'"),
        (["--loaded", "barley"], "PRODUCT=KG"),
        (["--task", "TSK9"], "TSK1"),
    ] {
        let out = run(
            folder.path(),
            &[&["compare", "plan", "TASKDATA"][..], &more].concat(),
        );
        assert_eq!(out.status.code(), Some(2));
        assert!(
            text(&out.stderr).contains(part),
            "{part}: {}",
            text(&out.stderr)
        );
    }
}

/// Terminals write a log for each part of a drill, copy one, or name one again: it stays one pass.
#[test]
fn logs_of_one_pass_are_one_pass_however_many_there_are() {
    let folder = tempfile::tempdir().unwrap();
    plan(folder.path());
    let kg = drive(
        folder.path(),
        &Drive {
            bouts: (0..40).collect(),
            count: false,
            totals: true,
            lost_in: None,
            noise: 0.02,
        },
    );
    let stick = folder.path().join("TASKDATA");
    let main = stick.join("TASKDATA.XML");
    let alone = compared(folder.path(), &[]);
    let whole = fs::read_to_string(&main).unwrap();
    let named = r#"<TLG A="TLG00001" C="1"/>"#;
    assert!(whole.contains(named));
    let with = |names: [&str; 3]| {
        let all = names.map(|name| format!(r#"<TLG A="{name}" C="1"/>"#));
        fs::write(&main, whole.replace(named, &all.concat())).unwrap();
        compared(folder.path(), &[])
    };
    let same = |found: &serde_json::Value, what: &str| {
        for key in ["drilled_m2", "twice_m2", "working_h"] {
            if what != "parts" || key != "working_h" {
                assert_eq!(found[key], alone[key], "{what}: {key}");
            }
        }
        for (at, kg) in kg.iter().enumerate() {
            near(&found["products"][at]["sown_kg"], *kg, 2e-3);
            near(
                &found["products"][at]["on_land_kg"],
                alone["products"][at]["on_land_kg"].as_f64().unwrap(),
                1e-6,
            );
            assert_eq!(
                found["products"][at]["within_percent"], alone["products"][at]["within_percent"],
                "{what}"
            );
        }
    };
    let found = with(["TLG00001"; 3]);
    same(&found, "named again");
    assert!(
        found["findings"]
            .to_string()
            .contains("named more than once")
    );

    for name in ["TLG00002", "TLG00003"] {
        for end in ["XML", "BIN"] {
            let from = stick.join(format!("TLG00001.{end}"));
            fs::copy(from, stick.join(format!("{name}.{end}"))).unwrap();
        }
    }
    let found = with(["TLG00001", "TLG00002", "TLG00003"]);
    assert_eq!(found["drilled_m2"], alone["drilled_m2"]);
    same(&found, "copies");

    // One log for the work state and each product of its own.
    let header = parse(&fs::read(stick.join("TLG00001.XML")).unwrap()).unwrap();
    let log = decode_log(&header, &fs::read(stick.join("TLG00001.BIN")).unwrap());
    for (name, own) in [("TLG00001", [0, 1, 3]), ("TLG00002", [0, 2, 4])] {
        let columns: Vec<LogColumn> = own.iter().map(|at| log.columns[*at].clone()).collect();
        let records: Vec<LogRecord> = log
            .records
            .iter()
            .map(|record| LogRecord {
                values: (0..)
                    .zip(own)
                    .map(|(at, of)| (at, record.values[of].1))
                    .collect(),
                ..record.clone()
            })
            .collect();
        let (header, bytes) = encode_log(&columns, &records);
        fs::write(
            stick.join(format!("{name}.XML")),
            header.document().unwrap(),
        )
        .unwrap();
        fs::write(stick.join(format!("{name}.BIN")), bytes).unwrap();
    }
    let two = whole.replace(named, &format!(r#"{named}<TLG A="TLG00002" C="1"/>"#));
    fs::write(&main, two).unwrap();
    let found = compared(folder.path(), &[]);
    same(&found, "parts");
}
