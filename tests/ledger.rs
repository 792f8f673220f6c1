//! The ledger of a farm: what a log placed comes off the need of the next product of the season, on the land where it lies;
//! what a harvest takes off is entered; from year to year nothing is taken off.

mod log_support;

use log_support::*;
use serde_json::Value;
use std::fs;
use std::path::Path;
use tempfile::TempDir;

/// Day 17000 from 1 January 1980 is 18 July 2026 (Python: date(1980, 1, 1) + timedelta(17000)).
const SOWN_ON: &str = "2026-07-18";

/// A field that was sown by these bouts, with the ledger of it.
fn sown(bouts: &[usize]) -> TempDir {
    let folder = tempfile::tempdir().unwrap();
    plan(folder.path());
    let moments = drive(bouts, 0.0, &mut Noise(5), 0.0);
    let children = vec![allocated("PDT1", "DET2"), allocated("PDT2", "DET3")];
    write(
        folder.path(),
        Vec::new(),
        task("=as driven", children),
        &[log(&common(), &moments)],
    );
    compared(folder.path());
    folder
}

fn compared(folder: &Path) {
    let out = run(
        folder,
        &["compare", "plan", "TASKDATA", "--ledger", "ledger"],
    );
    let code = out.status.code();
    assert!(code.is_some_and(|code| code < 2), "{}", text(&out.stderr));
}

/// The job of the next product: 60 kg/ha P2O5 are needed on the whole field, of triple superphosphate with 46 %.
fn next(folder: &Path, since: &str, more: &str) {
    let job = format!(
        r#"
name = "phosphate"
sowing_date = "2027-03-01"
field = {{ name = "Long Furrow", boundary = {{ file = "boundary.geojson" }} }}
drill = {{ working_width_m = 12, hopper = [{{ name = "front", usable_l = 1000 }}] }}
[[layer]]
name = "drilling"
source = {{ file = "ledger/2026.geojson" }}
placed_since = "{since}"
[[product]]
id = "tsp"
name = "Triple superphosphate"
kind = "fertiliser"
hopper = "front"
grade = {{ p2o5_percent = 46 }}
[product.rate]
nutrient = "p2o5"
need_kg_per_ha = 60
{more}
"#
    );
    fs::write(folder.join("next.toml"), job).unwrap();
}

fn planned(folder: &Path) -> Value {
    let out = run(folder, &["plan", "next.toml", "--out", "next"]);
    let code = out.status.code();
    assert!(code.is_some_and(|code| code < 2), "{}", text(&out.stderr));
    serde_json::from_slice(&fs::read(folder.join("next/plan.json")).unwrap()).unwrap()
}

fn refused(folder: &Path) -> String {
    let out = run(folder, &["plan", "next.toml", "--out", "next"]);
    assert_eq!(out.status.code(), Some(2), "{}", text(&out.stdout));
    text(&out.stderr)
}

/// Class of the ledger's layer, m2 and kg/ha of each row of a plan's rate table.
fn rows(plan: &Value) -> Vec<(String, f64, f64)> {
    let rows = plan["rate_table"].as_array().unwrap();
    rows.iter()
        .map(|row| {
            let class = row["classes"][0]["class"].as_str().unwrap();
            let rate = row["rates"][0]["kg_per_ha"].as_f64().unwrap();
            (class.to_owned(), row["area_m2"].as_f64().unwrap(), rate)
        })
        .collect()
}

/// The drill lays starter on its 37 western bouts; the map keeps it off 16.5 m along the brook.
const LAID_M: f64 = 37.0 * DRILL_M;
const ZONE_M: f64 = WIDE_M - 16.5;

/// What came to each zone, kg/ha P2O5: 46 % of the starter that was laid.
fn placed() -> [f64; 3] {
    STARTER.map(|kg| 0.46 * kg * LAID_M / ZONE_M)
}

fn near(value: f64, wanted: f64, off: f64) {
    assert!((value - wanted).abs() <= off, "{value}, not {wanted}");
}

