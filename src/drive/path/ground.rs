//! The ground of a part of the width: of one straight piece as a convex polygon, of several as a band.

use super::{Leg, Path, SAME_M, SHARPEST, area_m2};

/// Polygons smaller than this are rounding, m2.
const LEAST_M2: f64 = 1e-6;

impl Path {
    /// The same ground in as few polygons as it takes for none to meet itself, side by side, counter-clockwise; not
    /// all of them are convex.
    pub fn bands(&self, stations: [f64; 2], left_m: [f64; 2]) -> Vec<Vec<[f64; 2]>> {
        let mut rings = Vec::new();
        let mut band: Option<Band> = None;
        for (nth, part, open) in self.parts(stations) {
            let leg = &self.legs[nth];
            let plain = leg.plain(part, left_m, open);
            let fits = |of: &Band, plain: &Plain| {
                let [[a, b], [c, d]] = [of.along, leg.along];
                let joined = of.at_corner && plain.from_corner && of.leg + 1 == nth;
                joined && a * c + b * d > LEAST_ALONG
            };
            let goes_on = band
                .as_ref()
                .zip(plain.as_ref())
                .is_some_and(|(a, b)| fits(a, b));
            if !goes_on {
                rings.extend(band.take().map(Band::outline));
            }
            let Some(plain) = plain else {
                rings.extend(leg.ground(part, left_m, open));
                continue;
            };
            let at = |along: [f64; 2]| [0, 1].map(|rim| leg.at(along[rim], left_m[rim]));
            let band = band.get_or_insert_with(|| Band {
                along: leg.along,
                leg: nth,
                at_corner: false,
                rims: at(plain.begin).map(|place| vec![place]),
            });
            (band.leg, band.at_corner) = (nth, plain.to_corner);
            for (rim, place) in band.rims.iter_mut().zip(at(plain.end)) {
                rim.push(place);
            }
        }
        rings.extend(band.map(Band::outline));
        rings
    }
}

/// Bands turn by less than this from their first piece, as the cosine: 45 degrees.
const LEAST_ALONG: f64 = std::f64::consts::FRAC_1_SQRT_2 + 1e-9;

/// Ground over several straight pieces: the corners of its right and its left rim, in the order in which they are
/// driven. All its pieces run within 45 degrees of the first, so it cannot meet itself.
struct Band {
    along: [f64; 2],
    /// The last piece, and whether its ground ends at the corner behind it.
    leg: usize,
    at_corner: bool,
    rims: [Vec<[f64; 2]>; 2],
}

impl Band {
    fn outline(self) -> Vec<[f64; 2]> {
        let [mut right, left] = self.rims;
        right.extend(left.into_iter().rev());
        right
    }
}

/// Ground of a straight piece with four corners: where it begins and ends at its right and its left rim, metres along.
struct Plain {
    begin: [f64; 2],
    end: [f64; 2],
    from_corner: bool,
    to_corner: bool,
}

impl Leg {
    /// The part of the leg's own ground between two places along it, if each rim begins and ends with it in the same way.
    fn plain(&self, [from, to]: [f64; 2], left: [f64; 2], open: [bool; 2]) -> Option<Plain> {
        let (from_corner, to_corner) = self.ends_at_corners([from, to], open);
        let [start, end] = self.half_turn;
        let begin = left.map(|v| if from_corner { v * start } else { from });
        let end = left.map(|v| if to_corner { self.length - v * end } else { to });
        let whole = |v: f64| {
            (open[0] || from_corner || from >= v * start)
                && (open[1] || to_corner || to <= self.length - v * self.half_turn[1])
        };
        let runs = (0..2).all(|rim| end[rim] - begin[rim] > SAME_M);
        (left[0] < left[1] && runs && left.into_iter().all(whole)).then_some(Plain {
            begin,
            end,
            from_corner,
            to_corner,
        })
    }

    /// Whether a part of the leg reaches back to the corner before it, and on to the corner behind it.
    pub(super) fn ends_at_corners(&self, [from, to]: [f64; 2], open: [bool; 2]) -> (bool, bool) {
        (
            from <= SAME_M && !open[0],
            to >= self.length - SAME_M && !open[1],
        )
    }

    /// The part of the leg's own ground between two places along it.
    pub(super) fn ground(
        &self,
        [from, to]: [f64; 2],
        left: [f64; 2],
        open: [bool; 2],
    ) -> Option<Vec<[f64; 2]>> {
        let far = self.length + 2.0 * SHARPEST * left[0].abs().max(left[1].abs());
        let (from_corner, to_corner) = self.ends_at_corners([from, to], open);
        let low = if from_corner { -far } else { from };
        let high = if to_corner { far } else { to };
        if low >= high || left[0] >= left[1] {
            return None;
        }
        let mut ring = vec![
            [low, left[0]],
            [high, left[0]],
            [high, left[1]],
            [low, left[1]],
        ];
        let [start, end] = self.half_turn;
        let length = self.length;
        if !open[0] {
            ring = clipped(&ring, |[u, v]| u - v * start);
        }
        if !open[1] {
            ring = clipped(&ring, |[u, v]| length - v * end - u);
        }
        (area_m2(&ring) > LEAST_M2).then(|| ring.into_iter().map(|[u, v]| self.at(u, v)).collect())
    }
}
/// The part of a convex ring where a linear function is not negative (Sutherland and Hodgman 1974).
fn clipped(ring: &[[f64; 2]], inside: impl Fn([f64; 2]) -> f64) -> Vec<[f64; 2]> {
    let mut kept = Vec::new();
    let ends = ring.iter().skip(1).chain(ring.first());
    for (&a, &b) in ring.iter().zip(ends) {
        let [of_a, of_b] = [inside(a), inside(b)];
        if of_a >= 0.0 {
            kept.push(a);
        }
        if (of_a >= 0.0) != (of_b >= 0.0) {
            let share = of_a / (of_a - of_b);
            kept.push([a[0] + share * (b[0] - a[0]), a[1] + share * (b[1] - a[1])]);
        }
    }
    kept
}
