//! The field in small squares: which zone each lies in, how often it was drilled, and what was sown there.

use super::PlanMap;
use super::state::Strip;
use super::track::Segment;
use crate::coordinates::PlaneXy;
use crate::findings::{Fault, Outcome, Place};
use crate::units::M2_PER_HA;

/// Outside every zone.
pub(super) const OUTSIDE: u16 = u16::MAX;
/// Most squares: a field of 2 km x 2 km at half a metre is 16 million.
const MOST_SQUARES: f64 = 8e6;
/// Widest edge of a square, m; narrow drills get smaller ones.
const WIDEST_M: f64 = 0.5;

/// A square that another log drills within this time was drilled in the same pass: each part of a drill may have a
/// log of its own. Assumption, no source.
const SAME_PASS_S: f64 = 10.0;

/// What a stretch drove over, as shares of its land.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub(super) struct Trod {
    /// Drilled by an earlier pass.
    pub again: f64,
    /// Beyond the zones.
    pub beyond: f64,
}

/// The squares, in rows from south to north.
pub(super) struct Ground {
    pub origin: [f64; 2],
    pub edge_m: f64,
    pub columns: usize,
    pub rows: usize,
    /// Per square: the place of its zone in the plan, or [`OUTSIDE`].
    pub zone: Vec<u16>,
    /// How often it was drilled.
    pub passes: Vec<u8>,
    last_m: Vec<f32>,
    /// Of the last pass over it: the log, the second, and the products that were sown, a bit each.
    log: Vec<u16>,
    last_s: Vec<f64>,
    sown: Vec<u8>,
    /// Per product, per square: sum of the rates of all passes, kg/ha.
    pub kg_per_ha: Vec<Vec<f32>>,
    /// Per zone and product, kg; beyond the zones per product; drilled beyond them, m2.
    pub zone_kg: Vec<Vec<f64>>,
    pub outside_kg: Vec<f64>,
    pub outside_m2: f64,
    /// Per stretch of the track.
    pub trod: Vec<Trod>,
    /// A pass over land that was drilled less than this way ago is the same pass.
    same_pass_m: f64,
}

impl Ground {
    pub(super) fn of(plan: &PlanMap) -> Outcome<Self> {
        let points = || {
            let polygons = plan.zones.iter().flat_map(|zone| &zone.polygons);
            polygons.flat_map(|polygon| polygon.exterior.iter().copied())
        };
        let low = points().fold([f64::INFINITY; 2], |low, p| {
            [low[0].min(p.x), low[1].min(p.y)]
        });
        let high = points().fold([f64::NEG_INFINITY; 2], |high, p| {
            [high[0].max(p.x), high[1].max(p.y)]
        });
        let size = [high[0] - low[0], high[1] - low[1]];
        if !(size[0] > 0.0 && size[1] > 0.0) || plan.zones.len() >= usize::from(OUTSIDE) {
            return Err(Fault::input(
                "compare.land",
                Place::nowhere(),
                format!(
                    "The plan has {} zones and no land that can be laid out in squares",
                    plan.zones.len()
                ),
                "a plan with some land, and fewer than 65535 zones",
                "Plan the job again.",
            ));
        }
        let edge_m = WIDEST_M
            .min(plan.width_m / 8.0)
            .max((size[0] * size[1] / MOST_SQUARES).sqrt());
        let columns = (size[0] / edge_m).ceil() as usize + 1;
        let rows = (size[1] / edge_m).ceil() as usize + 1;
        let squares = columns * rows;
        let products = plan.products.len();
        let mut ground = Self {
            origin: low,
            edge_m,
            columns,
            rows,
            zone: vec![OUTSIDE; squares],
            passes: vec![0; squares],
            last_m: vec![f32::NEG_INFINITY; squares],
            log: vec![0; squares],
            last_s: vec![f64::NEG_INFINITY; squares],
            sown: vec![0; squares],
            kg_per_ha: vec![vec![0.0; squares]; products],
            zone_kg: vec![vec![0.0; products]; plan.zones.len()],
            outside_kg: vec![0.0; products],
            outside_m2: 0.0,
            trod: Vec::new(),
            same_pass_m: plan.width_m,
        };
        for (at, zone) in plan.zones.iter().enumerate() {
            for polygon in &zone.polygons {
                let rings = std::iter::once(&polygon.exterior).chain(&polygon.holes);
                let pairs = |ring: &Vec<PlaneXy>| ring.iter().map(|at| at.pair()).collect();
                let rings: Vec<Vec<[f64; 2]>> = rings.map(pairs).collect();
                let rings: Vec<&[[f64; 2]]> = rings.iter().map(Vec::as_slice).collect();
                for square in ground.inside(&rings) {
                    if let Some(own) = ground.zone.get_mut(square) {
                        *own = at as u16;
                    }
                }
            }
        }
        Ok(ground)
    }

