//! Tramline rhythm: which rows close in which bout, for any ratio of sprayer to drill width.
//!
//! Geometry alone: the sprayer's bout j has its middle at (j - 1/2) S from the edge of the bouts, its
//! wheels half a track to both sides; the drill's bout b lies from (b - 1) W to b W, or half a width
//! nearer to the edge where it starts with half a bout. A row closes where its middle lies within half
//! a tyre and the clearance of the middle of a wheel. The bouts lie side by side and are driven up and
//! down, so that left and right change from bout to bout. Method: docs/methods/tramlines.md.

mod corners;
pub mod headland;

use crate::findings::{Fault, Finding, Outcome, Place};
use crate::job::{ClosedFlow, HeadlandRound, Job, ShutFlows, Start, Tramline};
use crate::land::Land;
use crate::texts::{Spoken, quantity::GivenLength};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use std::collections::BTreeSet;

/// A middle of a row that lies on the rim of the tyre within this counts as inside, m.
const TOUCH_M: f64 = 1e-9;

/// A full repeating cycle.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Rhythm {
    /// Sprayer and drill bouts until the pattern of rows repeats.
    pub sprayer_bouts: u64,
    /// Bouts of the drill until then.
    pub drill_bouts: u64,
    /// Width of the cycle, m.
    pub cycle_m: f64,
    /// Bouts of the cycle in which rows close. Where the cycle has an odd number of bouts, the next one
    /// is driven the other way around, and outlets mirror.
    pub closed: Vec<ClosedBout>,
    /// Area of the closed rows in the area of a cycle, percent.
    pub closed_percent: f64,
    /// What of that is saved: all of it, or nothing where other rows get it.
    pub saved_percent: f64,
    /// The two wheels of the first sprayer bout, m from the edge where the bouts begin.
    pub first_wheels_m: [f64; 2],
    /// The sprayer's round along the border; null where it makes none.
    pub headland: Option<headland::Round>,
}

/// A bout with closed rows.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct ClosedBout {
    /// Bout of the cycle, from 1.
    pub bout: u64,
    /// Rows from the side where the cycle begins, from 1.
    pub rows: Vec<u32>,
    /// The same as outlets, from 1, from the left looking ahead, bout 1 driven with the edge on its left.
    pub outlets: Vec<u32>,
}

/// The drill as far as rows matter.
#[derive(Debug, Clone, Copy)]
struct Rows {
    width_mm: u64,
    count: u32,
    spacing_m: f64,
}

/// The tramlines that a job asks for, and the rows of its drill; `None` where it asks for none.
fn asked(job: &Job) -> Option<(&Tramline, Rows)> {
    let rows = Rows {
        width_mm: millimetres(job.drill.working_width_m),
        count: job.drill.rows?,
        spacing_m: job.drill.row_spacing_m?,
    };
    Some((job.tramline.as_ref()?, rows))
}

/// The rhythm of a job, before the land is known: nothing on the headland has a length yet. `None` where it asks for no
/// tramlines.
///
/// # Errors
/// A rhythm that needs outlets which the drill cannot close, with the nearest that it can; the same for a headland
/// that is to be closed.
pub fn rhythm(job: &Job) -> Outcome<Option<Rhythm>> {
    let Some((tramline, rows)) = asked(job) else {
        return Ok(None);
    };
    let sprayer_mm = millimetres(tramline.sprayer_width_m);
    let begin_m = headland::bouts_begin_m(job, tramline, sprayer_mm);
    let mut rhythm = of_widths(rows, tramline, sprayer_mm, tramline.start, begin_m);
    if ShutFlows::of(job).rows == ClosedFlow::Redistributed {
        rhythm.saved_percent = 0.0;
    }
    let missing = not_closable(&rhythm, rows, tramline);
    if !missing.is_empty() {
        return Err(cannot_close(job, rows, tramline, &rhythm, &missing));
    }
    rhythm.headland = headland::round(job, rows, tramline, sprayer_mm);
    if let Some(round) = &rhythm.headland {
        headland::check(job, rows, tramline, round)?;
    }
    Ok(Some(rhythm))
}

