//! Where steps of chains meet: crossings, and points of one that another passes.
//!
//! Steps are looked at in bundles, a few neighbours of one chain each: far fewer than steps, and most
//! of them meet no other.

use super::super::csr::Csr;
use super::super::grid_index::GridIndex;
use super::super::point::{Pt, cross};
use rayon::prelude::*;
use std::ops::Range;
use std::sync::atomic::{AtomicUsize, Ordering};

/// Most steps in a bundle.
const MOST_STEPS: u32 = 8;

/// A step, by the place of its first point among the points of all chains, and a point on it.
pub(super) type Meeting = (u32, Pt);

/// Steps that are searched.
pub(super) struct Search<'a> {
    places: &'a [Pt],
    /// Per step whether it is fresh; `None` where all are.
    fresh: Option<&'a [bool]>,
    bundles: Vec<Bundle>,
    grid: GridIndex,
}

/// Steps that follow each other.
struct Bundle {
    steps: Range<u32>,
    around: Around,
    /// Whether any step is fresh.
    fresh: bool,
    /// Whether the steps go on in one direction of an axis, so that none meets another.
    straight_on: bool,
}

/// A box, its borders included.
#[derive(Clone, Copy)]
struct Around {
    low: Pt,
    high: Pt,
}

impl Around {
    fn of([a, b]: [Pt; 2]) -> Self {
        Self {
            low: Pt {
                x: a.x.min(b.x),
                y: a.y.min(b.y),
            },
            high: Pt {
                x: a.x.max(b.x),
                y: a.y.max(b.y),
            },
        }
    }

    fn with(self, point: Pt) -> Self {
        let [low, high] = [self.low, self.high];
        Self {
            low: Pt {
                x: low.x.min(point.x),
                y: low.y.min(point.y),
            },
            high: Pt {
                x: high.x.max(point.x),
                y: high.y.max(point.y),
            },
        }
    }

    /// Whether two boxes have nothing in common. Plain comparisons: it is asked of most pairs, and tests run unoptimised.
    fn is_apart_from(&self, other: &Self) -> bool {
        self.low.x > other.high.x
            || other.low.x > self.high.x
            || self.low.y > other.high.y
            || other.low.y > self.high.y
    }

    /// What two boxes have in common; `None` for nothing.
    fn common(self, other: Self) -> Option<Self> {
        let low = Pt {
            x: self.low.x.max(other.low.x),
            y: self.low.y.max(other.low.y),
        };
        let high = Pt {
            x: self.high.x.min(other.high.x),
            y: self.high.y.min(other.high.y),
        };
        (low.x <= high.x && low.y <= high.y).then_some(Self { low, high })
    }
}

impl<'a> Search<'a> {
    /// A search of all steps near a fresh one.
    pub(super) fn new(places: &'a Csr<Pt>, fresh: Option<&'a [bool]>) -> Self {
        let mut steps =
            Vec::with_capacity(places.items().len() / MOST_STEPS as usize + places.len());
        for way in places.ranges() {
            let (mut from, last) = (way.start, way.end - 1);
            while from < last {
                let to = last.min(from + MOST_STEPS);
                steps.push(from..to);
                from = to;
            }
        }
        let steps = steps.into_par_iter().with_min_len(4096);
        let bundles: Vec<Bundle> = steps
            .map(|steps| Bundle::of(steps, places.items(), fresh))
            .collect();
        let segments = |number: u32| {
            let steps = bundles[number as usize].steps.clone();
            steps.map(|step| step_at(places.items(), step))
        };
        let grid = match fresh {
            Some(_) => {
                let boxes = |number: u32| {
                    let around = bundles[number as usize].around;
                    [around.low, around.high]
                };
                let is_fresh = |number: u32| bundles[number as usize].fresh;
                GridIndex::near_fresh(bundles.len(), segments, boxes, is_fresh)
            }
            None => GridIndex::new(bundles.len(), segments),
        };
        Self {
            places: places.items(),
            fresh,
            bundles,
            grid,
        }
    }

