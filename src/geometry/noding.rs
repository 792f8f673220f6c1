//! Snap rounding: cuts segments where they meet, so that they share end points and nothing else.
//!
//! Method: Hobby, "Practical segment intersection with finite precision output", Computational
//! Geometry 13 (1999). Every end point and every rounded crossing is a hot pixel; a segment that
//! passes through a hot pixel is bent to its centre. Bent pieces are looked at again until nothing
//! moves, so that no end point lies on a foreign piece.

mod chains;
mod point_index;

use super::csr::Csr;
use super::grid_index::GridIndex;
use super::point::{Pt, cross};
use chains::{Chains, Lines};
use point_index::PointIndex;
use rayon::prelude::*;

/// How often a ring of a source runs along a chain: + forwards, - backwards.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub(crate) struct Passage {
    pub(crate) source: u32,
    pub(crate) count: i32,
}

/// Noded linework as chains: ways between nodes, each there once, that meet in nodes only.
pub(crate) struct Noded {
    /// Places along each chain, both ends included.
    pub(crate) ways: Csr<Pt>,
    /// Numbers of the nodes each chain runs from and to.
    pub(crate) ends: Vec<[u32; 2]>,
    /// How many nodes there are.
    pub(crate) nodes: usize,
    pub(crate) passages: Csr<Passage>,
}

impl Noded {
    /// The noded linework of rings; each ring is closed implicitly and belongs to a source.
    pub(crate) fn of_rings<'a>(rings: impl Iterator<Item = (u32, &'a [Pt])> + Clone) -> Self {
        let count = rings.clone().map(|(_, ring)| ring.len()).sum::<usize>();
        // Most points are in two rings.
        let mut index = PointIndex::with_room_for(count / 2);
        let mut lines = Lines::with_room_for(count + rings.clone().count());
        let mut way = Vec::new();
        for (source, ring) in rings {
            way.clear();
            way.extend(ring.iter().map(|&point| index.number(point)));
            way.extend(way.first().copied());
            way.dedup();
            if way.len() > 1 {
                lines.ways.push(way.iter().copied());
                lines.passages.push([Passage { source, count: 1 }]);
            }
        }
        let mut chains = Chains::of(&lines, index.points.len());
        drop(lines);
        let mut fresh = None;
        while let Some(cuts) = cuts(&chains, &mut index, fresh.as_deref()) {
            let (lines, bent) = split(&chains, &index.points, &cuts);
            chains = Chains::of(&lines, index.points.len());
            fresh = Some(chains.along(&bent, index.points.len()));
        }
        Self::numbered(chains, &index.points)
    }

    /// Chains with their nodes numbered from 0 in the order they come.
    fn numbered(chains: Chains, points: &[Pt]) -> Self {
        let mut number_of = vec![NONE; points.len()];
        let mut nodes = 0;
        let mut number = |point: u32| {
            let number = &mut number_of[point as usize];
            if *number == NONE {
                *number = nodes;
                nodes += 1;
            }
            *number
        };
        let ways = chains.ways.lists();
        let ends = ways
            .map(|way| [way[0], way[way.len() - 1]].map(&mut number))
            .collect();
        Self {
            ways: chains.ways.map(|&point| points[point as usize]),
            ends,
            nodes: nodes as usize,
            passages: chains.passages,
        }
    }
}

/// Stands for no number.
const NONE: u32 = u32::MAX;

/// Steps of chains are numbered by the place of their first point among the points of all chains.
/// Which steps are to be cut at which points, ascending; `None` where nothing is. Looks only at steps near a
/// fresh one; at first all are.
fn cuts(
    chains: &Chains,
    index: &mut PointIndex,
    fresh: Option<&[bool]>,
) -> Option<Vec<(u32, u32)>> {
    let places = chains.ways.map(|&point| index.points[point as usize]);
    let steps = || {
        let ways = places.ranges().flat_map(|range| range.start..range.end - 1);
        ways.map(|step| {
            (
                step,
                [
                    places.items()[step as usize],
                    places.items()[step as usize + 1],
                ],
            )
        })
    };
    let grid = match fresh {
        Some(fresh) if fresh.contains(&true) => GridIndex::near_fresh(steps, fresh),
        Some(_) => return None,
        None => GridIndex::new(steps),
    };
    let look = Look {
        places: places.items(),
        fresh,
    };
    let found: Vec<Vec<(u32, Pt)>> = (0..grid.len())
        .into_par_iter()
        .with_min_len(4096)
        .map(|cell| look.meetings(grid.cell(cell)))
        .filter(|meetings| !meetings.is_empty())
        .collect();
    let mut cuts: Vec<(u32, u32)> = Vec::new();
    let known = index.points.len();
    for (step, point) in found.into_iter().flatten() {
        cuts.push((step, index.number(point)));
    }
    for number in known..index.points.len() {
        let point = index.points[number];
        for &step in grid.at(point) {
            let [a, b] = look.step(step);
            if passes_pixel(a, b, point) {
                cuts.push((step, number as u32));
            }
        }
    }
    cuts.sort_unstable();
    cuts.dedup();
    (!cuts.is_empty()).then_some(cuts)
}

