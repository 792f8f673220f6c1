//! From records to stretches that were drilled. Values hold until the next record that has them.

use super::channels::{Channel, Channels};
use super::entries::Source;
use super::state::{State, Strip};
use super::{Laid, PlanMap};
use crate::codec::taskdata::{Log, LogRecord};
use crate::findings::{Finding, Place};
use crate::read::taskdata::Task;
use crate::units::M2_PER_HA;

/// A straight stretch between two records, in the field's plane.
#[derive(Clone)]
pub(super) struct Segment {
    pub from: [f64; 2],
    pub to: [f64; 2],
    /// Direction of travel at both ends, as unit vectors: that of the bisector where a pass goes on, so that stretches
    /// meet without gap or overlap.
    pub headings: [[f64; 2]; 2],
    /// Strips across that are on, from the left.
    pub strips: Vec<Strip>,
    /// Per product: where its rate came from.
    pub sources: Vec<Option<Source>>,
    /// Way driven up to the start, m; it goes on over gaps.
    pub odometer_m: f64,
    /// Joins the segment before it.
    pub joined: bool,
    /// The log it is from, counted in order of time, and when it starts, s.
    pub log: u16,
    pub start_s: f64,
    pub lasts_s: f64,
    /// What totals have grown by up to its start, per product, kg.
    counted_kg: Vec<f64>,
}

impl Segment {
    pub(super) fn length_m(&self) -> f64 {
        (self.to[0] - self.from[0]).hypot(self.to[1] - self.from[1])
    }

    /// The land of each strip; to the right of the direction of travel lies what is across above 0.
    pub(super) fn laid(&self) -> impl Iterator<Item = Laid> {
        let length_m = self.length_m();
        let [dx, dy] = match length_m > 0.0 {
            true => [
                (self.to[0] - self.from[0]) / length_m,
                (self.to[1] - self.from[1]) / length_m,
            ],
            false => [0.0, 0.0],
        };
        let beside = move |[x, y]: [f64; 2], right_m: f64| [x + dy * right_m, y - dx * right_m];
        self.strips.iter().map(move |strip| {
            let [left, right] = strip.across;
            Laid {
                corners: [
                    beside(self.from, left),
                    beside(self.from, right),
                    beside(self.to, right),
                    beside(self.to, left),
                ],
                kg_per_ha: strip.kg_per_ha.clone(),
                area_m2: length_m * strip.width_m(),
            }
        })
    }

    /// Strips on which a product is on, with its rate.
    fn of_product(&self, product: usize) -> impl Iterator<Item = (f64, f64)> {
        self.strips.iter().filter_map(move |strip| {
            let rate = strip.kg_per_ha.get(product).copied().flatten()?;
            Some((strip.width_m(), rate))
        })
    }

    /// Land on which a product is on, m2.
    pub(super) fn area_m2(&self, product: usize) -> f64 {
        let width_m: f64 = self.of_product(product).map(|(width, _)| width).sum();
        self.length_m() * width_m
    }

    /// What is laid of a product, kg.
    pub(super) fn kg(&self, product: usize) -> f64 {
        let per_ha: f64 = self
            .of_product(product)
            .map(|(width, rate)| width * rate)
            .sum();
        self.length_m() * per_ha / M2_PER_HA
    }

    /// Adds to the rate of a product wherever it is on.
    fn add(&mut self, product: usize, kg_per_ha: f64) {
        for strip in &mut self.strips {
            if let Some(Some(rate)) = strip.kg_per_ha.get_mut(product) {
                *rate += kg_per_ha;
            }
        }
    }
}

/// What all logs together say.
pub(super) struct Track {
    pub segments: Vec<Segment>,
    pub records: usize,
    /// Gaps in time or place while working, and their straight length, m.
    pub gaps: usize,
    pub gap_m: f64,
    /// Time without a usable position while working, s.
    pub lost_s: f64,
    /// Time in work, s.
    pub working_s: f64,
    /// What running totals grew by, per product, kg.
    pub counted_kg: Vec<f64>,
    /// Values that were left out because another log gives them too.
    pub said_twice: usize,
    /// Per log, in order of time: products that it holds an amount of.
    holds: Vec<Vec<usize>>,
}

