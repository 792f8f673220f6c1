//! Ground of a trial in the plane turned to the bouts: u metres along them, v metres to their left.

use crate::drive::Bout;
use crate::geometry::{Arrangement, Overlay, Pt, Shape};
use crate::job::{Job, LandPart};
use crate::zones::LandUnits;

/// Borders that reach into a lane by less are rounding, m.
const BESIDE_M: f64 = 0.01;

/// The turned plane, and the strips of the bouts in it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Bouts {
    sine: f64,
    cosine: f64,
    /// Where the first strip of the drill begins, v.
    low: f64,
    pub width_m: f64,
    /// Strips of the drill.
    pub count: usize,
}

impl Bouts {
    /// Those of straight interior bouts; `None` where there is none.
    pub fn of(bouts: &[Bout], heading_deg: f64, job: &Job) -> Option<Self> {
        let (sine, cosine) = heading_deg.to_radians().sin_cos();
        let interior = bouts.iter().filter(|bout| bout.part == LandPart::Interior);
        let count = interior.clone().filter_map(|bout| bout.strip).max()?;
        let (first, strip) = interior
            .filter_map(|bout| Some((bout, bout.strip?)))
            .next()?;
        let width_m = job.drill.working_width_m;
        let mut own = Self {
            sine,
            cosine,
            low: 0.0,
            width_m,
            count,
        };
        let middle = own.turned(first.path.at(0.0))[1];
        own.low = middle - width_m / 2.0 - (strip - 1) as f64 * width_m;
        Some(own)
    }

    /// Where the strip of a number (from 0) begins, v.
    pub fn rim(&self, strip: i64) -> f64 {
        self.low + strip as f64 * self.width_m
    }

    pub fn turned(&self, [x, y]: [f64; 2]) -> [f64; 2] {
        [
            x * self.sine + y * self.cosine,
            -x * self.cosine + y * self.sine,
        ]
    }

    pub fn back(&self, [u, v]: [f64; 2]) -> [f64; 2] {
        [
            u * self.sine - v * self.cosine,
            u * self.cosine + v * self.sine,
        ]
    }
}

/// A rectangle along the bouts.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Rectangle {
    pub u: [f64; 2],
    pub v: [f64; 2],
}

impl Rectangle {
    /// Its corners in the field's plane, counter-clockwise.
    pub fn corners(&self, bouts: &Bouts) -> [[f64; 2]; 4] {
        let ([from, to], [right, left]) = (self.u, self.v);
        [[from, right], [to, right], [to, left], [from, left]].map(|place| bouts.back(place))
    }

    pub fn shape(&self, bouts: &Bouts) -> Option<Shape> {
        let corners = self.corners(bouts).into_iter();
        let exterior: Option<Vec<Pt>> = corners.map(Pt::from_metres).collect();
        Some(Shape {
            exterior: exterior?,
            holes: Vec::new(),
        })
    }

    /// The same, so much shorter at both ends and narrower on both sides.
    pub fn within(&self, ends_m: f64, sides_m: f64) -> Self {
        Self {
            u: [self.u[0] + ends_m, self.u[1] - ends_m],
            v: [self.v[0] + sides_m, self.v[1] - sides_m],
        }
    }

    pub fn meets(&self, other: &Self) -> bool {
        let apart = |a: [f64; 2], b: [f64; 2]| a[1] <= b[0] + BESIDE_M || b[1] <= a[0] + BESIDE_M;
        !apart(self.u, other.u) && !apart(self.v, other.v)
    }

    pub fn holds(&self, [u, v]: [f64; 2]) -> bool {
        (self.u[0]..=self.u[1]).contains(&u) && (self.v[0]..=self.v[1]).contains(&v)
    }
}

/// Borders between land of different keys, turned: their ends, and the keys on the left and right.
pub(super) struct Borders(Vec<Border>);

/// A piece of border: its ends, and the keys on its left and right.
type Border = ([[f64; 2]; 2], [Option<u32>; 2]);

impl Borders {
    /// `key` says what rows of the rate table have in common.
    pub fn of(units: &LandUnits, bouts: &Bouts, key: impl Fn(u32) -> Option<u32>) -> Self {
        let of_face = |face: u32| {
            let row = units.row_of_face.get(face as usize).copied().flatten();
            row.and_then(&key)
        };
        Self::of_faces(&units.arrangement, bouts, of_face)
    }

