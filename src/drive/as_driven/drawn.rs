//! Shapes for a map: on a grid of a millimetre, so that they stay valid when a file rounds their degrees.

use crate::geometry::{Overlay, Pt, Ring, Shape};

/// Bits of the plane's grid that are rounded away: 2^-20 m become 2^-10 m.
const BITS: u32 = 10;

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