    pub(super) fn square_m2(&self) -> f64 {
        self.edge_m * self.edge_m
    }

    /// Squares whose middles lie inside these rings (even-odd), in order; half open, so that shapes side by side share none.
    fn inside(&self, rings: &[&[[f64; 2]]]) -> Vec<usize> {
        let scaled = |point: &[f64; 2]| {
            [
                (point[0] - self.origin[0]) / self.edge_m - 0.5,
                (point[1] - self.origin[1]) / self.edge_m - 0.5,
            ]
        };
        let mut crossings: Vec<(i64, f64)> = Vec::new();
        for ring in rings {
            let next = ring.iter().cycle().skip(1);
            for (a, b) in ring.iter().zip(next) {
                let (a, b) = (scaled(a), scaled(b));
                let (low, high) = if a[1] < b[1] { (a, b) } else { (b, a) };
                let first = low[1].ceil().max(0.0) as i64;
                let last = (high[1].ceil() as i64).min(self.rows as i64);
                for row in first..last {
                    let share = (row as f64 - low[1]) / (high[1] - low[1]);
                    crossings.push((row, low[0] + share * (high[0] - low[0])));
                }
            }
        }
        crossings.sort_by(|a, b| a.0.cmp(&b.0).then(a.1.total_cmp(&b.1)));
        let mut found = Vec::new();
        for pair in crossings.chunks(2) {
            let &[(row, from), (other, to)] = pair else {
                continue;
            };
            if row != other {
                continue;
            }
            let first = from.ceil().max(0.0) as usize;
            let end = to.ceil().clamp(0.0, self.columns as f64) as usize;
            let start = row as usize * self.columns;
            found.extend((first..end).map(|column| start + column));
        }
        found
    }

    /// Drives a stretch: marks its squares and hands out its kilograms.
    pub(super) fn drive(&mut self, segment: &Segment) -> Trod {
        let (mut all, mut again, mut inside) = (0.0, 0.0, 0.0);
        let length_m = segment.length_m();
        for strip in &segment.strips {
            let [left, right] = &strip.across;
            let squares = self.squares(segment, strip);
            let m2 = length_m * (right - left);
            all += m2 / self.square_m2();
            for square in &squares {
                again += f64::from(u8::from(self.pass(*square, segment, strip)));
                inside += f64::from(u8::from(self.zone_of(*square).is_some()));
            }
            self.outside_m2 += self.outside(segment, &squares, m2);
            // Kilograms are shared out evenly, so that none gets lost; a stretch too short for a square gives all to
            // the land at its middle.
            let middle = [
                (segment.from[0] + segment.to[0]) / 2.0,
                (segment.from[1] + segment.to[1]) / 2.0,
            ];
            let at_middle: Vec<usize> = self.square_at(middle).into_iter().collect();
            let takers = if squares.is_empty() {
                &at_middle
            } else {
                &squares
            };
            for (product, rate) in strip.kg_per_ha.iter().enumerate() {
                let kg = rate.unwrap_or(0.0) * m2 / M2_PER_HA;
                if takers.is_empty() {
                    self.give(None, product, kg);
                }
                for square in takers {
                    self.give(self.zone_of(*square), product, kg / takers.len() as f64);
                }
            }
        }
        // Of short stretches the squares are few: what is not sure to lie beyond does not count.
        match all >= 1.0 {
            true => Trod {
                again: (again / all).min(1.0),
                beyond: (1.0 - inside / all).clamp(0.0, 1.0),
            },
            false => Trod::default(),
        }
    }

    /// Of a strip of so much land, what lies beyond all zones, m2.
    fn outside(&self, segment: &Segment, squares: &[usize], m2: f64) -> f64 {
        let all = m2 / self.square_m2();
        let inside = squares.iter().filter(|at| self.zone_of(**at).is_some());
        let inside = inside.count() as f64;
        let found = squares.len() as f64;
        if squares.is_empty() {
            // Too short for a square, or beyond all of them.
            return match self.square_at(segment.from) {
                Some(_) => 0.0,
                None => m2,
            };
        }
        // Squares beyond the edge of the grid are not among those that were found.
        match found < 0.8 * all {
            true => m2 * (1.0 - inside / all).max(0.0),
            false => m2 * (1.0 - inside / found),
        }
    }

