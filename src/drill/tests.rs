//! The drill against bare arithmetic. Common practice, no source, unless a line says otherwise.

use super::*;
use crate::job::Job;
use std::path::Path;

/// Five metres, one section, one product at 1 kg/l, and what is put in.
fn job(drill: &str, rotors: &[(&str, f64)]) -> Job {
    let mut rotor_tables = String::new();
    for (name, cm3) in rotors {
        rotor_tables.push_str(&format!(
            "[[drill.hopper.rotor]]\nname = \"{name}\"\ncm3_per_rev = {cm3}\nmin_rev_per_min = 10\nmax_rev_per_min = 100\n"
        ));
    }
    let text = format!(
        "name = \"test\"\n[field]\nname = \"f\"\nboundary = {{ file = \"b.geojson\" }}\n\
         [drill]\nworking_width_m = 5\n{drill}\n\
         [[drill.hopper]]\nname = \"front\"\nusable_l = 1000\n{rotor_tables}\n\
         [[product]]\nid = \"a\"\nname = \"A\"\nkind = \"seed\"\nhopper = \"front\"\nbulk_density_kg_per_l = 1\n\
         [product.rate]\nkg_per_ha = 100\n"
    );
    Job::parse(&text, Path::new("test.toml")).unwrap()
}

fn rows(rates: &[[f64; 1]]) -> Vec<Row<'_>> {
    rates
        .iter()
        .map(|rates| Row {
            part: LandPart::Interior,
            area_m2: 1000.0,
            kg_per_ha: rates,
        })
        .collect()
}

#[test]
fn the_range_runs_from_the_slow_small_section_to_the_fast_full_width() {
    let job = job(
        "sections_m = [1, 4]\nspeed_km_per_h = 10\nheadland_speed_km_per_h = 6\nfastest_speed_km_per_h = 12",
        &[("x", 100.0)],
    );
    let report = report(&job, &rows(&[[0.0], [100.0], [360.0]]));
    let flow = report.metering[0].flow_kg_per_min;
    // 100 x 1 x 6 / 600 and 360 x 5 x 12 / 600.
    assert!((flow.low - 1.0).abs() < 1e-12 && (flow.high - 36.0).abs() < 1e-12);
}

/// A meter that does not slow turns for the full width: 100 x 5 x 6 / 600.
#[test]
fn a_meter_that_does_not_slow_never_runs_for_one_section_alone() {
    for flow in ["returned", "redistributed"] {
        let drill = format!(
            "sections_m = [1, 4]\nspeed_km_per_h = 10\nheadland_speed_km_per_h = 6\nshut_flow = \"{flow}\""
        );
        let job = job(&drill, &[("x", 100.0)]);
        let report = report(&job, &rows(&[[100.0]]));
        assert!((report.metering[0].flow_kg_per_min.low - 5.0).abs() < 1e-12);
    }
}

/// A spreading unit goes with the drill, so what it spreads wider than a bout is spread again by the next.
#[test]
fn a_spreading_unit_of_another_width_than_the_bout_is_told() {
    let with = |width: f64| {
        let mut job = job("", &[("x", 100.0)]);
        job.products[0].surface_applied = true;
        job.drill.hoppers[0].spreads_width_m = Some(width);
        let rows = rows(&[[100.0]]);
        let found = findings(&job, &rows, &report(&job, &rows));
        let told = found
            .iter()
            .find(|of| of.code == "drill.spreads_other_width");
        told.map(|of| of.message.clone())
    };
    assert_eq!(with(5.0), None);
    assert!(with(10.0).unwrap().contains("2.00 times"));
    assert!(with(4.0).unwrap().contains("1.00 m of each bout get none"));
}

/// Nine rotors that together span 1.5 to 360 kg/ha at 12 km/h on 5 m, that is 0.15 to 36 kg/min.
const NINE: [(&str, f64); 9] = [
    ("7", 7.5),
    ("15", 15.0),
    ("25", 25.0),
    ("40", 40.0),
    ("65", 65.0),
    ("100", 100.0),
    ("160", 160.0),
    ("250", 250.0),
    ("380", 380.0),
];

#[test]
fn a_set_of_nine_rotors_covers_both_ends() {
    let job = job("speed_km_per_h = 12", &NINE);
    for (rate, name) in [(1.5, "7"), (360.0, "380")] {
        let report = report(&job, &rows(&[[rate]]));
        let meter = &report.metering[0];
        assert!(meter.best().unwrap().margin >= 1.0, "{rate}");
        assert_eq!(meter.help, None);
        if rate > 100.0 {
            assert!(
                meter
                    .rotors
                    .iter()
                    .any(|r| r.name == name && r.margin >= 1.0),
                "{rate}"
            );
        }
    }
    // Both ends in one map are 1 : 240, and no rotor turns 1 : 240.
    let both = report(&job, &rows(&[[1.5], [360.0]]));
    let help = both.metering[0].help.as_ref().unwrap();
    assert!((help.turn_down - 240.0).abs() < 1e-9 && help.cm3_per_rev.is_none());
    assert_eq!(
        findings(&job, &rows(&[[1.5], [360.0]]), &both)[0].code,
        "drill.no_rotor"
    );
}

