//! Rings to polygons. A shapefile lists the rings of a shape without saying which hole belongs to
//! which exterior.
//!
//! The format winds exteriors clockwise and holes the other way, but many programs do not. So the
//! rule is containment: a ring inside an odd number of other rings is a hole of the smallest ring
//! around it, any other ring is an exterior. Where the winding says something else, that is told:
//! if it is only the other way round throughout, nothing is in doubt; but a ring wound like the ring
//! around it could also be meant as a polygon on top of it, which is how GDAL reads it.

use super::super::{Path, Xy};
use crate::geometry::csr::Csr;
use rstar::RTree;
use rstar::primitives::{GeomWithData, Rectangle};
use std::cell::OnceCell;
use std::cmp::Reverse;

/// Polygons, the exterior of each first, in the order of the exteriors in the file.
pub(super) struct Assembled {
    pub(super) polygons: Vec<Vec<Path>>,
    pub(super) winding: Winding,
}

/// How the winding fits what the rings are.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub(super) enum Winding {
    /// As the format demands.
    Right,
    /// Not as the format demands, but every hole is wound against its exterior.
    Reversed,
    /// A hole is wound like its exterior.
    Doubtful,
}

pub(super) fn assemble(rings: Vec<Path>) -> Assembled {
    let frames: Vec<Frame> = rings.iter().map(|ring| Frame::of(ring)).collect();
    let mut order: Vec<usize> = (0..rings.len()).collect();
    // From large to small; the ring listed first wins a tie, so a twin is never inside its twin.
    order.sort_by(|&a, &b| {
        size(&frames, b)
            .total_cmp(&size(&frames, a))
            .then(a.cmp(&b))
    });
    let boxes = order.iter().enumerate().filter_map(|(rank, &ring)| {
        let frame = frames.get(ring).filter(|frame| frame.placed)?;
        let corners = Rectangle::from_corners(frame.low, frame.high);
        Some(GeomWithData::new(corners, (rank, ring)))
    });
    // One shape may have many thousands of rings.
    let boxes = RTree::bulk_load(boxes.collect());
    let outlines: Vec<OnceCell<Outline>> = rings.iter().map(|_| OnceCell::new()).collect();
    let is_inside = |inner: &Path, outer: usize| {
        inside(
            inner,
            outlines[outer].get_or_init(|| Outline::of(&rings[outer])),
        )
    };
    let mut found: Vec<Placed> = vec![Placed::default(); rings.len()];
    for (rank, &ring) in order.iter().enumerate() {
        let (path, frame) = (&rings[ring], &frames[ring]);
        if !frame.placed {
            continue;
        }
        // Larger rings whose box holds this one, the smallest first.
        let larger = boxes.locate_all_at_point(&frame.low).map(|of| of.data);
        let mut larger: Vec<(usize, usize)> = larger
            .filter(|&(other_rank, other)| other_rank < rank && frames[other].holds(frame))
            .collect();
        larger.sort_unstable_by_key(|&(other_rank, _)| Reverse(other_rank));
        let mut larger = larger.into_iter().map(|(_, other)| other);
        let around = larger.find(|&other| is_inside(path, other));
        let depth = around.map_or(0, |other| found[other].depth + 1);
        found[ring] = Placed { depth, around };
    }
    collect(rings, &frames, &found)
}

/// How many rings lie around a ring, and the smallest of them.
#[derive(Clone, Copy, Default)]
struct Placed {
    depth: usize,
    around: Option<usize>,
}

