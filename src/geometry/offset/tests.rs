use super::*;
use std::f64::consts::PI;

fn ring(metres: &[[f64; 2]]) -> Ring {
    metres
        .iter()
        .map(|&xy| Pt::from_metres(xy).unwrap())
        .collect()
}

fn shape(metres: &[[f64; 2]]) -> Shape {
    Shape {
        exterior: ring(metres),
        holes: Vec::new(),
    }
}

fn area(shapes: &[Shape]) -> f64 {
    shapes.iter().map(Shape::area_m2).sum()
}

const SQUARE: [[f64; 2]; 4] = [[0.0, 0.0], [100.0, 0.0], [100.0, 100.0], [0.0, 100.0]];

#[test]
fn a_square_shrinks_and_vanishes() {
    assert_eq!(area(&inset(&[shape(&SQUARE)], 10.0)), 6400.0);
    assert!(inset(&[shape(&SQUARE)], 50.5).is_empty());
    assert!(inset(&[shape(&SQUARE)], 500.0).is_empty());
}

#[test]
fn a_square_grows_by_its_sides_and_a_circle() {
    let grown = outset(&[shape(&SQUARE)], &[], &[], 10.0);
    let expected = 10_000.0 + 4.0 * 1000.0 + PI * 100.0;
    assert!((area(&grown) - expected).abs() < 0.1, "{}", area(&grown));
    assert!(area(&grown) < expected);
}

#[test]
fn a_dumb_bell_splits() {
    let waist = [
        [0.0, 0.0],
        [40.0, 0.0],
        [40.0, 15.0],
        [60.0, 15.0],
        [60.0, 0.0],
        [100.0, 0.0],
        [100.0, 40.0],
        [60.0, 40.0],
        [60.0, 25.0],
        [40.0, 25.0],
        [40.0, 40.0],
        [0.0, 40.0],
    ];
    let parts = inset(&[shape(&waist)], 6.0);
    assert_eq!(parts.len(), 2);
    // Two squares, each with a bay of two bent triangles in front of the 10 m opening.
    let bent = 30.0 - (2.5 * 11f64.sqrt() + 18.0 * (5.0f64 / 6.0).asin());
    let expected = 2.0 * (28.0 * 28.0 + 2.0 * bent);
    assert!((area(&parts) - expected).abs() < 0.1, "{}", area(&parts));
}

#[test]
fn a_hole_eats_into_the_inset_with_round_corners() {
    let hole: Ring = ring(&[[40.0, 40.0], [60.0, 40.0], [60.0, 60.0], [40.0, 60.0]]);
    let holed = Shape {
        exterior: ring(&SQUARE),
        holes: vec![hole.into_iter().rev().collect()],
    };
    let expected = 6400.0 - (400.0 + 4.0 * 200.0 + PI * 100.0);
    assert!((area(&inset(&[holed], 10.0)) - expected).abs() < 0.1);
}

/// A mast on a field, and a drill wider than what is left free around it.
#[test]
fn a_hole_no_wider_than_twice_the_distance_is_filled() {
    let mut hole = circle(Pt::from_metres([50.0, 50.0]).unwrap(), 5.0);
    let holed = |hole: Ring| Shape {
        exterior: ring(&SQUARE),
        holes: vec![hole],
    };
    let plain = outset(&[shape(&SQUARE)], &[], &[], 6.0);
    assert_eq!(outset(&[holed(hole.clone())], &[], &[], 6.0), plain);
    let grown = outset(&[holed(hole.clone())], &[], &[], 4.0);
    assert_eq!(grown[0].holes.len(), 1);
    hole.reverse();
    let disc = Shape {
        exterior: hole,
        holes: Vec::new(),
    };
    assert!(inset(std::slice::from_ref(&disc), 5.5).is_empty());
    assert!(area(&inset(&[disc], 4.0)) > 3.0);
}

#[test]
fn a_line_and_a_point_grow_to_a_stadium_and_a_disc() {
    let line = ring(&[[0.0, 0.0], [50.0, 0.0], [50.0, 50.0]]);
    let grown = outset(&[], &[line], &[], 5.0);
    // Two strips less their common corner square, two half discs, a quarter disc outside.
    let expected = 2.0 * 500.0 - 25.0 + PI * 25.0 + PI * 25.0 / 4.0;
    assert!(
        (area(&grown) - expected).abs() < 0.1,
        "{} {expected}",
        area(&grown)
    );
    let disc = outset(&[], &[], &ring(&[[3.0, 4.0]]), 5.0);
    assert!((area(&disc) - PI * 25.0).abs() < 0.1);
    let dot = outset(&[], &[ring(&[[3.0, 4.0]])], &[], 5.0);
    assert!((area(&dot) - PI * 25.0).abs() < 0.1);
}

