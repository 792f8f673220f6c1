//! Tramlines from the headland on, from the job to kilograms and sheets; and setbacks that say what they are measured from.

mod plan_support;

use plan_support::{Made, PLACE, collection, job, line, plain, planned};
use std::fs;
use twinsow::drive::ClosedAlong;
use twinsow::job::LandPart;
use twinsow::plan::Plan;
use twinsow::tally::StepName;

/// The plain field of 200 m by 150 m, all at 150 kg/ha, behind a 24 m sprayer.
fn made(more: &str) -> Made {
    let made = plain("");
    let text = job("[headland]\nbouts = 3\n")
        .replace("b = 190.0", "b = 150.0")
        .replace(
            "working_width_m = 6.0",
            "working_width_m = 6.0\nrows = 48\nrow_spacing_m = 0.125",
        );
    let tramline = "[tramline]\nsprayer_width_m = 24\ntrack_width_m = 1.8\ntyre_width_m = 0.3\n";
    made.write("job.toml", format!("{text}{tramline}{more}"));
    made
}

/// Rings 2 and 3 are 2 x (182 + 132) and 2 x (170 + 120) m long and stay sown for 48 m each: 580 and 532 m, of two rows of
/// 0.125 m.
const CLOSED_M2: f64 = (580.0 + 532.0) * 0.25;

fn tramline_kg(plan: &Plan) -> f64 {
    let steps = &plan.tally.planned.products[0].steps;
    let step = steps.iter().find(|step| step.step == StepName::Tramlines);
    -step.expect("tramlines").kg
}

fn near(got: f64, wanted: f64) {
    // Degrees are near enough to metres for a made field.
    assert!((got - wanted).abs() < 0.005 * wanted, "{got}, not {wanted}");
}

/// The interior by its share of a cycle, 4 rows of 0.125 m in 24 m; the headland by its length.
#[test]
fn on_paper_the_headland_saves_its_closed_length() {
    let plan = planned(made("").path()).unwrap();
    let round = plan.tramlines().unwrap().headland.as_ref().unwrap();
    near(round.closed_m2, CLOSED_M2);
    let interior_m2 = 164.0 * 114.0;
    let saved_m2 = interior_m2 * 0.5 / 24.0 + CLOSED_M2;
    near(tramline_kg(&plan), saved_m2 * 150.0 / 10_000.0);
    let given = planned(made("closed_flow = \"redistributed\"\n").path()).unwrap();
    let steps = &given.tally.planned.products[0].steps;
    assert!(!steps.iter().any(|step| step.step == StepName::Tramlines));
    let sown = planned(made("headland = \"sown\"\n").path()).unwrap();
    near(
        tramline_kg(&sown),
        interior_m2 * 0.5 / 24.0 * 150.0 / 10_000.0,
    );
}

/// Interior sprayer bouts have their middles 18, 42, 66 and 90 m from its edge, 114 m away from the other: four times
/// four rows of 0.125 m on 164 m.
#[test]
fn as_driven_rings_and_bouts_leave_their_rows_free() {
    let made = made("[drive]\n");
    let plan = planned(made.path()).unwrap();
    let areas = plan.drive.as_driven.as_ref().unwrap().areas;
    let wanted_m2 = 4.0 * 0.5 * 164.0 + CLOSED_M2;
    near(areas.closed_m2, wanted_m2);
    near(tramline_kg(&plan), wanted_m2 * 150.0 / 10_000.0);
    let rings: Vec<usize> = plan
        .drive
        .bouts
        .iter()
        .filter(|bout| bout.part == LandPart::Headland && !bout.closed.is_empty())
        .map(|bout| {
            assert!(matches!(&bout.closed_along, ClosedAlong::Between(parts) if parts.len() == 4));
            bout.number
        })
        .collect();
    assert_eq!(rings, [2, 3]);

    let output = made.run(&["plan", "job.toml", "--details"]);
    let text = String::from_utf8_lossy(&output.stdout).replace('\u{a0}', " ");
    for words in [
        "First wheels 17.1 m and 18.9 m from the edge of the interior",
        "its wheels at 11.1 m and 12.9 m. Closed rows take about 0.0279 ha.",
        "Rows stay sown within 6 m of a corner",
        "cross 4.95 m of sown headland",
    ] {
        assert!(text.contains(words), "{words}: {text}");
    }
    let report = fs::read_to_string(made.path().join("job-plan/report.html")).unwrap();
    for words in [
        "In headland round 2 from the border close outlets 7, 8 (from the left, border on the right).",
        "In headland round 3 from the border close outlets 41, 42",
    ] {
        assert!(report.contains(words), "{words}");
    }
    let rows = fs::read_to_string(made.path().join("job-plan/gis/tramline-rows.geojson")).unwrap();
    let rows: serde_json::Value = serde_json::from_str(&rows).unwrap();
    let features = rows["features"].as_array().unwrap();
    let on_rings: Vec<[u64; 2]> = features
        .iter()
        .map(|row| ["bout", "outlet"].map(|key| row["properties"][key].as_u64().unwrap()))
        .filter(|[bout, _]| *bout <= 3)
        .collect();
    assert_eq!(on_rings, [[2, 7], [2, 8], [3, 41], [3, 42]]);
}

fn with_brook(measured: &str) -> Made {
    let setback = format!(
        "[[setback]]\nname = \"brook\"\nsource = {{ file = \"brook.geojson\" }}\ndistance_m = 5.0\n{measured}products = [\"starter\"]\n"
    );
    let made = plain(&setback);
    let brook = line(PLACE, &[[-20.0, 0.0], [220.0, 0.0]]);
    made.write("brook.geojson", collection(&[brook]));
    made
}

#[test]
fn a_setback_names_what_it_is_measured_from() {
    let made = with_brook("measured_from = \"top_of_bank\"\n");
    let plan = planned(made.path()).unwrap();
    let not_named = |plan: &Plan| {
        let mut findings = plan.findings.iter();
        findings.any(|finding| finding.code == "land.setback_measured_from")
    };
    assert!(!not_named(&plan));
    let reasons = plan.rates.rows.iter().flat_map(|row| &row.rates);
    let mut reasons = reasons.flat_map(|rate| &rate.reasons);
    assert!(reasons.any(|reason| {
        reason
            .text
            .contains("'brook' (5 m from the top of the bank)")
    }),);
    made.run(&["plan", "job.toml"]);
    let report = fs::read_to_string(made.path().join("job-plan/report.html")).unwrap();
    assert!(report.matches("from the top of the bank").count() >= 3);

    let made = with_brook("");
    assert!(not_named(&planned(made.path()).unwrap()));
    made.run(&["plan", "job.toml"]);
    let report = fs::read_to_string(made.path().join("job-plan/report.html")).unwrap();
    assert!(report.contains("measured from: not named"));
}
