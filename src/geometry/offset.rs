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
#[cfg(test)]
mod tests;

use super::arrangement::{Arrangement, OUTSIDE};
use super::noding::{is_knot, meet_more_often};
use super::point::{Pt, UNITS_PER_M};
use super::shape::{Ring, Shape};

/// Arcs are drawn as chords that stay within this distance of the arc.
pub const ARC_TOLERANCE_M: f64 = 0.001;

/// The part of the shapes at least `distance_m` away from their borders; disjoint shapes only.
pub fn inset(shapes: &[Shape], distance_m: f64) -> Vec<Shape> {
    if distance_m <= 0.0 {
        return shapes.to_vec();
    }
    let wide = wide(shapes, distance_m);
    let borders: Vec<&Ring> = wide.iter().copied().flat_map(Shape::rings).collect();
    if let Some(rings) = drawn(&borders, distance_m) {
        return where_winding(&rings, |count| count > 0);
    }
    let wide: Vec<Shape> = wide.into_iter().cloned().collect();
    pieces::without(&wide, &pieces::near(&closed(&borders), distance_m))
}

/// The same where the shifted borders have few points and meet each other seldom, for the points that the borders have:
/// then it costs no more than these do. `None` elsewhere.
pub fn inset_plain(shapes: &[Shape], distance_m: f64) -> Option<Vec<Shape>> {
    let wide = wide(shapes, distance_m);
    let borders: Vec<&Ring> = wide.iter().copied().flat_map(Shape::rings).collect();
    let most =
        PLAIN_ALWAYS + PLAIN_PER_POINT * borders.iter().map(|ring| ring.len()).sum::<usize>();
    let mut rings = Vec::with_capacity(borders.len());
    let mut left = most;
    for border in borders {
        let ring = shifted_within(border, distance_m, left)?;
        left = left.checked_sub(ring.len())?;
        rings.push(ring);
    }
    let often = meet_more_often(rings.iter().map(Vec::as_slice), most);
    (!often).then(|| where_winding(&rings, |count| count > 0))
}

/// Shapes in which a place may lie this far from the border.
fn wide(shapes: &[Shape], distance_m: f64) -> Vec<&Shape> {
    let wide = shapes.iter();
    wide.filter(|shape| !is_narrow(&shape.exterior, distance_m))
        .collect()
}

/// Points of plain shifted borders, and meetings: so many for each point of the borders, and these beyond.
const PLAIN_PER_POINT: usize = 8;
const PLAIN_ALWAYS: usize = 2_000;

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
