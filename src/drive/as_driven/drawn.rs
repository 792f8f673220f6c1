//! Shapes for a map: on a grid of a millimetre, so that they stay valid when a file rounds their degrees.

use super::Patch;
use crate::geometry::Shape;
use crate::geometry::coarse;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// Bits of the plane's grid that are rounded away: 2^-20 m become 2^-10 m.
pub(super) const BITS: u32 = 10;

/// Pieces of a map of the drive below this are rounding and are not drawn, m2.
pub const LEAST_M2: f64 = 0.001;

/// What a reader of the difference map has to know of it.
#[derive(Debug, Clone, Copy, Default, PartialEq, Serialize, Deserialize, JsonSchema)]
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

/// The same groups of shapes on a grid of a millimetre; slivers thinner than it go.
pub fn coarse(shapes: Vec<(u32, Shape)>) -> Vec<(u32, Shape)> {
    coarse::coarse(shapes, BITS)
}
