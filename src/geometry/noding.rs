//! Snap rounding: cuts segments where they meet, so that they share end points and nothing else.
//!
//! Method: Hobby, "Practical segment intersection with finite precision output", Computational
//! Geometry 13 (1999). Every end point and every rounded crossing is a hot pixel; a segment that
//! passes through a hot pixel is bent to its centre. Bent pieces are looked at again until nothing
//! moves, so that no end point lies on a foreign piece.

use super::csr::Csr;
use super::grid_index::GridIndex;
use super::point::{Pt, cross};
use rayon::prelude::*;

/// How often a ring of a source runs along a segment, from its lower to its higher end: + forwards,
/// - backwards.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub(crate) struct Passage {
    pub(crate) source: u32,
    pub(crate) count: i32,
}

/// Segments between numbered points, each there once, `ends[0] < ends[1]`.
pub(crate) struct Segments {
    pub(crate) points: Vec<Pt>,
    pub(crate) ends: Vec<[u32; 2]>,
    pub(crate) passages: Csr<Passage>,
}

/// One run of one ring along a segment.
#[derive(Clone, Copy)]
struct Run {
    to: u32,
    passage: Passage,
}

impl Segments {
    /// The noded segments of rings; each ring is closed implicitly and belongs to a source.
    pub(crate) fn of_rings<'a>(rings: impl Iterator<Item = (u32, &'a [Pt])> + Clone) -> Self {
        let count = rings.clone().map(|(_, ring)| ring.len()).sum();
        // Most points are in two rings.
        let mut points = PointIndex::with_room_for(count / 2);
        let mut runs = Vec::with_capacity(count);
        for (source, ring) in rings {
            let Some(&last) = ring.last() else { continue };
            let mut before = points.number(last);
            for &point in ring {
                let here = points.number(point);
                push_run(&mut runs, before, here, Passage { source, count: 1 });
                before = here;
            }
        }
        let (ends, passages) = gather(points.points.len(), &runs);
        let mut fresh = vec![true; ends.len()];
        let mut segments = Self {
            points: points.points.clone(),
            ends,
            passages,
        };
        while segments.cut(&mut points, &mut fresh) {}
        segments
    }

    /// Cuts segments at crossings and hot pixels; looks only at those near a fresh one. Returns
    /// whether anything was cut, and marks the pieces as fresh.
    fn cut(&mut self, index: &mut PointIndex, fresh: &mut Vec<bool>) -> bool {
        if !fresh.contains(&true) {
            return false;
        }
        let placed: Vec<[Pt; 2]> = self
            .ends
            .iter()
            .map(|ends| ends.map(|end| self.points[end as usize]))
            .collect();
        let grid = match fresh.contains(&false) {
            true => GridIndex::near_fresh(&placed, fresh),
            false => GridIndex::new(&placed),
        };
        let look = Look {
            placed: &placed,
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
        for (segment, point) in found.into_iter().flatten() {
            cuts.push((segment, index.number(point)));
        }
        for number in known..index.points.len() {
            let point = index.points[number];
            for &segment in grid.at(point) {
                let [a, b] = placed[segment as usize];
                if passes_pixel(a, b, point) {
                    cuts.push((segment, number as u32));
                }
            }
        }
        if cuts.is_empty() {
            return false;
        }
        cuts.sort_unstable();
        cuts.dedup();
        self.points.clone_from(&index.points);
        self.split(&cuts, fresh);
        true
    }

    /// Replaces each cut segment by its pieces.
    fn split(&mut self, cuts: &[(u32, u32)], fresh: &mut Vec<bool>) {
        let mut runs = Vec::with_capacity(self.ends.len() + 2 * cuts.len());
        let mut bent: Vec<[u32; 2]> = Vec::new();
        let mut cuts = cuts.iter().peekable();
        for (number, &[from, to]) in self.ends.iter().enumerate() {
            let mut stops = Vec::new();
            while let Some(&&(segment, point)) = cuts.peek() {
                if segment as usize != number {
                    break;
                }
                stops.push(point);
                cuts.next();
            }
            self.sort_along([from, to], &mut stops);
            let cut = !stops.is_empty();
            stops.push(to);
            let mut before = from;
            for stop in stops {
                for &passage in self.passages.list(number) {
                    push_run(&mut runs, before, stop, passage);
                }
                if cut && before != stop {
                    bent.push([before.min(stop), before.max(stop)]);
                }
                before = stop;
            }
        }
        (self.ends, self.passages) = gather(self.points.len(), &runs);
        bent.sort_unstable();
        *fresh = self
            .ends
            .iter()
            .map(|ends| bent.binary_search(ends).is_ok())
            .collect();
    }

    fn sort_along(&self, [from, to]: [u32; 2], stops: &mut [u32]) {
        let [a, b] = [from, to].map(|end| self.points[end as usize]);
        stops.sort_by_key(|&stop| {
            let p = self.points[stop as usize];
            i128::from(p.x - a.x) * i128::from(b.x - a.x)
                + i128::from(p.y - a.y) * i128::from(b.y - a.y)
        });
    }
}

/// What one cell is searched with.
struct Look<'a> {
    placed: &'a [[Pt; 2]],
    fresh: &'a [bool],
}

