//! A lane (the width of a section, driven straight) across shapes: how much of its width is inside, place
//! by place, exactly.
//!
//! In coordinates u along and v across the heading, the inside width f(u) of the lane from `lo` to `hi`
//! is the sum, over all edges that span u, of the edge's v, held between lo and hi: positive for edges
//! that run backwards (land below them), negative for edges that run forwards. Between the places where
//! a vertex lies in the lane or an edge crosses its rim, f is a straight line. So areas, and the places
//! where a switch rule turns on or off, are solved and not sampled.

use super::SwitchRule;
use super::bands::Bands;
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
pub(super) fn profile(edges: &Bands, lo: f64, hi: f64) -> Vec<Slab> {
    broken(&edges.near([lo, hi]), [lo, hi], Vec::new(), None)
}

/// How many times the land winds around a place, u and v.
type At<'a> = &'a dyn Fn([f64; 2]) -> i32;

/// The inside width along a lane between two places; only edges that lie (partly) in the lane there need be given.
pub(super) fn between(edges: &[Edge], lane: [f64; 2], [from, to]: [f64; 2], at: At) -> Vec<Slab> {
    let slabs = broken(edges, lane, vec![from, to], Some(([from, to], at))).into_iter();
    let inside = slabs.filter(|slab| slab.to_m > from && slab.from_m < to);
    inside
        .map(|slab| slab.part(slab.from_m.max(from), slab.to_m.min(to)))
        .collect()
}

/// What an edge adds for each place below it: land lies below one that runs backwards.
fn sign(edge: &Edge) -> i32 {
    if edge.to[0] > edge.from[0] { -1 } else { 1 }
}

/// Where an edge crosses a line along the lane; half open, so that a corner counts once.
fn crossing(edge: &Edge, rim: f64) -> Option<f64> {
    let [a, b] = [edge.from, edge.to];
    ((a[1] < rim) != (b[1] < rim)).then(|| a[0] + (rim - a[1]) / (b[1] - a[1]) * (b[0] - a[0]))
}