/// The rhythm of a job on its land, with the length of what closes on the headland, and what there is to say about it.
///
/// # Errors
/// As [`rhythm`].
pub fn on_land(land: &Land, job: &Job) -> Outcome<(Option<Rhythm>, Vec<Finding>)> {
    let (Some(mut rhythm), Some((tramline, rows))) = (rhythm(job)?, asked(job)) else {
        return Ok((None, Vec::new()));
    };
    let mut findings = Vec::new();
    if let Some(round) = rhythm.headland.take() {
        findings = headland::findings(job, rows, tramline, &round);
        rhythm.headland = Some(headland::measured(round, land, job));
    }
    Ok((Some(rhythm), findings))
}

/// Whether the drill can close the rhythm of a sprayer of this width; one that closes nothing is none.
fn closes(job: &Job, rows: Rows, tramline: &Tramline, sprayer_mm: u64, start: Start) -> bool {
    let begin_m = headland::bouts_begin_m(job, tramline, sprayer_mm);
    let rhythm = of_widths(rows, tramline, sprayer_mm, start, begin_m);
    !rhythm.closed.is_empty() && not_closable(&rhythm, rows, tramline).is_empty()
}

fn millimetres(metres: f64) -> u64 {
    (metres * 1000.0).round().max(1.0) as u64
}

/// The rhythm of these widths, bouts of the sprayer beginning so far from the edge where those of the drill do.
fn of_widths(
    rows: Rows,
    tramline: &Tramline,
    sprayer_mm: u64,
    start: Start,
    begin_m: f64,
) -> Rhythm {
    let common = common_multiple(sprayer_mm, rows.width_mm);
    let (sprayer_bouts, drill_bouts) = (common / sprayer_mm, common / rows.width_mm);
    let metres = |mm: u64| mm as f64 / 1000.0;
    let cycle_m = metres(common);
    let shift_m = match start {
        Start::Whole => 0.0,
        Start::Half => metres(rows.width_mm) / 2.0,
    };
    let reach_m = tramline.tyre_width_m / 2.0 + tramline.clearance_m + TOUCH_M;
    let sprayer_m = metres(sprayer_mm);
    let half_track_m = tramline.track_width_m / 2.0;
    // The cycle begins somewhere in a sprayer bout; one more on either side has wheels that may reach into it.
    let begin_in_cycle_m = begin_m.rem_euclid(sprayer_m);
    let mut wheels = Vec::new();
    for bout in 0..sprayer_bouts + 4 {
        let middle = begin_in_cycle_m + (bout as f64 - 1.5) * sprayer_m;
        wheels.push(middle - half_track_m);
        wheels.push(middle + half_track_m);
    }
    wheels.sort_by(f64::total_cmp);
    let first_middle_m = begin_m + sprayer_m / 2.0;
    let first_middle_m = match first_middle_m < half_track_m {
        true => half_track_m + (first_middle_m - half_track_m).rem_euclid(sprayer_m),
        false => first_middle_m,
    };
    let mut closed = Vec::new();
    for bout in 0..drill_bouts {
        let edge = bout as f64 * metres(rows.width_mm) - shift_m;
        let is_closed = |row: u32| {
            let middle = edge + (f64::from(row) + 0.5) * rows.spacing_m;
            let next = wheels.partition_point(|wheel| *wheel < middle - reach_m);
            wheels
                .get(next)
                .is_some_and(|wheel| *wheel <= middle + reach_m)
        };
        let of_bout: Vec<u32> = (0..rows.count)
            .filter(|row| is_closed(*row))
            .map(|row| row + 1)
            .collect();
        if of_bout.is_empty() {
            continue;
        }
        let mut outlets: Vec<u32> = of_bout.iter().map(|row| outlet(*row, bout, rows)).collect();
        outlets.sort_unstable();
        closed.push(ClosedBout {
            bout: bout + 1,
            rows: of_bout,
            outlets,
        });
    }
    let count: usize = closed.iter().map(|bout| bout.rows.len()).sum();
    let closed_percent = count as f64 * rows.spacing_m / cycle_m * 100.0;
    Rhythm {
        sprayer_bouts,
        drill_bouts,
        cycle_m,
        closed,
        closed_percent,
        saved_percent: closed_percent,
        first_wheels_m: [first_middle_m - half_track_m, first_middle_m + half_track_m],
        headland: None,
    }
}