impl Track {
    /// Per product: whether this log holds an amount of it.
    pub(super) fn holds(&self, log: u16, products: usize) -> Vec<bool> {
        let own = self.holds.get(usize::from(log));
        (0..products)
            .map(|product| own.is_some_and(|own| own.contains(&product)))
            .collect()
    }
}

/// A pause of this many usual intervals, or of this many seconds where that is longer, is a gap.
const GAP_INTERVALS: f64 = 3.0;
const GAP_S: f64 = 5.0;
/// No drill sows at more than this, m/s: a jump of the position. Assumption, no source.
const FASTEST_M_PER_S: f64 = 12.0;
/// Meters lie one over the other if the total is as many times what they would lay beside each other as there are meters,
/// within this share. Assumption, no source.
const WHOLE_WIDTH_EACH: f64 = 0.25;
/// Positions closer than this have no direction, m.
const LEAST_M: f64 = 0.05;

/// Reads the logs of the tasks, in order of time.
pub(super) fn of(
    plan: &PlanMap,
    tasks: &[&Task],
    channels: &Channels,
    findings: &mut Vec<Finding>,
) -> Track {
    let mut track = Track {
        segments: Vec::new(),
        records: 0,
        gaps: 0,
        gap_m: 0.0,
        lost_s: 0.0,
        working_s: 0.0,
        counted_kg: vec![0.0; plan.products.len()],
        said_twice: 0,
        holds: Vec::new(),
    };
    let logs = tasks
        .iter()
        .flat_map(|task| task.logs.iter().map(|(_, log)| log));
    let mut logs: Vec<Meant> = logs
        .zip(&channels.logs)
        .map(|(log, (_, columns, governing))| Meant {
            log,
            columns,
            state: State::of(channels, columns, governing),
        })
        .collect();
    logs.sort_by_key(|own| {
        let first = own.log.records.first();
        first.map(|record| (record.day, record.millisecond))
    });
    for own in &logs {
        let meters = own.columns.iter().filter_map(|own| own.of_meter());
        let products = meters.filter_map(|(meter, _)| channels.meters.get(meter));
        track.holds.push(products.map(|own| own.product).collect());
    }
    for at in 0..logs.len() {
        let (earlier, rest) = logs.split_at_mut(at);
        if let Some(own) = rest.first_mut() {
            let known = Known::of(own, earlier);
            track.said_twice += one(plan, own, at, &known, &mut track);
        }
    }
    rates_from_totals(channels, &mut track);
    equal_parts(plan, channels, &mut track, findings);
    bisect(&mut track.segments);
    track
}

/// A log with the meaning of its columns.
struct Meant<'a> {
    log: &'a Log,
    columns: &'a [Channel],
    state: State<'a>,
}

fn seconds(record: &LogRecord) -> f64 {
    f64::from(record.day) * 86_400.0 + f64::from(record.millisecond) / 1000.0
}

fn usual_interval_s(log: &Log) -> f64 {
    let mut steps: Vec<f64> = log
        .records
        .windows(2)
        .filter_map(|pair| match pair {
            [a, b] => Some(seconds(b) - seconds(a)),
            _ => None,
        })
        .filter(|step| *step > 0.0)
        .collect();
    steps.sort_by(f64::total_cmp);
    steps.get(steps.len() / 2).copied().unwrap_or(1.0)
}

/// When an earlier log gives the values of a column too: logs beside each other in time tell of one pass.
struct Known(Vec<Vec<[f64; 2]>>);

impl Known {
    fn of(own: &Meant, earlier: &[Meant]) -> Self {
        let spans = own.columns.iter().map(|channel| {
            let Some(amount) = channel.of_meter() else {
                return Vec::new();
            };
            let gives = |other: &&Meant| other.columns.iter().any(|c| c.of_meter() == Some(amount));
            let same = earlier.iter().filter(gives);
            same.filter_map(|other| span(other.log)).collect()
        });
        Self(spans.collect())
    }

