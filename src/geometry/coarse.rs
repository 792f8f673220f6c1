//! Shapes on a coarser grid, so that they stay valid when a file rounds their degrees.

use super::overlay::Overlay;
use super::point::Pt;
use super::shape::{Ring, Shape};

/// The same groups of shapes, noded and dissolved again on a grid of 2^`bits` units; slivers thinner than it go. No
/// point comes nearer than half a step to a border that does not end in it. Where rounding makes two overlap, the
/// lower group has the land.
pub fn coarse(shapes: Vec<(u32, Shape)>, bits: u32) -> Vec<(u32, Shape)> {
    let rounded = |v: i64| (v + (1 << (bits - 1))) >> bits;
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
            covering.map(|polygon| group_of[polygon as usize]).min()
        })
        .collect();
    let back = |v: i64| v << bits;
    arrangement
        .dissolve(&groups)
        .into_iter()
        .map(|(group, shape)| (group, each(shape, &back)))
        .collect()
}