fn collect(rings: Vec<Path>, frames: &[Frame], found: &[Placed]) -> Assembled {
    let is_hole = |placed: &Placed| placed.depth % 2 == 1;
    let mut winding = Winding::Right;
    // Where in the list of polygons each exterior went.
    let mut at: Vec<Option<usize>> = vec![None; rings.len()];
    let mut polygons: Vec<Vec<Path>> = Vec::new();
    let mut holes: Vec<(usize, Path)> = Vec::new();
    for (((ring, frame), placed), at) in rings.into_iter().zip(frames).zip(found).zip(&mut at) {
        // Counter-clockwise (a positive area) is a hole by the format; no area has no winding.
        if frame.area != 0.0 && is_hole(placed) != (frame.area > 0.0) {
            winding = winding.max(Winding::Reversed);
        }
        let around = placed.around.and_then(|around| frames.get(around));
        if is_hole(placed) && around.is_some_and(|around| around.area * frame.area > 0.0) {
            winding = Winding::Doubtful;
        }
        match placed.around {
            Some(around) if is_hole(placed) => holes.push((around, ring)),
            _ => {
                *at = Some(polygons.len());
                polygons.push(vec![ring]);
            }
        }
    }
    for (around, hole) in holes {
        // What lies around a ring of odd depth has even depth, so it is an exterior.
        match at
            .get(around)
            .copied()
            .flatten()
            .and_then(|at| polygons.get_mut(at))
        {
            Some(polygon) => polygon.push(hole),
            None => polygons.push(vec![hole]),
        }
    }
    Assembled { polygons, winding }
}

/// Extent and signed area of a ring.
struct Frame {
    low: Xy,
    high: Xy,
    /// Positive if counter-clockwise.
    area: f64,
    /// Whether it has points, and all are somewhere.
    placed: bool,
}

impl Frame {
    fn of(ring: &[Xy]) -> Self {
        let mut frame = Self {
            low: [f64::INFINITY; 2],
            high: [f64::NEG_INFINITY; 2],
            area: 0.0,
            placed: !ring.is_empty() && ring.iter().flatten().all(|at| at.is_finite()),
        };
        let Some(&[x0, y0]) = ring.first() else {
            return frame;
        };
        for &[x, y] in ring {
            frame.low = [frame.low[0].min(x), frame.low[1].min(y)];
            frame.high = [frame.high[0].max(x), frame.high[1].max(y)];
        }
        // Relative to a point of the ring: coordinates far from zero would cost the digits.
        for (a, b) in edges(ring) {
            frame.area += ((a[0] - x0) * (b[1] - y0) - (b[0] - x0) * (a[1] - y0)) / 2.0;
        }
        frame
    }

    fn holds(&self, other: &Self) -> bool {
        (0..2).all(|axis| {
            self.low.get(axis) <= other.low.get(axis) && other.high.get(axis) <= self.high.get(axis)
        })
    }
}

fn size(frames: &[Frame], ring: usize) -> f64 {
    frames.get(ring).map_or(0.0, |frame| frame.area.abs())
}

/// Edges of a ring, closed whether or not the file repeats the first point.
fn edges(ring: &[Xy]) -> impl Iterator<Item = (&Xy, &Xy)> {
    ring.iter().zip(ring.iter().cycle().skip(1))
}

/// A ring with its edges by height, so that a point is held only against those at its height.
struct Outline<'a> {
    ring: &'a [Xy],
    low: f64,
    /// Bands in one unit of height.
    scale: f64,
    bands: Csr<u32>,
}

impl<'a> Outline<'a> {
    fn of(ring: &'a [Xy]) -> Self {
        let heights = || ring.iter().map(|at| at[1]);
        let low = heights().fold(f64::INFINITY, f64::min);
        let height = heights().fold(f64::NEG_INFINITY, f64::max) - low;
        let climbed: f64 = edges(ring).map(|(a, b)| (b[1] - a[1]).abs()).sum();
        // So many that an edge lies in few bands.
        let most = ring.len().max(1);
        let count = (2.0 * most as f64 * height / climbed) as usize;
        let count = count.clamp(1, most);
        let mut outline = Self {
            ring,
            low,
            scale: count as f64 / height,
            bands: Csr::new(),
        };
        let mut pairs = Vec::with_capacity(2 * most);
        for ((a, b), edge) in edges(ring).zip(0..) {
            let bands = [a[1].min(b[1]), a[1].max(b[1])].map(|y| outline.band(y, count));
            pairs.extend((bands[0]..=bands[1]).map(|band| (band as u32, edge)));
        }
        outline.bands = Csr::from_pairs(count, &pairs);
        outline
    }

