//! Lines cut into chains: ways between nodes that meet nothing on the way, each kept once.
//!
//! Most points of a map lie on a border of two zones and nowhere else. Whatever is done with borders
//! is done with chains, so these points cost one visit each.

use super::Passage;
use crate::geometry::csr::Csr;

/// Lines through numbered points, each with what runs along it.
pub(super) struct Lines {
    /// Points of each line; a line that ends where it starts is closed.
    pub(super) ways: Csr<u32>,
    pub(super) passages: Csr<Passage>,
}

impl Lines {
    /// No lines yet, but room for this many points.
    pub(super) fn with_room_for(points: usize) -> Self {
        Self {
            ways: Csr::with_room_for(points),
            passages: Csr::new(),
        }
    }
}

/// Ways between nodes; no two have a point in common that is not an end of both.
pub(super) struct Chains {
    /// Points of each chain, both ends included. The ends of a loop are the same point.
    pub(super) ways: Csr<u32>,
    pub(super) passages: Csr<Passage>,
}

/// A part of a line between two nodes.
struct Part {
    /// The first step of the way that the chain keeps: the lesser of the steps at both ends. Parts of
    /// one chain have the same.
    step: [u32; 2],
    line: u32,
    /// Where it starts and ends among the points of the line.
    from: u32,
    to: u32,
    /// Whether the line runs the way that the chain keeps.
    forwards: bool,
}

impl Chains {
    /// Cuts lines, through this many points, at their nodes. Lines meet in points only.
    pub(super) fn of(lines: &Lines, points: usize) -> Self {
        let is_node = nodes(lines, points);
        let mut parts = Vec::new();
        for line in 0..lines.ways.len() {
            parts_of(lines.ways.list(line), line as u32, &is_node, &mut parts);
        }
        parts.sort_unstable_by_key(|part| (part.step, part.line, part.from));
        let mut chains = Self {
            ways: Csr::with_room_for(points + parts.len()),
            passages: Csr::new(),
        };
        let mut passages: Vec<Passage> = Vec::new();
        for same in parts.chunk_by(|a, b| a.step == b.step) {
            passages.clear();
            for part in same {
                let sign = if part.forwards { 1 } else { -1 };
                let along = lines.passages.list(part.line as usize).iter();
                passages.extend(along.map(|passage| Passage {
                    count: sign * passage.count,
                    ..*passage
                }));
            }
            let passages = summed(&mut passages);
            // A spike goes forth and back: nothing is left of it.
            if passages.is_empty() {
                continue;
            }
            chains.passages.push(passages.iter().copied());
            let part = &same[0];
            let way = lines.ways.list(part.line as usize);
            let way = around(way, part.from, part.to);
            match part.forwards {
                true => chains.ways.push(way),
                false => chains.ways.push(way.rev()),
            }
        }
        chains
    }

    /// Which steps, numbered by the place of their first point among all points of the chains, are among
    /// these: each from its lower to its higher point, ascending.
    pub(super) fn along(&self, steps: &[[u32; 2]], points: usize) -> Vec<bool> {
        let mut is_end = vec![false; points];
        for &end in steps.iter().flatten() {
            is_end[end as usize] = true;
        }
        let is_along = |a: u32, b: u32| {
            is_end[a as usize]
                && is_end[b as usize]
                && steps.binary_search(&[a.min(b), a.max(b)]).is_ok()
        };
        let mut along = vec![false; self.ways.items().len()];
        for (range, way) in self.ways.ranges().zip(self.ways.lists()) {
            for (step, ends) in (range.start as usize..).zip(way.windows(2)) {
                along[step] = is_along(ends[0], ends[1]);
            }
        }
        along
    }
}

/// Points of a line from one place to another; in a closed line the way may lead past its end.
fn around(way: &[u32], from: u32, to: u32) -> impl DoubleEndedIterator<Item = u32> {
    let steps = way.len() as u32 - 1;
    (from..=to).map(move |at| way[(if at > steps { at - steps } else { at }) as usize])
}

/// Which points are nodes: where lines end, turn back, or go different ways. A closed line that meets
/// none has its lowest point as one.
fn nodes(lines: &Lines, points: usize) -> Vec<bool> {
    let mut is_node = vec![false; points];
    let mut neighbours = vec![[NONE; 2]; points];
    let mut note = |point: u32, other: u32, is_node: &mut [bool]| {
        let [first, second] = &mut neighbours[point as usize];
        if *first == other || *second == other {
        } else if *first == NONE {
            *first = other;
        } else if *second == NONE {
            *second = other;
        } else {
            is_node[point as usize] = true;
        }
    };
    for line in 0..lines.ways.len() {
        let way = lines.ways.list(line);
        for step in way.windows(2) {
            note(step[0], step[1], &mut is_node);
            note(step[1], step[0], &mut is_node);
        }
        for steps in way.windows(3) {
            if steps[0] == steps[2] {
                is_node[steps[1] as usize] = true;
            }
        }
        if let (&[first, second, ..], &[.., before, last]) = (way, way)
            && (first != last || second == before)
        {
            is_node[first as usize] = true;
            is_node[last as usize] = true;
        }
    }
    for line in 0..lines.ways.len() {
        let way = lines.ways.list(line);
        if !way.iter().any(|&point| is_node[point as usize])
            && let Some(&lowest) = way.iter().min()
        {
            is_node[lowest as usize] = true;
        }
    }
    is_node
}

/// Stands for no point.
const NONE: u32 = u32::MAX;

/// Adds the parts of a line.
fn parts_of(way: &[u32], line: u32, is_node: &[bool], parts: &mut Vec<Part>) {
    let steps = way.len().saturating_sub(1) as u32;
    let mut stops = (0..way.len() as u32).filter(|&at| is_node[way[at as usize] as usize]);
    let Some(first) = stops.next() else { return };
    let mut add = |from: u32, to: u32| {
        let at = |at: u32| way[(if at > steps { at - steps } else { at }) as usize];
        let [start, end] = [[at(from), at(from + 1)], [at(to), at(to - 1)]];
        parts.push(Part {
            step: start.min(end),
            line,
            from,
            to,
            forwards: start <= end,
        });
    };
    let mut before = first;
    for stop in stops {
        add(before, stop);
        before = stop;
    }
    // The rest of a closed line, past its end to the first node.
    if before < steps {
        add(before, steps + first);
    }
}

/// Passages with the counts of each source summed, those that cancel left out.
fn summed(passages: &mut Vec<Passage>) -> &[Passage] {
    passages.sort_unstable_by_key(|passage| passage.source);
    passages.dedup_by(|next, kept| {
        let same = next.source == kept.source;
        if same {
            kept.count += next.count;
        }
        same
    });
    passages.retain(|passage| passage.count != 0);
    passages
}
