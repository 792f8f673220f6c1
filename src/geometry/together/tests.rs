//! Threads, wedges, necks and crowds by hand, and tangles by seed.

use super::pieces::Pieces;
use super::*;
use crate::geometry::Overlay;

fn shape(metres: &[[f64; 2]]) -> Shape {
    let points = metres.iter().map(|xy| Pt::from_metres(*xy).unwrap());
    Shape {
        exterior: points.collect(),
        holes: Vec::new(),
    }
}

/// Land by the last polygon that covers it, numbered from 0.
fn tiles(shapes: &[Shape]) -> (Arrangement, Vec<Option<u32>>) {
    let mut overlay = Overlay::default();
    shapes.iter().for_each(|shape| {
        overlay.add(shape.clone());
    });
    let arrangement = overlay.arrange();
    let faces = 0..arrangement.faces() as u32;
    let group = faces.map(|face| overlay.covering(&arrangement, face).last().copied());
    let group = group.collect();
    (arrangement, group)
}

fn outline_first([left, right]: [Option<u32>; 2]) -> u8 {
    u8::from(left.is_some() && right.is_some())
}

fn together(shapes: &[Shape]) -> Option<Together> {
    let (arrangement, group) = tiles(shapes);
    bring_together(&arrangement, &group, 75.0, outline_first)
}

fn area_m2(of: &Together, group: u32) -> f64 {
    let faces = (0..).zip(&of.group).filter(|(_, own)| **own == Some(group));
    faces.map(|(face, _)| of.arrangement.area_m2(face)).sum()
}

const FIELD: [[f64; 2]; 4] = [[0.0, 0.0], [100.0, 0.0], [100.0, 50.0], [0.0, 50.0]];

#[test]
fn what_lies_apart_is_left_alone() {
    let beside = [[0.0, 0.0], [50.0, 0.0], [50.0, 49.999], [0.0, 49.999]];
    assert!(together(&[shape(&FIELD), shape(&beside)]).is_none());
}

#[test]
fn a_thread_along_the_border_goes_to_what_lies_beside_it_and_the_border_stays() {
    // A tenth of a millimetre short of three sides, with a point of its own on one.
    let short = [
        [0.0001, 0.0001],
        [30.0, 0.00012],
        [60.0, 0.0],
        [60.0, 49.9999],
        [0.0001, 49.9999],
    ];
    let of = together(&[shape(&FIELD), shape(&short)]).expect("threads");
    assert_eq!(area_m2(&of, 1), 3000.0);
    assert_eq!(area_m2(&of, 0), 2000.0);
    let whole: Vec<Option<u32>> = of.group.iter().map(|own| own.map(|_| 0)).collect();
    let outline = of.arrangement.dissolve(&whole);
    let corners = shape(&FIELD).exterior;
    assert!(
        corners
            .iter()
            .all(|corner| outline[0].1.exterior.contains(corner))
    );
    assert!((of.area_m2 - 0.0145).abs() < 0.002, "{}", of.area_m2);
    assert!(!of.places.is_empty());
}

#[test]
fn a_thread_of_2800_m_vanishes_and_a_neck_of_one_parts_what_it_joins() {
    let long = shape(&[[0.0, 0.0], [2800.0, 0.0], [2800.0, 0.0001], [0.0, 0.0001]]);
    let field = shape(&[[0.0, 0.0], [2800.0, 0.0], [2800.0, 90.0], [0.0, 90.0]]);
    let of = together(&[field, long]).expect("a thread");
    assert_eq!(area_m2(&of, 1), 0.0);
    assert_eq!(of.places.len(), 1);
    let dumb_bell = shape(&[
        [0.0, 0.0],
        [10.0, 0.0],
        [10.0, 5.0],
        [20.0, 5.0],
        [20.0, 0.0],
        [30.0, 0.0],
        [30.0, 9.0],
        [20.0, 9.0],
        [20.0, 5.0002],
        [10.0, 5.0002],
        [10.0, 9.0],
        [0.0, 9.0],
    ]);
    let of = together(&[dumb_bell]).expect("a neck");
    assert_eq!(of.arrangement.dissolve(&of.group).len(), 2);
    assert!((area_m2(&of, 0) - 180.0).abs() < 0.01);
}