impl Look<'_> {
    /// Crossings and hot pixels among the segments of a cell: `(segment, point on it)`.
    fn meetings(&self, cell: &[u32]) -> Vec<(u32, Pt)> {
        let mut found = Vec::new();
        if !cell.iter().any(|&segment| self.fresh[segment as usize]) {
            return found;
        }
        for (nth, &first) in cell.iter().enumerate() {
            let s = self.placed[first as usize];
            let fresh = self.fresh[first as usize];
            for &second in &cell[nth + 1..] {
                if !fresh && !self.fresh[second as usize] {
                    continue;
                }
                let t = self.placed[second as usize];
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
                    found.extend([(first, point), (second, point)].into_iter().filter(
                        |&(segment, point)| !self.placed[segment as usize].contains(&point),
                    ));
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

fn push_run(runs: &mut Vec<(u32, Run)>, from: u32, to: u32, passage: Passage) {
    if from < to {
        runs.push((from, Run { to, passage }));
    } else if to < from {
        let backwards = Passage {
            count: -passage.count,
            ..passage
        };
        runs.push((
            to,
            Run {
                to: from,
                passage: backwards,
            },
        ));
    }
}

/// Unites runs between the same two points. A segment whose passages all cancel (a spike) goes.
fn gather(points: usize, runs: &[(u32, Run)]) -> (Vec<[u32; 2]>, Csr<Passage>) {
    let mut by_start = Csr::from_pairs(points, runs);
    let mut ends = Vec::new();
    let mut passages = Csr::new();
    let mut merged: Vec<Passage> = Vec::new();
    for start in 0..points {
        let list = by_start.list_mut(start);
        list.sort_unstable_by_key(|run| (run.to, run.passage.source));
        for same in list.chunk_by(|a, b| a.to == b.to) {
            merged.clear();
            for run in same {
                match merged.last_mut() {
                    Some(last) if last.source == run.passage.source => {
                        last.count += run.passage.count;
                    }
                    _ => merged.push(run.passage),
                }
            }
            merged.retain(|passage| passage.count != 0);
            if !merged.is_empty() {
                ends.push([start as u32, same[0].to]);
                passages.push(merged.iter().copied());
            }
        }
    }
    (ends, passages)
}

/// Numbers points in the order they come.
struct PointIndex {
    points: Vec<Pt>,
    /// Numbers of points by hash, each in its slot or the next free one; a power of two. They are only
    /// looked up, never walked, so their order is nowhere seen.
    slots: Vec<u32>,
}

/// A slot without a point.
const FREE: u32 = u32::MAX;

impl PointIndex {
    /// An index with room for about so many points; it grows if there are more.
    fn with_room_for(points: usize) -> Self {
        Self {
            points: Vec::with_capacity(points),
            slots: vec![FREE; (2 * points).next_power_of_two().max(64)],
        }
    }

    fn number(&mut self, point: Pt) -> u32 {
        let mut slot = self.slot_of(point);
        loop {
            match self.slots[slot] {
                FREE => break,
                number if self.points[number as usize] == point => return number,
                _ => slot = (slot + 1) & (self.slots.len() - 1),
            }
        }
        let number = self.points.len() as u32;
        self.points.push(point);
        self.slots[slot] = number;
        if 4 * self.points.len() > 3 * self.slots.len() {
            self.grow();
        }
        number
    }

    fn grow(&mut self) {
        self.slots = vec![FREE; 2 * self.slots.len()];
        for number in 0..self.points.len() {
            let mut slot = self.slot_of(self.points[number]);
            while self.slots[slot] != FREE {
                slot = (slot + 1) & (self.slots.len() - 1);
            }
            self.slots[slot] = number as u32;
        }
    }

    /// Where the search for a point starts.
    fn slot_of(&self, point: Pt) -> usize {
        const MIX: u64 = 0x9E37_79B9_7F4A_7C15;
        let mixed =
            ((point.x as u64).wrapping_mul(MIX).rotate_left(29) ^ point.y as u64).wrapping_mul(MIX);
        // The high bits are the well mixed ones.
        (mixed >> 32) as usize & (self.slots.len() - 1)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn pts(list: &[[i64; 2]]) -> Vec<Pt> {
        list.iter().map(|&[x, y]| Pt { x, y }).collect()
    }

    /// No end point on a foreign segment, no two segments that cross.
    pub(crate) fn assert_noded(segments: &Segments) {
        let placed: Vec<[Pt; 2]> = segments
            .ends
            .iter()
            .map(|e| e.map(|end| segments.points[end as usize]))
            .collect();
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
        let segments = Segments::of_rings([(0, &ring[..])].into_iter());
        assert!(segments.points.contains(&Pt { x: 5, y: 5 }));
        assert_eq!(segments.ends.len(), 6);
        assert_noded(&segments);
    }

    #[test]
    fn a_spike_vanishes_and_shared_borders_are_there_once() {
        let left = pts(&[[0, 0], [10, 0], [10, 10], [20, 20], [10, 10], [0, 10]]);
        let right = pts(&[[10, 0], [20, 0], [20, 10], [10, 10]]);
        let rings = [(0, &left[..]), (1, &right[..])];
        let segments = Segments::of_rings(rings.into_iter());
        assert_eq!(segments.ends.len(), 7);
    }

    #[test]
    fn collinear_borders_that_overlap_are_cut_at_each_others_ends() {
        let a = pts(&[[0, 0], [100, 0], [100, 50], [0, 50]]);
        let b = pts(&[[30, 0], [30, -20], [70, -20], [70, 0]]);
        let segments = Segments::of_rings([(0, &a[..]), (1, &b[..])].into_iter());
        assert_eq!(segments.ends.len(), 9);
        assert_noded(&segments);
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
            assert_noded(&Segments::of_rings(numbered));
        }
    }
}
