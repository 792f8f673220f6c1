//! Where a section is on along a straight piece of a ring, by how much of it is open and by the rule.

use super::super::SwitchRule;
use super::super::open_width::Stretch;

/// Less open width does not count, m: arcs are driven in chords, which lie within a few millimetres of those of
/// the ring beside them.
const LEAST_M: f64 = 0.02;

/// Stations that differ by less are the same, m.
pub(super) const SAME_M: f64 = 1e-7;

/// What the rings drill, before any delay.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub(in super::super) struct Drilled {
    /// Width times way with sections on, m2.
    pub driven_m2: f64,
    /// Headland that they drill, m2.
    pub headland_m2: f64,
}

/// Where on a piece a section is on, metres along it, by how much of it is open. `is_on` is its state before and afterwards.
pub(super) fn switched_along(
    widths: Vec<Stretch>,
    length_m: f64,
    rule: SwitchRule,
    is_on: &mut bool,
    sums: &mut Drilled,
) -> Vec<[f64; 2]> {
    let mut on: Vec<[f64; 2]> = Vec::new();
    // What lies beyond the piece's ends, around a corner, goes with the end.
    let [corner_before, inside, corner_after] = split(widths, length_m);
    let ends = inside.first().zip(inside.last());
    let ends = ends.map(|(first, last)| [first.along_m[0], last.along_m[1]]);
    for stretch in inside {
        for (part, part_on) in switched(&stretch, rule, *is_on) {
            *is_on = part_on;
            if !part_on {
                continue;
            }
            sums.add(&part);
            let [from, to] = part.along_m;
            match on.last_mut() {
                Some(last) if from - last[1] <= SAME_M => last[1] = to,
                _ => on.push([from, to]),
            }
        }
    }
    // Inside a bend its ground begins after the piece and ends before it.
    if let Some([begin, end]) = ends {
        if let Some(first) = on.first_mut().filter(|first| first[0] <= begin + SAME_M) {
            first[0] = 0.0;
        }
        if let Some(last) = on.last_mut().filter(|last| last[1] >= end - SAME_M) {
            last[1] = length_m;
        }
    }
    if on.first().is_some_and(|first| first[0] <= SAME_M) {
        corner_before.iter().for_each(|stretch| sums.add(stretch));
    }
    if on.last().is_some_and(|last| last[1] >= length_m - SAME_M) {
        corner_after.iter().for_each(|stretch| sums.add(stretch));
    }
    on
}

impl Drilled {
    fn add(&mut self, stretch: &Stretch) {
        self.driven_m2 += stretch.own_m2();
        self.headland_m2 += stretch.open_m2();
    }
}

/// Before the piece, along it, past it.
fn split(stretches: Vec<Stretch>, length_m: f64) -> [Vec<Stretch>; 3] {
    let mut parts = [Vec::new(), Vec::new(), Vec::new()];
    for stretch in stretches {
        let middle = (stretch.along_m[0] + stretch.along_m[1]) / 2.0;
        let [before, inside, after] = &mut parts;
        if middle < 0.0 {
            before.push(stretch);
        } else if middle > length_m {
            after.push(stretch);
        } else {
            inside.push(stretch);
        }
    }
    parts
}

/// A stretch cut where the rule changes its answer, each part with whether the section is on. Where the section has no
/// ground of its own, as at the inside of a corner, it stays as it was.
fn switched(stretch: &Stretch, rule: SwitchRule, was_on: bool) -> Vec<(Stretch, bool)> {
    let [own, open] = [stretch.own_m, stretch.open_m];
    if own[0].max(own[1]) <= LEAST_M {
        return vec![(*stretch, was_on)];
    }
    // How much more is open than the rule asks for.
    let more = [0, 1].map(|end| match rule {
        SwitchRule::AnyPartIn => open[end] - LEAST_M,
        SwitchRule::HalfIn => open[end] - own[end] / 2.0,
        SwitchRule::AllIn => open[end] - (own[end] - LEAST_M).max(own[end] / 2.0),
    });
    // Where its ground ends in a point, both are nothing but for rounding.
    match more.map(|more| more >= -SAME_M) {
        [true, true] => vec![(*stretch, true)],
        [false, false] => vec![(*stretch, false)],
        // Any part counts from the first touch on.
        _ if rule == SwitchRule::AnyPartIn => vec![(*stretch, true)],
        [first, _] => {
            let [from, to] = stretch.along_m;
            let at = from + more[0] / (more[0] - more[1]) * (to - from);
            let parts = [[from, at], [at, to]];
            let parts = parts.into_iter().zip([first, !first]);
            parts
                .filter(|([a, b], _)| b > a)
                .map(|(part, on)| (stretch.part(part), on))
                .collect()
        }
    }
}
