//! Rows that close along headland rings, as driven.

use super::super::bout::{Sections, bouts};
use super::super::test_land::land;
use super::super::test_numbers::random_numbers;
use super::super::tramline::on_land;
use super::super::ways::{Curves, Ways};
use super::tests::{ground_of, job, units};
use super::*;
use crate::job::LandPart;
use crate::land::Land;

/// The rings alone at 150 kg/ha, one section; with the ground that closes on paper, m2.
fn rings_driven(land: &Land, more: &str) -> (AsDriven, f64) {
    let mut job = job(more);
    job.drill.sections_m = vec![6.0];
    let (rhythm, findings) = on_land(land, &job).unwrap();
    assert_eq!(findings, []);
    let rhythm = rhythm.unwrap();
    let ways = Ways::of(land, &job, Curves::of(land, &job), |_| 0).unwrap();
    let sections = Sections::of_drill(&job).unwrap();
    let mut bouts = bouts(land, &job, Some(&rhythm), &sections, &ways);
    bouts.retain(|bout| bout.part == LandPart::Headland);
    let units = units(&land.field);
    let carried = Carried::in_stream(&job);
    let driven = ground_of(&units, &[vec![150.0]], Delays::default(), |ground| {
        drive(&bouts, ground, &carried, &job)
    });
    (driven, rhythm.headland.unwrap().closed_m2)
}

/// A 24 m sprayer, rows at 50 cm: wheels at 11 and 13 m, rows at 10.75, 11.25, 12.75 and 13.25 m close.
const SPRAYER: &str = "[headland]\nbouts = 3\n[tramline]\nsprayer_width_m = 24\ntrack_width_m = 2\ntyre_width_m = 0.6\n";

/// By hand, 200 m x 100 m: ring 2 is 528 m long, ring 3 is 480 m; of each 48 m stay sown in corners. Two rows of
/// 0.5 m each: 480 + 432 = 912 m2 at 150 kg/ha, 13.68 kg.
#[test]
fn rings_leave_their_rows_free_but_for_corners() {
    let land = land(
        &[[0.0, 0.0], [200.0, 0.0], [200.0, 100.0], [0.0, 100.0]],
        18.0,
    );
    let (driven, on_paper) = rings_driven(&land, SPRAYER);
    assert!((on_paper - 912.0).abs() < 1e-6, "{on_paper}");
    assert!(
        (driven.areas.closed_m2 - 912.0).abs() < 1e-3,
        "{:?}",
        driven.areas
    );
    let product = &driven.products[0];
    assert!((product.tramlines_kg + 13.68).abs() < 1e-4, "{product:?}");
    assert!((product.metered_kg - product.as_driven_kg).abs() < 1e-4);
    assert_eq!(product.returned_kg, 0.0);
}

/// The same with the flow of closed rows returned, or given to the other rows: 13.68 kg go back; or are sown.
#[test]
fn their_flow_returns_or_goes_to_the_other_rows() {
    let land = land(
        &[[0.0, 0.0], [200.0, 0.0], [200.0, 100.0], [0.0, 100.0]],
        18.0,
    );
    let (driven, _) = rings_driven(&land, &format!("{SPRAYER}closed_flow = \"returned\"\n"));
    let product = &driven.products[0];
    assert!((product.returned_kg - 13.68).abs() < 1e-4, "{product:?}");
    let (driven, _) = rings_driven(
        &land,
        &format!("{SPRAYER}closed_flow = \"redistributed\"\n"),
    );
    let product = &driven.products[0];
    assert!(product.tramlines_kg.abs() < 1e-4, "{product:?}");
    assert!((product.metered_kg - product.as_driven_kg).abs() < 1e-4);
}

/// Seeded fields, bent all around: the ground of closed rows is their length times the row spacing, less corners, but for
/// what bends of a ring add or take beside its middle line.
#[test]
fn closed_ground_is_closed_length_times_row_spacing() {
    let mut any_corner = 0;
    for seed in 0..30 {
        let mut random = random_numbers(seed);
        let count = 4 + seed as u32 % 9;
        let corner = |k: u32| {
            let share = (f64::from(k) + 0.3 * random()) / f64::from(count);
            let (sine, cosine) = (share * std::f64::consts::TAU).sin_cos();
            [150.0 * cosine, (90.0 + 40.0 * random()) * sine]
        };
        let corners: Vec<[f64; 2]> = (0..count).map(corner).collect();
        let land = land(&corners, 18.0);
        let (driven, on_paper) = rings_driven(&land, SPRAYER);
        let got = driven.areas.closed_rows_m2;
        // A bend of up to 45 degrees moves a row 2.75 m beside the middle by at most 2 x 2.75 m x tan(22.5 degrees).
        let bends = f64::from(count) * 2.0 * 2.0 * 0.5 * 2.75 * 0.42;
        assert!(on_paper > 100.0, "{seed}");
        assert!((got - on_paper).abs() < bends, "{seed}: {got} {on_paper}");
        if count <= 6 {
            // Every corner is sharper: no bends are left, so both are the same.
            any_corner += 1;
            assert!((got - on_paper).abs() < 1e-2, "{seed}: {got} {on_paper}");
        }
        let product = &driven.products[0];
        let loose = 1e-6 * product.metered_kg + 1e-3;
        assert!(
            (product.metered_kg - product.as_driven_kg).abs() < loose,
            "{seed}: {product:?}"
        );
    }
    assert!(any_corner > 5);
}