/// The inside width, broken at further places as well. Without a way to ask, all land has to lie within the edges, but
/// for such as lie wholly above or below the lane; with one, they need only be all those in the lane between two places.
fn broken(
    edges: &[Edge],
    [lo, hi]: [f64; 2],
    mut breaks: Vec<f64>,
    ask: Option<([f64; 2], At)>,
) -> Vec<Slab> {
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
        breaks.extend([lo, hi].into_iter().filter_map(|rim| crossing(edge, rim)));
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
    // Per slab the edges that lie (partly) in the lane, and how much more than at the slab before the whole width is
    // added by edges wholly above it. These are not looked at: how many there are shows where others cross the left rim.
    let mut above = vec![0_i32; middles.len() + 1];
    let mut within: Vec<Vec<Edge>> = vec![Vec::new(); middles.len()];
    // An edge counts for a slab if it spans its middle; half open, so that a vertex counts once.
    let slab = |u: f64| middles.partition_point(|middle| *middle < u);
    for edge in edges {
        let [a, b] = [edge.from, edge.to];
        if a[1].max(b[1]) <= lo || a[1].min(b[1]) >= hi {
            continue;
        }
        let slabs = slab(a[0].min(b[0]))..slab(a[0].max(b[0]));
        within[slabs].iter_mut().for_each(|of| of.push(*edge));
        let Some(crossed) = crossing(edge, hi) else {
            continue;
        };
        // Past an edge to the left there is no land below the rim any more.
        let leaves = b[1] >= hi;
        above[slab(crossed)] += if leaves { -1 } else { 1 };
        // Its own part above the rim is counted with those within.
        let beyond = if leaves { b[0] } else { a[0] };
        above[slab(crossed.min(beyond))] -= sign(edge);
        above[slab(crossed.max(beyond))] += sign(edge);
    }
    if let Some((places, at)) = ask {
        let asked = asked_slab(&breaks, places).and_then(|nth| Some((nth, within.get(nth)?)));
        if let Some((nth, here)) = asked {
            let known: i32 = above.iter().take(nth + 1).sum();
            above[0] += wholly_above(here, middles[nth], [lo, hi], at) - known;
        }
    }
    let mut slabs = Vec::new();
    let mut whole = 0;
    for ((pair, edges), change) in breaks.windows(2).zip(&within).zip(&above) {
        let &[from_m, to_m] = pair else { continue };
        whole += change;
        let width = f64::from(whole) * (hi - lo);
        let (mut inside_from_m, mut inside_to_m) = (width, width);
        for edge in edges {
            let [a, b] = [edge.from, edge.to];
            let sign = f64::from(sign(edge));
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

/// The longest slab between two places.
fn asked_slab(breaks: &[f64], [from, to]: [f64; 2]) -> Option<usize> {
    let slabs = breaks.windows(2).enumerate();
    let inside = slabs.filter(|(_, pair)| pair[0] >= from && pair[1] <= to);
    let length = |pair: &[f64]| pair[1] - pair[0];
    let longest = inside.max_by(|(_, a), (_, b)| length(a).total_cmp(&length(b)));
    longest.map(|(nth, _)| nth)
}

/// How often the whole width counts at a place along a lane, by asking how often the land winds around it: where its
/// edges leave most room, as a border is likely to run along its rims.
fn wholly_above(here: &[Edge], u: f64, [lo, hi]: [f64; 2], at: At) -> i32 {
    let v = |edge: &Edge| {
        let [a, b] = [edge.from, edge.to];
        let share = ((u - a[0]) / (b[0] - a[0])).clamp(0.0, 1.0);
        (a[1] + share * (b[1] - a[1])).clamp(lo, hi)
    };
    let mut places: Vec<f64> = here.iter().map(v).chain([lo, hi]).collect();
    places.sort_by(f64::total_cmp);
    let room = |pair: &[f64]| pair[1] - pair[0];
    let widest = places
        .windows(2)
        .max_by(|a, b| room(a).total_cmp(&room(b)))
        .map_or((lo + hi) / 2.0, |pair| (pair[0] + pair[1]) / 2.0);
    let above = here.iter().filter(|edge| v(edge) > widest);
    at([u, widest]) - above.map(sign).sum::<i32>()
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

#[cfg(test)]
mod tests {
    use super::super::test_numbers::random_numbers;
    use super::*;

    /// The whole width at a place along a lane by every edge there is.
    fn by_all_edges(edges: &[Edge], [lo, hi]: [f64; 2], u: f64) -> f64 {
        let spans = |edge: &&Edge| (edge.from[0] < u) != (edge.to[0] < u);
        let width = |edge: &Edge| {
            let [a, b] = [edge.from, edge.to];
            let v = a[1] + (u - a[0]) / (b[0] - a[0]) * (b[1] - a[1]);
            f64::from(sign(edge)) * (v.clamp(lo, hi) - lo)
        };
        edges.iter().filter(spans).map(width).sum()
    }

    /// Stars with a hole, whole metres for corners so that many lie on the rims of lanes: across the whole field, and
    /// between two places with nothing but the edges near them.
    #[test]
    fn a_lane_that_looks_at_its_own_edges_only_has_the_width_of_all() {
        let mut random = random_numbers(23);
        for case in 0..40 {
            let mut ring = |count: u32, size: f64| {
                let corner = |k: u32| {
                    let (sine, cosine) =
                        (f64::from(k) / f64::from(count) * std::f64::consts::TAU).sin_cos();
                    let radius = size * (0.5 + 0.5 * random());
                    [radius * cosine, radius * sine]
                        .map(|m| if case % 2 == 0 { m.round() } else { m })
                };
                (0..count).map(corner).collect::<Vec<_>>()
            };
            let (outer, mut hole) = (ring(30, 60.0), ring(7, 20.0));
            hole.reverse();
            let edges: Vec<Edge> = [outer, hole]
                .iter()
                .flat_map(|ring| {
                    let ends = ring.iter().skip(1).chain(ring.first());
                    ring.iter().zip(ends).map(|(from, to)| Edge {
                        from: *from,
                        to: *to,
                    })
                })
                .collect();
            let bands = Bands::of(edges.clone());
            let at = |[x, y]: [f64; 2]| {
                let crossing = |edge: &Edge| {
                    let past = crossing(edge, y).is_some_and(|u| u > x);
                    i32::from(past) * if edge.to[1] > edge.from[1] { 1 } else { -1 }
                };
                edges.iter().map(crossing).sum::<i32>()
            };
            for nth in -21..21 {
                let lane = [3.0 * f64::from(nth), 3.0 * f64::from(nth + 1)];
                let places = [-7.5 + 0.1 * f64::from(nth), 11.5];
                let near = |edge: &&Edge| {
                    edge.from[0].max(edge.to[0]) >= places[0]
                        && edge.from[0].min(edge.to[0]) <= places[1]
                        && edge.from[1].max(edge.to[1]) >= lane[0]
                        && edge.from[1].min(edge.to[1]) <= lane[1]
                };
                let here: Vec<Edge> = edges.iter().filter(near).copied().collect();
                let whole = profile(&bands, lane[0], lane[1]);
                let part = between(&here, lane, places, &at);
                let length: f64 = part.iter().map(|slab| slab.to_m - slab.from_m).sum();
                assert!((length - (places[1] - places[0])).abs() < 1e-9);
                for slab in whole.iter().chain(&part) {
                    if slab.to_m - slab.from_m < 1e-9 {
                        continue;
                    }
                    let middle = (slab.from_m + slab.to_m) / 2.0;
                    let expected = by_all_edges(&edges, lane, middle);
                    let got = slab.inside_at(middle);
                    assert!(
                        (got - expected).abs() < 1e-9,
                        "{case} {nth}: {got} {expected}"
                    );
                }
            }
        }
    }
}
