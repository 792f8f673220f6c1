//! Straight lines of one direction along which many borders run, such as the rims of bouts side by side.
//!
//! What runs along such a line is led through all corners on it, so that borders beside each other are made of the same steps before
//! any search for crossings, which would otherwise find each of them lying upon each other.

use super::point::{Pt, UNITS_PER_M};
use super::shape::Ring;
use std::cmp::Ordering;

/// Lines of one direction.
pub struct SharedLines {
    /// Of length 1.
    along: [f64; 2],
    /// How far to the left of the origin each lies, in units, ascending.
    left: Vec<f64>,
}

/// Corners no farther from a line lie on it, units: rounding to the grid moves a corner by less than one.
const ON_LINE: f64 = 1.0;

/// A corner on a line, by number, and how far along.
#[derive(Clone, Copy)]
struct Corner {
    line: usize,
    along: f64,
    place: Pt,
}

impl Corner {
    fn by_place(&self, other: &Self) -> Ordering {
        self.line
            .cmp(&other.line)
            .then(self.along.total_cmp(&other.along))
            .then(self.place.cmp(&other.place))
    }
}

impl SharedLines {
    /// Lines in a direction of length 1, each through a place; metres. Of lines that lie together one counts.
    pub fn of(along: [f64; 2], places: impl Iterator<Item = [f64; 2]>) -> Self {
        let [east, north] = along;
        let left = places.map(|[x, y]| (y * east - x * north) * UNITS_PER_M);
        let mut left: Vec<f64> = left.collect();
        left.sort_by(f64::total_cmp);
        left.dedup_by(|next, kept| *next - *kept < 2.0 * ON_LINE);
        Self { along, left }
    }

    /// The place of a corner on its line; `None` for one that lies on none.
    fn corner(&self, place: Pt) -> Option<Corner> {
        let [east, north] = self.along;
        let [x, y] = [place.x as f64, place.y as f64];
        let left = y * east - x * north;
        let line = self.left.partition_point(|line| *line < left - ON_LINE);
        let near = self.left.get(line)? - left <= ON_LINE;
        near.then_some(Corner {
            line,
            along: x * east + y * north,
            place,
        })
    }

    /// Leads the sides of rings that run along a line through all corners on it.
    pub fn lead(&self, rings: &mut [Ring]) {
        if self.left.is_empty() {
            return;
        }
        let all = rings.iter().flatten();
        let mut corners: Vec<Corner> = all.filter_map(|place| self.corner(*place)).collect();
        corners.sort_unstable_by(Corner::by_place);
        corners.dedup_by(|next, kept| next.place == kept.place);
        let mut led = Ring::new();
        for ring in rings {
            led.clear();
            let mut before = ring.last().and_then(|place| self.corner(*place));
            for &place in ring.iter() {
                let here = self.corner(place);
                if let (Some(from), Some(to)) = (before, here)
                    && from.line == to.line
                {
                    let between = |from: &Corner, to: &Corner| {
                        let first = corners.partition_point(|of| of.by_place(from).is_le());
                        let end = corners.partition_point(|of| of.by_place(to).is_lt());
                        corners[first..end.max(first)].iter().map(|of| of.place)
                    };
                    match from.by_place(&to).is_lt() {
                        true => led.extend(between(&from, &to)),
                        false => led.extend(between(&to, &from).rev()),
                    }
                }
                led.push(place);
                before = here;
            }
            // The steps between the last corner and the first came before the first.
            if led.len() > ring.len() {
                ring.clone_from(&led);
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::super::Overlay;
    use super::super::shape::Shape;
    use super::*;

    fn strips(seed: u64, heading: f64) -> (SharedLines, Vec<Ring>) {
        let mut state = seed;
        let mut random = || {
            state = state
                .wrapping_mul(6_364_136_223_846_793_005)
                .wrapping_add(1_442_695_040_888_963_407);
            (state >> 11) as f64 / (1_u64 << 53) as f64
        };
        let (sine, cosine) = heading.sin_cos();
        let back = |[u, v]: [f64; 2]| [u * cosine - v * sine, u * sine + v * cosine];
        let mut rings = Vec::new();
        for strip in 0..12 {
            let [right, left] = [6.0 * f64::from(strip), 6.0 * f64::from(strip + 1)];
            let mut from = 10.0 * random();
            while from < 300.0 {
                let to = from + 0.5 + 60.0 * random();
                let corners = [[from, right], [to, right], [to, left], [from, left]];
                let corners = corners.map(|at| Pt::from_metres(back(at)).unwrap());
                rings.push(corners.to_vec());
                from = to;
            }
        }
        let places = (0..13).map(|nth| back([0.0, 6.0 * f64::from(nth)]));
        (SharedLines::of([cosine, sine], places), rings)
    }

    /// Areas by how many rings lie on them, and how many faces there are.
    fn arranged(rings: &[Ring]) -> ([f64; 3], usize) {
        let mut overlay = Overlay::default();
        for ring in rings {
            overlay.add(Shape {
                exterior: ring.clone(),
                holes: Vec::new(),
            });
        }
        let arrangement = overlay.arrange();
        let mut m2 = [0.0; 3];
        for face in 1..arrangement.faces() as u32 {
            let covering = overlay.covering(&arrangement, face).len();
            m2[covering.min(2)] += arrangement.area_m2(face);
        }
        (m2, arrangement.faces())
    }

    #[test]
    fn strips_side_by_side_share_their_rims_and_no_slivers_are_left() {
        for seed in 0..8 {
            let (lines, rings) = strips(seed, 0.3 + 0.7 * seed as f64);
            let mut led = rings.clone();
            lines.lead(&mut led);
            let ([before, after], one_each) = ([&rings, &led].map(|of| arranged(of)), rings.len());
            // Each face is a piece of a strip; the outside is one more.
            assert_eq!(after.1, one_each + 1, "{seed}");
            for (a, b) in before.0.iter().zip(after.0) {
                assert!((a - b).abs() < 5e-3, "{seed}: {a} {b}");
            }
            assert!(after.0[2] < 1e-9, "{seed}: {}", after.0[2]);
            for (before, after) in rings.iter().zip(&led) {
                let mut corners = after.iter();
                let kept = before.iter().all(|corner| corners.any(|at| at == corner));
                assert!(kept, "{seed}");
            }
        }
    }

    #[test]
    fn what_runs_across_a_line_is_left_alone() {
        let (lines, _) = strips(1, 0.4);
        let across = |at: &[[f64; 2]]| at.iter().map(|at| Pt::from_metres(*at).unwrap()).collect();
        let mut rings: Vec<Ring> = vec![across(&[[0.0, 0.0], [90.0, 10.0], [20.0, 70.0]])];
        let before = rings.clone();
        lines.lead(&mut rings);
        assert_eq!(rings, before);
    }
}