#[test]
fn what_was_placed_comes_off_the_need_on_its_land() {
    let folder = sown(&whole());
    let ledger = fs::read(folder.path().join("ledger/2026.csv")).unwrap();
    let land = fs::read(folder.path().join("ledger/2026.geojson")).unwrap();
    next(folder.path(), SOWN_ON, "");
    let plan = planned(folder.path());
    // 18-46 at 60, 90 and 75 kg/ha brings 27.6, 41.4 and 34.5 kg/ha P2O5, and none along the brook.
    let third_ha = ZONE_M * HIGH_M / 3.0 / 10_000.0;
    let rows = rows(&plan);
    for placed in placed() {
        let wanted = (60.0 - placed) / 0.46;
        let (ha, rate) = rows
            .iter()
            .filter(|(_, _, rate)| (rate - wanted).abs() < 0.01 * wanted)
            .fold((0.0, 0.0), |(ha, sum), (_, m2, rate)| {
                (ha + m2 / 10_000.0, sum + rate * m2 / 10_000.0)
            });
        // Exact on the land: the zones of the first plan, to the square metre.
        near(ha, third_ha, 0.002 * third_ha);
        near(rate / ha, wanted, 0.01 * wanted);
    }
    let along: f64 = rows
        .iter()
        .filter(|(_, _, rate)| (rate - 60.0 / 0.46).abs() < 1e-6)
        .map(|(_, m2, _)| m2)
        .sum();
    near(along, (WIDE_M - ZONE_M) * HIGH_M, 0.01 * WIDE_M * HIGH_M);
    // The ledger is an input with its hash, and no plan writes to it.
    let inputs = plan["inputs"].to_string();
    assert!(inputs.contains("2026.geojson"), "{inputs}");
    assert_eq!(
        fs::read(folder.path().join("ledger/2026.csv")).unwrap(),
        ledger
    );
    assert_eq!(
        fs::read(folder.path().join("ledger/2026.geojson")).unwrap(),
        land
    );
    // The same comparison again counts nothing twice.
    compared(folder.path());
    assert_eq!(
        fs::read(folder.path().join("ledger/2026.geojson")).unwrap(),
        land
    );
    let reasons = plan["rate_table"].to_string();
    assert!(reasons.contains("nutrient.placed"), "{reasons}");
}

/// A limit of the place counts what the ledger knows: 50 less 41.4 kg/ha P2O5 leave 18.7 kg/ha.
#[test]
fn a_limit_of_the_place_counts_what_was_placed() {
    let folder = sown(&whole());
    let limit = "[[place_limit]]\nname = \"most\"\nnutrient = \"p2o5\"\nmost_kg_per_ha = 50\nsource = \"invented for this test\"";
    next(folder.path(), SOWN_ON, limit);
    let rows = rows(&planned(folder.path()));
    for placed in placed() {
        let most = (50.0 - placed).min(60.0 - placed) / 0.46;
        let found = rows.iter().any(|(_, _, rate)| (rate - most).abs() < 0.5);
        assert!(found, "{most}: {rows:?}");
    }
}

/// Half the field was drilled: the other half has its whole need.
#[test]
fn land_that_was_not_drilled_got_nothing() {
    let bouts: Vec<usize> = (0..BOUTS / 2).collect();
    let folder = sown(&bouts);
    next(folder.path(), SOWN_ON, "");
    let plan = planned(folder.path());
    // Somebody has to say that nothing was placed there.
    let findings = plan["findings"].to_string();
    assert!(findings.contains("sign that nothing was"), "{findings}");
    let rows = rows(&plan);
    let whole_need: f64 = rows
        .iter()
        .filter(|(_, _, rate)| (rate - 60.0 / 0.46).abs() < 1e-6)
        .map(|(_, m2, _)| m2)
        .sum();
    near(whole_need, WIDE_M * HIGH_M / 2.0, 0.02 * WIDE_M * HIGH_M);
}

