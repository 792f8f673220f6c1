use super::super::bout::{ClosedRow, Section};
use super::super::path::Path;
use super::*;
use crate::geometry::{Overlay, Pt};
use crate::job::{ClosedFlow, LandPart};
use crate::map::{CellRates, Grid};
use crate::zones::Facts;

/// A job that follows polygons, for one or two products; `more` is added at its end.
pub(super) fn job(more: &str) -> Job {
    let text = format!(
        r#"
name = "t"
[field]
name = "t"
boundary = {{ file = "b.geojson" }}
[drill]
working_width_m = 6
rows = 12
row_spacing_m = 0.5
sections_m = [3, 3]
[[drill.hopper]]
name = "front"
usable_l = 1000
[drive]
follows = "polygons"
[[product]]
id = "seed"
name = "seed"
kind = "seed"
hopper = "front"
rate = {{ kg_per_ha = 100 }}
{more}"#
    );
    Job::parse(&text, std::path::Path::new("job.toml")).unwrap()
}

fn shape(metres: &[[f64; 2]]) -> Shape {
    Shape {
        exterior: metres
            .iter()
            .map(|&xy| Pt::from_metres(xy).unwrap())
            .collect(),
        holes: Vec::new(),
    }
}

/// Land of disjoint shapes, each a row of its own.
pub(super) fn units(shapes: &[Shape]) -> LandUnits {
    let mut overlay = Overlay::default();
    for shape in shapes {
        overlay.add(shape.clone());
    }
    let arrangement = overlay.arrange();
    let rows = shapes.iter().map(|shape| {
        let facts = Facts {
            part: LandPart::Interior,
            classes: Vec::new(),
            special_areas: Vec::new(),
            setbacks: Vec::new(),
        };
        (facts, shape.area2())
    });
    LandUnits {
        row_of_face: (0..arrangement.faces() as u32)
            .map(|face| overlay.covering(&arrangement, face).first().copied())
            .collect(),
        rows: rows.collect(),
        pieces: shapes.len(),
        setback_at_border: Vec::new(),
        classes: Vec::new(),
        arrangement,
    }
}

fn bout(number: usize, points: &[[f64; 2]], closed: &[u32]) -> Bout {
    let path = Path::new(points, false);
    let on_m = vec![[0.0, path.length_m()]];
    let section = |left_m| Section {
        left_m,
        on_m: on_m.clone(),
    };
    let row = |&outlet: &u32| {
        let left = 3.0 - f64::from(outlet - 1) * 0.5;
        ClosedRow {
            outlet,
            left_m: [left - 0.5, left],
        }
    };
    Bout {
        number,
        part: LandPart::Interior,
        strip: Some(number),
        sections: vec![section([0.0, 3.0]), section([-3.0, 0.0])],
        closed: closed.iter().map(row).collect(),
        closed_along: Default::default(),
        speed_km_per_h: 7.2,
        path,
    }
}

fn driven(job: &Job, bouts: &[Bout], shapes: &[Shape], rates: &[f64], delays: Delays) -> AsDriven {
    let carried = Carried::in_stream(job);
    driven_with(job, bouts, shapes, rates, delays, &carried)
}

fn driven_with(
    job: &Job,
    bouts: &[Bout],
    shapes: &[Shape],
    rates: &[f64],
    delays: Delays,
    carried: &Carried,
) -> AsDriven {
    let rates: Vec<Vec<f64>> = rates.iter().map(|rate| vec![*rate]).collect();
    ground_of(&units(shapes), &rates, delays, |ground| {
        drive(bouts, ground, carried, job)
    })
}

/// Land with its rates, 0 outside of it; whoever drives follows its polygons.
pub(super) fn ground_of<R>(
    units: &LandUnits,
    rates: &[Vec<f64>],
    delays: Delays,
    use_it: impl FnOnce(&Ground) -> R,
) -> R {
    use_it(&Ground {
        units,
        rates,
        degrees: &Grid {
            origin: [0.0; 2],
            cell: [1.0; 2],
            columns: 0,
            rows: 0,
            covered_m2: Vec::new().into(),
            kg_per_ha: CellRates::of_cells(0, std::iter::empty()),
        },
        outside: &[0.0],
        frame: &Frame::about(2.0, 53.0),
        delays: &[delays],
    })
}