    /// Around polygons, which may overlap: what lies within any of them has the key 0.
    pub fn around(shapes: &[Shape], bouts: &Bouts) -> Self {
        let mut overlay = Overlay::default();
        for shape in shapes {
            overlay.add(shape.clone());
        }
        let arrangement = overlay.arrange();
        Self::of_faces(&arrangement, bouts, |face| {
            let covering = overlay.covering(&arrangement, face);
            covering.first().map(|_| 0)
        })
    }

    fn of_faces(
        arrangement: &Arrangement,
        bouts: &Bouts,
        of_face: impl Fn(u32) -> Option<u32>,
    ) -> Self {
        let edges = arrangement.edges();
        let borders = edges.filter_map(|(ends, sides)| {
            let keys = sides.map(&of_face);
            (keys[0] != keys[1]).then(|| (ends.map(|end| bouts.turned(end.metres())), keys))
        });
        Self(borders.collect())
    }

    /// Stretches of a lane that lie on land of one key over its whole width, from the first on.
    pub fn clear(&self, v: [f64; 2]) -> Vec<([f64; 2], u32)> {
        let mut across: Vec<[f64; 2]> = Vec::new();
        for (ends, _) in &self.0 {
            across.extend(stretch(*ends, [v[0] + BESIDE_M, v[1] - BESIDE_M]));
        }
        across.sort_by(|a, b| a[0].total_cmp(&b[0]));
        let crossings = self.along((v[0] + v[1]) / 2.0);
        let mut clear = Vec::new();
        let mut from: Option<f64> = None;
        for [begin, end] in across {
            if let Some(from) = from
                && begin > from
                && let Some(key) = at(&crossings, (from + begin) / 2.0)
            {
                clear.push(([from, begin], key));
            }
            from = Some(from.map_or(end, |from| from.max(end)));
        }
        clear
    }

    /// Where the key changes along a line, ascending, with the key from there on.
    pub fn along(&self, v: f64) -> Vec<(f64, Option<u32>)> {
        let mut crossings: Vec<(f64, Option<u32>)> = Vec::new();
        for ([a, b], keys) in &self.0 {
            // Half open, so that a corner counts once.
            if (a[1] < v) == (b[1] < v) {
                continue;
            }
            let u = a[0] + (v - a[1]) / (b[1] - a[1]) * (b[0] - a[0]);
            // What crosses to the right has what lies ahead on its left.
            crossings.push((u, keys[usize::from(b[1] >= a[1])]));
        }
        crossings.sort_by(|a, b| a.0.total_cmp(&b.0));
        crossings
    }
}

/// The key at a place of a line.
fn at(crossings: &[(f64, Option<u32>)], u: f64) -> Option<u32> {
    let before = crossings.partition_point(|(from, _)| *from <= u);
    let last = before.checked_sub(1).and_then(|nth| crossings.get(nth));
    last.and_then(|(_, key)| *key)
}

/// Lengths of each key on a part of a line.
pub(super) fn lengths(crossings: &[(f64, Option<u32>)], [from, to]: [f64; 2]) -> Vec<(u32, f64)> {
    let ends = crossings.iter().skip(1).map(|(u, _)| *u);
    let pieces = crossings.iter().zip(ends);
    let pieces = pieces.filter_map(|((begin, key), end)| {
        let length = end.min(to) - begin.max(from);
        (length > 0.0).then_some(((*key)?, length))
    });
    pieces.collect()
}

/// Where a piece of border lies in a lane, along it; `None` where it does not.
fn stretch([a, b]: [[f64; 2]; 2], [right, left]: [f64; 2]) -> Option<[f64; 2]> {
    let (low, high) = (a[1].min(b[1]), a[1].max(b[1]));
    if high <= right || low >= left {
        return None;
    }
    let at = |v: f64| match b[1] == a[1] {
        true => a[0],
        false => a[0] + (v.clamp(low, high) - a[1]) / (b[1] - a[1]) * (b[0] - a[0]),
    };
    // A border along the lane has all of its length in it.
    let ends = match b[1] == a[1] {
        true => [a[0], b[0]],
        false => [at(right), at(left)],
    };
    Some([ends[0].min(ends[1]), ends[0].max(ends[1])])
}