/// The lines that chains become when steps are led through points, and the steps that come of it, each
/// from its lower to its higher point, ascending.
fn split(chains: &Chains, points: &[Pt], cuts: &[(u32, u32)]) -> (Lines, Vec<[u32; 2]>) {
    let mut lines = Lines::with_room_for(chains.ways.items().len() + cuts.len());
    let mut bent: Vec<[u32; 2]> = Vec::new();
    let mut cuts = cuts;
    let mut led = Vec::new();
    for (chain, range) in chains.ways.ranges().enumerate() {
        let way = chains.ways.list(chain);
        let here = cuts.partition_point(|&(step, _)| step < range.end);
        let (cuts_here, rest) = cuts.split_at(here);
        cuts = rest;
        led.clear();
        let mut done = 0;
        for same in cuts_here.chunk_by(|a, b| a.0 == b.0) {
            let nth = (same[0].0 - range.start) as usize;
            led.extend_from_slice(&way[done..=nth]);
            done = nth + 1;
            let mut stops: Vec<u32> = same.iter().map(|&(_, point)| point).collect();
            sort_along(points, [way[nth], way[done]], &mut stops);
            let mut before = way[nth];
            for &stop in stops.iter().chain([&way[done]]) {
                if before != stop {
                    bent.push([before.min(stop), before.max(stop)]);
                }
                before = stop;
            }
            led.extend(stops);
        }
        led.extend_from_slice(&way[done..]);
        led.dedup();
        lines.ways.push(led.iter().copied());
        lines
            .passages
            .push(chains.passages.list(chain).iter().copied());
    }
    bent.sort_unstable();
    (lines, bent)
}

fn sort_along(points: &[Pt], ends: [u32; 2], stops: &mut [u32]) {
    let [a, b] = ends.map(|end| points[end as usize]);
    stops.sort_by_key(|&stop| {
        let p = points[stop as usize];
        i128::from(p.x - a.x) * i128::from(b.x - a.x)
            + i128::from(p.y - a.y) * i128::from(b.y - a.y)
    });
}

/// What one cell is searched with.
struct Look<'a> {
    places: &'a [Pt],
    fresh: Option<&'a [bool]>,
}

impl Look<'_> {
    fn step(&self, number: u32) -> [Pt; 2] {
        [0, 1].map(|end| self.places[number as usize + end])
    }

    fn is_fresh(&self, step: u32) -> bool {
        self.fresh.is_none_or(|fresh| fresh[step as usize])
    }

    /// Crossings and hot pixels among the steps of a cell: `(step, point on it)`.
    fn meetings(&self, cell: &[u32]) -> Vec<(u32, Pt)> {
        let mut found = Vec::new();
        if !cell.iter().any(|&step| self.is_fresh(step)) {
            return found;
        }
        for (nth, &first) in cell.iter().enumerate() {
            let s = self.step(first);
            let fresh = self.is_fresh(first);
            for &second in &cell[nth + 1..] {
                if !fresh && !self.is_fresh(second) {
                    continue;
                }
                let t = self.step(second);
                if !boxes_touch(s, t) {
                    continue;
                }
                for end in t {
                    if passes_pixel(s[0], s[1], end) {
                        found.push((first, end));
                    }
                }
                for end in s {
                    if passes_pixel(t[0], t[1], end) {
                        found.push((second, end));
                    }
                }
                if let Some(point) = crossing(s, t) {
                    let both = [(first, s), (second, t)].into_iter();
                    let inside = both.filter(|(_, ends)| !ends.contains(&point));
                    found.extend(inside.map(|(step, _)| (step, point)));
                }
            }
        }
        found
    }
}

fn boxes_touch([a, b]: [Pt; 2], [c, d]: [Pt; 2]) -> bool {
    a.x.max(b.x) >= c.x.min(d.x)
        && c.x.max(d.x) >= a.x.min(b.x)
        && a.y.max(b.y) >= c.y.min(d.y)
        && c.y.max(d.y) >= a.y.min(b.y)
}

/// Whether the open segment a-b passes through the pixel (one unit square) centred on `p`, an end
/// excepted. By the separating-axis theorem for a segment and a square.
fn passes_pixel(a: Pt, b: Pt, p: Pt) -> bool {
    let between = |lo: i64, v: i64, hi: i64| lo.min(hi) <= v && v <= lo.max(hi);
    if !between(a.x, p.x, b.x) || !between(a.y, p.y, b.y) || p == a || p == b {
        return false;
    }
    let reach = i128::from((b.x - a.x).abs()) + i128::from((b.y - a.y).abs());
    2 * cross(a, b, p).abs() < reach
}

