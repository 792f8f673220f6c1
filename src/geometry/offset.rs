//! Parallel curves: land at least, or at most, a distance away from a border.
//!
//! Method: each ring is shifted to its left by the distance. At a right turn the shifted edges are
//! joined by an arc around the vertex; at a left turn by way of the vertex itself. A point then has
//! the winding number it had around the ring, less one for every edge (as a rectangle) or right turn
//! (as a sector) of the ring that it lies within the distance of. So the land at least the distance
//! away is exactly where the winding number is still positive: it may split or vanish.
//!
//! A border of many points closer together than the distance makes a knot: each shifted edge crosses all of its
//! neighbours. Such a border is taken piece by piece (`offset/pieces.rs`).

mod pieces;
mod reach;

use super::arrangement::{Arrangement, OUTSIDE};
use super::noding::is_knot;
use super::point::{Pt, UNITS_PER_M};
use super::shape::{Ring, Shape};

/// Arcs are drawn as chords that stay within this distance of the arc.
pub const ARC_TOLERANCE_M: f64 = 0.001;

/// The part of the shapes at least `distance_m` away from their borders; disjoint shapes only.
pub fn inset(shapes: &[Shape], distance_m: f64) -> Vec<Shape> {
    if distance_m <= 0.0 {
        return shapes.to_vec();
    }
    let wide = shapes
        .iter()
        .filter(|shape| !is_narrow(&shape.exterior, distance_m));
    let borders: Vec<&Ring> = wide.clone().flat_map(Shape::rings).collect();
    if let Some(rings) = drawn(&borders, distance_m) {
        return where_winding(&rings, |count| count > 0);
    }
    let wide: Vec<Shape> = wide.cloned().collect();
    pieces::without(&wide, &pieces::near(&closed(&borders), distance_m))
}

/// Most points of shifted rings for each point of the rings, and those that any may have beyond.
const MOST_PER_POINT: usize = 64;
const MOST_ALWAYS: usize = 100_000;

/// The rings shifted to their left; `None` where they would be a knot, for the points that the border has: its arcs have many more.
fn drawn(borders: &[&Ring], distance_m: f64) -> Option<Vec<Ring>> {
    let points: usize = borders.iter().map(|ring| ring.len()).sum();
    let mut left = MOST_ALWAYS + MOST_PER_POINT * points.min(MOST_ALWAYS);
    let mut rings = Vec::with_capacity(borders.len());
    for border in borders {
        let ring = shifted_within(border, distance_m, left)?;
        left = left.checked_sub(ring.len())?;
        rings.push(ring);
    }
    let knot = is_knot(rings.iter().map(Vec::as_slice), points);
    (!knot).then_some(rings)
}

/// Rings as lines that end where they start.
fn closed(rings: &[&Ring]) -> Vec<Ring> {
    let closed = rings.iter().map(|ring| {
        let first = ring.first().copied();
        ring.iter().copied().chain(first).collect()
    });
    closed.collect()
}

/// The land at most `distance_m` away from the shapes, lines or points, themselves included.
pub fn outset(shapes: &[Shape], lines: &[Vec<Pt>], points: &[Pt], distance_m: f64) -> Vec<Shape> {
    if distance_m <= 0.0 {
        return shapes.to_vec();
    }
    let open = |hole: &&Ring| !is_narrow(hole, distance_m);
    // Run backwards, a ring has what lies outside of it on its left.
    let mut borders: Vec<Ring> = shapes
        .iter()
        .flat_map(|shape| std::iter::once(&shape.exterior).chain(shape.holes.iter().filter(open)))
        .map(|ring| ring.iter().rev().copied().collect())
        .collect();
    for line in lines {
        // There and back: a ring without area, with both sides of the line on its left.
        let back = line.iter().rev().skip(1);
        let mut there_and_back: Ring = line.iter().chain(back).copied().collect();
        if there_and_back.len() > 1 {
            there_and_back.pop();
        }
        borders.push(there_and_back);
    }
    let single: Vec<Ring> = points.iter().map(|point| vec![*point]).collect();
    let all: Vec<&Ring> = borders.iter().chain(&single).collect();
    if let Some(rings) = drawn(&all, distance_m) {
        return where_winding(&rings, |count| count < 0);
    }
    let of_shapes: Vec<&Ring> = shapes.iter().flat_map(Shape::rings).collect();
    let mut all = closed(&of_shapes);
    all.extend(lines.iter().cloned());
    all.extend(single);
    let mut near = pieces::near(&all, distance_m);
    near.extend(shapes.iter().cloned());
    let rings: Vec<Ring> = near
        .into_iter()
        .flat_map(|shape| std::iter::once(shape.exterior).chain(shape.holes))
        .collect();
    where_winding(&rings, |count| count > 0)
}

/// Whether nothing inside a ring is farther than the distance from it, because its box is no wider or
/// no higher than twice that. Shifted, such a ring would be a knot that covers nothing, with a crossing
/// for every pair of its edges.
fn is_narrow(ring: &[Pt], distance_m: f64) -> bool {
    let size = |of: fn(&Pt) -> i64| {
        let (low, high) = (ring.iter().map(of).min(), ring.iter().map(of).max());
        high.zip(low).map_or(0, |(high, low)| high - low)
    };
    size(|p| p.x).min(size(|p| p.y)) as f64 <= 2.0 * distance_m * UNITS_PER_M
}

