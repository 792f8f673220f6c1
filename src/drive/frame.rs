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

    fn of(&self, [x, y]: [f64; 2]) -> [f64; 2] {
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

/// Heading of the longest straight edge, degrees from 0 below 180; of equal ones the first.
pub(super) fn longest_edge_deg(shapes: &[Shape]) -> Option<f64> {
    let mut longest: Option<(f64, f64)> = None;
    for edge in edges(shapes, 0.0) {
        // With heading 0, u is north and v is west.
        let [north, west] = [edge.to[0] - edge.from[0], edge.to[1] - edge.from[1]];
        let length = north.hypot(west);
        if length > longest.map_or(0.0, |(most, _)| most) {
            longest = Some((length, (-west).atan2(north).to_degrees().rem_euclid(180.0)));
        }
    }
    longest.map(|(_, heading)| heading)
}
