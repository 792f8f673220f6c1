//! Shapes for a map: on a grid of a millimetre, so that they stay valid when a file rounds their degrees.

use super::Patch;
use crate::geometry::{Overlay, Pt, Ring, Shape};
use serde::Serialize;

/// Bits of the plane's grid that are rounded away: 2^-20 m become 2^-10 m.
const BITS: u32 = 10;

/// Pieces of a map of the drive below this are rounding and are not drawn, m2.
pub const LEAST_M2: f64 = 0.001;

/// What a reader of the difference map has to know of it.
#[derive(Debug, Clone, Copy, Default, PartialEq, Serialize)]
pub struct DifferenceMap {
    /// Length of the border of all pieces, m.
    pub border_m: f64,
    /// Pieces that are not drawn, m2.
    pub left_out_m2: f64,
}

impl DifferenceMap {
    pub(super) fn of(patches: &[Patch]) -> Self {
        let mut map = Self::default();
        for shape in patches.iter().flat_map(|patch| &patch.shapes) {
            if shape.area_m2() < LEAST_M2 {
                map.left_out_m2 += shape.area_m2();
                continue;
            }
            for ring in shape.rings() {
                let ends = ring.iter().skip(1).chain(ring.first());
                let steps = ring.iter().zip(ends);
                map.border_m += steps.map(|(a, b)| a.distance_m(*b)).sum::<f64>();
            }
        }
        map
    }
}

/// The same groups of shapes, noded and dissolved again on the coarser grid; slivers thinner than it go.
/// Where rounding makes two overlap, the lower group has the land.
pub fn coarse(shapes: Vec<(u32, Shape)>) -> Vec<(u32, Shape)> {
    let rounded = |v: i64| (v + (1 << (BITS - 1))) >> BITS;
    let ring = |ring: Ring, to: &dyn Fn(i64) -> i64| -> Ring {
        ring.into_iter()
            .map(|point| Pt {
                x: to(point.x),
                y: to(point.y),
            })
            .collect()
    };
    let each = |shape: Shape, to: &dyn Fn(i64) -> i64| Shape {
        exterior: ring(shape.exterior, to),
        holes: shape.holes.into_iter().map(|hole| ring(hole, to)).collect(),
    };
    let mut overlay = Overlay::default();
    let mut group_of: Vec<u32> = Vec::new();
    for (group, shape) in shapes {
        overlay.add(each(shape, &rounded));
        group_of.push(group);
    }
    let arrangement = overlay.arrange();
    let groups: Vec<Option<u32>> = (0..arrangement.faces() as u32)
        .map(|face| {
            let covering = overlay.covering(&arrangement, face).into_iter();
            covering
                .filter_map(|polygon| group_of.get(polygon as usize).copied())
                .min()
        })
        .collect();
    let back = |v: i64| v << BITS;
    arrangement
        .dissolve(&groups)
        .into_iter()
        .map(|(group, shape)| (group, each(shape, &back)))
        .collect()
}
