//! How long the grain takes from the cutter bar to the sensor, found from the data: with the right delay, neighbouring passes
//! driven in opposite directions agree best (S. Chung, K. Sudduth, S. Drummond, "Determining yield monitoring system delay
//! time with geostatistical and data segmentation approaches", Transactions of the ASAE 45:915, 2002; from memory).

use super::near::Near;
use super::passes::{Pass, headings, median};
use super::readings::Reading;

/// Delays that are tried, s: what is published lies within 5 and 20 s (the same source; from memory).
const LONGEST_S: f64 = 30.0;
/// The lowest disagreement is told from those so many seconds to both sides.
const AROUND_S: f64 = 5.0;
/// Pairs that are compared at most, spread over all readings.
const MOST_PAIRS: usize = 60_000;
/// Fewer pairs say nothing.
const LEAST_PAIRS: usize = 100;
/// The disagreement at the delay lies at least by this share below that of no delay, else none is taken off.
const CLEAR: f64 = 0.02;

/// What was found.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Delay {
    /// Seconds by which readings come late; 0 where none was found or the file has it taken off already.
    pub seconds: f64,
    /// Pairs of readings of neighbouring passes, driven in opposite directions, that told it.
    pub pairs: usize,
    /// Disagreement of pairs (root of the mean square) without and with the delay taken off, in per cent of the median reading.
    pub disagreement_percent: [f64; 2],
}

/// Grain and moisture as the place of a reading gave them, `rows` readings later in the same pass; not a number at its end.
pub(super) fn later(of: impl Fn(usize) -> f64, pass: &Pass, at: usize, rows: f64) -> f64 {
    let whole = rows.floor();
    let part = rows - whole;
    let Some(from) = at
        .checked_add(whole as usize)
        .filter(|from| *from < pass.end)
    else {
        return f64::NAN;
    };
    if part <= 0.0 {
        return of(from);
    }
    match from + 1 < pass.end {
        true => (1.0 - part) * of(from) + part * of(from + 1),
        false => f64::NAN,
    }
}

/// Finds the delay. `None` where too few passes lie side by side, or no times are there.
pub(super) fn find(readings: &[Reading], passes: &[Pass]) -> Option<Delay> {
    let interval = median(readings.iter().map(|reading| reading.interval_s).collect());
    let step = median(readings.iter().map(|reading| reading.distance_m).collect());
    let known = interval > 0.0 && step > 0.0;
    if !known {
        return None;
    }
    let most_rows = (LONGEST_S / interval).ceil() as usize;
    let pairs = pairs(readings, passes, most_rows, step);
    if pairs.len() < LEAST_PAIRS {
        return None;
    }
    let of_pass = pass_of(readings.len(), passes);
    let usual = median(readings.iter().map(|reading| reading.grain).collect());
    let grain = |at: usize, rows: f64| {
        later(
            |n| readings[n].grain,
            &passes[of_pass[at] as usize],
            at,
            rows,
        )
    };
    let disagreement = |rows: f64| {
        let apart = pairs
            .iter()
            .map(|&[a, b]| (grain(a as usize, rows) - grain(b as usize, rows)).powi(2));
        (apart.sum::<f64>() / pairs.len() as f64).sqrt() / usual * 100.0
    };
    let whole: Vec<f64> = (0..=most_rows)
        .map(|rows| disagreement(rows as f64))
        .collect();
    let best = (0..whole.len()).reduce(|best, next| {
        if whole[next] < whole[best] {
            next
        } else {
            best
        }
    })?;
    let rows = top_of(
        &whole,
        best,
        (AROUND_S / interval).round().max(1.0) as usize,
    );
    let clear = whole[best] <= whole[0] * (1.0 - CLEAR) && best < most_rows;
    let rows = if clear { rows } else { 0.0 };
    Some(Delay {
        seconds: rows * interval,
        pairs: pairs.len(),
        disagreement_percent: [whole[0], whole[if clear { best } else { 0 }]],
    })
}

/// The lowest point of the parabola that fits best through the values up to `reach` to both sides of the least.
fn top_of(values: &[f64], best: usize, reach: usize) -> f64 {
    let reach = reach.min(best).min(values.len() - 1 - best);
    let sum = |of: &dyn Fn(f64, f64) -> f64| -> f64 {
        (best - reach..=best + reach)
            .map(|at| of(at as f64 - best as f64, values[at]))
            .sum()
    };
    let n = (2 * reach + 1) as f64;
    let [squares, fourth] = [sum(&|k, _| k * k), sum(&|k, _| k.powi(4))];
    let slope = sum(&|k, v| k * v) / squares;
    let bend =
        (n * sum(&|k, v| k * k * v) - squares * sum(&|_, v| v)) / (n * fourth - squares * squares);
    match reach > 0 && bend > 0.0 {
        true => {
            (best as f64 - slope / (2.0 * bend)).clamp((best - reach) as f64, (best + reach) as f64)
        }
        false => best as f64,
    }
}

pub(super) fn pass_of(readings: usize, passes: &[Pass]) -> Vec<u32> {
    let mut of = vec![0; readings];
    for (nth, pass) in passes.iter().enumerate() {
        of[pass.clone()].fill(nth as u32);
    }
    of
}

/// Readings beside each other, in passes of opposite directions, so far from both ends that every delay tried has a value.
fn pairs(readings: &[Reading], passes: &[Pass], most_rows: usize, step: f64) -> Vec<[u32; 2]> {
    let headings = headings(readings, passes);
    // The harvester fills up at the start of a pass; at its end the later readings are missing.
    let inner = passes.iter().flat_map(|pass| {
        (pass.start + most_rows / 2).min(pass.end)
            ..pass.end.saturating_sub(most_rows + 2).max(pass.start)
    });
    let inner: Vec<usize> = inner.filter(|&at| !readings[at].header_up).collect();
    let near = Near::of(inner.iter().map(|&at| (at as u32, readings[at].xy)));
    let width = median(readings.iter().map(|reading| reading.width_m).collect());
    let reach = if width.is_nan() {
        3.0 * step
    } else {
        1.6 * width.max(step)
    };
    let every = inner.len().div_ceil(MOST_PAIRS).max(1);
    let opposite = |a: usize, b: usize| {
        headings[a][0] * headings[b][0] + headings[a][1] * headings[b][1] < -0.8
    };
    let partner = |&at: &usize| {
        let away = |other: u32| {
            let other = readings[other as usize].xy;
            (other[0] - readings[at].xy[0]).hypot(other[1] - readings[at].xy[1])
        };
        let others = near
            .within(readings[at].xy, reach)
            .filter(|&other| opposite(at, other as usize));
        let nearest = others.min_by(|a, b| away(*a).total_cmp(&away(*b)).then(a.cmp(b)))?;
        Some([at as u32, nearest])
    };
    inner.iter().step_by(every).filter_map(partner).collect()
}
