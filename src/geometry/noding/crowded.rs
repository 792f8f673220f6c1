//! Whether lines meet so often that what comes of them has no end: counted before anything is made of them.

use super::super::csr::Csr;
use super::super::point::Pt;
use super::search::Search;

/// Meetings that any lines may have, and those that they may have beyond for each of their steps. The outlines of
/// a map meet once or twice a step where two maps have the same borders; 1000 random chords 300 times a step.
const ALWAYS: usize = 40_000;
const PER_STEP: usize = 8;

/// How many meetings lines of so many steps may have.
pub(super) fn most_meetings(steps: usize) -> usize {
    ALWAYS + PER_STEP * steps
}

/// How often rings or lines meet themselves and each other at least, and where, if that is too often.
pub(crate) fn crowded<'a>(lines: impl Iterator<Item = &'a [Pt]>) -> Option<(usize, Pt)> {
    meet_too_often(lines, most_meetings)
}

/// Whether rings or lines meet themselves and each other more often than lines of so many steps may.
pub(crate) fn is_knot<'a>(lines: impl Iterator<Item = &'a [Pt]>, steps: usize) -> bool {
    meet_too_often(lines, |_| most_meetings(steps)).is_some()
}

/// Whether rings or lines meet themselves and each other more often than this.
pub(crate) fn meet_more_often<'a>(lines: impl Iterator<Item = &'a [Pt]>, most: usize) -> bool {
    let ways = ways(lines);
    Search::new(&ways, None).more_meetings_than(most).is_some()
}

fn ways<'a>(lines: impl Iterator<Item = &'a [Pt]>) -> Csr<Pt> {
    let mut ways: Csr<Pt> = Csr::new();
    for line in lines {
        let mut way = line.to_vec();
        way.dedup();
        if way.len() > 1 {
            ways.push(way);
        }
    }
    ways
}

fn meet_too_often<'a>(
    lines: impl Iterator<Item = &'a [Pt]>,
    most: impl Fn(usize) -> usize,
) -> Option<(usize, Pt)> {
    let ways = ways(lines);
    let steps = ways.items().len();
    // Fewer than these cannot meet so often, whatever way they run.
    if steps * steps < ALWAYS {
        return None;
    }
    let most = most(steps);
    let crowd = Search::new(&ways, None).more_meetings_than(most);
    crowd.map(|at| (most, at))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn chords_are_too_many_and_a_map_is_not() {
        let mut state = 3u64;
        let mut random = || {
            state = state
                .wrapping_mul(6_364_136_223_846_793_005)
                .wrapping_add(1);
            (state >> 33) as i64 % 1_000_000
        };
        let mut chords: Vec<Pt> = Vec::new();
        for _ in 0..1_000 {
            chords.push(Pt {
                x: random(),
                y: random(),
            });
        }
        let (most, at) = crowded([chords.as_slice()].into_iter()).unwrap();
        assert!(most < 60_000 && at.x < 1_000_000, "{most} {at:?}");
        assert!(crowded([&chords[..200]].into_iter()).is_none());
        // Squares side by side, all corners and borders shared.
        let squares: Vec<Vec<Pt>> = (0..10_000)
            .map(|n| {
                let [x, y] = [n % 100 * 50, n / 100 * 50];
                let corners = [[x, y], [x + 50, y], [x + 50, y + 50], [x, y + 50], [x, y]];
                corners.map(|[x, y]| Pt { x, y }).to_vec()
            })
            .collect();
        assert!(crowded(squares.iter().map(Vec::as_slice)).is_none());
    }
}