/// Shapes of the faces whose winding number passes the test.
fn where_winding(rings: &[Ring], wanted: impl Fn(i32) -> bool) -> Vec<Shape> {
    let arrangement = Arrangement::new(rings.iter().map(|ring| (0, &ring[..])));
    let group: Vec<Option<u32>> = (0..arrangement.faces() as u32)
        .map(|face| (face != OUTSIDE && wanted(arrangement.winding(face, 0))).then_some(0))
        .collect();
    arrangement
        .dissolve(&group)
        .into_iter()
        .map(|(_, shape)| shape)
        .collect()
}

/// One edge of a ring that is being shifted.
#[derive(Clone, Copy)]
struct Edge {
    start: [f64; 2],
    direction: [f64; 2],
    length: f64,
}

/// The ring shifted to its left, in the sense of the module's method.
fn shifted(ring: &[Pt], distance_m: f64) -> Ring {
    shifted_within(ring, distance_m, usize::MAX).unwrap_or_default()
}

/// The same; `None` where it would have more points than this.
fn shifted_within(ring: &[Pt], distance_m: f64, most: usize) -> Option<Ring> {
    let distance = distance_m * UNITS_PER_M;
    let edges = edges_of(ring);
    let mut path = Path {
        points: Vec::with_capacity(2 * edges.len()),
        distance,
    };
    let Some(&last) = edges.last() else {
        let first = ring.first();
        return Some(first.map_or(Vec::new(), |&point| circle(point, distance_m)));
    };
    let mut before = last;
    for &edge in &edges {
        path.turn(before, edge);
        before = edge;
        if path.points.len() > most {
            return None;
        }
    }
    Some(path.points)
}

fn edges_of(ring: &[Pt]) -> Vec<Edge> {
    let float = |p: Pt| [p.x as f64, p.y as f64];
    let ends = ring.iter().skip(1).chain(ring.first());
    ring.iter()
        .zip(ends)
        .filter(|(a, b)| a != b)
        .map(|(&a, &b)| {
            let [start, end] = [float(a), float(b)];
            let along = [end[0] - start[0], end[1] - start[1]];
            let length = along[0].hypot(along[1]);
            Edge {
                start,
                direction: along.map(|v| v / length),
                length,
            }
        })
        .collect()
}

struct Path {
    points: Ring,
    distance: f64,
}

impl Path {
    /// Adds the way around the vertex between two edges.
    fn turn(&mut self, before: Edge, after: Edge) {
        let [u, v] = [before.direction, after.direction];
        let sine = u[0] * v[1] - u[1] * v[0];
        let cosine = u[0] * v[0] + u[1] * v[1];
        let vertex = after.start;
        if sine > 0.0 {
            // How far before and after the vertex the shifted edges cross: d tan(turn / 2).
            let trim = self.distance * sine / (1.0 + cosine);
            if trim <= before.length.min(after.length) / 2.0 {
                let corner = self.beside(vertex, v);
                self.push([corner[0] + trim * v[0], corner[1] + trim * v[1]]);
            } else {
                self.push(self.beside(vertex, u));
                self.push(vertex);
                self.push(self.beside(vertex, v));
            }
        } else if sine < 0.0 || cosine < 0.0 {
            self.arc(vertex, u, sine.atan2(cosine));
            self.push(self.beside(vertex, v));
        } else {
            self.push(self.beside(vertex, v));
        }
    }

    /// The arc clockwise around a vertex from beside direction `u`, its end excepted. `turn` is
    /// negative, or half a turn where a line comes back.
    fn arc(&mut self, vertex: [f64; 2], u: [f64; 2], turn: f64) {
        let turn = -turn.abs();
        let chords = chords(self.distance, turn);
        for chord in 0..chords {
            let (sine, cosine) = (turn * f64::from(chord) / f64::from(chords)).sin_cos();
            let turned = [u[0] * cosine - u[1] * sine, u[0] * sine + u[1] * cosine];
            self.push(self.beside(vertex, turned));
        }
    }

    /// The place left of a vertex for an edge in this direction.
    fn beside(&self, vertex: [f64; 2], direction: [f64; 2]) -> [f64; 2] {
        [
            vertex[0] - self.distance * direction[1],
            vertex[1] + self.distance * direction[0],
        ]
    }

    fn push(&mut self, [x, y]: [f64; 2]) {
        self.points.push(Pt {
            x: x.round() as i64,
            y: y.round() as i64,
        });
    }
}

/// How many chords keep within [`ARC_TOLERANCE_M`] of an arc.
fn chords(distance: f64, turn: f64) -> u32 {
    let tolerance = (ARC_TOLERANCE_M * UNITS_PER_M / distance).min(1.0);
    let step = 2.0 * (1.0 - tolerance).acos();
    (turn.abs() / step).ceil().max(1.0) as u32
}

/// A circle, clockwise.
fn circle(centre: Pt, radius_m: f64) -> Ring {
    let radius = radius_m * UNITS_PER_M;
    let full = std::f64::consts::TAU;
    let count = chords(radius, full).max(3);
    (0..count)
        .map(|nth| {
            let (sine, cosine) = (-full * f64::from(nth) / f64::from(count)).sin_cos();
            let [dx, dy] = [radius * cosine, radius * sine].map(|v| v.round() as i64);
            Pt {
                x: centre.x + dx,
                y: centre.y + dy,
            }
        })
        .collect()
}

#[cfg(test)]
mod tests {
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
}