/// The point, rounded to the grid, where two segments properly cross.
fn crossing([a, b]: [Pt; 2], [c, d]: [Pt; 2]) -> Option<Pt> {
    let [c_side, d_side] = [cross(a, b, c), cross(a, b, d)];
    if c_side == 0 || d_side == 0 || (c_side > 0) == (d_side > 0) {
        return None;
    }
    let [a_side, b_side] = [cross(c, d, a), cross(c, d, b)];
    if a_side == 0 || b_side == 0 || (a_side > 0) == (b_side > 0) {
        return None;
    }
    // Along c -> d the crossing lies at c_side / (c_side - d_side).
    let whole = c_side - d_side;
    let along = |from: i64, to: i64| from + round_div(c_side * i128::from(to - from), whole);
    Some(Pt {
        x: along(c.x, d.x),
        y: along(c.y, d.y),
    })
}

/// Nearest integer of a quotient, halves upwards.
fn round_div(numerator: i128, denominator: i128) -> i64 {
    let [n, d] = if denominator < 0 {
        [-numerator, -denominator]
    } else {
        [numerator, denominator]
    };
    (2 * n + d).div_euclid(2 * d) as i64
}

#[cfg(test)]
mod tests {
    use super::*;

    fn pts(list: &[[i64; 2]]) -> Vec<Pt> {
        list.iter().map(|&[x, y]| Pt { x, y }).collect()
    }

    fn steps(noded: &Noded) -> Vec<[Pt; 2]> {
        let ways = noded.ways.lists();
        ways.flat_map(|way| way.windows(2).map(|step| [step[0], step[1]]))
            .collect()
    }

    /// No end point on a foreign segment, no two segments that cross.
    fn assert_noded(noded: &Noded) {
        let placed = steps(noded);
        for (nth, &s) in placed.iter().enumerate() {
            for &t in &placed[nth + 1..] {
                assert_eq!(crossing(s, t), None, "{s:?} {t:?}");
                for [line, ends] in [[s, t], [t, s]] {
                    assert!(ends.iter().all(|&end| !passes_pixel(line[0], line[1], end)));
                }
            }
        }
    }

    #[test]
    fn a_bow_tie_gets_its_crossing_as_a_point() {
        let ring = pts(&[[0, 0], [10, 10], [10, 0], [0, 10]]);
        let noded = Noded::of_rings([(0, &ring[..])].into_iter());
        assert!(
            steps(&noded)
                .iter()
                .flatten()
                .any(|&p| p == Pt { x: 5, y: 5 })
        );
        assert_eq!(steps(&noded).len(), 6);
        assert_eq!(noded.ends.len(), 2);
        assert_noded(&noded);
    }

    #[test]
    fn a_spike_vanishes_and_shared_borders_are_there_once() {
        let left = pts(&[[0, 0], [10, 0], [10, 10], [20, 20], [10, 10], [0, 10]]);
        let right = pts(&[[10, 0], [20, 0], [20, 10], [10, 10]]);
        let rings = [(0, &left[..]), (1, &right[..])];
        let noded = Noded::of_rings(rings.into_iter());
        assert_eq!(steps(&noded).len(), 7);
        // The border of both, and what is left of each.
        assert_eq!(noded.ends.len(), 3);
    }

    #[test]
    fn collinear_borders_that_overlap_are_cut_at_each_others_ends() {
        let a = pts(&[[0, 0], [100, 0], [100, 50], [0, 50]]);
        let b = pts(&[[30, 0], [30, -20], [70, -20], [70, 0]]);
        let noded = Noded::of_rings([(0, &a[..]), (1, &b[..])].into_iter());
        assert_eq!(steps(&noded).len(), 9);
        assert_noded(&noded);
    }

    #[test]
    fn random_tangles_come_out_noded() {
        let mut state = 7u64;
        let mut next = |range: i64| {
            state = state
                .wrapping_mul(6_364_136_223_846_793_005)
                .wrapping_add(1);
            ((state >> 33) as i64).rem_euclid(range)
        };
        for round in 0..200 {
            // A coarse grid forces many near misses and shared pixels.
            let range = if round % 2 == 0 { 12 } else { 4000 };
            let rings: Vec<Vec<Pt>> = (0..4)
                .map(|_| {
                    (0..9)
                        .map(|_| Pt {
                            x: next(range),
                            y: next(range),
                        })
                        .collect()
                })
                .collect();
            let numbered = rings
                .iter()
                .enumerate()
                .map(|(n, ring)| (n as u32, &ring[..]));
            assert_noded(&Noded::of_rings(numbered));
        }
    }
}
