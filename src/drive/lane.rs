//! A lane (the width of a section, driven straight) across shapes: how much of its width is inside, place
//! by place, exactly.
//!
//! In coordinates u along and v across the heading, the inside width f(u) of the lane from `lo` to `hi`
//! is the sum, over all edges that span u, of the edge's v, held between lo and hi: positive for edges
//! that run backwards (land below them), negative for edges that run forwards. Between the places where
//! a vertex lies in the lane or an edge crosses its rim, f is a straight line. So areas, and the places
//! where a switch rule turns on or off, are solved and not sampled.

use super::SwitchRule;
use super::frame::Edge;

/// Widths that differ by less are the same: the plane's grid is a micrometre, m.
const SAME_M: f64 = 1e-5;

/// A stretch of a lane on which the inside width is a straight line.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Slab {
    pub from_m: f64,
    pub to_m: f64,
    pub inside_from_m: f64,
    pub inside_to_m: f64,
}

impl Slab {
    /// Area inside, m2.
    fn area_m2(&self) -> f64 {
        (self.to_m - self.from_m) * (self.inside_from_m + self.inside_to_m) / 2.0
    }

    fn inside_at(&self, u: f64) -> f64 {
        let share = (u - self.from_m) / (self.to_m - self.from_m);
        self.inside_from_m + share * (self.inside_to_m - self.inside_from_m)
    }

    /// The same, with other stations.
    pub(super) fn moved(self, metres: f64) -> Slab {
        Slab {
            from_m: self.from_m + metres,
            to_m: self.to_m + metres,
            ..self
        }
    }

    fn part(&self, from_m: f64, to_m: f64) -> Slab {
        Slab {
            from_m,
            to_m,
            inside_from_m: self.inside_at(from_m),
            inside_to_m: self.inside_at(to_m),
        }
    }
}

/// What a lane drills.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Drilled {
    /// From where to where it is on, ascending.
    pub on_m: Vec<[f64; 2]>,
    /// Area inside that is drilled, m2.
    pub inside_m2: f64,
    /// Area outside that is drilled, m2.
    pub outside_m2: f64,
    /// Area inside that is not drilled, m2.
    pub missed_m2: f64,
}

/// The inside width along a lane.
pub(super) fn profile(edges: &[Edge], lo: f64, hi: f64) -> Vec<Slab> {
    broken(edges, [lo, hi], Vec::new())
}

/// The inside width along a lane between two places; only edges that span some of the way there need be given.
pub(super) fn between(edges: &[Edge], lane: [f64; 2], [from, to]: [f64; 2]) -> Vec<Slab> {
    let slabs = broken(edges, lane, vec![from, to]).into_iter();
    let inside = slabs.filter(|slab| slab.to_m > from && slab.from_m < to);
    inside
        .map(|slab| slab.part(slab.from_m.max(from), slab.to_m.min(to)))
        .collect()
}

/// The inside width, broken at further places as well.
fn broken(edges: &[Edge], [lo, hi]: [f64; 2], mut breaks: Vec<f64>) -> Vec<Slab> {
    for edge in edges {
        let [a, b] = [edge.from, edge.to];
        if a[1].max(b[1]) < lo || a[1].min(b[1]) > hi {
            continue;
        }
        for end in [a, b] {
            if (lo..=hi).contains(&end[1]) {
                breaks.push(end[0]);
            }
        }
        for rim in [lo, hi] {
            if (a[1] < rim) != (b[1] < rim) {
                breaks.push(a[0] + (rim - a[1]) / (b[1] - a[1]) * (b[0] - a[0]));
            }
        }
    }
    breaks.sort_by(f64::total_cmp);
    breaks.dedup();
    let middles: Vec<f64> = breaks
        .windows(2)
        .filter_map(|pair| match pair {
            &[from, to] => Some(from + (to - from) / 2.0),
            _ => None,
        })
        .collect();
    // Per slab the edges that lie (partly) in the lane, and how often the whole width is added by edges
    // wholly above it: these only at the slabs where they begin and end. So the cost of a lane grows with
    // its edges, not with their square.
    let mut above = vec![0_i64; middles.len() + 1];
    let mut within: Vec<Vec<Edge>> = vec![Vec::new(); middles.len()];
    for edge in edges {
        let [a, b] = [edge.from, edge.to];
        if a[1].max(b[1]) <= lo {
            continue;
        }
        // An edge counts for a slab if it spans its middle; half open, so that a vertex counts once.
        let slab = |u: f64| middles.partition_point(|middle| *middle < u);
        let (first, end) = (slab(a[0].min(b[0])), slab(a[0].max(b[0])));
        if a[1].min(b[1]) >= hi {
            let sign = if b[0] > a[0] { -1 } else { 1 };
            above[first] += sign;
            above[end] -= sign;
        } else {
            within[first..end].iter_mut().for_each(|of| of.push(*edge));
        }
    }
    let mut slabs = Vec::new();
    let mut whole = 0;
    for ((pair, edges), change) in breaks.windows(2).zip(&within).zip(&above) {
        let &[from_m, to_m] = pair else { continue };
        whole += change;
        let width = whole as f64 * (hi - lo);
        let (mut inside_from_m, mut inside_to_m) = (width, width);
        for edge in edges {
            let [a, b] = [edge.from, edge.to];
            let sign = if b[0] > a[0] { -1.0 } else { 1.0 };
            let v = |u: f64| {
                let share = ((u - a[0]) / (b[0] - a[0])).clamp(0.0, 1.0);
                (a[1] + share * (b[1] - a[1])).clamp(lo, hi) - lo
            };
            inside_from_m += sign * v(from_m);
            inside_to_m += sign * v(to_m);
        }
        slabs.push(Slab {
            from_m,
            to_m,
            inside_from_m,
            inside_to_m,
        });
    }
    slabs
}

/// What the lane drills by a rule.
pub(super) fn drilled(slabs: &[Slab], width_m: f64, rule: SwitchRule) -> Drilled {
    let least = match rule {
        SwitchRule::AnyPartIn => SAME_M,
        SwitchRule::HalfIn => width_m / 2.0,
        SwitchRule::AllIn => width_m - SAME_M,
    };
    let mut result = Drilled {
        on_m: Vec::new(),
        inside_m2: 0.0,
        outside_m2: 0.0,
        missed_m2: 0.0,
    };
    for slab in slabs {
        let [from, to] = [slab.inside_from_m >= least, slab.inside_to_m >= least];
        let change = || {
            let slope = (slab.inside_to_m - slab.inside_from_m) / (slab.to_m - slab.from_m);
            (slab.from_m + (least - slab.inside_from_m) / slope).clamp(slab.from_m, slab.to_m)
        };
        let on = match (from, to) {
            (true, true) => Some([slab.from_m, slab.to_m]),
            // Any part counts from the first touch on, not from the width that is told from none.
            (true, false) | (false, true) if rule == SwitchRule::AnyPartIn => {
                Some([slab.from_m, slab.to_m])
            }
            (true, false) => Some([slab.from_m, change()]),
            (false, true) => Some([change(), slab.to_m]),
            (false, false) => None,
        };
        let inside = match on {
            Some([a, b]) if b > a => {
                let inside = slab.part(a, b).area_m2();
                result.outside_m2 += width_m * (b - a) - inside;
                match result.on_m.last_mut() {
                    Some(last) if a - last[1] <= SAME_M => last[1] = b,
                    _ => result.on_m.push([a, b]),
                }
                inside
            }
            _ => 0.0,
        };
        result.inside_m2 += inside;
        result.missed_m2 += slab.area_m2() - inside;
    }
    result
}