    /// All meetings of a fresh step with another.
    pub(super) fn meetings(&self) -> Vec<Meeting> {
        let within = self.bundles.par_iter().with_min_len(4096);
        let within = within.map(|bundle| self.within(bundle));
        let between = (0..self.grid.len()).into_par_iter().with_min_len(4096);
        let between = between.map(|cell| self.in_cell(cell));
        let found: Vec<Vec<Meeting>> = within
            .chain(between)
            .filter(|meetings| !meetings.is_empty())
            .collect();
        found.into_iter().flatten().collect()
    }

    /// How many steps are searched, with one for each way.
    pub(super) fn steps(&self) -> usize {
        self.places.len()
    }

    /// All meetings of a fresh step with another, if there are no more than these.
    ///
    /// # Errors
    /// The place of one of more.
    pub(super) fn meetings_up_to(&self, most: usize) -> Result<Vec<Meeting>, Pt> {
        let count = AtomicUsize::new(0);
        let few = |found: Vec<Meeting>| {
            let before = count.fetch_add(found.len(), Ordering::Relaxed);
            (before + found.len() <= most).then_some(found)
        };
        let within = self.bundles.par_iter().with_min_len(4096);
        let within = within.map(|bundle| few(self.within(bundle)));
        let between = (0..self.grid.len()).into_par_iter().with_min_len(4096);
        let between = between.map(|cell| few(self.in_cell(cell)));
        let has_any = |found: &Option<Vec<Meeting>>| !found.as_ref().is_some_and(Vec::is_empty);
        let found: Option<Vec<Vec<Meeting>>> = within.chain(between).filter(has_any).collect();
        match found {
            Some(found) => Ok(found.into_iter().flatten().collect()),
            // Two steps that meet near the border of cells were found in each: exactly, then, in order.
            None => match self.more_meetings_than(most) {
                Some(at) => Err(at),
                None => Ok(self.meetings()),
            },
        }
    }

    /// The place of one of more meetings than these; a meeting on the border of cells counts
    /// in each. The search ends as soon as that is known.
    pub(super) fn more_meetings_than(&self, most: usize) -> Option<Pt> {
        let mut count = 0;
        let within = self.bundles.iter().map(|bundle| self.within(bundle));
        let between = (0..self.grid.len()).map(|cell| {
            let [low, high] = self.grid.corners(cell);
            let here = |point: &Pt| {
                (low.x..=high.x).contains(&point.x) && (low.y..=high.y).contains(&point.y)
            };
            let mut found = self.in_cell(cell);
            found.retain(|(_, point)| here(point));
            found
        });
        for found in within.chain(between) {
            count += found.len();
            if count > most {
                return found.first().map(|(_, point)| *point);
            }
        }
        None
    }

    /// Steps that pass a point.
    pub(super) fn passing(&self, point: Pt) -> impl Iterator<Item = u32> {
        let bundles = self.grid.at(point).iter();
        let steps = bundles.flat_map(|&bundle| self.bundles[bundle as usize].steps.clone());
        steps.filter(move |&step| {
            let [a, b] = step_at(self.places, step);
            passes_pixel(a, b, point)
        })
    }

    /// Meetings among the steps of a bundle.
    fn within(&self, bundle: &Bundle) -> Vec<Meeting> {
        let mut found = Vec::new();
        if bundle.fresh && !bundle.straight_on {
            for first in bundle.steps.clone() {
                for second in first + 1..bundle.steps.end {
                    self.meet(first, second, &mut found);
                }
            }
        }
        found
    }

    /// Meetings in a cell between steps of different bundles.
    fn in_cell(&self, cell: usize) -> Vec<Meeting> {
        let mut found = Vec::new();
        let bundles = self.grid.cell(cell);
        if bundles.len() < 2 {
            return found;
        }
        let [low, high] = self.grid.corners(cell);
        let cell = Around { low, high };
        let (mut firsts, mut seconds) = (Vec::new(), Vec::new());
        for (nth, &first) in bundles.iter().enumerate() {
            let first = &self.bundles[first as usize];
            let Some(here) = first.around.common(cell) else {
                continue;
            };
            for &second in &bundles[nth + 1..] {
                let second = &self.bundles[second as usize];
                if here.is_apart_from(&second.around) || !first.fresh && !second.fresh {
                    continue;
                }
                let Some(common) = here.common(second.around) else {
                    continue;
                };
                self.touching(first, common, &mut firsts);
                if firsts.is_empty() {
                    continue;
                }
                self.touching(second, common, &mut seconds);
                for &first in &firsts {
                    for &second in &seconds {
                        self.meet(first, second, &mut found);
                    }
                }
            }
        }
        found
    }

