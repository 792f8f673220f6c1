//! From records to stretches that were drilled. Values hold until the next record that has them.

use super::PlanMap;
use super::channels::{Channel, Channels};
use crate::codec::taskdata::{Log, LogRecord};
use crate::findings::{Finding, Place};
use crate::read::Xy;
use crate::read::taskdata::Task;
use crate::units::M2_PER_HA;

/// A straight stretch between two records, in the field's plane.
pub(super) struct Segment {
    pub from: Xy,
    pub to: Xy,
    /// Direction of travel at both ends, as unit vectors: that of the bisector where a pass goes on, so that stretches
    /// meet without gap or overlap.
    pub headings: [Xy; 2],
    /// Strips across that are on: from and to, m to the right of the middle.
    pub strips: Vec<[f64; 2]>,
    /// Per product.
    pub kg_per_ha: Vec<f64>,
    /// Way driven up to the start, m; it goes on over gaps.
    pub odometer_m: f64,
    /// Joins the segment before it.
    pub joined: bool,
    /// The log it is from, counted in order of time, and when it starts, s.
    pub log: u16,
    pub start_s: f64,
    /// Running totals at its start, per product, kg.
    totals_kg: Vec<f64>,
}

impl Segment {
    pub(super) fn length_m(&self) -> f64 {
        (self.to[0] - self.from[0]).hypot(self.to[1] - self.from[1])
    }

    pub(super) fn width_m(&self) -> f64 {
        self.strips.iter().map(|[from, to]| to - from).sum()
    }