    /// The band of a height; a cast holds what lies outside, or has no height, at the ends.
    fn band(&self, y: f64, count: usize) -> usize {
        (((y - self.low) * self.scale) as usize).min(count - 1)
    }

    /// The edges that reach a height, and some beside it.
    fn at(&self, y: f64) -> impl Iterator<Item = (&Xy, &Xy)> {
        let band = self.bands.list(self.band(y, self.bands.len()));
        band.iter().filter_map(|&edge| {
            let from = self.ring.get(edge as usize)?;
            Some((
                from,
                self.ring.get(edge as usize + 1).or(self.ring.first())?,
            ))
        })
    }
}

/// Whether a ring lies inside another that is not smaller and whose box holds its box. They may touch.
fn inside(inner: &[Xy], outer: &Outline) -> bool {
    // Corners on the other ring say nothing. Where rounding has moved a touching corner a hair to
    // the other side, the majority decides; three corners of one mind are taken for all.
    let mut votes = [0_usize; 2];
    let corners = inner.iter().copied();
    let middles = edges(inner).map(|(a, b)| [(a[0] + b[0]) / 2.0, (a[1] + b[1]) / 2.0]);
    for point in corners.chain(middles) {
        match side(point, outer) {
            Side::In => votes[0] += 1,
            Side::Out => votes[1] += 1,
            Side::On => {}
        }
        if votes == [3, 0] || votes == [0, 3] {
            break;
        }
    }
    votes[0] > votes[1]
}

#[derive(Debug, PartialEq, Eq)]
enum Side {
    In,
    Out,
    On,
}

