//! The region on one side of a guide line, moved inwards by one width after the other.
//!
//! Each is moved from the region itself as long as that takes no more than the points of its border. Far beside a line that winds it
//! does: the arcs around its bends are long, and each crosses all others. From there on a region is moved from the one before it, by one
//! width, for what lies so far from a line lies one width from its parallel before. Chords and rounding do not add up: each point is
//! put where it ought to be, so far from the line.

use super::path::on_grid;
use crate::geometry::offset::{ARC_TOLERANCE_M, inset, inset_plain};
use crate::geometry::thin::thinned;
use crate::geometry::{Ring, Shape};
use rstar::RTree;
use rstar::primitives::Line;

/// Points of a parallel moved from the one before lie within this of where they ought to be, m; others are far from the field,
/// on what closes the region.
const NEAR_M: f64 = 0.01;

/// The straight pieces of a guide line, by where they lie.
pub(super) struct Guide(RTree<Line<[f64; 2]>>);

impl Guide {
    pub(super) fn of(line: &[[f64; 2]]) -> Self {
        let pieces = line.windows(2).map(|pair| Line::new(pair[0], pair[1]));
        Self(RTree::bulk_load(pieces.collect()))
    }

    /// The place this far from the line beside where a place near it lies.
    fn placed(&self, place: [f64; 2], distance_m: f64) -> [f64; 2] {
        let Some(piece) = self.0.nearest_neighbor(&place) else {
            return place;
        };
        let foot = piece.nearest_point(&place);
        let way = [place[0] - foot[0], place[1] - foot[1]];
        let away_m = way[0].hypot(way[1]);
        if (away_m - distance_m).abs() > NEAR_M {
            return place;
        }
        let times = distance_m / away_m;
        [foot[0] + times * way[0], foot[1] + times * way[1]]
    }
}

/// Regions that lie 1, 2, 3 and more widths beside a line.
pub(super) struct Parallels<'a> {
    guide: &'a Guide,
    width_m: f64,
    region: Vec<Shape>,
    /// The one made last.
    last: Vec<Shape>,
    count: usize,
    is_plain: bool,
}

impl<'a> Parallels<'a> {
    /// Those of a region with the line as its border, but for what is far away.
    pub(super) fn of(region: Option<Shape>, guide: &'a Guide, width_m: f64) -> Self {
        let region: Vec<Shape> = region.into_iter().collect();
        Self {
            guide,
            width_m,
            last: region.clone(),
            region,
            count: 0,
            is_plain: true,
        }
    }

    /// The next of them; none where nothing is left.
    pub(super) fn advance(&mut self) -> &[Shape] {
        self.count += 1;
        let distance_m = self.count as f64 * self.width_m;
        let plain = self.is_plain.then(|| inset_plain(&self.region, distance_m));
        let plain = plain.flatten();
        self.is_plain = plain.is_some();
        self.last = plain.unwrap_or_else(|| {
            let moved = inset(&self.last, self.width_m).into_iter();
            moved
                .filter_map(|shape| self.placed(&shape, distance_m))
                .collect()
        });
        &self.last
    }

    fn placed(&self, shape: &Shape, distance_m: f64) -> Option<Shape> {
        let ring = |ring: &Ring| self.placed_ring(ring, distance_m);
        Some(Shape {
            exterior: ring(&shape.exterior)?,
            holes: shape.holes.iter().filter_map(ring).collect(),
        })
    }