#[test]
fn from_season_to_season_nothing_is_taken_off() {
    let folder = sown(&whole());
    // The season of the next job began after the log.
    next(folder.path(), "2026-08-20", "");
    let out = run(folder.path(), &["plan", "next.toml", "--out", "next"]);
    assert_eq!(out.status.code(), Some(2), "{}", text(&out.stdout));
    let message = text(&out.stderr);
    assert!(message.contains("2026-08-20"), "{message}");
    // Nor is a season longer than a year.
    next(folder.path(), "2025-07-18", "");
    assert!(refused(folder.path()).contains("366 days"));
    // A harvest since then: what was placed is of the crop that was taken off.
    let file = folder.path().join("ledger/2026.geojson");
    let land = fs::read_to_string(&file).unwrap();
    let after = land.replacen("\"what\":\"placed\"", "\"what\":\"harvested\"", 1);
    fs::write(&file, after).unwrap();
    next(folder.path(), SOWN_ON, "");
    assert!(refused(folder.path()).contains("harvested"));
    // An amount that nobody knows cannot be taken off.
    let mut blank: Value = serde_json::from_str(&land).unwrap();
    for feature in blank["features"].as_array_mut().unwrap() {
        feature["properties"]["p2o5_kg_per_ha"] = Value::Null;
    }
    let blank = blank.to_string();
    fs::write(&file, blank).unwrap();
    assert!(refused(folder.path()).contains("P2O5"));
}

#[test]
fn a_log_without_a_grade_leaves_its_nutrients_blank() {
    let folder = sown(&whole());
    let ledger = fs::read_to_string(folder.path().join("ledger/2026.csv")).unwrap();
    let mut reader = csv::Reader::from_reader(ledger.as_bytes());
    let header = reader.headers().unwrap().clone();
    let column = |name: &str| header.iter().position(|own| own == name).unwrap();
    let mut placed_kg = 0.0;
    for row in reader.records().map(Result::unwrap) {
        // Sulphur is in no grade here, and seed has none.
        assert_eq!(&row[column("s_kg_per_ha")], "");
        match &row[column("what")] {
            "sown" => assert_eq!(&row[column("p2o5_kg")], ""),
            "placed" => placed_kg += row[column("p2o5_kg")].parse::<f64>().unwrap(),
            other => panic!("{other}"),
        }
    }
    let wanted: f64 = STARTER
        .iter()
        .map(|kg| 0.46 * kg * LAID_M * HIGH_M / 30_000.0)
        .sum();
    near(placed_kg, wanted, 0.01 * wanted);
}