/// Land from 0 to 100 m east and 0 to 6 m north, cut by a line at 45 degrees through (50, 3).
fn slanting() -> Vec<Shape> {
    vec![
        shape(&[[0.0, 0.0], [47.0, 0.0], [53.0, 6.0], [0.0, 6.0]]),
        shape(&[[47.0, 0.0], [100.0, 0.0], [100.0, 6.0], [53.0, 6.0]]),
    ]
}

const EAST: [[f64; 2]; 2] = [[0.0, 3.0], [100.0, 3.0]];

fn near(a: f64, b: f64) {
    assert!((a - b).abs() < 1e-5, "{a} is not {b}");
}

/// One meter, looked up in the middle: on each side of a line at an angle theta a triangle of
/// W^2 cot(theta) / 8 has the rate of the other side. Geometry, derived.
#[test]
fn one_meter_over_a_slanting_border_leaves_two_triangles() {
    let got = driven(
        &job(""),
        &[bout(1, &EAST, &[])],
        &slanting(),
        &[100.0, 200.0],
        Delays::default(),
    );
    let triangle = 36.0 / 8.0;
    let product = &got.products[0];
    near(product.as_driven_kg, (300.0 * 100.0 + 300.0 * 200.0) / 1e4);
    near(product.following_kg, 0.0);
    near(
        product.within[2].share_percent,
        (600.0 - 2.0 * triangle) / 6.0,
    );
    let sown_wrong: f64 = got
        .patches
        .iter()
        .filter(|patch| patch.wanted != patch.sown)
        .map(|patch| patch.area_m2)
        .sum();
    near(sown_wrong, 2.0 * triangle);
}

/// 2 s at 7.2 km/h are 4 m.
#[test]
fn a_delay_carries_the_old_rate_on() {
    let delays = Delays {
        step_up_s: 2.0,
        stop_s: 1.0,
        ..Delays::default()
    };
    let straight = [
        shape(&[[0.0, 0.0], [50.0, 0.0], [50.0, 6.0], [0.0, 6.0]]),
        shape(&[[50.0, 0.0], [100.0, 0.0], [100.0, 6.0], [50.0, 6.0]]),
    ];
    let got = driven(
        &job(""),
        &[bout(1, &EAST, &[])],
        &straight,
        &[100.0, 200.0],
        delays,
    );
    let product = &got.products[0];
    near(product.following_kg, -4.0 * 6.0 * 100.0 / 1e4);
    // Run-on past the end: 2 m at the last rate.
    near(got.areas.beyond_m2, 12.0);
    near(product.overlap_kg, 12.0 * 200.0 / 1e4);
    near(product.metered_kg, product.as_driven_kg);
}

#[test]
fn closed_rows_are_saved_or_given_to_the_others() {
    let closed = |flow: &str| {
        let tramline = format!(
            "[tramline]\nsprayer_width_m = 12\ntrack_width_m = 2\ntyre_width_m = 0.4\nclosed_flow = \"{flow}\"\n"
        );
        let job = job(&tramline);
        driven(
            &job,
            &[bout(1, &EAST, &[4, 9])],
            &slanting(),
            &[120.0, 120.0],
            Delays::default(),
        )
    };
    for (flow, kg, tramlines, returned) in [
        ("meter_slows", 6.0, -1.2, 0.0),
        ("returned", 6.0, -1.2, 1.2),
        ("redistributed", 7.2, 0.0, 0.0),
    ] {
        let got = closed(flow);
        near(got.areas.closed_m2, 100.0);
        near(got.areas.closed_rows_m2, 100.0);
        let product = &got.products[0];
        near(product.as_driven_kg, kg);
        near(product.metered_kg, kg);
        near(product.tramlines_kg, tramlines);
        near(product.returned_kg, returned);
        // Redistributed, the other rows get a fifth more.
        let all = if flow == "redistributed" { 0.0 } else { 100.0 };
        near(product.within[1].share_percent, all);
    }
}

/// The right section is on for the first 40 m only.
fn half_shut(closed: &[u32]) -> Bout {
    let mut bout = bout(1, &EAST, closed);
    bout.sections[1].on_m = vec![[0.0, 40.0]];
    bout
}