/// The outlet of a row: every second bout (counted from 0) is driven the other way.
fn outlet(row: u32, bout: u64, rows: Rows) -> u32 {
    if bout.is_multiple_of(2) {
        row
    } else {
        rows.count + 1 - row
    }
}

/// Outlets that the rhythm needs and the drill cannot close: (bout, outlet). Cycles of an odd number of
/// bouts come back mirrored.
fn not_closable(rhythm: &Rhythm, rows: Rows, tramline: &Tramline) -> Vec<(u64, u32)> {
    if tramline.closable_outlets.is_empty() {
        return Vec::new();
    }
    let closable: BTreeSet<u32> = tramline.closable_outlets.iter().copied().collect();
    let mut missing = Vec::new();
    let turns = if rhythm.drill_bouts.is_multiple_of(2) {
        1
    } else {
        2
    };
    for turn in 0..turns {
        for bout in &rhythm.closed {
            let nth = turn * rhythm.drill_bouts + bout.bout - 1;
            let outlets = bout.rows.iter().map(|row| outlet(*row, nth, rows));
            let open = outlets.filter(|outlet| !closable.contains(outlet));
            missing.extend(open.map(|outlet| (nth + 1, outlet)));
        }
    }
    missing
}

/// Sprayer widths that are tried when the wanted one cannot be closed: every half metre, and every whole
/// number of drill bouts.
const TRIED_MM: u64 = 500;
/// Widest sprayer that is tried, mm.
const WIDEST_MM: u64 = 60_000;

fn cannot_close(
    job: &Job,
    rows: Rows,
    tramline: &Tramline,
    rhythm: &Rhythm,
    missing: &[(u64, u32)],
) -> Box<Fault> {
    let outlets: BTreeSet<u32> = missing.iter().map(|(_, outlet)| *outlet).collect();
    let bouts: BTreeSet<u64> = missing.iter().map(|(bout, _)| *bout).collect();
    let first = missing.first().copied().unwrap_or((1, 1));
    let units = job.report.units;
    let sprayer = units.given_length(tramline.sprayer_width_m);
    let drill = units.given_length(job.drill.working_width_m);
    let found = format!(
        "a {} sprayer behind a {} drill repeats after {} drill bouts ({}, {} sprayer bouts), because {} is no whole multiple of {}; its wheels fall on other rows each time, and outlets {} would have to close, first outlet {} in bout {}, in {} bouts in all, which this drill cannot",
        sprayer,
        drill,
        rhythm.drill_bouts,
        units.given_length(rhythm.cycle_m),
        rhythm.sprayer_bouts,
        GivenLength(tramline.sprayer_width_m).number(units),
        GivenLength(job.drill.working_width_m).number(units),
        listed(outlets.iter().copied()),
        first.1,
        first.0,
        bouts.len(),
    );
    let found = if rhythm.sprayer_bouts == 1 {
        format!(
            "a {} sprayer behind a {} drill needs outlets {} closed, first outlet {} in bout {} of {}, which this drill cannot",
            sprayer,
            drill,
            listed(outlets.iter().copied()),
            first.1,
            first.0,
            rhythm.drill_bouts,
        )
    } else {
        found
    };
    let begin_m = headland::bouts_begin_m(job, tramline, millimetres(tramline.sprayer_width_m));
    let found = match begin_m == 0.0 {
        true => found,
        false => format!(
            "{found}. Bouts of the sprayer begin {} from the edge of the interior, where its round along the border ends",
            units.length(begin_m, 2)
        ),
    };
    let otherwise = match headland::is_whole_bouts(job) {
        true => "leave [tramline] out",
        false => {
            "make the headland whole bouts wide, or set headland = \"none\" where the sprayer makes no round, or leave [tramline] out"
        }
    };
    refusal(
        job,
        rows,
        tramline,
        "tramline.cannot_close",
        found,
        otherwise,
    )
}