    /// Squares of a strip of a stretch, in order.
    pub(super) fn squares(&self, segment: &Segment, strip: &Strip) -> Vec<usize> {
        let corner = |at: [f64; 2], heading: [f64; 2], right_m: f64| {
            [at[0] + heading[1] * right_m, at[1] - heading[0] * right_m]
        };
        let [left, right] = strip.across;
        self.inside(&[&[
            corner(segment.from, segment.headings[0], left),
            corner(segment.to, segment.headings[1], left),
            corner(segment.to, segment.headings[1], right),
            corner(segment.from, segment.headings[0], right),
        ]])
    }

    /// Whether a place lies on land where the plan wants something and no pass was.
    pub(super) fn is_open(&self, plan: &PlanMap, at: [f64; 2]) -> bool {
        let square = self.square_at(at);
        let passes = square.and_then(|square| self.passes.get(square));
        let zone = self.zone_at(at).and_then(|zone| plan.zones.get(zone));
        let wants = zone.is_some_and(|zone| zone.kg_per_ha.iter().any(|rate| *rate > 0.0));
        wants && passes == Some(&0)
    }

    /// The zone at a place.
    pub(super) fn zone_at(&self, at: [f64; 2]) -> Option<usize> {
        self.square_at(at).and_then(|square| self.zone_of(square))
    }

    /// The middle of a square.
    pub(super) fn middle(&self, square: usize) -> [f64; 2] {
        let (column, row) = (square % self.columns, square / self.columns);
        [
            self.origin[0] + (column as f64 + 0.5) * self.edge_m,
            self.origin[1] + (row as f64 + 0.5) * self.edge_m,
        ]
    }

    fn zone_of(&self, square: usize) -> Option<usize> {
        let zone = self
            .zone
            .get(square)
            .copied()
            .filter(|zone| *zone != OUTSIDE);
        zone.map(usize::from)
    }

    fn give(&mut self, zone: Option<usize>, product: usize, kg: f64) {
        let sums = match zone {
            Some(zone) => self.zone_kg.get_mut(zone),
            None => Some(&mut self.outside_kg),
        };
        if let Some(sum) = sums.and_then(|sums| sums.get_mut(product)) {
            *sum += kg;
        }
    }

    fn square_at(&self, at: [f64; 2]) -> Option<usize> {
        let index = |axis: usize, all: usize| {
            let place = ((at[axis] - self.origin[axis]) / self.edge_m).floor();
            (place >= 0.0 && place < all as f64).then_some(place as usize)
        };
        Some(index(1, self.rows)? * self.columns + index(0, self.columns)?)
    }

    /// Marks a square; whether an earlier pass had drilled it.
    fn pass(&mut self, square: usize, segment: &Segment, strip: &Strip) -> bool {
        let (Some(last_m), Some(last_s), Some(log), Some(sown), Some(passes)) = (
            self.last_m.get_mut(square),
            self.last_s.get_mut(square),
            self.log.get_mut(square),
            self.sown.get_mut(square),
            self.passes.get_mut(square),
        ) else {
            return false;
        };
        let here = segment.odometer_m as f32;
        let beside = *log != segment.log && (segment.start_s - *last_s).abs() <= SAME_PASS_S;
        let same = *log == segment.log && here - *last_m < self.same_pass_m as f32;
        *last_s = segment.start_s;
        if !beside {
            *log = segment.log;
            *last_m = here;
        }
        if same {
            return false;
        }
        let again = !beside && *passes > 0;
        if !beside {
            *passes = passes.saturating_add(1);
            *sown = 0;
        }
        let rates = strip.kg_per_ha.iter().map(|rate| rate.unwrap_or(0.0));
        let products = self.kg_per_ha.iter_mut().zip(rates);
        for (at, (rates, rate)) in products.enumerate().take(8) {
            // Of logs beside each other, each tells of products of its own.
            if rate > 0.0
                && *sown & (1 << at) == 0
                && let Some(sum) = rates.get_mut(square)
            {
                *sum += rate as f32;
                *sown |= 1 << at;
            }
        }
        again
    }
}
