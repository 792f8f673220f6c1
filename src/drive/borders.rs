//! Borders of land on the plane: which run near a place, and whether it is on the land.

use super::frame::Edge;
use crate::geometry::{Pt, Shape};
use rstar::primitives::{GeomWithData, Rectangle};
use rstar::{AABB, RTree};

/// Something with its box.
pub(super) type Boxed<T> = GeomWithData<Rectangle<[f64; 2]>, T>;

/// Edges with land on their left, in metres of the plane.
pub(super) struct Borders(RTree<Boxed<Edge>>);

impl Borders {
    /// The borders of land, less such as lies in it.
    pub(super) fn of(land: &[Shape], less: &[Shape]) -> Self {
        let edge = |from: &Pt, to: &Pt| {
            let [from, to] = [from.metres(), to.metres()];
            GeomWithData::new(rectangle(&[from, to]), Edge { from, to })
        };
        let mut edges = Vec::new();
        for (shapes, is_hole) in [(land, false), (less, true)] {
            for ring in shapes.iter().flat_map(Shape::rings) {
                let ends = ring.iter().skip(1).chain(ring.first());
                edges.extend(ring.iter().zip(ends).map(|(a, b)| match is_hole {
                    false => edge(a, b),
                    true => edge(b, a),
                }));
            }
        }
        Self(RTree::bulk_load(edges))
    }

    /// Edges whose boxes meet a box.
    pub(super) fn near(&self, around: &AABB<[f64; 2]>) -> impl Iterator<Item = &Edge> {
        let edges = self.0.locate_in_envelope_intersecting(around);
        edges.map(|edge| &edge.data)
    }

    /// How many times a place is on the land: crossings of the ray to the east.
    pub(super) fn at(&self, [x, y]: [f64; 2]) -> i32 {
        let ray = AABB::from_corners([x, y], [f64::MAX, y]);
        let crossing = |edge: &Edge| {
            let [a, b] = [edge.from, edge.to];
            let up = b[1] > y;
            if up == (a[1] > y) || a[0] + (y - a[1]) / (b[1] - a[1]) * (b[0] - a[0]) <= x {
                0
            } else if up {
                1
            } else {
                -1
            }
        };
        self.near(&ray).map(crossing).sum()
    }
}

/// South-west and north-east corner.
pub(super) fn bounds(places: &[[f64; 2]]) -> [[f64; 2]; 2] {
    places
        .iter()
        .fold([[f64::MAX; 2], [f64::MIN; 2]], |[low, high], [x, y]| {
            [
                [low[0].min(*x), low[1].min(*y)],
                [high[0].max(*x), high[1].max(*y)],
            ]
        })
}

pub(super) fn rectangle(places: &[[f64; 2]]) -> Rectangle<[f64; 2]> {
    let [low, high] = bounds(places);
    Rectangle::from_corners(low, high)
}