/// Entries by hand stay, and `twinsow ledger` tells what came and went. RB209 section 4, example 4.6, page 19: winter wheat of
/// 10 t/ha with its straw takes 70 kg/ha P2O5 and 105 kg/ha K2O.
#[test]
fn entries_by_hand_stay_and_are_summed() {
    let folder = sown(&whole());
    let file = folder.path().join("ledger/2026.csv");
    let ledger = fs::read_to_string(&file).unwrap();
    let header = ledger.lines().next().unwrap();
    let columns: Vec<&str> = header.split(',').collect();
    let entry = |cells: &[(&str, &str)]| {
        let value = |column: &&str| {
            let own = cells.iter().find(|(name, _)| name == column);
            own.map_or("", |(_, text)| *text)
        };
        columns.iter().map(value).collect::<Vec<_>>().join(",")
    };
    let test = entry(&[
        ("date", "2026-05-01"),
        ("what", "soil_test"),
        ("field", "Long Furrow"),
        ("note", "P index 1"),
    ]);
    let wheat = entry(&[
        ("date", "2026-07-01"),
        ("what", "other"),
        ("field", "Long Furrow"),
        ("p2o5_kg_per_ha", "-70"),
        ("k2o_kg_per_ha", "-105"),
    ]);
    fs::write(&file, format!("{ledger}{test}\n{wheat}\n")).unwrap();
    compared(folder.path());
    let out = run(folder.path(), &["ledger", "ledger", "--json"]);
    assert_eq!(out.status.code(), Some(0), "{}", text(&out.stderr));
    let found: Value = serde_json::from_slice(&out.stdout).unwrap();
    let period = &found["fields"][0]["periods"][1];
    assert_eq!(period["from"], "2026-05-01");
    near(period["went"][1].as_f64().unwrap(), -70.0, 1e-9);
    near(period["went"][2].as_f64().unwrap(), -105.0, 1e-9);
    // 46 % of the mean of 60, 90 and 75 kg/ha, on the land that is not kept off.
    let came = 0.46 * 75.0 * LAID_M / WIDE_M;
    near(period["came"][1].as_f64().unwrap(), came, 0.01 * came);
    let told = run(
        folder.path(),
        &["ledger", "ledger", "--field", "Long Furrow"],
    );
    let told = text(&told.stdout);
    let last = told.split("Since the soil test of 2026-05-01").nth(1);
    let of = |name: &str| {
        last?
            .lines()
            .find(|line| line.trim_start().starts_with(name))
    };
    let p2o5 = of("P2O5").unwrap_or_default();
    let parts: Vec<&str> = p2o5.split_whitespace().collect();
    let [_, came, "-70.0", balance, "lack:", ..] = parts.as_slice() else {
        panic!("{told}");
    };
    assert!(came.starts_with('+') && balance.starts_with('-'), "{told}");
    // Of the wheat nobody noted the nitrogen, so nobody knows whether it is a surplus.
    let n = of("N").unwrap_or_default();
    assert!(n.contains("?  not known: of 1 entry"), "{told}");
    let none = run(
        folder.path(),
        &["ledger", "ledger", "--field", "Long Shoal"],
    );
    assert_eq!(none.status.code(), Some(2));
    // What left the field stands below 0; else it would count as having come.
    let straw = wheat.replace("other", "straw_removed").replace("-70", "70");
    fs::write(&file, format!("{ledger}{straw}\n")).unwrap();
    let wrong = run(folder.path(), &["ledger", "ledger"]);
    assert_eq!(wrong.status.code(), Some(2));
    assert!(text(&wrong.stderr).contains("0 or less, for it leaves the field"));
    // A line that is none is told with its place.
    fs::write(
        &file,
        format!("{ledger}{}\n", test.replace("soil_test", "soil")),
    )
    .unwrap();
    let wrong = run(folder.path(), &["ledger", "ledger"]);
    assert_eq!(wrong.status.code(), Some(2));
    assert!(
        text(&wrong.stderr).contains("soil_test"),
        "{}",
        text(&wrong.stderr)
    );
}

/// A drill's log of these bouts; it began at this hour.
fn logged(folder: &Path, bouts: &[usize], hour: f64) {
    let mut moments = drive(bouts, 0.0, &mut Noise(5), 0.0);
    for moment in &mut moments {
        moment.s += (hour - 6.0) * 3600.0;
    }
    let children = vec![allocated("PDT1", "DET2"), allocated("PDT2", "DET3")];
    let task = task("=as driven", children);
    write(folder, Vec::new(), task, &[log(&common(), &moments)]);
}