/// 100 m x 3 m and 40 m x 3 m at 120 kg/ha are 5.04 kg; the shut 60 m x 3 m are 2.16 kg. Geometry, derived.
#[test]
fn what_a_shut_section_does_is_what_the_machine_file_says() {
    for (flow, kg, sections, returned) in [
        ("meter_slows", 5.04, 0.0, 0.0),
        ("returned", 5.04, 0.0, 2.16),
        ("redistributed", 7.2, 2.16, 0.0),
    ] {
        let mut job = job("");
        job.drill.shut_flow = serde_json::from_value(flow.into()).unwrap();
        let got = driven(
            &job,
            &[half_shut(&[])],
            &slanting(),
            &[120.0, 120.0],
            Delays::default(),
        );
        let product = &got.products[0];
        near(product.as_driven_kg, kg);
        near(product.metered_kg, kg);
        near(product.sections_kg, sections);
        near(product.returned_kg, returned);
        near(product.missed_kg, -2.16);
        // 30 % of the land is missed. Redistributed, the last 60 m of the left section get twice the rate as well.
        let right = if flow == "redistributed" { 40.0 } else { 70.0 };
        near(product.within[2].share_percent, right);
    }
}

/// Rows and sections with every pair of rules, with delays and steps of the rate: what the meter turns is on the
/// land or back in the hopper.
#[test]
fn what_the_meter_turns_is_on_the_land_or_back_in_the_hopper() {
    let tramline = "[tramline]\nsprayer_width_m = 12\ntrack_width_m = 2\ntyre_width_m = 0.4\n";
    let flows = [
        ClosedFlow::MeterSlows,
        ClosedFlow::Returned,
        ClosedFlow::Redistributed,
    ];
    for (rows, sections) in flows.iter().flat_map(|a| flows.map(|b| (*a, b))) {
        for (closed, stop_s) in [(&[][..], 0.0), (&[4, 8, 9], 0.0), (&[4, 8, 9], 1.5)] {
            let mut job = job(tramline);
            job.drill.shut_flow = sections;
            job.tramline.as_mut().unwrap().closed_flow = Some(rows);
            let delays = Delays {
                stop_s,
                ..Delays::default()
            };
            let got = driven(
                &job,
                &[half_shut(closed)],
                &slanting(),
                &[130.0, 90.0],
                delays,
            );
            let product = &got.products[0];
            near(product.metered_kg, product.as_driven_kg);
            let of_patches: f64 = got
                .patches
                .iter()
                .map(|patch| patch.sown.iter().sum::<f64>() * patch.area_m2 / 1e4)
                .sum();
            near(of_patches, product.as_driven_kg);
            near(got.bouts[0].kg[0], product.as_driven_kg);
            // Counted by hand: the width that the meter serves, over 50 m at 130 kg/ha and 50 m and the run-on at
            // 90; the right section flows on for the run-on, 3 m at 7.2 km/h.
            let run_on = 2.0 * stop_s;
            let [left, right] = [1, 2].map(|rows| if closed.is_empty() { 0 } else { rows });
            let rows_m = |count: i32| match rows {
                ClosedFlow::MeterSlows => f64::from(count) * 0.5,
                _ => 0.0,
            };
            let shut_m = match sections {
                ClosedFlow::MeterSlows => 3.0 - rows_m(right),
                _ => 0.0,
            };
            let turned = |from: f64, to: f64, shut: bool| {
                let of_130 = (to.min(50.0) - from).max(0.0);
                let of_90 = to - from - of_130;
                let width = 6.0 - rows_m(left + right) - if shut { shut_m } else { 0.0 };
                width * (130.0 * of_130 + 90.0 * of_90) / 1e4
            };
            let right_end = 40.0 + run_on;
            let meter = turned(0.0, right_end, false) + turned(right_end, 100.0 + run_on, true);
            near(product.as_driven_kg + product.returned_kg, meter);
        }
    }
}

