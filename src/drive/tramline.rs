//! Tramline rhythm: which rows close in which bout, for any ratio of sprayer to drill width.
//!
//! Geometry alone: the sprayer's bout j has its middle at (j - 1/2) S from the edge of the bouts, its
//! wheels half a track to both sides; the drill's bout b lies from (b - 1) W to b W, or half a width
//! nearer to the edge where it starts with half a bout. A row closes where its middle lies within half
//! a tyre and the clearance of the middle of a wheel. The bouts lie side by side and are driven up and
//! down, so that left and right change from bout to bout. Method: docs/methods/tramlines.md.

use crate::findings::{Fault, Outcome, Place};
use crate::job::{ClosedFlow, Job, ShutFlows, Start, Tramline};
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

/// The rhythm of a job; `None` where it asks for no tramlines.
///
/// # Errors
/// A rhythm that needs outlets which the drill cannot close, with the nearest that it can.
pub fn rhythm(job: &Job) -> Outcome<Option<Rhythm>> {
    let Some(tramline) = &job.tramline else {
        return Ok(None);
    };
    let (Some(count), Some(spacing_m)) = (job.drill.rows, job.drill.row_spacing_m) else {
        return Ok(None);
    };
    let rows = Rows {
        width_mm: millimetres(job.drill.working_width_m),
        count,
        spacing_m,
    };
    let sprayer_mm = millimetres(tramline.sprayer_width_m);
    let mut rhythm = of_widths(rows, tramline, sprayer_mm, tramline.start);
    if ShutFlows::of(job).rows == ClosedFlow::Redistributed {
        rhythm.saved_percent = 0.0;
    }
    let missing = not_closable(&rhythm, rows, tramline);
    if missing.is_empty() {
        return Ok(Some(rhythm));
    }
    Err(refusal(job, rows, tramline, &rhythm, &missing))
}

fn millimetres(metres: f64) -> u64 {
    (metres * 1000.0).round().max(1.0) as u64
}

fn of_widths(rows: Rows, tramline: &Tramline, sprayer_mm: u64, start: Start) -> Rhythm {
    let common = common_multiple(sprayer_mm, rows.width_mm);
    let (sprayer_bouts, drill_bouts) = (common / sprayer_mm, common / rows.width_mm);
    let metres = |mm: u64| mm as f64 / 1000.0;
    let cycle_m = metres(common);
    let shift_m = match start {
        Start::Whole => 0.0,
        Start::Half => metres(rows.width_mm) / 2.0,
    };
    let reach_m = tramline.tyre_width_m / 2.0 + tramline.clearance_m + TOUCH_M;
    let mut wheels = Vec::new();
    // One sprayer bout more on either side: its wheels may reach into the cycle.
    for bout in 0..=sprayer_bouts + 1 {
        let middle = (bout as f64 - 0.5) * metres(sprayer_mm);
        wheels.push(middle - tramline.track_width_m / 2.0);
        wheels.push(middle + tramline.track_width_m / 2.0);
    }
    wheels.sort_by(f64::total_cmp);
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

fn refusal(
    job: &Job,
    rows: Rows,
    tramline: &Tramline,
    rhythm: &Rhythm,
    missing: &[(u64, u32)],
) -> Box<Fault> {
    let outlets: BTreeSet<u32> = missing.iter().map(|(_, outlet)| *outlet).collect();
    let listed = |numbers: &mut dyn Iterator<Item = u32>| {
        numbers
            .map(|number| number.to_string())
            .collect::<Vec<_>>()
            .join(", ")
    };
    let bouts: BTreeSet<u64> = missing.iter().map(|(bout, _)| *bout).collect();
    let first = missing.first().copied().unwrap_or((1, 1));
    let found = format!(
        "a {} m sprayer behind a {} m drill repeats after {} drill bouts ({} m, {} sprayer bouts), because {} is no whole multiple of {}; its wheels fall on other rows each time, and outlets {} would have to close, first outlet {} in bout {}, in {} bouts in all, which this drill cannot",
        tramline.sprayer_width_m,
        job.drill.working_width_m,
        rhythm.drill_bouts,
        rhythm.cycle_m,
        rhythm.sprayer_bouts,
        tramline.sprayer_width_m,
        job.drill.working_width_m,
        listed(&mut outlets.iter().copied()),
        first.1,
        first.0,
        bouts.len(),
    );
    let found = if rhythm.sprayer_bouts == 1 {
        format!(
            "a {} m sprayer behind a {} m drill needs outlets {} closed, first outlet {} in bout {} of {}, which this drill cannot",
            tramline.sprayer_width_m,
            job.drill.working_width_m,
            listed(&mut outlets.iter().copied()),
            first.1,
            first.0,
            rhythm.drill_bouts,
        )
    } else {
        found
    };
    let near = nearest(rows, tramline);
    let next = if near.is_empty() {
        "no sprayer up to 60 m fits these outlets: check closable_outlets, track_width_m and tyre_width_m".to_owned()
    } else {
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
        format!(
            "nearest that it can close: {}; or close more outlets, or leave [tramline] out",
            words.collect::<Vec<_>>().join(", or ")
        )
    };
    Fault::input(
        "tramline.cannot_close",
        Place::file(&job.file),
        found,
        format!(
            "rhythms that close only outlets {}",
            listed(&mut tramline.closable_outlets.iter().copied())
        ),
        next,
    )
}

/// The nearest width below and above (or the same with the other start) that the drill can close.
fn nearest(rows: Rows, tramline: &Tramline) -> Vec<(u64, Start)> {
    let wanted = millimetres(tramline.sprayer_width_m);
    let least = millimetres(tramline.track_width_m + tramline.tyre_width_m) + 1;
    let mut widths: BTreeSet<u64> = (1..=WIDEST_MM / TRIED_MM).map(|n| n * TRIED_MM).collect();
    widths.extend((1..=WIDEST_MM / rows.width_mm).map(|n| n * rows.width_mm));
    widths.insert(wanted);
    let fits = |mm: u64| {
        if mm < least {
            return None;
        }
        // A rhythm that closes nothing is no tramline.
        [Start::Whole, Start::Half].into_iter().find(|start| {
            let rhythm = of_widths(rows, tramline, mm, *start);
            !rhythm.closed.is_empty() && not_closable(&rhythm, rows, tramline).is_empty()
        })
    };
    let with_start = |mm: &u64| fits(*mm).map(|start| (*mm, start));
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