    fn at(&self, column: usize, second: f64) -> bool {
        let mut spans = self.0.get(column).into_iter().flatten();
        spans.any(|[from, to]| (*from..=*to).contains(&second))
    }
}

/// The first and last second of a log.
fn span(log: &Log) -> Option<[f64; 2]> {
    let seconds = || log.records.iter().map(seconds);
    Some([seconds().reduce(f64::min)?, seconds().reduce(f64::max)?])
}

/// Adds what one log says. Gives how many values were left out because an earlier log gives them.
fn one(plan: &PlanMap, own: &mut Meant, number: usize, known: &Known, track: &mut Track) -> usize {
    let mut said_twice = 0;
    let (log, state) = (own.log, &mut own.state);
    let is_amount = |at: usize| own.columns.get(at).is_some_and(|c| c.of_meter().is_some());
    for (at, column) in log.columns.iter().enumerate() {
        let starts = log.records.first().map(seconds);
        let is_known = is_amount(at) && starts.is_some_and(|second| known.at(at, second));
        if let Some(raw) = column.constant.filter(|_| !is_known) {
            count(track, state.take(at, raw));
        }
    }
    let longest_s = (usual_interval_s(log) * GAP_INTERVALS).max(GAP_S);
    // Last usable position with its time, and whether the stretch from it is in work.
    let mut last: Option<([f64; 2], f64)> = None;
    let mut before_s: Option<f64> = None;
    let mut strips: Vec<Strip> = Vec::new();
    for record in &log.records {
        let now_s = seconds(record);
        let step_s = before_s.map_or(0.0, |before| now_s - before);
        let at = record
            .lon_lat
            .filter(|_| !matches!(record.status, Some(0 | 14)));
        let at = at
            .map(|place| plan.frame.to_plane(place).pair())
            .filter(|at| at.iter().all(|v| v.is_finite()));
        let working = !strips.is_empty();
        if working && step_s > 0.0 && step_s <= longest_s {
            track.working_s += step_s;
            if at.is_none() || last.is_none() {
                track.lost_s += step_s;
            }
        }
        if let (Some(at), Some((from, from_s)), true) = (at, last, working) {
            let metres = (at[0] - from[0]).hypot(at[1] - from[1]);
            let pause_s = now_s - from_s;
            let jump = metres > FASTEST_M_PER_S * pause_s.max(0.1) + 1.0;
            if pause_s > longest_s || pause_s < 0.0 || jump {
                track.gaps += 1;
                track.gap_m += metres;
            } else if metres >= LEAST_M {
                let unit = [(at[0] - from[0]) / metres, (at[1] - from[1]) / metres];
                let previous = track.segments.last();
                let joined = previous.is_some_and(|previous| previous.to == from);
                let odometer_m = previous.map_or(0.0, |p| {
                    p.odometer_m + p.length_m() + if joined { 0.0 } else { plan.width_m }
                });
                let mut segment = Segment {
                    from,
                    to: at,
                    headings: [unit; 2],
                    strips: strips.clone(),
                    sources: state.sources(),
                    odometer_m,
                    joined,
                    log: u16::try_from(number).unwrap_or(u16::MAX),
                    start_s: from_s,
                    lasts_s: pause_s,
                    counted_kg: track.counted_kg.clone(),
                };
                for (product, kg_per_s) in state.flow().into_iter().enumerate() {
                    let m2 = segment.area_m2(product);
                    if kg_per_s > 0.0 && m2 > 0.0 {
                        segment.add(product, kg_per_s * pause_s / m2 * M2_PER_HA);
                    }
                }
                track.segments.push(segment);
            }
        }
        for (column, raw) in &record.values {
            let column = usize::from(*column);
            if is_amount(column) && known.at(column, now_s) {
                said_twice += 1;
                continue;
            }
            count(track, state.take(column, *raw));
        }
        strips = state.strips();
        before_s = Some(now_s);
        track.records += 1;
        last = match (at, last) {
            // A drill that stands keeps its place, so that slow driving still has a direction.
            (Some(at), Some((from, _))) if (at[0] - from[0]).hypot(at[1] - from[1]) < LEAST_M => {
                Some((from, now_s))
            }
            (Some(at), _) => Some((at, now_s)),
            (None, _) => None,
        };
    }
    said_twice
}

