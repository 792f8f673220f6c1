//! Sample points as a zone layer: from a spreadsheet to areas and rates.

use std::fmt::Write as _;
use std::fs;
use std::path::Path;
use twinsow::findings::{Outcome, Severity};
use twinsow::job::Job;
use twinsow::plan::{self, Disk, Options, Plan};

/// A field of 400 x 300 m in the North Sea, UTM zone 31.
const FIELD: &str = r#"{"type":"Polygon","coordinates":[[[467000,6072000],[467400,6072000],[467400,6072300],[467000,6072300],[467000,6072000]]]}"#;

fn run(folder: &Path, samples: &str, values: &str) -> Outcome<Plan> {
    run_with(
        folder,
        samples,
        values,
        "{ layer = \"phosphate\", by_class = { low = 120, high = 60 } }",
    )
}

fn run_with(folder: &Path, samples: &str, values: &str, rate: &str) -> Outcome<Plan> {
    fs::write(folder.join("field.geojson"), FIELD).unwrap();
    fs::write(folder.join("samples.csv"), samples).unwrap();
    let text = format!(
        r#"
name = "points"
field = {{ name = "Sampled Piece", boundary = {{ file = "field.geojson", crs = "EPSG:32631" }} }}
drill = {{ working_width_m = 6, hopper = [{{ name = "front", usable_l = 1000 }}] }}
[[layer]]
name = "phosphate"
source = {{ file = "samples.csv", crs = "EPSG:32631" }}
values = {{ {values} }}
[[product]]
id = "starter"
name = "starter"
kind = "fertiliser"
hopper = "front"
[product.rate]
kg_per_ha = {rate}
"#
    );
    plan::plan(
        &Job::parse(&text, &folder.join("job.toml"))?,
        &Disk,
        &Options::default(),
    )
}

/// Samples every 50 m; the value is low west of x = 200 and high east of it, with a ripple.
fn samples() -> String {
    let mut text = "sample;easting;northing;P mg\n".to_owned();
    for row in 0..6 {
        for column in 0..8 {
            let (x, y) = (467_025 + 50 * column, 6_072_025 + 50 * row);
            let ripple = (column * 3 + row * 5) % 4;
            let value = if column < 4 { 8 } else { 22 };
            let _ = writeln!(text, "{};{x};{y};{value},{ripple}", row * 8 + column + 1);
        }
    }
    text
}

fn area(plan: &Plan, class: &str) -> f64 {
    let rows = plan.rates.rows.iter();
    rows.filter(|row| row.facts.classes[0] == class)
        .map(|row| row.area_m2)
        .sum()
}

const CLASSES: &str =
    r#"method = "edges", edges = [15], class_names = ["low", "high"], column = "P mg""#;

#[test]
fn each_surface_finds_the_two_halves() {
    let folder = tempfile::tempdir().unwrap();
    for surface in ["nearest", "inverse_distance", "kriging"] {
        let values = format!("{CLASSES}, surface = \"{surface}\"");
        let plan =
            run(folder.path(), &samples(), &values).unwrap_or_else(|fault| panic!("{fault}"));
        let (low, high) = (area(&plan, "low"), area(&plan, "high"));
        // 12 ha in two halves; UTM draws it smaller than it is by 0.07 %.
        assert!(
            (low + high - 120_090.0).abs() < 20.0,
            "{surface}: {low} {high}"
        );
        assert!((low - high).abs() < 0.06 * low, "{surface}: {low} {high}");
        let code = |code| plan.findings.iter().find(|finding| finding.code == code);
        let fit = code("surface.fit").unwrap();
        assert!(fit.message.contains("explains"), "{}", fit.message);
        assert_eq!(
            fit.message.contains("variogram: nugget"),
            surface == "kriging"
        );
        assert!(code("read.decimal_comma").is_some() && code("read.csv_columns").is_some());
        assert!(
            code("surface.points")
                .unwrap()
                .message
                .contains("48 places remain")
        );
    }
}

#[test]
fn a_surface_that_explains_nothing_says_so() {
    let folder = tempfile::tempdir().unwrap();
    // Neighbours always differ: the nearest other point is the worst guess.
    let mut text = "x,y,P mg\n".to_owned();
    for row in 0..6 {
        for column in 0..8 {
            let value = if (row + column) % 2 == 0 { 10.5 } else { 20.5 };
            let _ = writeln!(
                text,
                "{},{},{value}",
                467_025 + 50 * column,
                6_072_025 + 50 * row
            );
        }
    }
    let plan = run(
        folder.path(),
        &text,
        &format!("{CLASSES}, surface = \"nearest\""),
    )
    .unwrap();
    let said = plan
        .findings
        .iter()
        .find(|finding| finding.code == "surface.explains_nothing")
        .unwrap();
    assert_eq!(said.severity, Severity::Warning);
}

#[test]
fn outliers_go_by_the_rules_of_the_job_and_are_counted() {
    let folder = tempfile::tempdir().unwrap();
    let mut text = samples();
    text.push_str("90;467100;6072100;-1\n91;467101;6072100;900\n92;467102;6072100;60\n93;467103;6072100;\n94;467025;6072025;8,5\n");
    let values =
        format!("{CLASSES}, surface = \"nearest\", lowest = 0, highest = 500, most_deviations = 5");
    let plan = run(folder.path(), &text, &values).unwrap();
    let said = &plan
        .findings
        .iter()
        .find(|finding| finding.code == "surface.points")
        .unwrap()
        .message;
    for part in [
        "2 outside of lowest",
        "1 without a value",
        "1 shared a place",
    ] {
        assert!(said.contains(part), "{part}: {said}");
    }
}

