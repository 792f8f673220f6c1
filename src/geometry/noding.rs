//! Snap rounding: cuts segments where they meet, so that they share end points and nothing else.
//!
//! Method: Hobby, "Practical segment intersection with finite precision output", Computational
//! Geometry 13 (1999). Every end point and every rounded crossing is a hot pixel; a segment that
//! passes through a hot pixel is bent to its centre. Bent pieces are looked at again until nothing
//! moves, so that no end point lies on a foreign piece.

mod chains;
mod crowded;
mod point_index;
mod search;

use super::csr::Csr;
use super::point::Pt;
use super::shape::Ring;
use chains::{Chains, Lines};
use crowded::most_meetings;
pub(crate) use crowded::{crowded, is_knot, meet_more_often};
use point_index::PointIndex;
use search::{Meeting, Search};
use std::collections::BTreeMap;

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
        let (chains, mut index) = Self::chains_of(rings);
        let (chains, _) = cut(chains, &mut index, None, |search| search.meetings());
        Self::numbered(chains, &index.points)
    }

    /// The same of rings that are sources by their places; they go as soon as they are chains.
    pub(crate) fn of_own_rings(rings: Vec<Ring>) -> Self {
        let (chains, mut index) = Self::chains_of((0..).zip(rings.iter().map(Vec::as_slice)));
        drop(rings);
        let (chains, _) = cut(chains, &mut index, None, |search| search.meetings());
        Self::numbered(chains, &index.points)
    }

    /// The same, unless the rings meet so often that no map is meant.
    ///
    /// # Errors
    /// At how many places at least they meet, and one of them.
    pub(crate) fn of_map<'a>(
        rings: impl Iterator<Item = (u32, &'a [Pt])> + Clone,
    ) -> Result<Self, (usize, Pt)> {
        let (chains, mut index) = Self::chains_of(rings);
        let mut crowd = None;
        let (chains, _) = cut(chains, &mut index, None, |search| {
            let most = most_meetings(search.steps());
            search.meetings_up_to(most).unwrap_or_else(|at| {
                crowd = Some((most, at));
                Vec::new()
            })
        });
        match crowd {
            Some(crowd) => Err(crowd),
            None => Ok(Self::numbered(chains, &index.points)),
        }
    }

    /// Rings as chains, not cut where they cross, and their points.
    fn chains_of<'a>(rings: impl Iterator<Item = (u32, &'a [Pt])> + Clone) -> (Chains, PointIndex) {
        let count = rings.clone().map(|(_, ring)| ring.len()).sum::<usize>();
        // Most points are in two rings.
        let mut index = PointIndex::with_room_for(count / 2);
        let mut lines = Lines::with_room_for(count + rings.clone().count());
        let mut way = Vec::new();
        for (source, ring) in rings {
            way.clear();
            let mut before = FAR;
            for &point in ring {
                before = index.number_after(before, point);
                way.push(before);
            }
            way.extend(way.first().copied());
            way.dedup();
            if way.len() > 1 {
                lines.ways.push(way.iter().copied());
                lines.passages.push([Passage { source, count: 1 }]);
            }
        }
        let chains = Chains::of(&lines, index.points.len());
        (chains, index)
    }

    /// The noded linework of lines, each with what runs along it.
    pub(crate) fn of_lines(lines: impl Iterator<Item = (Vec<Pt>, Vec<Passage>)>) -> Self {
        let mut index = PointIndex::with_room_for(0);
        let mut all = Lines::with_room_for(0);
        let mut way = Vec::new();
        for (line, passages) in lines {
            way.clear();
            let mut before = FAR;
            for point in line {
                before = index.number_after(before, point);
                way.push(before);
            }
            way.dedup();
            if way.len() > 1 {
                all.ways.push(way.iter().copied());
                all.passages.push(passages);
            }
        }
        let chains = Chains::of(&all, index.points.len());
        drop(all);
        let (chains, _) = cut(chains, &mut index, None, |search| search.meetings());
        Self::numbered(chains, &index.points)
    }

    /// Noded linework, ways with what runs along each, after some of its steps have been led other ways, and the
    /// steps that have come of that, each from its lower to its higher point, ascending. `ways` has the new points
    /// of a step by its ends, the lower one first. Steps that stay are looked at only near such as have changed.
    pub(crate) fn led<'a>(
        lines: impl Iterator<Item = (&'a [Pt], Vec<Passage>)>,
        ways: &BTreeMap<[Pt; 2], Vec<Pt>>,
    ) -> (Self, Vec<[Pt; 2]>) {
        let mut index = PointIndex::with_room_for(0);
        let mut led = Lines::with_room_for(0);
        let mut bent: Vec<[u32; 2]> = Vec::new();
        let mut way = Vec::new();
        for (line, passages) in lines {
            way.clear();
            let mut before = FAR;
            let mut go = |point: Pt, is_bent: bool, way: &mut Vec<u32>| {
                let number = index.number_after(before, point);
                if is_bent && before != FAR && before != number {
                    bent.push([before.min(number), before.max(number)]);
                }
                before = number;
                way.push(number);
            };
            for step in line.windows(2) {
                let [from, to] = [step[0], step[1]];
                match ways.get(&[from.min(to), from.max(to)]) {
                    None => {
                        go(from, false, &mut way);
                        go(to, false, &mut way);
                    }
                    Some(new) => {
                        for nth in 0..new.len() {
                            let nth = if from < to { nth } else { new.len() - 1 - nth };
                            go(new[nth], true, &mut way);
                        }
                    }
                }
            }
            way.dedup();
            if way.len() > 1 {
                led.ways.push(way.iter().copied());
                led.passages.push(passages);
            }
        }
        bent.sort_unstable();
        bent.dedup();
        let chains = Chains::of(&led, index.points.len());
        drop(led);
        let (chains, fresh) = cut(chains, &mut index, Some(bent), |search| search.meetings());
        let place = |number: u32| index.points[number as usize];
        let fresh = fresh.into_iter().map(|step| step.map(place));
        let mut fresh: Vec<[Pt; 2]> = fresh.map(|[a, b]| [a.min(b), a.max(b)]).collect();
        fresh.sort_unstable();
        fresh.dedup();
        (Self::numbered(chains, &index.points), fresh)
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

/// A number that has none beside it.
const FAR: u32 = u32::MAX - 1;

/// Chains cut where they meet, and the steps that were fresh or have come of cuts, as numbers of points. At first
/// the `fresh` ones are looked at, or all; `meetings` finds where these meet.
fn cut(
    mut chains: Chains,
    index: &mut PointIndex,
    fresh: Option<Vec<[u32; 2]>>,
    mut meetings: impl FnMut(&Search) -> Vec<Meeting>,
) -> (Chains, Vec<[u32; 2]>) {
    let mut is_fresh = fresh
        .as_ref()
        .map(|fresh| chains.along(fresh, index.points.len()));
    let mut all = fresh.unwrap_or_default();
    while let Some(cuts) = cuts(&chains, index, is_fresh.as_deref(), &mut meetings) {
        let (lines, bent) = split(chains, &index.points, &cuts);
        drop(cuts);
        chains = Chains::of(&lines, index.points.len());
        is_fresh = Some(chains.along(&bent, index.points.len()));
        all.extend(bent);
    }
    (chains, all)
}

/// Steps of chains are numbered by the place of their first point among the points of all chains.
/// Which steps are to be cut at which points, ascending; `None` where nothing is. Looks only at steps near a
/// fresh one; at first all are.
fn cuts(
    chains: &Chains,
    index: &mut PointIndex,
    fresh: Option<&[bool]>,
    meetings: impl FnOnce(&Search) -> Vec<Meeting>,
) -> Option<Vec<(u32, u32)>> {
    if fresh.is_some_and(|fresh| !fresh.contains(&true)) {
        return None;
    }
    let places = chains.ways.map(|&point| index.points[point as usize]);
    let search = Search::new(&places, fresh);
    let known = index.points.len();
    let meetings = meetings(&search);
    let mut cuts: Vec<(u32, u32)> = meetings
        .into_iter()
        .map(|(step, point)| (step, index.number(point)))
        .collect();
    for number in known..index.points.len() {
        let steps = search.passing(index.points[number]);
        cuts.extend(steps.map(|step| (step, number as u32)));
    }
    cuts.sort_unstable();
    cuts.dedup();
    (!cuts.is_empty()).then_some(cuts)
}

/// The lines that chains become when steps are led through points, and the steps that come of it, each
/// from its lower to its higher point, ascending.
fn split(chains: Chains, points: &[Pt], cuts: &[(u32, u32)]) -> (Lines, Vec<[u32; 2]>) {
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

#[cfg(test)]
mod tests {
    use super::search::{beside, crossing, passes_pixel};
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

    /// Whole numbers from 0 on, below a range.
    fn numbers(mut state: u64) -> impl FnMut(i64) -> i64 {
        move |range| {
            state = state
                .wrapping_mul(6_364_136_223_846_793_005)
                .wrapping_add(1);
            ((state >> 33) as i64).rem_euclid(range)
        }
    }

    /// Near each other and far from the origin, where products of coordinates are rounded.
    #[test]
    fn segments_told_to_lie_beside_each_other_have_nothing_in_common() {
        let mut next = numbers(3);
        let mut told = 0;
        for case in 0..20_000 {
            let range = [9, 60, 1 << 38][case % 3];
            let far = if case % 2 == 0 { 0 } else { 1 << 39 };
            let mut segment = || {
                [0; 2].map(|_| Pt {
                    x: far + next(range),
                    y: next(range) - far,
                })
            };
            let (s, t) = (segment(), segment());
            if beside(s, t) {
                told += 1;
                assert_eq!(crossing(s, t), None);
                assert!(t.iter().all(|&end| !passes_pixel(s[0], s[1], end)));
                assert!(s.iter().all(|&end| !passes_pixel(t[0], t[1], end)));
            }
        }
        assert!(told > 3_000, "{told}");
    }

    #[test]
    fn random_tangles_come_out_noded() {
        let mut next = numbers(7);
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
            assert_noded(&Noded::of_rings(numbered(&rings)));
        }
    }

    #[test]
    fn long_ways_that_cross_themselves_and_each_other_come_out_noded() {
        let mut next = numbers(11);
        for round in 0..40 {
            // Ways that go on for many steps in one direction, and ways that wriggle.
            let drift = if round % 2 == 0 { 30 } else { 0 };
            let rings: Vec<Vec<Pt>> = (0..3)
                .map(|_| {
                    let mut at = Pt {
                        x: next(200),
                        y: next(200),
                    };
                    let mut turn = 1;
                    (0..70)
                        .map(|nth| {
                            if nth % 23 == 22 {
                                turn = -turn;
                            }
                            at = Pt {
                                x: at.x + turn * drift + next(41) - 20,
                                y: at.y + next(41) - 20,
                            };
                            at
                        })
                        .collect()
                })
                .collect();
            assert_noded(&Noded::of_rings(numbered(&rings)));
        }
    }

    fn numbered(rings: &[Vec<Pt>]) -> impl Iterator<Item = (u32, &[Pt])> + Clone {
        (0..).zip(rings).map(|(number, ring)| (number, &ring[..]))
    }
}