fn count(track: &mut Track, grown: Option<(usize, f64)>) {
    if let Some((product, kg)) = grown
        && let Some(sum) = track.counted_kg.get_mut(product)
    {
        *sum += kg;
    }
}

/// Where only a total is logged, its growth is spread over the land drilled since it last grew.
fn rates_from_totals(channels: &Channels, track: &mut Track) {
    let has = channels.has_rate.iter().zip(&channels.has_total);
    for (product, (rate, total)) in has.enumerate() {
        if *rate || !*total {
            continue;
        }
        let all_kg = track.counted_kg.get(product).copied().unwrap_or(0.0);
        let counted = track
            .segments
            .iter()
            .map(|segment| segment.counted_kg.get(product));
        // At the start of each stretch, and at the end of the last.
        let mut counted: Vec<f64> = counted.map(|kg| kg.copied().unwrap_or(0.0)).collect();
        counted.push(all_kg);
        let mut first = 0;
        for at in 0..track.segments.len() {
            let here = counted.get(at).copied().unwrap_or(0.0);
            let next = counted.get(at + 1).copied().unwrap_or(here);
            let last = at + 1 == track.segments.len();
            if next == here && !last {
                continue;
            }
            let Some(run) = track.segments.get_mut(first..=at) else {
                break;
            };
            let m2: f64 = run.iter().map(|segment| segment.area_m2(product)).sum();
            for segment in run.iter_mut().filter(|_| m2 > 0.0) {
                segment.add(product, (next - here) / m2 * M2_PER_HA);
            }
            first = at + 1;
        }
    }
}

/// Meters of one product whose widths nobody says were taken for parts of the drill of equal width. Where they lie one over
/// the other their rates add up instead, and the total tells so.
fn equal_parts(
    plan: &PlanMap,
    channels: &Channels,
    track: &mut Track,
    findings: &mut Vec<Finding>,
) {
    for (product, equal) in channels.equal_parts.iter().enumerate() {
        if !equal {
            continue;
        }
        let own = channels
            .meters
            .iter()
            .filter(|own| own.product == product && own.rate);
        let meters = own.count() as f64;
        let placed_kg: f64 = track
            .segments
            .iter()
            .map(|segment| segment.kg(product))
            .sum();
        let counted_kg = track.counted_kg.get(product).copied().unwrap_or(0.0);
        let over = channels.has_total.get(product) == Some(&true)
            && (counted_kg / placed_kg.max(1e-9) / meters - 1.0).abs() < WHOLE_WIDTH_EACH;
        let strips = track
            .segments
            .iter_mut()
            .flat_map(|segment| &mut segment.strips);
        for strip in strips.filter(|_| over) {
            if let Some(Some(rate)) = strip.kg_per_ha.get_mut(product) {
                *rate *= meters;
            }
        }
        let id = plan.products.get(product).map_or("", |own| own.id.as_str());
        findings.push(Finding::warning(
            "compare.widths",
            Place::nowhere(),
            match over {
                true => format!("{meters} device elements meter '{id}', and nothing says how wide each is; by the total each sows over the whole width, and their rates were added up."),
                false => format!("{meters} device elements meter '{id}', and nothing says how wide each is; they were taken for equal parts of the drill."),
            },
        ));
    }
}

/// Turns the ends of joined stretches to the bisector.
fn bisect(segments: &mut [Segment]) {
    for at in 1..segments.len() {
        let (before, after) = segments.split_at_mut(at);
        let (Some(before), Some(after)) = (before.last_mut(), after.first_mut()) else {
            continue;
        };
        if !after.joined {
            continue;
        }
        let (a, b) = (before.headings[1], after.headings[0]);
        let sum = [a[0] + b[0], a[1] + b[1]];
        let length = sum[0].hypot(sum[1]);
        // A turn of more than 120 degrees between two records is a reversal: no bisector.
        if length >= 1.0 {
            let unit = [sum[0] / length, sum[1] / length];
            before.headings[1] = unit;
            after.headings[0] = unit;
        }
    }
}