#[test]
fn the_rotor_with_most_margin_is_taken() {
    let job = job("speed_km_per_h = 12", &NINE);
    let report = report(&job, &rows(&[[80.0], [160.0]]));
    let meter = &report.metering[0];
    // 8 to 16 kg/min. The middle of a rotor of 1 : 10 lies at sqrt(8 x 16) = 11.3 kg/min for
    // cm3 = 11.3 / sqrt(10 x 100) rev/min x 1000 = 358.
    assert_eq!(meter.best().unwrap().name, "380");
    let least = |fit: &RotorFit| {
        (8.0 / fit.delivers_kg_per_min.low).min(fit.delivers_kg_per_min.high / 16.0)
    };
    for fit in &meter.rotors {
        assert!((fit.margin - least(fit)).abs() < 1e-12);
    }
}

#[test]
fn the_rows_that_do_not_fit_are_named_with_what_would_help() {
    let job = job("speed_km_per_h = 12", &[("100", 100.0)]);
    // It delivers 1 to 10 kg/min, that is 10 to 100 kg/ha.
    let table = [[50.0], [90.0], [120.0], [0.0]];
    let rows = rows(&table);
    let report = report(&job, &rows);
    let meter = &report.metering[0];
    assert_eq!(meter.best().unwrap().rows_outside, [3]);
    let help = meter.help.as_ref().unwrap();
    assert!((help.fastest_km_per_h.unwrap() - 10.0).abs() < 1e-9);
    assert!((help.highest_kg_per_ha.unwrap() - 100.0).abs() < 1e-9);
    assert_eq!((help.slowest_km_per_h, help.lowest_kg_per_ha), (None, None));
    // 12 kg/min over 100 rev/min and 5 kg/min over 10: 120 to 500 cm3, and such a rotor fits.
    let wanted = help.cm3_per_rev.unwrap();
    assert!((wanted.low - 120.0).abs() < 1e-9 && (wanted.high - 500.0).abs() < 1e-9);
    let found = findings(&job, &rows, &report);
    assert_eq!(found[0].code, "drill.no_rotor");
    assert_eq!(found[0].area_m2, Some(1000.0));
    assert!(found[0].message.contains("row 3 of the rate table"));
}

#[test]
fn the_speed_window_comes_from_meters_and_air_stream() {
    let job = job(
        "speed_km_per_h = 12\nmax_flow_kg_per_min = 9",
        &[("100", 100.0)],
    );
    let table = [[50.0], [100.0]];
    let rows = rows(&table);
    let report = report(&job, &rows);
    let (row, first) = &report.row_speed[0];
    // 1 kg/min at 50 kg/ha on 5 m: 2.4 km/h; the air stream's 9 kg/min come before the meter's 10.
    assert_eq!(*row, 1);
    assert!((first.low.as_ref().unwrap().km_per_h - 2.4).abs() < 1e-9);
    assert!((first.high.as_ref().unwrap().km_per_h - 21.6).abs() < 1e-9);
    let field = report.field_speed.as_ref().unwrap();
    assert!((field.low.as_ref().unwrap().km_per_h - 2.4).abs() < 1e-9);
    assert!((field.high.as_ref().unwrap().km_per_h - 10.8).abs() < 1e-9);
    assert_eq!(field.high.as_ref().unwrap().meter_of, None);
    let codes: Vec<_> = findings(&job, &rows, &report)
        .into_iter()
        .map(|f| f.code)
        .collect();
    assert_eq!(codes, ["drill.air_stream_full"]);
}

/// The meter (10 kg/min) ends before the air stream (11 kg/min), and 13 kg/min are asked for: both are told.
#[test]
fn an_air_stream_that_is_full_names_its_rows_where_the_meter_ends_first_too() {
    let job = job(
        "speed_km_per_h = 12\nmax_flow_kg_per_min = 11",
        &[("100", 100.0)],
    );
    let table = [[50.0], [130.0]];
    let rows = rows(&table);
    let report = report(&job, &rows);
    let high = report.row_speed[1].1.high.as_ref().unwrap();
    assert!(high.meter_of.is_some());
    let found = findings(&job, &rows, &report);
    let full = found.iter().find(|of| of.code == "drill.air_stream_full");
    let message = &full.unwrap().message;
    // 11 kg/min of 130 kg/ha on 5 m: 10.15 km/h.
    assert!(
        message.ends_with("at most 10.1 km/h in row 2 of the rate table"),
        "{message}"
    );
}

#[test]
fn rows_that_share_no_speed_are_told() {
    let job = job("speed_km_per_h = 12", &[("100", 100.0)]);
    let table = [[10.0], [200.0]];
    let rows = rows(&table);
    let report = report(&job, &rows);
    assert!(report.field_speed.as_ref().unwrap().is_empty());
    let codes: Vec<_> = findings(&job, &rows, &report)
        .into_iter()
        .map(|f| f.code)
        .collect();
    assert_eq!(codes, ["drill.no_rotor", "drill.no_common_speed"]);
}

#[test]
fn nothing_sown_and_nothing_known_give_no_report() {
    let with = job("", &[("100", 100.0)]);
    let report_of = |job: &Job, rate: f64| report(job, &rows(&[[rate]]));
    let nothing = report_of(&with, 0.0);
    assert!(nothing.metering.is_empty() && nothing.field_speed.is_none());
    assert_eq!(nothing.air_stream, None);
    let without = report_of(&job("", &[]), 100.0);
    assert!(without.metering.is_empty() && without.field_speed.is_none());
}