#[test]
fn faults_say_what_to_do() {
    let folder = tempfile::tempdir().unwrap();
    let fault = |samples: &str, values: &str| {
        run(folder.path(), samples, values)
            .err()
            .map(|fault| fault.code)
    };
    let kriging = format!("{CLASSES}, surface = \"kriging\"");
    let wrong = kriging.replace("P mg", "K mg");
    assert_eq!(fault(&samples(), &wrong), Some("surface.no_column"));
    assert_eq!(
        fault("x;y;P mg\n467100;6072100;<5\n", &kriging),
        Some("surface.no_number")
    );
    assert_eq!(
        fault("x;y;P mg\n467100;6072100;5\n", &kriging),
        Some("surface.few_points")
    );
    assert_eq!(
        fault(&samples(), "method = \"edges\", edges = [15]"),
        Some("plan.values")
    );
    assert_eq!(
        fault(
            &samples(),
            "method = \"edges\", edges = [15], column = \"P\""
        ),
        Some("job.rule")
    );
    // All values alike: no variogram has a solution.
    let alike = samples()
        .replace(";22,", ";8,")
        .replace(",1\n", ",0\n")
        .replace(",2\n", ",0\n")
        .replace(",3\n", ",0\n");
    assert_eq!(fault(&alike, &kriging), Some("surface.no_kriging"));
}

/// Points of a drive: bouts of 20 m width, a point every 2 m; the value is what the land had 5 points
/// before, low west of x = 200.
fn track() -> String {
    let mut text = "x,y,v,yield\n".to_owned();
    let mut values = Vec::new();
    for bout in 0..15 {
        for step in 0..200 {
            let along = 1 + 2 * if bout % 2 == 0 { step } else { 199 - step };
            values.push((along, 10 + 20 * bout));
        }
    }
    for (n, (x, y)) in values.iter().enumerate() {
        let (was, _) = values[n.saturating_sub(5)];
        let value = if was < 200 { 4.0 } else { 8.0 };
        // Every fiftieth point is a halt, with nonsense for a value.
        let (speed, value) = if n % 50 == 7 {
            (0.4, 200.0)
        } else {
            (5.5, value)
        };
        let _ = writeln!(text, "{},{},{speed},{value}", 467_000 + x, 6_072_000 + y);
    }
    text
}

#[test]
fn a_track_is_put_right_before_it_is_smoothed() {
    let folder = tempfile::tempdir().unwrap();
    let values = |track: &str| {
        format!(
            "method = \"edges\", edges = [6], class_names = [\"low\", \"high\"], surface = \"smoothed\", \
             smoothing_m = 25, surface_cell_m = 5, column = \"yield\"{track}"
        )
    };
    let rules = ", track = { delay_points = 5, speed_column = \"v\", slowest = 2 }";
    let plan = run(folder.path(), &track(), &values(rules)).unwrap_or_else(|f| panic!("{f}"));
    let (low, high) = (area(&plan, "low"), area(&plan, "high"));
    assert!((low - high).abs() < 0.02 * low, "{low} {high}");
    let said = plan
        .findings
        .iter()
        .find(|finding| finding.code == "surface.points")
        .unwrap();
    assert!(
        said.message.contains("60 outside of slowest and fastest"),
        "{}",
        said.message
    );
    // Without the rules the halts alone make islands of high yield in the low half.
    let plain = run(folder.path(), &track(), &values("")).unwrap();
    assert!(area(&plain, "high") > high * 1.1);
}

#[test]
fn points_and_a_raster_decide_together() {
    let folder = tempfile::tempdir().unwrap();
    // A raster of two halves, south and north; the points have two halves, west and east.
    let mut grid =
        "ncols 40\nnrows 30\nxllcorner 467000\nyllcorner 6072000\ncellsize 10\n".to_owned();
    for row in 0..30 {
        let value = if row < 15 { "7 " } else { "1 " };
        grid.push_str(&value.repeat(40));
        grid.push('\n');
    }
    fs::write(folder.path().join("grid.asc"), grid).unwrap();
    let values = "method = \"k_means\", classes = 4, class_names = [\"low\", \"b\", \"high\", \"d\"], \
         surface = \"nearest\", column = \"P mg\", \
         also = [{ source = { file = \"grid.asc\", crs = \"EPSG:32631\" } }]";
    let plan = run_with(folder.path(), &samples(), values, "100").unwrap_or_else(|f| panic!("{f}"));
    // Four quarters of 3 ha, each its own class.
    for class in ["low", "b", "high", "d"] {
        let own = area(&plan, class);
        assert!((own - 30_022.5).abs() < 0.06 * own, "{class}: {own}");
    }
    let said = plan
        .findings
        .iter()
        .find(|finding| finding.code == "surface.classes")
        .unwrap();
    assert!(said.message.contains("by 4"), "{}", said.message);
    let inputs: Vec<&str> = plan
        .inputs
        .iter()
        .map(|input| input.role.as_str())
        .collect();
    assert!(inputs.contains(&"layer 'phosphate', also 1"), "{inputs:?}");
}