/// Two drills sow one field from copies of one stick: same plan, day and task.
#[test]
fn two_drills_on_one_field_both_stay() {
    let folder = sown(&(0..BOUTS / 2).collect::<Vec<_>>());
    let first = fs::read_to_string(folder.path().join("ledger/2026.csv")).unwrap();
    logged(folder.path(), &(BOUTS / 2..BOUTS).collect::<Vec<_>>(), 7.0);
    compared(folder.path());
    let both = fs::read_to_string(folder.path().join("ledger/2026.csv")).unwrap();
    for row in first.lines() {
        assert!(both.contains(row), "{row}");
    }
    // The second again, and nothing twice.
    compared(folder.path());
    let again = fs::read_to_string(folder.path().join("ledger/2026.csv")).unwrap();
    assert_eq!(again, both);
    next(folder.path(), SOWN_ON, "");
    // Both halves got theirs: only the land along the brook has its whole need.
    let rows = rows(&planned(folder.path()));
    let whole_need: f64 = rows
        .iter()
        .filter(|(_, _, rate)| (rate - 60.0 / 0.46).abs() < 1e-6)
        .map(|(_, m2, _)| m2)
        .sum();
    let along = (WIDE_M - ZONE_M) * HIGH_M;
    assert!(whole_need < along + 0.03 * WIDE_M * HIGH_M, "{whole_need}");
}

/// The next field lies along this one's northern border: what happened there says nothing about this one.
#[test]
fn the_land_of_a_neighbour_counts_for_nothing() {
    let folder = sown(&whole());
    next(folder.path(), SOWN_ON, "");
    let wanted = rows(&planned(folder.path()));
    let file = folder.path().join("ledger/2026.geojson");
    let text_of = fs::read_to_string(&file).unwrap();
    let land: Value = serde_json::from_str(&text_of).unwrap();
    let beside = |south: f64, what: &str, date: &str, p2o5: f64| {
        let corners = [
            [0.0, south],
            [WIDE_M, south],
            [WIDE_M, HIGH_M + 100.0],
            [0.0, HIGH_M + 100.0],
            [0.0, south],
        ];
        let ring: Vec<[f64; 2]> = corners.iter().map(|[x, y]| degrees(*x, *y)).collect();
        let mut feature = land["features"][0].clone();
        feature["properties"]["what"] = what.into();
        feature["properties"]["date"] = date.into();
        feature["properties"]["p2o5_kg_per_ha"] = p2o5.into();
        feature["geometry"] = serde_json::json!({ "type": "Polygon", "coordinates": [ring] });
        feature
    };
    let with = |features: Vec<Value>| {
        let mut land = land.clone();
        land["features"].as_array_mut().unwrap().extend(features);
        fs::write(&file, land.to_string()).unwrap();
    };
    with(vec![
        beside(HIGH_M, "harvested", "2026-08-01", 0.0),
        beside(HIGH_M, "placed", "2026-07-18", 3000.0),
        beside(HIGH_M, "placed", "in July", 10.0),
        beside(HIGH_M, "placed", "2025-07-18", 10.0),
    ]);
    let plan = planned(folder.path());
    assert_eq!(rows(&plan), wanted);
    assert!(!plan["findings"].to_string().contains("earlier season"));
    // A harvest on this field still stops the job.
    with(vec![beside(HIGH_M - 50.0, "harvested", "2026-08-01", 0.0)]);
    assert!(refused(folder.path()).contains("harvested"));
}

/// What was placed would come off both needs.
#[test]
fn two_needs_of_one_nutrient_are_refused() {
    let folder = sown(&whole());
    let second = r#"
[[product]]
id = "map"
name = "Ammonium phosphate"
kind = "fertiliser"
hopper = "rear"
grade = { n_percent = 12, p2o5_percent = 52 }
[product.rate]
nutrient = "p2o5"
need_kg_per_ha = 40
"#;
    next(folder.path(), SOWN_ON, second);
    let file = folder.path().join("next.toml");
    let job = fs::read_to_string(&file).unwrap();
    let front = "{ name = \"front\", usable_l = 1000 }";
    let both = format!("{front}, {}", front.replace("front", "rear"));
    fs::write(&file, job.replace(front, &both)).unwrap();
    let message = refused(folder.path());
    assert!(message.contains("both go by a need of P2O5"), "{message}");
}