    pub(super) fn area_m2(&self) -> f64 {
        self.length_m() * self.width_m()
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
}

/// A pause of this many usual intervals, or of this many seconds where that is longer, is a gap.
const GAP_INTERVALS: f64 = 3.0;
const GAP_S: f64 = 5.0;
/// No drill sows at more than this, m/s: a jump of the position. Assumption, no source.
const FASTEST_M_PER_S: f64 = 12.0;
/// Positions closer than this have no direction, m.
const LEAST_M: f64 = 0.05;

struct State {
    rates: Vec<f64>,
    setpoints: Vec<f64>,
    totals: Vec<Option<f64>>,
    /// Per column of a work state: its value.
    work: Vec<(usize, i32)>,
    sections: Vec<(usize, u32)>,
}

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
    };
    let mut logs: Vec<&Log> = tasks
        .iter()
        .flat_map(|task| task.logs.iter().map(|(_, log)| log))
        .collect();
    logs.sort_by_key(|log| {
        log.records
            .first()
            .map(|record| (record.day, record.millisecond))
    });
    let mut said_twice = 0;
    for (at, log) in logs.iter().enumerate() {
        let known = Known::of(log, logs.get(..at).unwrap_or_default());
        said_twice += one(plan, channels, (at, log), &known, &mut track);
    }
    if said_twice > 0 {
        findings.push(Finding::note(
            "compare.logs_beside",
            Place::nowhere(),
            format!(
                "Logs run beside each other in time and give the same values; {said_twice} values that another log gives already were left out."
            ),
        ));
    }
    rates_from_totals(channels, &mut track);
    bisect(&mut track.segments);
    if track.gaps > 0 {
        findings.push(Finding::warning(
            "compare.gaps",
            Place::nowhere(),
            format!(
                "The logs have {} gaps while the drill worked, {:.0} m in straight lines; that land counts as missed.",
                track.gaps, track.gap_m
            ),
        ));
    }
    if track.lost_s > 0.0 {
        findings.push(Finding::warning(
            "compare.position_lost",
            Place::nowhere(),
            format!(
                "For {:.0} s of work there was no usable position; that land counts as missed, and its kilograms are known only where totals are logged.",
                track.lost_s
            ),
        ));
    }
    track
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
    fn of(log: &Log, earlier: &[&Log]) -> Self {
        let spans = log.columns.iter().map(|column| {
            let same = earlier.iter().filter(|other| {
                let mut columns = other.columns.iter();
                columns.any(|own| own.ddi == column.ddi && own.element == column.element)
            });
            same.filter_map(|other| span(other)).collect()
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
fn one(
    plan: &PlanMap,
    channels: &Channels,
    (number, log): (usize, &Log),
    known: &Known,
    track: &mut Track,
) -> usize {
    let mut said_twice = 0;
    let products = plan.products.len();
    let meaning: Vec<Channel> = log
        .columns
        .iter()
        .map(|column| channels.channel(column))
        .collect();
    let mut state = State {
        rates: vec![0.0; products],
        setpoints: vec![0.0; products],
        totals: vec![None; products],
        work: Vec::new(),
        sections: Vec::new(),
    };
    for (at, column) in log.columns.iter().enumerate() {
        let starts = log.records.first().map(seconds);
        let amount = meaning.get(at).is_some_and(Channel::is_amount);
        let is_known = amount && starts.is_some_and(|second| known.at(at, second));
        if let Some(raw) = column.constant.filter(|_| !is_known) {
            take(&mut state, &meaning, at, raw, &mut track.counted_kg);
        }
    }
    let longest_s = (usual_interval_s(log) * GAP_INTERVALS).max(GAP_S);
    // Last usable position with its time, and whether the stretch from it is in work.
    let mut last: Option<(Xy, f64)> = None;
    let mut before_s: Option<f64> = None;
    let mut strips: Vec<[f64; 2]> = Vec::new();
    for record in &log.records {
        let now_s = seconds(record);
        let step_s = before_s.map_or(0.0, |before| now_s - before);
        let at = record
            .lon_lat
            .filter(|_| !matches!(record.status, Some(0 | 14)));
        let at = at
            .map(|place| plan.frame.to_plane(place))
            .filter(|at| at.iter().all(|v| v.is_finite()));
        let working = !strips.is_empty();
        if working && step_s > 0.0 && step_s <= longest_s {
            track.working_s += step_s;
            if at.is_none() || last.is_none() {
                track.lost_s += step_s;
            }
        }
        let (rates, totals) = rates_now(channels, &state);
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
                track.segments.push(Segment {
                    from,
                    to: at,
                    headings: [unit; 2],
                    strips: strips.clone(),
                    kg_per_ha: rates,
                    odometer_m,
                    joined,
                    log: u16::try_from(number).unwrap_or(u16::MAX),
                    start_s: from_s,
                    totals_kg: totals,
                });
            }
        }
        for (column, raw) in &record.values {
            let column = usize::from(*column);
            let amount = meaning.get(column).is_some_and(Channel::is_amount);
            if amount && known.at(column, now_s) {
                said_twice += 1;
                continue;
            }
            take(&mut state, &meaning, column, *raw, &mut track.counted_kg);
        }
        let (rates, _) = rates_now(channels, &state);
        strips = match works(&state) && (rates.iter().any(|rate| *rate > 0.0) || by_total(channels))
        {
            true => strips_on(plan, &state),
            false => Vec::new(),
        };
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

/// Whether a product is known by its total alone.
fn by_total(channels: &Channels) -> bool {
    let both = channels.has_rate.iter().zip(&channels.has_total);
    both.into_iter().any(|(rate, total)| !rate && *total)
}

fn rates_now(channels: &Channels, state: &State) -> (Vec<f64>, Vec<f64>) {
    let rates = state
        .rates
        .iter()
        .zip(&state.setpoints)
        .zip(channels.has_rate.iter().zip(&channels.has_total));
    let rates = rates.map(|((rate, setpoint), has)| match has {
        (true, _) => *rate,
        (false, true) => 0.0,
        (false, false) => *setpoint,
    });
    let totals = state.totals.iter().map(|total| total.unwrap_or(0.0));
    (rates.collect(), totals.collect())
}

fn take(state: &mut State, meaning: &[Channel], at: usize, raw: i32, counted: &mut [f64]) {
    let put = |list: &mut Vec<f64>, product: usize, value: f64| {
        if let Some(own) = list.get_mut(product) {
            *own = value.max(0.0);
        }
    };
    match meaning.get(at) {
        Some(Channel::Rate { product, kg_per_ha }) => {
            put(&mut state.rates, *product, f64::from(raw) * kg_per_ha)
        }
        Some(Channel::Setpoint { product, kg_per_ha }) => {
            put(&mut state.setpoints, *product, f64::from(raw) * kg_per_ha)
        }
        Some(Channel::Total { product, kg }) => {
            let now = f64::from(raw) * kg;
            if let (Some(total), Some(counted)) =
                (state.totals.get_mut(*product), counted.get_mut(*product))
            {
                // A total that falls was set to zero by the terminal and counts anew.
                *counted += match *total {
                    Some(before) if now >= before => now - before,
                    Some(_) => now.max(0.0),
                    None => 0.0,
                };
                *total = Some(now);
            }
        }
        Some(Channel::WorkState) => keep(&mut state.work, at, raw & 3),
        Some(Channel::Sections(block)) => keep(&mut state.sections, *block, raw as u32),
        Some(Channel::Other) | None => {}
    }
}

fn keep<T>(list: &mut Vec<(usize, T)>, key: usize, value: T) {
    match list.iter_mut().find(|(own, _)| *own == key) {
        Some((_, own)) => *own = value,
        None => list.push((key, value)),
    }
}

fn works(state: &State) -> bool {
    state.work.is_empty() || state.work.iter().any(|(_, work)| *work == 1)
}

/// The strips that are on: by section where the log's sections are those of the plan.
fn strips_on(plan: &PlanMap, state: &State) -> Vec<[f64; 2]> {
    let half = plan.width_m / 2.0;
    let mut states: Vec<u32> = Vec::new();
    for block in 0..16 {
        let Some((_, bits)) = state.sections.iter().find(|(own, _)| *own == block) else {
            break;
        };
        // 2 bits a section: 0 off, 1 on, 2 error, 3 not installed.
        let bits = (0..16).map(|at| (bits >> (2 * at)) & 3);
        states.extend(bits.take_while(|bits| *bits != 3));
    }
    let sections = match plan.sections_m.is_empty() {
        true => vec![plan.width_m],
        false => plan.sections_m.clone(),
    };
    if states.len() != sections.len() {
        // Not the sections of the plan: the whole width while any of them is on.
        let on = states.is_empty() || states.contains(&1);
        return if on { vec![[-half, half]] } else { Vec::new() };
    }
    let mut strips: Vec<[f64; 2]> = Vec::new();
    let mut left = -half;
    for (width, state) in sections.iter().zip(states) {
        if state == 1 {
            match strips.last_mut() {
                Some(last) if last[1] == left => last[1] = left + width,
                _ => strips.push([left, left + width]),
            }
        }
        left += width;
    }
    strips
}

/// Where only a total is logged, its growth is spread over the land drilled since it last grew.
fn rates_from_totals(channels: &Channels, track: &mut Track) {
    for (product, (rate, total)) in channels
        .has_rate
        .iter()
        .zip(&channels.has_total)
        .enumerate()
    {
        if *rate || !*total {
            continue;
        }
        let totals: Vec<f64> = track
            .segments
            .iter()
            .map(|segment| segment.totals_kg.get(product).copied().unwrap_or(0.0))
            .collect();
        let mut first = 0;
        for at in 0..track.segments.len() {
            let here = totals.get(at).copied().unwrap_or(0.0);
            let next = totals.get(at + 1).copied().unwrap_or(here);
            let last = at + 1 == track.segments.len();
            if next == here && !last {
                continue;
            }
            let Some(run) = track.segments.get_mut(first..=at) else {
                break;
            };
            let m2: f64 = run.iter().map(Segment::area_m2).sum();
            let grown = if next >= here { next - here } else { 0.0 };
            for segment in run {
                if let Some(rate) = segment.kg_per_ha.get_mut(product).filter(|_| m2 > 0.0) {
                    *rate = grown / m2 * M2_PER_HA;
                }
            }
            first = at + 1;
        }
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
