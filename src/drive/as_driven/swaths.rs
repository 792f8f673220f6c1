//! Sections that sow the same side by side as one polygon.

use super::super::bout::Bout;
use super::super::closed_flow::SownStretch;
use super::super::path::Path;

/// The ground of a way from one distance along it to another, between two distances beside it, m: rings.
pub(super) type GroundOf = fn(&Path, [f64; 2], [f64; 2]) -> Vec<Vec<[f64; 2]>>;

/// Ground side by side on which the same is sown: along the same stretch, or, where the way is straight, along stretches that
/// overlap, so that a bout that ends at a slant is one polygon with stairs however many sections it has.
pub(super) struct Swath<'a> {
    /// From the left, each beside the one before it.
    pub(super) parts: Vec<Part<'a>>,
}

/// A stretch with its right and its left rim, metres to the left of the way.
pub(super) struct Part<'a> {
    pub(super) sown: &'a SownStretch,
    pub(super) left_m: [f64; 2],
}

/// Rims and stations that differ by less are the same, m: a thousandth of the plane's grid.
const SAME_M: f64 = 1e-9;

/// Stretches side by side that overlap by less are polygons of their own, m.
const LEAST_OVERLAP_M: f64 = 0.001;

pub(super) fn close(a: f64, b: f64) -> bool {
    (a - b).abs() < SAME_M
}

impl Part<'_> {
    pub(super) fn stations(&self) -> [f64; 2] {
        [self.sown.stretch.from_m, self.sown.stretch.to_m]
    }
}

impl Swath<'_> {
    /// Its ground as polygons, counter-clockwise.
    pub(super) fn outlines(&self, path: &Path, ground: GroundOf) -> Vec<Vec<[f64; 2]>> {
        if let [part] = self.parts.as_slice() {
            return ground(path, part.stations(), part.left_m);
        }
        // Up the stairs at its end, from the right, and down those at its beginning.
        let ends = self.parts.iter().rev().flat_map(|part| {
            let to_m = part.stations()[1];
            part.left_m.map(|left_m| path.beside_start(to_m, left_m))
        });
        let begins = self.parts.iter().flat_map(|part| {
            let [right, left] = part.left_m;
            let from_m = part.stations()[0];
            [left, right].map(|left_m| path.beside_start(from_m, left_m))
        });
        let mut ring: Vec<[f64; 2]> = ends.chain(begins).collect();
        ring.dedup();
        vec![ring]
    }
}

/// The stretches of a bout along a curve, cut where others begin and end: then those side by side that sow the same are one polygon
/// with the bends of the way once, but for where sections go on and off. Straight bouts and rings stay as they are.
pub(super) fn cut_alike(bout: &Bout, sown: Vec<SownStretch>) -> Vec<SownStretch> {
    if bout.path.is_straight() || bout.path.closed {
        return sown;
    }
    let ends = sown.iter();
    let ends = ends.flat_map(|sown| [sown.stretch.from_m, sown.stretch.to_m]);
    let mut ends: Vec<f64> = ends.collect();
    ends.sort_by(f64::total_cmp);
    ends.dedup_by(|next, kept| *next - *kept < LEAST_OVERLAP_M);
    let cut = sown.into_iter().flat_map(|sown| {
        let [from_m, to_m] = [sown.stretch.from_m, sown.stretch.to_m];
        let first = ends.partition_point(|end| *end < from_m + LEAST_OVERLAP_M);
        let inside = ends[first..].iter().copied();
        let inside = inside.take_while(move |end| *end <= to_m - LEAST_OVERLAP_M);
        let mut stations: Vec<f64> = std::iter::once(from_m).chain(inside).collect();
        stations.push(to_m);
        let parts: Vec<SownStretch> = stations
            .windows(2)
            .map(|pair| {
                let mut part = sown.clone();
                (part.stretch.from_m, part.stretch.to_m) = (pair[0], pair[1]);
                part
            })
            .collect();
        parts
    });
    cut.collect()
}

/// The stretches of a bout with what lies side by side as one, in the order in which they begin.
pub(super) fn swaths<'a>(bout: &Bout, sown: &'a [SownStretch]) -> Vec<Swath<'a>> {
    let is_straight = bout.path.is_straight();
    let mut swaths: Vec<Swath> = Vec::new();
    // Those of the section to the left, in the order in which they begin.
    let mut beside: Vec<usize> = Vec::new();
    for of_section in sown.chunk_by(|a, b| a.stretch.section == b.stretch.section) {
        let mut left = std::mem::take(&mut beside).into_iter().peekable();
        for sown in of_section {
            let rims = bout.sections[sown.stretch.section].left_m;
            let [from_m, to_m] = [sown.stretch.from_m, sown.stretch.to_m];
            let last = |nth: &usize| swaths.get(*nth).and_then(|swath| swath.parts.last());
            // What ends before this one begins, or sows something else, lies beside nothing that comes.
            let passed = |nth: &usize| {
                last(nth).is_none_or(|other| {
                    let [begin_m, end_m] = other.stations();
                    let fits = fits(is_straight, [begin_m, end_m], [from_m, to_m]);
                    let goes_on = end_m > to_m || begin_m >= to_m;
                    !(goes_on || fits && same(other, sown, rims))
                })
            };
            while left.next_if(passed).is_some() {}
            let beside_this = |nth: &usize| {
                last(nth).is_some_and(|other| {
                    fits(is_straight, other.stations(), [from_m, to_m]) && same(other, sown, rims)
                })
            };
            let nth = left.next_if(beside_this).unwrap_or(swaths.len());
            match swaths.get_mut(nth) {
                Some(swath) => swath.add(sown, rims),
                None => swaths.push(Swath {
                    parts: vec![Part { sown, left_m: rims }],
                }),
            }
            beside.push(nth);
        }
    }
    let begin = |swath: &Swath| swath.parts.first().map_or(0.0, |part| part.stations()[0]);
    swaths.sort_by(|a, b| begin(a).total_cmp(&begin(b)));
    swaths
}

impl<'a> Swath<'a> {
    /// Adds the stretch of the next section to the right.
    fn add(&mut self, sown: &'a SownStretch, rims: [f64; 2]) {
        let ends = [sown.stretch.from_m, sown.stretch.to_m];
        match self.parts.last_mut() {
            Some(last) if fits(false, last.stations(), ends) => last.left_m[0] = rims[0],
            _ => self.parts.push(Part { sown, left_m: rims }),
        }
    }
}

/// Whether stretches side by side can be one polygon: the same, or overlapping on a straight way.
fn fits(is_straight: bool, [a, b]: [f64; 2], [from_m, to_m]: [f64; 2]) -> bool {
    let overlap_m = b.min(to_m) - a.max(from_m);
    (close(a, from_m) && close(b, to_m)) || (is_straight && overlap_m > LEAST_OVERLAP_M)
}

/// Whether the section with these rims lies beside another and sows the same.
fn same(left: &Part, sown: &SownStretch, rims: [f64; 2]) -> bool {
    close(left.left_m[0], rims[1])
        && left.sown.stretch.kg_per_ha == sown.stretch.kg_per_ha
        && left.sown.more == sown.more
}
