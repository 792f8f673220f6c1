//! The plane turned to a heading: u along, v to its left.

use crate::geometry::{Pt, Shape};

/// An edge with land on its left, in metres, turned.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Edge {
    pub from: [f64; 2],
    pub to: [f64; 2],
}

/// The turned plane. Along: (sin, cos) of the heading; to its left: (-cos, sin).
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Turned {
    sine: f64,
    cosine: f64,
}

impl Turned {
    /// For a heading in degrees, clockwise from north.
    pub(super) fn to(heading_deg: f64) -> Self {
        let (sine, cosine) = heading_deg.to_radians().sin_cos();
        Self { sine, cosine }
    }

    pub(super) fn of(&self, [x, y]: [f64; 2]) -> [f64; 2] {
        [
            x * self.sine + y * self.cosine,
            -x * self.cosine + y * self.sine,
        ]
    }

    /// From the turned plane back to east and north.
    pub(super) fn back(&self, [u, v]: [f64; 2]) -> [f64; 2] {
        [
            u * self.sine - v * self.cosine,
            u * self.cosine + v * self.sine,
        ]
    }
}

/// All edges of the shapes for a heading in degrees, clockwise from north.
pub(super) fn edges(shapes: &[Shape], heading_deg: f64) -> Vec<Edge> {
    let plane = Turned::to(heading_deg);
    let turned = |point: &Pt| plane.of(point.metres());
    let rings = shapes.iter().flat_map(Shape::rings);
    rings
        .flat_map(|ring| {
            let ends = ring.iter().skip(1).chain(ring.first());
            ring.iter().zip(ends).map(|(a, b)| Edge {
                from: turned(a),
                to: turned(b),
            })
        })
        .collect()
}

/// A bend of less than this is none, radians: points that reading puts on a long side turn it by a tenth of that.
const BEND: f64 = 1e-4;

/// Heading of the longest straight side, degrees from 0 below 180; of equal ones the first.
pub(super) fn longest_side_deg(shapes: &[Shape]) -> Option<f64> {
    let mut longest: Option<(f64, f64)> = None;
    for [from, to] in shapes
        .iter()
        .flat_map(Shape::rings)
        .flat_map(|ring| sides(ring))
    {
        let [east, north] = [to[0] - from[0], to[1] - from[1]];
        let length = north.hypot(east);
        if length > longest.map_or(0.0, |(most, _)| most) {
            longest = Some((length, east.atan2(north).to_degrees().rem_euclid(180.0)));
        }
    }
    longest.map(|(_, heading)| heading)
}

/// The sides of a ring from corner to corner, metres; points at which it does not bend are none.
fn sides(ring: &[Pt]) -> Vec<[[f64; 2]; 2]> {
    let count = ring.len();
    let at = |nth: usize| ring[nth % count].metres();
    let bends = |nth: &usize| {
        let ([ax, ay], [bx, by], [cx, cy]) = (at(nth + count - 1), at(*nth), at(nth + 1));
        let ([ux, uy], [vx, vy]) = ([bx - ax, by - ay], [cx - bx, cy - by]);
        (ux * vy - uy * vx).atan2(ux * vx + uy * vy).abs() > BEND
    };
    let corners: Vec<usize> = (0..count).filter(bends).collect();
    let ends = corners.iter().cycle().skip(1);
    let sides = corners.iter().zip(ends);
    sides.map(|(from, to)| [at(*from), at(*to)]).collect()
}