    /// The steps of a bundle whose boxes touch a box.
    fn touching(&self, bundle: &Bundle, place: Around, found: &mut Vec<u32>) {
        found.clear();
        found.extend(
            bundle
                .steps
                .clone()
                .filter(|&step| !Around::of(step_at(self.places, step)).is_apart_from(&place)),
        );
    }

    fn is_fresh(&self, step: u32) -> bool {
        self.fresh.is_none_or(|fresh| fresh[step as usize])
    }

    /// Adds what two steps have in common.
    fn meet(&self, first: u32, second: u32, found: &mut Vec<Meeting>) {
        if !self.is_fresh(first) && !self.is_fresh(second) {
            return;
        }
        let (s, t) = (step_at(self.places, first), step_at(self.places, second));
        if Around::of(s).is_apart_from(&Around::of(t)) || beside(s, t) || beside(t, s) {
            return;
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

impl Bundle {
    fn of(steps: Range<u32>, places: &[Pt], fresh: Option<&[bool]>) -> Self {
        let [from, to] = [steps.start as usize, steps.end as usize];
        let points = &places[from..=to];
        let first = Around::of([points[0], points[0]]);
        let goes =
            |holds: fn(Pt, Pt) -> bool| points.windows(2).all(|step| holds(step[0], step[1]));
        Self {
            around: points[1..]
                .iter()
                .fold(first, |around, &point| around.with(point)),
            fresh: fresh.is_none_or(|fresh| fresh[from..to].contains(&true)),
            straight_on: goes(|a, b| a.x < b.x)
                || goes(|a, b| a.x > b.x)
                || goes(|a, b| a.y < b.y)
                || goes(|a, b| a.y > b.y),
            steps,
        }
    }
}

/// Both ends of a step.
fn step_at(places: &[Pt], step: u32) -> [Pt; 2] {
    [places[step as usize], places[step as usize + 1]]
}

/// Whether the open segment a-b passes through the pixel (one unit square) centred on `p`, an end
/// excepted. By the separating-axis theorem for a segment and a square.
pub(super) fn passes_pixel(a: Pt, b: Pt, p: Pt) -> bool {
    let between = |lo: i64, v: i64, hi: i64| lo.min(hi) <= v && v <= lo.max(hi);
    if !between(a.x, p.x, b.x) || !between(a.y, p.y, b.y) || p == a || p == b {
        return false;
    }
    let reach = i128::from((b.x - a.x).abs()) + i128::from((b.y - a.y).abs());
    2 * cross(a, b, p).abs() < reach
}

/// Share of its terms by which rounding can move a cross product of whole numbers below 2^53.
const ROUNDING: f64 = 1e-15;

/// Whether a segment lies wholly on one side of the line through another, more than a unit from it along either axis: the two have
/// nothing in common, and neither passes an end of the other. May say no where that is so.
pub(super) fn beside([a, b]: [Pt; 2], other: [Pt; 2]) -> bool {
    let [dx, dy] = [(b.x - a.x) as f64, (b.y - a.y) as f64];
    let sides = other.map(|end| {
        let [left, right] = [dx * (end.y - a.y) as f64, dy * (end.x - a.x) as f64];
        let least = dx.abs() + dy.abs() + ROUNDING * (left.abs() + right.abs());
        let side = left - right;
        if side > least {
            1
        } else if side < -least {
            -1
        } else {
            0
        }
    });
    sides[0] != 0 && sides[0] == sides[1]
}

/// The point, rounded to the grid, where two segments properly cross.
pub(super) fn crossing([a, b]: [Pt; 2], [c, d]: [Pt; 2]) -> Option<Pt> {
    // Neighbours of a chain, which most are, have an end in common.
    if a == c || a == d || b == c || b == d {
        return None;
    }
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
