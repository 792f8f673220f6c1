//! What lies within a distance of points that are close together, as one ring, however many they are.
//!
//! Method: all points lie within half the distance of a middle. So the middle lies in the circle around each of them, and a ray
//! from it leaves each circle once: the ring is, for each direction, the circle that is left last. Two circles of one size
//! cross twice at most, so the rings of two halves of the points are put together interval by interval.

use super::super::point::Pt;
use super::super::shape::Ring;
use super::chords;
use std::f64::consts::{PI, TAU};

/// Directions nearer to each other than this are the same.
const SAME_DIRECTION: f64 = 1e-9;

/// Points around a middle, and how far from each of them the ring runs; in units of the grid.
pub(super) struct Reach {
    middle: [f64; 2],
    distance: f64,
}

/// From this direction on, up to the next entry's, a circle is the one that is left last.
#[derive(Clone, Copy)]
struct Arc {
    from: f64,
    /// The middle of the circle, from the middle of all.
    centre: [f64; 2],
}

impl Reach {
    /// `middle` has all points within half the distance.
    pub(super) fn of(middle: [f64; 2], distance: f64) -> Self {
        Self { middle, distance }
    }

    /// The points whose circles reach the ring; the others say nothing about it.
    pub(super) fn deciding(&self, points: &[Pt]) -> Vec<Pt> {
        let mut deciding: Vec<Pt> = self
            .arcs(points)
            .into_iter()
            .map(|arc| self.placed(arc.centre))
            .collect();
        deciding.sort_unstable();
        deciding.dedup();
        deciding
    }

    /// The ring, anticlockwise.
    pub(super) fn ring(&self, points: &[Pt]) -> Ring {
        let arcs = self.arcs(points);
        let ends = arcs.iter().skip(1).map(|arc| arc.from).chain([PI]);
        let mut ring = Ring::new();
        for (arc, end) in arcs.iter().zip(ends) {
            if end - arc.from < SAME_DIRECTION {
                continue;
            }
            let [start, stop] = [arc.from, end].map(|direction| {
                let [x, y] = self.left_at(arc.centre, direction);
                (y - arc.centre[1]).atan2(x - arc.centre[0])
            });
            let turn = match arcs.len() {
                1 => TAU,
                _ => (stop - start).rem_euclid(TAU),
            };
            let chords = chords(self.distance, turn);
            ring.extend((0..chords).map(|nth| {
                let (sine, cosine) = (start + turn * f64::from(nth) / f64::from(chords)).sin_cos();
                self.placed([
                    arc.centre[0] + self.distance * cosine,
                    arc.centre[1] + self.distance * sine,
                ])
            }));
        }
        ring
    }

    fn placed(&self, [x, y]: [f64; 2]) -> Pt {
        Pt {
            x: (self.middle[0] + x).round() as i64,
            y: (self.middle[1] + y).round() as i64,
        }
    }

    /// From -pi to pi the circles that are left last.
    fn arcs(&self, points: &[Pt]) -> Vec<Arc> {
        match points {
            [] => Vec::new(),
            [point] => vec![Arc {
                from: -PI,
                centre: [
                    point.x as f64 - self.middle[0],
                    point.y as f64 - self.middle[1],
                ],
            }],
            more => {
                let (some, others) = more.split_at(more.len() / 2);
                self.together(&self.arcs(some), &self.arcs(others))
            }
        }
    }

    fn together(&self, some: &[Arc], others: &[Arc]) -> Vec<Arc> {
        let mut all: Vec<Arc> = Vec::with_capacity(some.len() + others.len());
        let (mut at, mut other_at) = (0, 0);
        let mut from = -PI;
        while let (Some(one), Some(other)) = (some.get(at), others.get(other_at)) {
            let next = |arcs: &[Arc], at: usize| arcs.get(at + 1).map_or(PI, |arc| arc.from);
            let (end, other_end) = (next(some, at), next(others, other_at));
            let to = end.min(other_end);
            let mut from_here = from;
            let mut cuts = self.crossings(one.centre, other.centre);
            cuts.sort_unstable_by(f64::total_cmp);
            let inside = cuts.into_iter().filter(|cut| *cut > from && *cut < to);
            for cut in inside.chain([to]) {
                let middle = (from_here + cut) / 2.0;
                let [a, b] = [one, other].map(|arc| self.leaves(arc.centre, middle));
                let centre = if a >= b { one.centre } else { other.centre };
                if all.last().is_none_or(|last| last.centre != centre) {
                    all.push(Arc {
                        from: from_here,
                        centre,
                    });
                }
                from_here = cut;
            }
            at += usize::from(end <= to);
            other_at += usize::from(other_end <= to);
            from = to;
        }
        all
    }