/// A terminal without a fix counts from a day of its own, and a slip of the pen is another year: what a later job would take off
/// its needs, or a closed season, goes by that day.
#[test]
fn the_day_of_an_entry_is_held_against_the_sowing_date() {
    let folder = sown(&[0, 1]);
    let folder = folder.path();
    let job = fs::read_to_string(folder.join("job.toml")).unwrap();
    let dated = |date: &str| {
        let name = format!("name = \"log\"\nsowing_date = \"{date}\"");
        fs::write(
            folder.join("job.toml"),
            job.replacen("name = \"log\"", &name, 1),
        )
        .unwrap();
        let planned = run(folder, &["plan", "job.toml", "--out", "plan"]);
        let code = planned.status.code();
        assert!(
            code.is_some_and(|code| code < 2),
            "{}",
            text(&planned.stderr)
        );
    };
    let compare = ["compare", "plan", "TASKDATA", "--ledger", "new"];
    // Years away: the ledger would be that of another year.
    dated("2024-07-18");
    let far = run(folder, &compare);
    assert_eq!(far.status.code(), Some(2), "{}", text(&far.stdout));
    assert!(text(&far.stderr).contains("730 days after the sowing date"));
    assert!(text(&far.stderr).contains("error: TASKDATA: The log begins on"));
    assert!(!folder.join("new").exists());
    // A day early is said, and so it is without a ledger.
    dated("2026-07-19");
    for arguments in [&compare[..], &compare[..3]] {
        let told = run(folder, arguments);
        assert!(told.status.code().is_some_and(|code| code < 2));
        assert!(text(&told.stdout).contains("1 day before the sowing date"));
    }
    dated(SOWN_ON);
    let right = run(folder, &compare);
    assert!(!text(&right.stdout).contains("the sowing date"));

    let yields: String = (0..400)
        .map(|nth| {
            let [lon, lat] = degrees(
                20.0 + f64::from(nth % 20) * 5.0,
                20.0 + f64::from(nth / 20) * 5.0,
            );
            format!("{lon},{lat},8.0\n")
        })
        .collect();
    fs::write(folder.join("yield.csv"), format!("lon,lat,yield\n{yields}")).unwrap();
    let harvest = |day: &str| {
        let fixed = "harvest plan yield.csv --column yield=yield:t/ha --yield-at 14 --moisture-basis 14 --no-trial --ledger new --straw left --crop barley --out cut --harvested-on";
        let all: Vec<&str> = fixed.split(' ').chain([day]).collect();
        run(folder, &all)
    };
    let before = harvest("2025-08-12");
    assert_eq!(before.status.code(), Some(2), "{}", text(&before.stdout));
    assert!(text(&before.stderr).contains("error: plan: The harvest is of 2025-08-12"));
    assert!(
        text(&before.stderr).contains("before the sowing date"),
        "{}",
        text(&before.stderr)
    );
    assert!(!folder.join("cut").exists());
    let after = harvest("2026-12-12");
    assert!(
        after.status.code().is_some_and(|code| code < 2),
        "{}",
        text(&after.stderr)
    );
    // By hand, in the file of another year.
    let file = folder.join("new/2026.csv");
    let rows = fs::read_to_string(&file).unwrap();
    fs::write(&file, rows.replacen(SOWN_ON, "2062-07-18", 1)).unwrap();
    let told = text(&run(folder, &["ledger", "new"]).stdout);
    assert!(told.contains("line 2 has the date 2062-07-18"), "{told}");
    // Land with a date of another season stops the job that would take it off.
    next(folder, SOWN_ON, "");
    let land = folder.join("ledger/2026.geojson");
    let of_land = fs::read_to_string(&land).unwrap();
    fs::write(&land, of_land.replace(SOWN_ON, "2062-07-18")).unwrap();
    let why = refused(folder);
    for part in [
        "ledger/2026.geojson, feature 1: ",
        "its date is 2062-07-18",
        "366 days",
        "In the file as a ledger writes it, feature 1 is line 2",
        "in the row of the CSV beside it",
        "set placed_since",
    ] {
        assert!(why.contains(part), "{part}: {why}");
    }
}
