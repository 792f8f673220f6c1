//! Whether the drill can follow the map, where its bouts run, and what they lay in setbacks: whole plans of a
//! made field.

mod plan_support;

use plan_support::{Made, PLACE, collection, feature, line, plain, planned, rectangle};
use twinsow::agronomy::Rule;
use twinsow::coordinates::LonLat;
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
    let row = &late.drive.in_setbacks[0];
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
        prompt.drive.in_setbacks[0].sown_m2 < 1.0,
        "{:?}",
        prompt.drive.in_setbacks
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
        finding.message.contains("150 kg/ha to 185 kg/ha") && finding.message.contains("23.33 %"),
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
        let drive = along.drive.report.as_ref().expect("a drive");
        assert!((drive.heading_deg - heading).abs() < 0.1, "{drive:?}");
        // Rims at 7, 13, ... and 1, -5: 26 strips reach the field instead of 25.
        assert_eq!(drive.interior_bouts, 26);
        assert!(along.inputs.iter().any(|input| input.role == "guide line"));
    }
    // A hook whose end, going straight on, comes back to its beginning.
    let hook = [
        [20.0, 10.0],
        [180.0, 10.0],
        [180.0, 60.0],
        [90.0, 60.0],
        [90.0, 30.0],
    ];
    made.write("ab.geojson", collection(&[line(PLACE, &hook)]));
    let fault = planned(made.path()).err().expect("a fault");
    assert_eq!(fault.code, "land.guide");
    assert!(fault.found.contains("meets itself"), "{fault}");
    made.write("ab.geojson", plan_support::two_zones(PLACE));
    let fault = planned(made.path()).err().expect("a fault");
    assert!(fault.found.contains("no line"), "{fault}");
}