    /// How far from the middle a ray leaves the circle around a point.
    fn leaves(&self, [x, y]: [f64; 2], direction: f64) -> f64 {
        let (sine, cosine) = direction.sin_cos();
        let beside = x * sine - y * cosine;
        x * cosine + y * sine + (self.distance * self.distance - beside * beside).sqrt()
    }

    fn left_at(&self, centre: [f64; 2], direction: f64) -> [f64; 2] {
        let (sine, cosine) = direction.sin_cos();
        let far = self.leaves(centre, direction);
        [far * cosine, far * sine]
    }

    /// Directions in which two circles cross; such as are the same do not.
    fn crossings(&self, a: [f64; 2], b: [f64; 2]) -> [f64; 2] {
        let [dx, dy] = [b[0] - a[0], b[1] - a[1]];
        let apart = dx.hypot(dy);
        if apart == 0.0 {
            return [PI; 2];
        }
        let high = (self.distance * self.distance - apart * apart / 4.0).sqrt() / apart;
        [high, -high].map(|high| {
            let x = (a[0] + b[0]) / 2.0 - high * dy;
            let y = (a[1] + b[1]) / 2.0 + high * dx;
            y.atan2(x)
        })
    }
}

#[cfg(test)]
mod tests {
    use super::super::super::point::UNITS_PER_M;
    use super::*;

    /// Against the definition: a place is in the ring where a point is within the distance.
    #[test]
    fn the_ring_holds_what_is_within_the_distance_and_nothing_else() {
        let mut state = 29u64;
        let mut random = || {
            state = state
                .wrapping_mul(6_364_136_223_846_793_005)
                .wrapping_add(1);
            (state >> 11) as f64 / (1u64 << 53) as f64 * 2.0 - 1.0
        };
        for count in [1, 2, 3, 10, 200, 2_000] {
            let distance = 6.0 * UNITS_PER_M;
            let middle = [1e9, -2e9];
            let points: Vec<Pt> = (0..count)
                .map(|_| Pt {
                    x: (middle[0] + distance * 0.35 * random()) as i64,
                    // Most of them in a band, as along a border.
                    y: (middle[1] + distance * 0.02 * random()) as i64,
                })
                .collect();
            let reach = Reach::of(middle, distance);
            let ring = reach.ring(&points);
            assert!(ring.len() > 100, "{}", ring.len());
            let deciding = reach.deciding(&points);
            assert!(deciding.len() <= 1 + count / 3 || count < 11);
            assert!(ring.len().abs_diff(reach.ring(&deciding).len()) < 3);
            for _ in 0..500 {
                let at = [0, 1].map(|axis: usize| middle[axis] + distance * 1.5 * random());
                let nearest = points
                    .iter()
                    .map(|point| (point.x as f64 - at[0]).hypot(point.y as f64 - at[1]));
                let off_m = (nearest.fold(f64::MAX, f64::min) - distance) / UNITS_PER_M;
                let ends = ring.iter().skip(1).chain(ring.first());
                let inside = ring.iter().zip(ends).all(|(a, b)| {
                    // Seen from the middle, which is inside, the ring goes around once.
                    let side = |p: [f64; 2], q: [f64; 2], r: [f64; 2]| {
                        (q[0] - p[0]) * (r[1] - p[1]) - (q[1] - p[1]) * (r[0] - p[0])
                    };
                    let [a, b] = [a, b].map(|p| [p.x as f64, p.y as f64]);
                    let between = side(middle, a, at) >= 0.0 && side(middle, at, b) > 0.0;
                    !between || side(a, b, at) > 0.0
                });
                if off_m.abs() > 0.0011 {
                    assert_eq!(inside, off_m < 0.0, "{count}: {off_m} m");
                }
            }
        }
    }
}
