//! Whether the drill can follow the map, where its bouts run, and what they lay in setbacks: whole plans of a
//! made field.

mod plan_support;

use plan_support::{Made, PLACE, collection, feature, line, plain, planned, rectangle};
use twinsow::findings::Finding;
use twinsow::plan::Plan;

const DRIVE: &str = "[drive]\nheading_deg = 90\nfollows = \"polygons\"\n";

/// The plain field with these settings and a changed line of its job.
fn field(middle: &str, from: &str, to: &str) -> Made {
    let made = plain(middle);
    let job = plan_support::job(middle);
    assert!(job.contains(from), "{job}");
    made.write("job.toml", job.replace(from, to));
    made
}

fn plan(made: &Made) -> Plan {
    planned(made.path()).unwrap_or_else(|fault| panic!("{fault}"))
}

fn found<'a>(plan: &'a Plan, code: &str) -> Option<&'a Finding> {
    plan.findings.iter().find(|finding| finding.code == code)
}

/// The starter stops 13 m before the water (10 m to keep and half of 6 m). 3 s at 10 km/h are 8.33 m: the 13
/// bouts that run towards it lay starter on 5.33 m of the strip.
#[test]
fn product_that_runs_into_a_setback_is_found_by_the_swath() {
    let setback =
        "position_error_m = 0.0\nrun_on_m = 0.0\nspeed_km_per_h = 10.0\nworking_width_m = 6.0";
    let water = "[[setback]]\nname = \"brook\"\nsource = { file = \"brook.geojson\" }\ndistance_m = 10.0\nproducts = [\"starter\"]\n";
    let middle = format!("{DRIVE}{water}");
    let run = |delays: &str| {
        let made = plain(&middle);
        let job = plan_support::job(&middle)
            .replace("working_width_m = 6.0", setback)
            .replace("usable_l = 1300.0", &format!("usable_l = 1300.0\n{delays}"));
        made.write("job.toml", job);
        made.write(
            "brook.geojson",
            collection(&[line(PLACE, &[[0.0, -20.0], [0.0, 170.0]])]),
        );
        plan(&made)
    };
    let late = run("delays = { stop_s = 3.0 }");
    let row = &late.in_setbacks[0];
    let wanted = 13.0 * 6.0 * (10.0 - (13.0 - 3.0 * 10.0 / 3.6));
    assert!(
        (row.sown_m2 / wanted - 1.0).abs() < 0.03,
        "{row:?} {wanted}"
    );
    assert!((row.kg - row.sown_m2 / 100.0).abs() < 1e-6, "{row:?}");
    assert!((row.strip_m2 / 1500.0 - 1.0).abs() < 0.01, "{row:?}");
    assert!(found(&late, "drive.product_in_setback").is_some());
    let prompt = run("");
    assert!(
        prompt.in_setbacks[0].sown_m2 < 1.0,
        "{:?}",
        prompt.in_setbacks
    );
    assert!(found(&prompt, "drive.product_in_setback").is_none());
}

/// 150 and 185 kg/ha differ by 23.3 %.
#[test]
fn steps_that_the_meter_does_not_resolve_are_found() {
    let with = |percent: &str| {
        let resolves = format!("usable_l = 1900.0\nresolves_percent = {percent}");
        plan(&field(DRIVE, "usable_l = 1900.0", &resolves))
    };
    let coarse = with("24.0");
    let finding = found(&coarse, "drill.step_too_fine").expect("a finding");
    assert!(
        finding.message.contains("150 to 185") && finding.message.contains("23.33 %"),
        "{finding:?}"
    );
    assert!(finding.place.lon_lat.is_some());
    assert!(found(&with("23.0"), "drill.step_too_fine").is_none());
}