/// Crossing and missing bouts over land of several rows: the balances of area and mass hold.
#[test]
fn areas_and_kilograms_balance_for_bouts_that_cross() {
    let mut random = crate::drive::test_numbers::random_numbers(11);
    let tramline = "[tramline]\nsprayer_width_m = 12\ntrack_width_m = 2\ntyre_width_m = 0.4\n";
    let job = job(tramline);
    for _ in 0..8 {
        let bouts: Vec<Bout> = (1..=6)
            .map(|number| {
                let points: Vec<[f64; 2]> = (0..3)
                    .map(|at| [f64::from(at) * 55.0 - 5.0 + random(), 20.0 * random() - 7.0])
                    .collect();
                bout(
                    number,
                    if number > 2 { &points[..2] } else { &points },
                    &[4, 9][..usize::from(number > 2) * 2],
                )
            })
            .collect();
        let delays = Delays {
            start_s: random(),
            stop_s: random(),
            step_up_s: random(),
            step_down_s: random(),
            ahead_m: 0.0,
        };
        let got = driven(&job, &bouts, &slanting(), &[130.0, 90.0], delays);
        let a = got.areas;
        let sum = a.once_m2 + a.twice_m2 + a.again_m2 + a.beyond_m2 + a.closed_rows_m2;
        near(sum, a.driven_m2);
        near(
            a.once_m2 + a.twice_m2 + a.closed_m2 + a.missed_m2,
            a.land_m2,
        );
        near(a.land_m2, 600.0);
        assert!(a.twice_m2 > 1.0 && a.beyond_m2 > 1.0);
        let product = &got.products[0];
        near(product.metered_kg, product.as_driven_kg);
        let of_patches: f64 = got
            .patches
            .iter()
            .map(|patch| patch.sown.iter().sum::<f64>() * patch.area_m2 / 1e4)
            .sum();
        near(of_patches, product.as_driven_kg);
        let of_bouts: f64 = got.bouts.iter().map(|bout| bout.kg[0]).sum();
        near(of_bouts, product.as_driven_kg);
        let areas: f64 = got
            .patches
            .iter()
            .flat_map(|p| &p.shapes)
            .map(Shape::area_m2)
            .sum();
        // They are drawn to the millimetre.
        let exactly: f64 = got.patches.iter().map(|patch| patch.area_m2).sum();
        assert!((areas - exactly).abs() < 0.5, "{areas} {exactly}");
    }
}

/// 100 m by 12 m, two bouts of 6 m, 10 kg/ha: a unit of 4 m leaves 2 m beside each bout, one of 8 m lies 2 m wide on the
/// land twice and 1 m beyond both edges. Geometry, derived.
#[test]
fn a_surface_unit_spreads_its_own_width_along_the_bouts() {
    let mut job = job("");
    job.products[0].surface_applied = true;
    let field = [shape(&[
        [0.0, 0.0],
        [100.0, 0.0],
        [100.0, 12.0],
        [0.0, 12.0],
    ])];
    let of = |width_m: f64| {
        let bouts = [3.0, 9.0].map(|north| {
            let mut bout = bout(1, &[[0.0, north], [100.0, north]], &[]);
            bout.sections.truncate(1);
            bout.sections[0].left_m = [-width_m / 2.0, width_m / 2.0];
            bout
        });
        let got = driven_with(
            &job,
            &bouts,
            &field,
            &[10.0],
            Delays::default(),
            &Carried::one(&job, 0),
        );
        let product = &got.products[0];
        near(product.metered_kg, product.as_driven_kg);
        let a = got.areas;
        near(a.once_m2 + a.twice_m2 + a.missed_m2, 1200.0);
        near(a.driven_m2, 200.0 * width_m);
        ([a.once_m2, a.twice_m2, a.missed_m2], got)
    };
    let (areas, narrow) = of(4.0);
    areas
        .iter()
        .zip([800.0, 0.0, 400.0])
        .for_each(|(a, b)| near(*a, b));
    near(narrow.products[0].as_driven_kg, 0.8);
    near(narrow.products[0].within[2].share_percent, 200.0 / 3.0);
    let (areas, wide) = of(8.0);
    areas
        .iter()
        .zip([1000.0, 200.0, 0.0])
        .for_each(|(a, b)| near(*a, b));
    near(wide.areas.beyond_m2, 200.0);
    near(wide.products[0].as_driven_kg, 1.6);
    near(wide.products[0].within[2].share_percent, 1000.0 / 12.0);
    // As wide as the drill: what the drill does.
    let (_, equal) = of(6.0);
    near(equal.products[0].as_driven_kg, 1.2);
    near(equal.products[0].within[0].share_percent, 100.0);
    // The drive of the air stream knows nothing of it.
    let stream = driven(
        &job,
        &[bout(1, &EAST, &[])],
        &field,
        &[10.0],
        Delays::default(),
    );
    assert!(stream.products.is_empty());
    assert!(stream.patches.iter().all(|patch| patch.sown[0] == 0.0));
}
