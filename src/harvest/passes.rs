//! Passes: readings that follow each other while the harvester drives on.

use super::readings::Reading;

/// A turn by more than this between readings ends a pass (common practice, no source).
const TURN_DEGREES: f64 = 60.0;
/// So many times the usual step between readings is a jump (common practice, no source).
const JUMP: f64 = 4.0;

/// First and past-last reading of each pass, in the order of the file.
pub(super) type Pass = std::ops::Range<usize>;

/// The middle of numbers (the upper one of two); not a number of none. Those that are no numbers do not count.
pub(super) fn median(mut numbers: Vec<f64>) -> f64 {
    numbers.retain(|number| number.is_finite());
    let middle = numbers.len() / 2;
    if numbers.is_empty() {
        return f64::NAN;
    }
    *numbers.select_nth_unstable_by(middle, f64::total_cmp).1
}

/// Fills what follows from places and times: distance, interval, speed. Gives the passes.
pub(super) fn passes(readings: &mut [Reading]) -> Vec<Pass> {
    let steps = |of: &[Reading]| -> Vec<f64> {
        of.windows(2)
            .map(|two| away(two[0].xy, two[1].xy))
            .collect()
    };
    let usual_step = median(
        steps(readings)
            .into_iter()
            .filter(|step| *step > 0.0)
            .collect(),
    );
    let waits = readings
        .windows(2)
        .map(|two| two[1].time_s - two[0].time_s)
        .filter(|wait| *wait > 0.0);
    let usual_wait = median(waits.collect());
    let mut passes = Vec::new();
    let mut start = 0;
    for at in 1..=readings.len() {
        if at < readings.len() && !breaks(readings, start, at, usual_step, usual_wait) {
            continue;
        }
        if at > start {
            passes.push(start..at);
        }
        start = at;
    }
    for pass in &passes {
        fill(&mut readings[pass.clone()], usual_step, usual_wait);
    }
    passes
}

fn away(a: [f64; 2], b: [f64; 2]) -> f64 {
    (b[0] - a[0]).hypot(b[1] - a[1])
}

/// Whether a pass that began at `start` ends before `at`.
fn breaks(readings: &[Reading], start: usize, at: usize, usual_step: f64, usual_wait: f64) -> bool {
    let (before, own) = (&readings[at - 1], &readings[at]);
    let wait = own.time_s - before.time_s;
    if own.machine != before.machine || own.header_up != before.header_up {
        return true;
    }
    if wait < 0.0 || wait > JUMP * usual_wait || away(before.xy, own.xy) > JUMP * usual_step {
        return true;
    }
    // Against the way driven over a few readings, so that the jitter of places does not end a pass.
    let from = at.saturating_sub(4).max(start);
    let to = (at + 3).min(readings.len() - 1);
    let way = |a: usize, b: usize| {
        [
            readings[b].xy[0] - readings[a].xy[0],
            readings[b].xy[1] - readings[a].xy[1],
        ]
    };
    let [a, b] = [way(from, at - 1), way(at, to)];
    let [long_a, long_b] = [a[0].hypot(a[1]), b[0].hypot(b[1])];
    if long_a < usual_step || long_b < usual_step {
        return false;
    }
    (a[0] * b[0] + a[1] * b[1]) / (long_a * long_b) < TURN_DEGREES.to_radians().cos()
}

fn fill(pass: &mut [Reading], usual_step: f64, usual_wait: f64) {
    let mut before: Option<Reading> = None;
    for reading in pass {
        let own =
            before.map(|before| (away(before.xy, reading.xy), reading.time_s - before.time_s));
        if reading.distance_m.is_nan() {
            reading.distance_m = own.map_or(usual_step, |(step, _)| step);
        }
        if reading.interval_s.is_nan() {
            reading.interval_s = own.map_or(usual_wait, |(_, wait)| wait);
        }
        if reading.speed_m_s.is_nan() {
            reading.speed_m_s = reading.distance_m / reading.interval_s;
        }
        before = Some(*reading);
    }
}

/// Unit vector of the way at each reading of a pass, over some readings to both sides; [0, 0] where it stands.
pub(super) fn headings(readings: &[Reading], passes: &[Pass]) -> Vec<[f64; 2]> {
    let mut headings = vec![[0.0; 2]; readings.len()];
    for pass in passes {
        for at in pass.clone() {
            let from = readings[at.saturating_sub(2).max(pass.start)].xy;
            let to = readings[(at + 2).min(pass.end - 1)].xy;
            let long = away(from, to);
            if long > 0.0 {
                headings[at] = [(to[0] - from[0]) / long, (to[1] - from[1]) / long];
            }
        }
    }
    headings
}