/// Which side of a ring a point lies on, by the crossings of a ray to the east.
fn side([x, y]: Xy, outer: &Outline) -> Side {
    let mut within = false;
    for (&[ax, ay], &[bx, by]) in outer.at(y) {
        let turn = (bx - ax) * (y - ay) - (by - ay) * (x - ax);
        let beside = ax.min(bx) <= x && x <= ax.max(bx) && ay.min(by) <= y && y <= ay.max(by);
        if turn == 0.0 && beside {
            return Side::On;
        }
        // Half-open in y, so that a corner at the height of the ray counts once.
        if (ay > y) != (by > y) && (turn > 0.0) == (by > ay) {
            within = !within;
        }
    }
    match within {
        true => Side::In,
        false => Side::Out,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A square, clockwise as the format has exteriors.
    fn square(west: f64, south: f64, edge: f64) -> Path {
        let (east, north) = (west + edge, south + edge);
        vec![
            [west, south],
            [west, north],
            [east, north],
            [east, south],
            [west, south],
        ]
    }

    fn reversed(mut ring: Path) -> Path {
        ring.reverse();
        ring
    }

    #[test]
    fn two_polygons_with_a_hole_each() {
        let rings = vec![
            square(0.0, 0.0, 10.0),
            square(20.0, 0.0, 10.0),
            reversed(square(21.0, 1.0, 2.0)),
            reversed(square(1.0, 1.0, 2.0)),
        ];
        let assembled = assemble(rings.clone());
        assert_eq!(assembled.winding, Winding::Right);
        assert_eq!(
            assembled.polygons,
            [
                vec![rings[0].clone(), rings[3].clone()],
                vec![rings[1].clone(), rings[2].clone()]
            ]
        );
    }

    #[test]
    fn an_island_in_a_hole_is_a_polygon_and_may_have_a_hole() {
        let rings = vec![
            square(4.0, 4.0, 2.0),
            reversed(square(4.5, 4.5, 1.0)),
            reversed(square(2.0, 2.0, 6.0)),
            square(0.0, 0.0, 10.0),
        ];
        let assembled = assemble(rings.clone());
        assert_eq!(assembled.winding, Winding::Right);
        assert_eq!(
            assembled.polygons,
            [
                vec![rings[0].clone(), rings[1].clone()],
                vec![rings[3].clone(), rings[2].clone()]
            ]
        );
    }

    #[test]
    fn wrong_winding_is_seen_through_and_told() {
        let rings = vec![square(0.0, 0.0, 10.0), square(1.0, 1.0, 2.0)];
        let all_reversed = rings.iter().cloned().map(reversed).collect();
        let swapped = vec![reversed(square(0.0, 0.0, 10.0)), square(1.0, 1.0, 2.0)];
        for (rings, winding) in [
            (rings, Winding::Doubtful),
            (all_reversed, Winding::Doubtful),
            (swapped, Winding::Reversed),
        ] {
            let assembled = assemble(rings.clone());
            assert_eq!(assembled.winding, winding);
            assert_eq!(assembled.polygons, [rings]);
        }
    }

    #[test]
    fn a_hole_that_touches_its_exterior_is_still_a_hole() {
        // One corner on the exterior's edge, the others inside; listed from the touching corner.
        let hole = vec![[0.0, 5.0], [2.0, 4.0], [2.0, 6.0], [0.0, 5.0]];
        let assembled = assemble(vec![square(0.0, 0.0, 10.0), hole]);
        assert_eq!(assembled.polygons.len(), 1);
        // All corners on the exterior: a diamond in a square.
        let diamond = vec![[5.0, 0.0], [10.0, 5.0], [5.0, 10.0], [0.0, 5.0], [5.0, 0.0]];
        let assembled = assemble(vec![square(0.0, 0.0, 10.0), diamond]);
        assert_eq!(assembled.polygons.len(), 1);
    }

    /// A field of rings in rings, two thousand of them, in any order: every ring goes where it lies. Points that are
    /// nowhere hold nothing.
    #[test]
    fn many_rings_find_their_exteriors() {
        let mut rings = vec![vec![[f64::NAN, 0.0], [1.0, f64::INFINITY], [2.0, 2.0]]];
        for k in 0..500 {
            let (x, y) = (f64::from(k % 25) * 10.0, f64::from(k / 25) * 10.0);
            rings.push(reversed(square(x + 1.0, y + 1.0, 6.0)));
            rings.push(square(x, y, 9.0));
            rings.push(square(x + 2.0, y + 2.0, 3.0));
            rings.push(reversed(square(x + 2.5, y + 2.5, 1.0)));
        }
        let assembled = assemble(rings);
        assert_eq!(assembled.winding, Winding::Right);
        assert_eq!(assembled.polygons.len(), 1001);
        for polygon in assembled.polygons.iter().skip(1) {
            let [exterior, hole] = polygon.as_slice() else {
                panic!("{polygon:?}");
            };
            let [gap, edge] = [
                hole[0][0] - exterior[0][0],
                (hole[2][0] - hole[0][0])
                    .abs()
                    .max((hole[2][1] - hole[0][1]).abs()),
            ];
            assert!(
                [[1.0, 6.0], [0.5, 1.0]].contains(&[gap, edge]),
                "{polygon:?}"
            );
        }
    }

    #[test]
    fn neighbours_twins_and_empty_rings_are_not_inside_each_other() {
        let assembled = assemble(vec![square(0.0, 0.0, 1.0), square(1.0, 0.0, 1.0)]);
        assert_eq!(assembled.polygons.len(), 2);
        let assembled = assemble(vec![square(0.0, 0.0, 1.0), square(0.0, 0.0, 1.0)]);
        assert_eq!(assembled.polygons.len(), 2);
        let assembled = assemble(vec![Vec::new(), square(0.0, 0.0, 1.0)]);
        assert_eq!(assembled.polygons.len(), 2);
    }
}