#[test]
fn of_a_wedge_the_part_that_is_too_thin_goes() {
    // 2 km long and 1 mm wide at its end: too thin for the first kilometre.
    let field = shape(&[[0.0, 0.0], [2000.0, 0.0], [2000.0, 90.0], [0.0, 90.0]]);
    let wedge = shape(&[[0.0, 0.0], [2000.0, 0.0], [2000.0, 0.001]]);
    let of = together(&[field, wedge]).expect("a wedge");
    let left = of.arrangement.dissolve(&of.group);
    let (_, left) = left.iter().find(|(group, _)| *group == 1).expect("a wedge");
    let west = left
        .exterior
        .iter()
        .map(|p| p.metres()[0])
        .fold(f64::MAX, f64::min);
    assert!((900.0..1080.0).contains(&west), "{west}");
}

/// A receiver that stood still: every point is near every other, and yet it takes no time.
#[test]
fn a_crowd_of_points_becomes_one() {
    let mut points = vec![[60.0, 0.0], [60.0, 50.0], [0.0, 50.0]];
    points.extend((0..500).map(|nth| {
        let turn = f64::from(nth);
        [0.0001 * turn.sin(), 0.0001 * (1.7 * turn).cos()]
    }));
    let of = together(&[shape(&points)]).expect("a crowd");
    let field = of.arrangement.dissolve(&of.group);
    assert_eq!((field.len(), field[0].1.exterior.len()), (1, 4));
    assert!((area_m2(&of, 0) - 3000.0).abs() < 0.05);
}

/// Rings of points so near each other that all of it is threads, and rings along each other.
#[test]
fn whatever_comes_in_nothing_too_near_comes_out() {
    let mut state = 5u64;
    let mut next = |range: i64| {
        state = state.wrapping_mul(6364136223846793005).wrapping_add(1);
        ((state >> 33) as i64).rem_euclid(range)
    };
    let mut changed = 0;
    for round in 0..300 {
        let range = [3_000, 9_000, 40_000, 1_000_000][round % 4];
        let base: Vec<Pt> = (0..9)
            .map(|_| Pt {
                x: next(range),
                y: next(range),
            })
            .collect();
        let shapes: Vec<Shape> = (0..3)
            .map(|nth| {
                let by = if nth == 0 { 1 } else { 300 };
                let near = base.iter().map(|p| Pt {
                    x: p.x + next(by),
                    y: p.y + next(by),
                });
                let mut exterior: Ring = near.collect();
                if round % 3 == 0 {
                    exterior.rotate_left(nth);
                    exterior.swap(0, 3);
                }
                Shape {
                    exterior,
                    holes: Vec::new(),
                }
            })
            .collect();
        let (arrangement, group) = tiles(&shapes);
        let Some(of) = bring_together(&arrangement, &group, 75.0, outline_first) else {
            continue;
        };
        changed += 1;
        let pieces = Pieces::of(&of.arrangement, &of.group, f64::INFINITY, &outline_first);
        let (crowds, near) = pieces.search();
        assert!(crowds.is_empty() && near.is_empty(), "round {round}");
        // It tiles: whole pieces make the whole.
        let pieces = of.arrangement.dissolve(&of.group);
        let one: Vec<Option<u32>> = of.group.iter().map(|own| own.map(|_| 0)).collect();
        let whole = of.arrangement.dissolve(&one);
        let sum = |shapes: &[(u32, Shape)]| shapes.iter().map(|(_, of)| of.area2()).sum::<i128>();
        assert_eq!(sum(&pieces), sum(&whole), "round {round}");
    }
    assert!(changed > 250, "{changed}");
}