#[test]
fn a_zone_narrower_than_the_drill_is_found_and_a_wider_one_is_not() {
    let with = |east: f64| {
        let made = field(DRIVE, "name = \"made\"", "name = \"made\"");
        let zones = [
            ("a", [-10.0, -10.0], [80.0, 160.0]),
            ("b", [80.0, -10.0], [east, 160.0]),
            ("a", [east, -10.0], [210.0, 160.0]),
        ];
        let features: Vec<String> = zones
            .iter()
            .map(|(class, from, to)| {
                feature(
                    PLACE,
                    &format!("\"soil\":\"{class}\""),
                    &rectangle(*from, *to),
                )
            })
            .collect();
        made.write("soil.geojson", collection(&features));
        plan(&made)
    };
    let narrow = with(84.0);
    let finding = found(&narrow, "drill.too_narrow_to_follow").expect("a finding");
    assert!(
        (finding.area_m2.expect("an area") / 600.0 - 1.0).abs() < 0.01,
        "{finding:?}"
    );
    assert!(found(&with(87.0), "drill.too_narrow_to_follow").is_none());
}

/// 4 m along the bout, and 2 s at 10 km/h are 5.6 m.
#[test]
fn a_zone_shorter_than_the_change_takes_is_found() {
    let made = field(
        DRIVE,
        "usable_l = 1900.0",
        "usable_l = 1900.0\ndelays = { step_up_s = 2.0 }",
    );
    let zones = [
        ("a", [-10.0, -10.0], [80.0, 160.0]),
        ("b", [80.0, -10.0], [84.0, 160.0]),
        ("a", [84.0, -10.0], [210.0, 160.0]),
    ];
    let features: Vec<String> = zones
        .iter()
        .map(|(class, from, to)| {
            feature(
                PLACE,
                &format!("\"soil\":\"{class}\""),
                &rectangle(*from, *to),
            )
        })
        .collect();
    made.write("soil.geojson", collection(&features));
    let plan = plan(&made);
    let finding = found(&plan, "drill.too_short_to_follow").expect("a finding");
    assert!(
        finding.message.contains("'seed': 25 stretches"),
        "{finding:?}"
    );
}

#[test]
fn bouts_run_along_a_line_from_a_file() {
    let middle = "[drive]\nalong = { file = \"ab.geojson\" }\n";
    let made = plain(middle);
    let (a, b) = ([20.0, 10.0], [180.0, 10.0]);
    for (ends, heading) in [([a, b], 90.0), ([b, a], 270.0)] {
        made.write("ab.geojson", collection(&[line(PLACE, &ends)]));
        let along = plan(&made);
        let drive = along.drive.as_ref().expect("a drive");
        assert!((drive.heading_deg - heading).abs() < 0.1, "{drive:?}");
        // Rims at 7, 13, ... and 1, -5: 26 strips reach the field instead of 25.
        assert_eq!(drive.interior_bouts, 26);
        assert!(along.inputs.iter().any(|input| input.role == "A-B line"));
    }
    made.write(
        "ab.geojson",
        collection(&[line(PLACE, &[[20.0, 10.0], [100.0, 30.0], [180.0, 10.0]])]),
    );
    let fault = planned(made.path()).err().expect("a fault");
    assert_eq!(fault.code, "land.guide");
    assert!(fault.found.contains("bends"), "{fault}");
    made.write("ab.geojson", plan_support::two_zones(PLACE));
    let fault = planned(made.path()).err().expect("a fault");
    assert!(fault.found.contains("no line"), "{fault}");
}

#[test]
fn the_search_leaves_headings_out() {
    let heading = |avoid: &str| {
        let middle = format!("[drive]\nheading = \"fewest_turns\"\n{avoid}\n");
        plan(&plain(&middle)).drive.expect("a drive").heading_deg % 180.0
    };
    assert!((heading("") - 90.0).abs() < 1.0);
    let other = heading("avoid = [{ from_deg = 45, to_deg = 135 }]");
    assert!(!(45.0..=135.0).contains(&other), "{other}");
    let refused = |middle: &str| planned(plain(middle).path()).err().expect("a fault").found;
    let all = "[drive]\nheading = \"fewest_turns\"\navoid = [{ from_deg = 0, to_deg = 180 }]\n";
    assert!(refused(all).contains("leave none"));
    let idle = "[drive]\navoid = [{ from_deg = 0, to_deg = 18 }]\n";
    assert!(refused(idle).contains("none is searched"));
    let both = "[drive]\nheading_deg = 90\nalong = { file = \"ab.geojson\" }\n";
    assert!(refused(both).contains("both a line and a heading"));
}