#[test]
fn the_search_leaves_headings_out() {
    let heading = |avoid: &str| {
        let middle = format!("[drive]\nheading = \"fewest_turns\"\n{avoid}\n");
        plan(&plain(&middle))
            .drive
            .report
            .expect("a drive")
            .heading_deg
            % 180.0
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

/// Places on a circle around (100, -200), 2 degrees apart, from west to east.
fn arc(radius: f64) -> Vec<[f64; 2]> {
    let place = |nth: i32| {
        let (sine, cosine) = f64::from(nth * 2).to_radians().sin_cos();
        [100.0 + radius * sine, -200.0 + radius * cosine]
    };
    (-12..=12).map(place).collect()
}

/// Lines parallel to an arc are arcs around the same middle. The chords of 2 degrees lie up to 4 cm inside it.
#[test]
fn bouts_along_an_arc_are_arcs_one_width_apart() {
    let made =
        plain("[drive]\nalong = { file = \"curve.geojson\" }\ncompare_sections = [1, 2, 6]\n");
    made.write("curve.geojson", collection(&[line(PLACE, &arc(275.0))]));
    let plan = plan(&made);
    let middle = plan
        .land
        .frame
        .to_plane(LonLat::of_pair(plan_support::degrees(
            PLACE,
            [100.0, -200.0],
        )))
        .pair();
    let mut strips: Vec<f64> = Vec::new();
    for bout in &plan.drive.bouts {
        let away = bout
            .path
            .points()
            .into_iter()
            .map(|[x, y]| (x - middle[0]).hypot(y - middle[1]));
        let (low, high) = away.fold((f64::MAX, 0.0f64), |(a, b), r| (a.min(r), b.max(r)));
        // 0.2 % for degrees that are near enough only.
        let strip = ((low + high) / 2.0 - 275.0) / 6.0;
        assert!(
            (strip - strip.round()).abs() < 0.12 && high - low < 0.7,
            "{low} {high}"
        );
        strips.push(strip.round());
    }
    strips.dedup();
    // From the inner edge, on the right of a line that runs east, outwards; each bout the other way round.
    assert!(
        strips.windows(2).all(|pair| pair[1] == pair[0] + 1.0),
        "{strips:?}"
    );
    let drive = plan.drive.report.as_ref().expect("a drive");
    assert_eq!(drive.interior_bouts, plan.drive.bouts.len());
    assert!((drive.heading_deg - 90.0).abs() < 0.5, "{drive:?}");
    let land = plan.drive.as_driven.as_ref().expect("driven").areas;
    assert!(land.missed_m2 < 1.0 && land.again_m2 < 15.0, "{land:?}");
    for row in &drive.switching {
        let land_m2 = plan.tally.planned.mapped_m2;
        assert!(
            (row.inside_m2 + row.missed_m2 - land_m2).abs() < 1e-3,
            "{row:?}"
        );
    }
    let beyond = |sections: usize| {
        let mut rows = drive.switching.iter();
        rows.find(|row| row.sections == sections)
            .expect("compared")
            .beyond_m2
    };
    assert!(
        beyond(1) > 1.5 * beyond(2) && beyond(2) > 2.0 * beyond(6),
        "{:?}",
        drive.switching
    );
}

/// An L with a hole, and a second part; the curve bends through all of it.
#[test]
fn bouts_along_a_curve_cover_concave_fields_holes_and_several_parts() {
    let middle = "[headland]\nbouts = 1\n[drive]\nalong = { file = \"curve.geojson\" }\nheadland = \"last\"\n";
    let made = plain(middle);
    let hole = vec![[40.0, 60.0], [40.0, 80.0], [60.0, 80.0], [60.0, 60.0]];
    let ell = vec![
        vec![
            [0.0, 0.0],
            [160.0, 0.0],
            [160.0, 50.0],
            [90.0, 55.0],
            [80.0, 150.0],
            [0.0, 150.0],
        ],
        hole,
    ];
    made.write(
        "boundary.geojson",
        collection(&[
            feature(PLACE, "\"name\":\"made\"", &ell),
            feature(
                PLACE,
                "\"name\":\"made\"",
                &rectangle([120.0, 80.0], [200.0, 150.0]),
            ),
        ]),
    );
    let bend = [
        [-5.0, 5.0],
        [60.0, 20.0],
        [90.0, 40.0],
        [130.0, 90.0],
        [190.0, 120.0],
    ];
    made.write("curve.geojson", collection(&[line(PLACE, &bend)]));
    let plan = plan(&made);
    let areas = plan.drive.as_driven.as_ref().expect("driven").areas;
    let sum = areas.once_m2 + areas.twice_m2 + areas.closed_m2 + areas.missed_m2;
    assert!((sum - areas.land_m2).abs() < 1e-5, "{areas:?}");
    assert!(areas.missed_m2 < 0.002 * areas.land_m2, "{areas:?}");
    let interior: Vec<bool> = plan
        .drive
        .bouts
        .iter()
        .map(|bout| bout.part == twinsow::job::LandPart::Interior)
        .collect();
    // The headland comes last, from the interior outwards.
    assert!(interior[0] && interior.windows(2).all(|pair| pair[0] || !pair[1]));
    assert!(!interior[interior.len() - 1]);
    for product in &plan.drive.as_driven.as_ref().expect("driven").products {
        assert!(
            (product.metered_kg - product.as_driven_kg).abs() < 0.01,
            "{product:?}"
        );
    }
}

/// 24 % makes 150 and 185 kg/ha one rate, the lower; 4 m of other land go to what lies beside it.
#[test]
fn what_the_drill_cannot_follow_is_joined_and_the_difference_is_said() {
    let with = |join: bool, east: f64, percent: &str| {
        let drive = format!("{DRIVE}join_too_fine = {join}\n");
        let resolves = format!("usable_l = 1900.0\nresolves_percent = {percent}");
        let made = field(&drive, "usable_l = 1900.0", &resolves);
        let zones = [
            ("a", [-10.0, -10.0], [80.0, 160.0]),
            ("b", [80.0, -10.0], [east, 160.0]),
            ("a", [east, -10.0], [210.0, 160.0]),
        ];
        let features: Vec<String> = zones
            .iter()
            .map(|(class, from, to)| {
                let soil = format!("\"soil\":\"{class}\"");
                feature(PLACE, &soil, &rectangle(*from, *to))
            })
            .collect();
        made.write("soil.geojson", collection(&features));
        // Both products fall from a to b, so that land of a may go to b, and none the other way round.
        let job = std::fs::read_to_string(made.path().join("job.toml")).unwrap();
        made.write("job.toml", job.replace("b = 0.0", "b = 110.0"));
        plan(&made)
    };
    let kg = |plan: &Plan, nth: usize| plan.tally.planned.products[nth].map_kg();
    // The strip of b has more starter than a: it may take the lower rate of its neighbours.
    let [as_is, joined] = [false, true].map(|join| with(join, 84.0, "1.0"));
    assert!(found(&as_is, "drill.too_narrow_to_follow").is_some());
    let finding = found(&joined, "drill.joined").expect("joined");
    assert!(
        (finding.area_m2.unwrap() / 600.0 - 1.0).abs() < 0.01,
        "{finding:?}"
    );
    assert!(found(&joined, "drill.too_narrow_to_follow").is_none());
    assert_eq!(joined.rates.rows.len(), 1);
    let m2 = finding.area_m2.unwrap();
    assert!((kg(&joined, 0) - kg(&as_is, 0) + 35.0 * m2 / 1e4).abs() < 1e-6);
    assert!((kg(&joined, 1) - kg(&as_is, 1) + 10.0 * m2 / 1e4).abs() < 1e-6);
    assert!(
        finding
            .message
            .contains("'seed' -2.1 kg, 'starter' -0.6 kg"),
        "{finding:?}"
    );
    assert!((joined.tally.planned.mapped_m2 - as_is.tally.planned.mapped_m2).abs() < 1e-6);
    // A wide strip stays; a coarse meter makes its rate that of the other land.
    let coarse = with(true, 120.0, "24.0");
    assert!(found(&coarse, "drill.joined").is_none());
    let finding = found(&coarse, "drill.one_rate").expect("one rate");
    let m2 = finding.area_m2.unwrap();
    assert!((m2 / 6000.0 - 1.0).abs() < 0.01, "{finding:?}");
    assert!(
        finding
            .message
            .contains(&format!("{:+.1} kg", -35.0 * m2 / 1e4)),
        "{finding:?}"
    );
    assert!(
        coarse
            .rates
            .rows
            .iter()
            .all(|row| row.rates[0].kg_per_ha == 150.0)
    );
    let last = coarse
        .rates
        .rows
        .iter()
        .filter_map(|row| row.rates[0].reasons.last());
    assert!(
        last.into_iter()
            .any(|reason| reason.rule == Rule::DrillOneRate)
    );
}

/// Two strips of other land: one with more starter than its neighbours, one with less. What lies with the seed has
/// its own limit on every land, so only the first may be joined.
#[test]
fn joined_land_never_gets_more_beside_the_seed() {
    let drive = format!("{DRIVE}join_too_fine = true\n");
    let made = plain(&drive);
    let zones = [
        ("a", [-10.0, -10.0], [80.0, 160.0]),
        ("b", [80.0, -10.0], [84.0, 160.0]),
        ("a", [84.0, -10.0], [210.0, 160.0]),
    ];
    let features: Vec<String> = zones
        .iter()
        .map(|(class, from, to)| {
            let soil = format!("\"soil\":\"{class}\"");
            feature(PLACE, &soil, &rectangle(*from, *to))
        })
        .collect();
    made.write("soil.geojson", collection(&features));
    // b has no starter, a has 100 kg/ha.
    let plan = plan(&made);
    assert!(found(&plan, "drill.joined").is_none());
    assert!(found(&plan, "drill.too_narrow_to_follow").is_some());
    assert_eq!(plan.rates.rows.len(), 2);
}
