use super::report::of_sections;
use super::strips::strips_of;
use super::*;
use crate::geometry::{Overlay, Pt, Shape};

fn shape(metres: &[[f64; 2]]) -> Shape {
    Shape {
        exterior: ring(metres),
        holes: Vec::new(),
    }
}

fn ring(metres: &[[f64; 2]]) -> Vec<Pt> {
    metres
        .iter()
        .map(|&xy| Pt::from_metres(xy).unwrap())
        .collect()
}

fn of(shapes: &[Shape], heading: f64, sections: &[f64]) -> Vec<Switching> {
    let width = sections.iter().sum();
    let edges = frame::edges(shapes, heading);
    let strips = strips_of(&edges, width, false);
    of_sections(&bands::Bands::of(edges), &strips, sections)
}

fn area(shapes: &[Shape]) -> f64 {
    shapes.iter().map(Shape::area_m2).sum()
}

/// The closed form: where a bout of width W meets a headland at an angle theta, n equal sections that
/// switch when any part is in drill W^2 cot(theta) / (2 n) beyond it. Geometry, derived; agronomy texts
/// give it without derivation.
#[test]
fn the_wedge_at_a_slanting_headland_is_the_closed_form() {
    let width = 6.0;
    for degrees in [20.0f64, 45.0, 60.0, 80.0] {
        let cot = 1.0 / degrees.to_radians().tan();
        let (height, length) = (10.0 * width, 400.0);
        // Ten bouts to the east between two parallel slanting ends.
        let field = shape(&[
            [0.0, 0.0],
            [length, 0.0],
            [length + height * cot, height],
            [height * cot, height],
        ]);
        for n in [1, 2, 3, 6] {
            let sections = vec![width / f64::from(n); n as usize];
            let switching = of(std::slice::from_ref(&field), 90.0, &sections);
            let wedge = width * width * cot / (2.0 * f64::from(n));
            let [any, half, all] = [&switching[0], &switching[1], &switching[2]];
            let expected = 20.0 * wedge;
            assert!(
                (any.beyond_m2 - expected).abs() < 1e-3,
                "{degrees} {n}: {} {expected}",
                any.beyond_m2
            );
            assert!(any.missed_m2.abs() < 1e-3);
            // All in: the same wedge is missed. Half in: a quarter of it each, beyond and missed.
            assert!((all.missed_m2 - expected).abs() < 0.1, "{}", all.missed_m2);
            assert!(all.beyond_m2 < 0.1);
            assert!((half.beyond_m2 - expected / 4.0).abs() < 1e-3);
            assert!((half.missed_m2 - expected / 4.0).abs() < 1e-3);
        }
    }
}

fn wild(state: &mut u64, corners: u32, middle: [f64; 2], size: f64) -> Vec<[f64; 2]> {
    let mut random = || {
        *state = state
            .wrapping_mul(6_364_136_223_846_793_005)
            .wrapping_add(1);
        (*state >> 11) as f64 / (1u64 << 53) as f64
    };
    (0..corners)
        .map(|k| {
            let angle = f64::from(k) / f64::from(corners) * std::f64::consts::TAU;
            let radius = size * (0.5 + 0.5 * random());
            [
                middle[0] + radius * angle.cos(),
                middle[1] + radius * angle.sin(),
            ]
        })
        .collect()
}

/// A concave part with a hole, and a second part.
fn wild_field(state: &mut u64) -> Vec<Shape> {
    let mut hole = ring(&wild(state, 7, [5.0, -3.0], 25.0));
    hole.reverse();
    vec![
        Shape {
            exterior: ring(&wild(state, 23, [0.0, 0.0], 120.0)),
            holes: vec![hole],
        },
        shape(&wild(state, 11, [300.0, 40.0], 60.0)),
    ]
}

#[test]
fn inside_and_missed_are_the_land_for_every_rule() {
    let mut state = 5;
    for heading in [0.0, 17.0, 90.0, 133.3] {
        let field = wild_field(&mut state);
        for sections in [vec![6.0], vec![3.0, 3.0], vec![1.0, 2.0, 3.0]] {
            let land = area(&field);
            for sums in of(&field, heading, &sections) {
                let sum = sums.inside_m2 + sums.missed_m2;
                assert!(
                    (sum - land).abs() < 1e-3,
                    "{heading} {:?}: {sum} {land}",
                    sums.rule
                );
                assert!(sums.beyond_m2 > -1e-6 && sums.missed_m2 > -1e-6);
            }
        }
    }
}

/// Against another way: the driven lanes as rectangles in the arrangement of exact integers.
#[test]
fn beyond_and_missed_agree_with_an_overlay_of_the_driven_rectangles() {
    let mut state = 77;
    for _ in 0..3 {
        let field = wild_field(&mut state);
        // Heading 90: u is east and v is north, so that the rectangles need no turning.
        let edges = frame::edges(&field, 90.0);
        let bands = bands::Bands::of(edges.clone());
        let width = 7.0;
        let low = edges
            .iter()
            .map(|e| e.from[1])
            .fold(f64::INFINITY, f64::min);
        let high = edges
            .iter()
            .map(|e| e.from[1])
            .fold(f64::NEG_INFINITY, f64::max);
        for (nth, rule) in [SwitchRule::AnyPartIn, SwitchRule::HalfIn, SwitchRule::AllIn]
            .into_iter()
            .enumerate()
        {
            let mut overlay = Overlay::default();
            for part in &field {
                overlay.add(part.clone());
            }
            let mut from = low;
            while from < high {
                let slabs = lane::profile(&bands, from, from + width);
                for [a, b] in lane::drilled(&slabs, width, rule).on_m {
                    overlay.add(shape(&[
                        [a, from],
                        [b, from],
                        [b, from + width],
                        [a, from + width],
                    ]));
                }
                from += width;
            }
            let parts = field.len() as u32;
            let beyond =
                area(&overlay.shapes_where(|by| !by.is_empty() && by.iter().all(|p| *p >= parts)));
            let missed =
                area(&overlay.shapes_where(|by| !by.is_empty() && by.iter().all(|p| *p < parts)));
            let sums = &of(&field, 90.0, &[width])[nth];
            assert!(
                (sums.beyond_m2 - beyond).abs() < 0.05,
                "{rule:?} {} {beyond}",
                sums.beyond_m2
            );
            assert!(
                (sums.missed_m2 - missed).abs() < 0.05,
                "{rule:?} {} {missed}",
                sums.missed_m2
            );
            if rule == SwitchRule::AnyPartIn {
                assert!(beyond > 100.0 && missed < 0.05);
            }
        }
    }
}

#[test]
fn the_longest_side_gives_the_heading() {
    let field = shape(&[[0.0, 0.0], [30.0, 0.0], [90.0, 60.0], [0.0, 60.0]]);
    let heading = frame::longest_side_deg(&[field]).unwrap();
    // The top runs east and west.
    assert!((heading - 90.0).abs() < 1e-9, "{heading}");
    // A side with points on it, one of them in the middle of the ring's first edge, is one side.
    let with_points = shape(&[
        [10.0, 0.0],
        [30.0, 0.0],
        [90.0, 60.0],
        [45.0, 60.0],
        [0.0, 60.0],
        [0.0, 0.0],
    ]);
    assert_eq!(frame::longest_side_deg(&[with_points]), Some(heading));
    let slanting = shape(&[[0.0, 0.0], [30.0, 0.0], [90.0, 60.0]]);
    let heading = frame::longest_side_deg(&[slanting]).unwrap();
    assert!(
        (heading - (90.0f64).atan2(60.0).to_degrees()).abs() < 1e-9,
        "{heading}"
    );
}
