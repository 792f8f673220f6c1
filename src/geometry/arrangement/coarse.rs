//! Faces of a group united into shapes on a coarser grid: their borders go onto it as they are, each once.

use super::dissolve::pieces;
use super::{Arrangement, OUTSIDE};
use crate::geometry::noding::{Noded, Passage};
use crate::geometry::point::Pt;
use crate::geometry::shape::{Ring, Shape};

/// See [`Arrangement::coarse`].
pub(super) fn shapes(
    arrangement: &Arrangement,
    group: &[Option<u32>],
    bits: u32,
) -> Vec<(u32, Shape)> {
    let piece_of = pieces(arrangement, group);
    let rounded = |v: i64| (v + (1 << (bits - 1))) >> bits;
    let lines = arrangement.ways().filter_map(|(way, sides)| {
        let [left, right] = sides.map(|face| group[face as usize]);
        let points = way.iter().map(|point| Pt {
            x: rounded(point.x),
            y: rounded(point.y),
        });
        let passages = sides.iter().zip([1, -1]).filter_map(|(face, count)| {
            group[*face as usize].map(|_| Passage {
                source: piece_of[*face as usize],
                count,
            })
        });
        (left != right).then(|| (points.collect(), passages.collect()))
    });
    let coarse = Arrangement::of(Noded::of_lines(lines));
    // Where rounding makes two pieces overlap, the lower group has the land.
    let lowest = |face: u32| {
        let windings = coarse.windings(face).iter();
        let pieces = windings.filter(|winding| winding.count > 0 && face != OUTSIDE);
        pieces.filter_map(|of| group[of.source as usize]).min()
    };
    let groups: Vec<Option<u32>> = (0..coarse.faces() as u32).map(lowest).collect();
    let back = |ring: Ring| -> Ring {
        let points = ring.into_iter().map(|point| Pt {
            x: point.x << bits,
            y: point.y << bits,
        });
        points.collect()
    };
    let shapes = coarse.dissolve(&groups).into_iter();
    let shapes = shapes.map(|(group, shape)| {
        let shape = Shape {
            exterior: back(shape.exterior),
            holes: shape.holes.into_iter().map(back).collect(),
        };
        (group, shape)
    });
    shapes.collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::geometry::Overlay;
    use crate::geometry::coarse::coarse;

    /// Triangles thrown at random, grouped by how many lie on a face: as their shapes put onto the coarse grid one by one.
    #[test]
    fn borders_rounded_once_make_the_shapes_that_rings_make() {
        let mut state = 11_u64;
        let mut random = || {
            state = state
                .wrapping_mul(6_364_136_223_846_793_005)
                .wrapping_add(1_442_695_040_888_963_407);
            ((state >> 33) % 200_000_000) as i64
        };
        let mut compared = 0;
        for _ in 0..20 {
            let mut overlay = Overlay::default();
            for _ in 0..12 {
                let exterior: Ring = [0; 3]
                    .map(|_| Pt {
                        x: random(),
                        y: random(),
                    })
                    .to_vec();
                overlay.add(Shape {
                    exterior,
                    holes: Vec::new(),
                });
            }
            let arrangement = overlay.arrange();
            let group: Vec<Option<u32>> = (0..arrangement.faces() as u32)
                .map(|face| {
                    let count = overlay.covering(&arrangement, face).len() as u32;
                    (count > 0).then_some(count % 3)
                })
                .collect();
            let wanted = coarse(arrangement.dissolve(&group), 10);
            assert_eq!(arrangement.coarse(&group, 10), wanted);
            compared += wanted.len();
        }
        assert!(compared > 400, "{compared}");
    }
}