/// Against the definition: a point is in the inset when it is in the ring and no edge is nearer
/// than the distance.
#[test]
fn wild_rings_agree_with_the_definition_point_by_point() {
    let mut state = 11u64;
    let mut random = || {
        state = state
            .wrapping_mul(6_364_136_223_846_793_005)
            .wrapping_add(1);
        (state >> 11) as f64 / (1u64 << 53) as f64
    };
    for _ in 0..30 {
        let wild: Vec<[f64; 2]> = (0..40)
            .map(|k| {
                let angle = f64::from(k) / 40.0 * 2.0 * PI;
                let radius = 30.0 + 30.0 * random();
                [radius * angle.cos(), radius * angle.sin()]
            })
            .collect();
        let distance = 1.0 + 12.0 * random();
        let whole = shape(&wild);
        let found = inset(std::slice::from_ref(&whole), distance);
        for _ in 0..400 {
            let place = [random() * 120.0 - 60.0, random() * 120.0 - 60.0];
            let gap = distance_to_ring(&wild, place);
            if (gap - distance).abs() < 0.003 {
                continue;
            }
            let expected = inside(&wild, place) && gap > distance;
            let got = found.iter().any(|part| {
                part.rings()
                    .filter(|ring| inside(&metres(ring), place))
                    .count()
                    % 2
                    == 1
            });
            assert_eq!(got, expected, "{place:?} {gap} {distance}");
        }
    }
}

/// A border cut into pieces has the same land near it as one that is followed as a whole.
#[test]
fn pieces_agree_with_the_whole() {
    for (nth, distance) in [0.5, 3.0, 9.0, 20.0].into_iter().enumerate() {
        let wavy: Vec<[f64; 2]> = (0..200)
            .map(|k| {
                let angle = f64::from(k) / 200.0 * 2.0 * PI;
                let radius = 50.0 + 12.0 * (angle * (3.0 + nth as f64)).sin();
                [radius * angle.cos(), radius * angle.sin()]
            })
            .collect();
        let whole = shape(&wavy);
        let near = pieces::near(&closed(&[&whole.exterior]), distance);
        let inner = inset(std::slice::from_ref(&whole), distance);
        let by_pieces = pieces::without(std::slice::from_ref(&whole), &near);
        let length = 400.0;
        let close = |a: f64, b: f64| (a - b).abs() < 2.0 * ARC_TOLERANCE_M * length;
        assert!(close(area(&inner), area(&by_pieces)), "{distance}");
        let outer = area(&outset(std::slice::from_ref(&whole), &[], &[], distance));
        let ring = area(&near) + area(&by_pieces);
        assert!(close(outer, ring), "{distance}: {outer} {ring}");
    }
}

/// Noise of a hand's breadth on points a hand's breadth apart: every shifted edge would cross hundreds of others.
#[test]
fn a_noisy_border_is_no_knot() {
    let mut state = 5u64;
    let mut random = || {
        state = state
            .wrapping_mul(6_364_136_223_846_793_005)
            .wrapping_add(1);
        (state >> 11) as f64 / (1u64 << 53) as f64 - 0.5
    };
    let count = 800;
    let noisy: Vec<[f64; 2]> = (0..count)
        .map(|k| {
            let angle = f64::from(k) / f64::from(count) * 2.0 * PI;
            let radius = 10.0 + 0.2 * random();
            [radius * angle.cos(), radius * angle.sin()]
        })
        .collect();
    let whole = shape(&noisy);
    let disc = |radius: f64| PI * radius * radius;
    let near = pieces::near(&closed(&[&whole.exterior]), 2.0);
    let inner = area(&pieces::without(std::slice::from_ref(&whole), &near));
    assert!(inner > disc(7.899) && inner < disc(8.1), "{inner}");
    let outer = area(&near) + inner;
    assert!(outer > disc(11.9) && outer < disc(12.101), "{outer}");
    // What comes of it is as simple as what it means.
    let points: usize = near.iter().flat_map(Shape::rings).map(Vec::len).sum();
    assert!(points < 8 * noisy.len(), "{points}");
}

fn metres(ring: &Ring) -> Vec<[f64; 2]> {
    ring.iter().map(|point| point.metres()).collect()
}

fn inside(ring: &[[f64; 2]], [x, y]: [f64; 2]) -> bool {
    let ends = ring.iter().skip(1).chain(ring.first());
    let crossings = ring.iter().zip(ends).filter(|([ax, ay], [bx, by])| {
        (*ay > y) != (*by > y) && x < (bx - ax) * (y - ay) / (by - ay) + ax
    });
    crossings.count() % 2 == 1
}

fn distance_to_ring(ring: &[[f64; 2]], [x, y]: [f64; 2]) -> f64 {
    let ends = ring.iter().skip(1).chain(ring.first());
    ring.iter()
        .zip(ends)
        .fold(f64::INFINITY, |best, ([ax, ay], [bx, by])| {
            let [dx, dy] = [bx - ax, by - ay];
            let along = (((x - ax) * dx + (y - ay) * dy) / (dx * dx + dy * dy)).clamp(0.0, 1.0);
            best.min((x - ax - along * dx).hypot(y - ay - along * dy))
        })
}