fn listed(numbers: impl Iterator<Item = u32>) -> String {
    let words: Vec<String> = numbers.map(|number| number.to_string()).collect();
    words.join(", ")
}

/// Refuses what the drill cannot close, with the nearest that it can; `otherwise` is the other way out.
fn refusal(
    job: &Job,
    rows: Rows,
    tramline: &Tramline,
    code: &'static str,
    found: String,
    otherwise: &str,
) -> Box<Fault> {
    let with_headland = tramline.headland == Some(HeadlandRound::Closed);
    let near = nearest(rows, tramline, &|mm, start| {
        closes(job, rows, tramline, mm, start)
            && (!with_headland || headland::closes(job, rows, tramline, mm))
    });
    let next = match offered(&near) {
        None => "no sprayer up to 60 m fits these outlets: check closable_outlets, track_width_m and tyre_width_m".to_owned(),
        Some(words) => format!(
            "nearest that it can close: {words}; or close more outlets, or {otherwise}"
        ),
    };
    Fault::input(
        code,
        Place::file(&job.file),
        found,
        format!(
            "rhythms that close only outlets {}",
            listed(tramline.closable_outlets.iter().copied())
        ),
        next,
    )
}

/// Widths as they are written in the job; `None` where there is none.
fn offered(near: &[(u64, Start)]) -> Option<String> {
    let words = near.iter().map(|(mm, start)| {
        let start = match start {
            Start::Whole => "whole",
            Start::Half => "half",
        };
        format!(
            "sprayer_width_m = {} with start = \"{start}\"",
            *mm as f64 / 1000.0
        )
    });
    let words: Vec<String> = words.collect();
    (!words.is_empty()).then(|| words.join(", or "))
}

/// The nearest width below and above (or the same with the other start) that fits.
fn nearest(
    rows: Rows,
    tramline: &Tramline,
    fits: &dyn Fn(u64, Start) -> bool,
) -> Vec<(u64, Start)> {
    let wanted = millimetres(tramline.sprayer_width_m);
    let least = millimetres(tramline.track_width_m + tramline.tyre_width_m) + 1;
    let mut widths: BTreeSet<u64> = (1..=WIDEST_MM / TRIED_MM).map(|n| n * TRIED_MM).collect();
    widths.extend((1..=WIDEST_MM / rows.width_mm).map(|n| n * rows.width_mm));
    widths.insert(wanted);
    let with_start = |mm: &u64| {
        let start = [Start::Whole, Start::Half].into_iter();
        let mut start = start.filter(|start| *mm >= least && fits(*mm, *start));
        start.next().map(|start| (*mm, start))
    };
    let below = widths.range(..=wanted).rev().find_map(with_start);
    let above = widths.range(wanted + 1..).find_map(with_start);
    let mut near: Vec<(u64, Start)> = below.into_iter().chain(above).collect();
    near.sort_by_key(|(mm, _)| mm.abs_diff(wanted));
    near
}

fn common_multiple(a: u64, b: u64) -> u64 {
    let (mut x, mut y) = (a, b);
    while y > 0 {
        (x, y) = (y, x % y);
    }
    a / x * b
}

#[cfg(test)]
mod tests;
