//! What was sown wrong is taken, what is right stays, a delay is found.

use super::clean::{Cleaned, Settings, Step, clean};
use super::test_fields::{Field, WIDTH_M, field};

const SETTINGS: Settings = Settings {
    basis_percent: 14.5,
    yield_at_percent: None,
    most_kg_per_ha: None,
    delay_s: None,
};

fn cleaned(field: &Field) -> Cleaned {
    clean(field.readings.of.clone(), true, &SETTINGS)
}

#[test]
fn a_delay_is_found_to_a_second() {
    for (seed, delay_s, interval_s) in
        [(1, 12.0, 1.0), (2, 7.0, 2.0), (3, 16.0, 3.0), (4, 0.0, 1.0)]
    {
        let field = field(seed, 24, 140, delay_s, interval_s, false);
        let found = cleaned(&field).delay.unwrap();
        assert!(
            (found.seconds - delay_s).abs() <= 1.0,
            "{delay_s} s: {found:?}"
        );
    }
}

#[test]
fn each_kind_sown_is_taken_and_little_of_what_was_good() {
    let field = field(5, 30, 200, 0.0, 1.0, true);
    let cleaned = clean(
        field.readings.of.clone(),
        true,
        &Settings {
            delay_s: Some(0.0),
            ..SETTINGS
        },
    );
    for kind in [
        Step::HeaderUp,
        Step::Speed,
        Step::Distance,
        Step::Moisture,
        Step::Local,
        Step::SamePlace,
    ] {
        let sown: Vec<usize> = (0..field.wrong.len())
            .filter(|&at| field.wrong[at] == Some(kind))
            .collect();
        let taken = sown
            .iter()
            .filter(|&&at| cleaned.taken[at].is_some())
            .count();
        assert!(
            taken as f64 >= 0.95 * sown.len() as f64,
            "{kind:?}: {taken} of {}",
            sown.len()
        );
    }
    let good: Vec<usize> = (0..field.wrong.len())
        .filter(|&at| field.wrong[at].is_none())
        .collect();
    let lost: Vec<usize> = good
        .iter()
        .copied()
        .filter(|&at| cleaned.taken[at].is_some())
        .collect();
    assert!(
        (lost.len() as f64) < 0.03 * good.len() as f64,
        "{} of {}",
        lost.len(),
        good.len()
    );
    // Each reading has one step, and the counts are those.
    let counted: usize = cleaned.steps.iter().map(|step| step.readings).sum();
    assert_eq!(counted + cleaned.counting().count(), field.wrong.len());
}

#[test]
fn yields_are_those_that_were_there() {
    let field = field(6, 24, 140, 9.0, 1.0, false);
    let cleaned = cleaned(&field);
    let apart: f64 = cleaned
        .counting()
        .map(|at| (cleaned.kg_per_ha[at] / field.truth[at] - 1.0).abs())
        .sum();
    let mean = apart / cleaned.counting().count() as f64;
    // The noise of the monitor is 4 %: its mean size is 3.2 %.
    assert!(mean < 0.04, "{mean}");
    let [found, truth] = [
        cleaned.mean(cleaned.counting()).unwrap(),
        cleaned.counting().map(|at| field.truth[at]).sum::<f64>()
            / cleaned.counting().count() as f64,
    ];
    assert!((found / truth - 1.0).abs() < 0.005, "{found} {truth}");
}

#[test]
fn half_a_swath_counts_for_half_the_land() {
    let mut field = field(7, 12, 120, 0.0, 1.0, false);
    // The last pass lies three tenths over the one before, and gives so much less.
    for reading in &mut field.readings.of[11 * 120..] {
        reading.xy[0] -= 0.3 * WIDTH_M;
        reading.grain *= 0.7;
    }
    let cleaned = clean(
        field.readings.of.clone(),
        true,
        &Settings {
            delay_s: Some(0.0),
            ..SETTINGS
        },
    );
    let last: Vec<usize> = cleaned.counting().filter(|&at| at >= 11 * 120).collect();
    assert!(last.len() > 110, "{}", last.len());
    for at in last {
        let land = cleaned.weight[at] / (WIDTH_M * 1.8);
        assert!((land - 0.7).abs() < 1e-6, "{land}");
    }
    let wanted = 0.3 * WIDTH_M * 1.8 * 120.0;
    assert!(
        (cleaned.overlap_m2 / wanted - 1.0).abs() < 0.1,
        "{} of {wanted}",
        cleaned.overlap_m2
    );
}

#[test]
fn a_pass_driven_twice_is_taken() {
    let mut field = field(8, 6, 100, 0.0, 1.0, false);
    let again: Vec<_> = field.readings.of[300..400]
        .iter()
        .map(|r| super::Reading {
            xy: [r.xy[0] + 0.5, r.xy[1]],
            time_s: r.time_s + 10_000.0,
            ..*r
        })
        .collect();
    field.readings.of.extend(again);
    let cleaned = clean(
        field.readings.of.clone(),
        true,
        &Settings {
            delay_s: Some(0.0),
            ..SETTINGS
        },
    );
    let narrow = (600..700)
        .filter(|&at| cleaned.taken[at] == Some(Step::Narrow))
        .count();
    assert!(narrow >= 95, "{narrow}");
}

#[test]
fn nothing_at_all_is_no_panic() {
    let mut field = field(9, 1, 1, 0.0, 1.0, false);
    assert_eq!(cleaned(&field).taken.len(), 1);
    field.readings.of.clear();
    assert!(cleaned(&field).taken.is_empty());
}