    /// Each point this far from the line, and no more of them than arcs need; `None` where nothing is left.
    fn placed_ring(&self, ring: &Ring, distance_m: f64) -> Option<Ring> {
        let places = ring.iter().map(|point| point.metres());
        let mut line: Vec<[f64; 2]> = places
            .map(|place| self.guide.placed(place, distance_m))
            .collect();
        line.extend(line.first().copied());
        // A ring has no ends: two halves have.
        let (first, second) = (line.get(..=ring.len() / 2)?, line.get(ring.len() / 2..)?);
        let mut thin = thinned(first, ARC_TOLERANCE_M / 2.0);
        thin.pop();
        thin.extend(thinned(second, ARC_TOLERANCE_M / 2.0));
        thin.pop();
        on_grid(&thin).filter(|ring| ring.len() > 2)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::geometry::Pt;
    use crate::geometry::thin::distance_m;

    /// A line that winds from south to north, with bends of this radius that lead so far beyond a half turn, and the land to its right.
    fn winding(bends: u32, radius: f64, beyond: f64) -> (Vec<[f64; 2]>, Shape) {
        let turn = std::f64::consts::FRAC_PI_2 + beyond;
        let mut line = vec![[0.0, -2_000.0]];
        let step_m = 2.0 * radius * turn.sin();
        for bend in 0..bends {
            let side = if bend % 2 == 0 { 1.0 } else { -1.0 };
            let middle = [
                -side * radius * turn.cos(),
                (f64::from(bend) + 0.5) * step_m,
            ];
            for part in 0..10 {
                let angle = turn * (f64::from(part) / 5.0 - 1.0);
                line.push([
                    middle[0] + side * radius * angle.cos(),
                    middle[1] + radius * angle.sin(),
                ]);
            }
        }
        line.push([0.0, f64::from(bends) * step_m]);
        line.push([0.0, f64::from(bends) * step_m + 2_000.0]);
        let ends = [line[line.len() - 1], line[0]];
        let far = ends.map(|[_, y]| [4_000.0, y]);
        let ring = line.iter().rev().copied().chain([far[1], far[0]]);
        let exterior = ring.map(|at| Pt::from_metres(at).unwrap()).collect();
        let region = Shape {
            exterior,
            holes: Vec::new(),
        };
        (line, region)
    }

    /// Places of a parallel near the bends.
    fn near(shapes: &[Shape]) -> Vec<[f64; 2]> {
        let points = shapes.iter().flat_map(Shape::rings).flatten();
        let places = points.map(|point| point.metres());
        places
            .filter(|[x, y]| *x < 1_500.0 && (-500.0..1_500.0).contains(y))
            .collect()
    }

    fn away_m(line: &[[f64; 2]], place: [f64; 2]) -> f64 {
        let pieces = line
            .windows(2)
            .map(|pair| distance_m(place, [pair[0], pair[1]]));
        pieces.fold(f64::MAX, f64::min)
    }

    /// 28 m bends and a 6 m drill, as far as land of 20 ha reaches: each parallel has the points of its own bends, and they lie where
    /// they ought to, however many parallels there are before.
    #[test]
    fn parallels_of_a_winding_line_keep_their_distance_and_do_not_grow() {
        let (line, region) = winding(11, 28.0, 0.6);
        let guide = Guide::of(&line);
        let mut parallels = Parallels::of(Some(region), &guide, 6.0);
        let mut most = 0;
        for nth in 1..=100 {
            let shapes = parallels.advance().to_vec();
            let places = near(&shapes);
            assert!(!places.is_empty(), "{nth}");
            most = most.max(places.len());
            for place in places {
                let off_m = away_m(&line, place) - 6.0 * f64::from(nth);
                assert!(off_m.abs() < 2e-3, "{nth}: {off_m}");
            }
        }
        assert!(!parallels.is_plain);
        // All bends together turn by 24 half turns; chords of arcs of 6 m and more turn by 2 degrees and less.
        assert!(most < 30 * line.len(), "{most}");
    }

    /// Moved from the one before, as moved from the region itself.
    #[test]
    fn moved_step_by_step_a_region_is_the_same() {
        for beyond in [-0.9, -0.4, 0.3] {
            let (line, region) = winding(5, 28.0, beyond);
            let guide = Guide::of(&line);
            let mut parallels = Parallels::of(Some(region.clone()), &guide, 6.0);
            parallels.is_plain = false;
            for nth in 1..=12 {
                let shapes = parallels.advance().to_vec();
                let whole = inset(std::slice::from_ref(&region), 6.0 * f64::from(nth));
                let m2 = |shapes: &[Shape]| shapes.iter().map(Shape::area_m2).sum::<f64>();
                // A millimetre along a way of less than 5 km, and as much at what closes the region.
                let off_m2 = (m2(&shapes) - m2(&whole)).abs();
                assert!(off_m2 < 10.0, "{beyond} {nth}: {off_m2}");
                assert_eq!(shapes.len(), whole.len(), "{beyond} {nth}");
            }
        }
    }

    /// Beside a line that bends gently nothing is made of the one before.
    #[test]
    fn gentle_lines_are_moved_as_a_whole() {
        let line: Vec<[f64; 2]> = (0..60)
            .map(|nth| {
                let share = f64::from(nth) / 59.0;
                [20.0 * (share * std::f64::consts::PI).sin(), 400.0 * share]
            })
            .collect();
        let mut corners = line.clone();
        corners.reverse();
        corners.extend([[900.0, 0.0], [900.0, 400.0]]);
        let region = Shape {
            exterior: on_grid(&corners).unwrap(),
            holes: Vec::new(),
        };
        let guide = Guide::of(&line);
        let mut parallels = Parallels::of(Some(region.clone()), &guide, 6.0);
        for nth in 1..=40 {
            let whole = inset(std::slice::from_ref(&region), 6.0 * f64::from(nth));
            assert_eq!(parallels.advance(), whole);
        }
    }
}
