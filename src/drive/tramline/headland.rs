//! The sprayer's round along the border, on the headland: which rows of which ring close under its wheels.
//!
//! Its middle runs half the sprayer's width from the border. A ring closes the rows whose middle lies under a wheel,
//! but for its corners. Method: docs/methods/tramlines.md.

use super::super::bout::{ClosedAlong, ClosedRow, rows_of_outlets};
use super::super::path::Path;
use super::super::rings;
use super::corners::between_corners;
use super::{Rhythm, Rows, TOUCH_M, refusal};
use crate::findings::{Finding, Outcome, Place};
use crate::job::{ClosedFlow, HeadlandRound, Job, ShutFlows, Tramline};
use crate::land::Land;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// The sprayer's round along the border.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[schemars(rename = "SprayerRound")]
pub struct Round {
    /// Its middle, m from the border: half the width of the sprayer.
    pub middle_m: f64,
    /// The middles of its outer and its inner wheel, m from the border.
    pub wheels_m: [f64; 2],
    /// Headland that holds both wheels with tyre and clearance, m.
    pub least_headland_m: f64,
    /// The same in whole bouts of the drill.
    pub least_bouts: u64,
    /// Width of the headland, m.
    pub headland_m: f64,
    /// What happens to the rows under the wheels.
    pub rows: RoundRows,
    /// Rings with rows under a wheel, from the border inwards; empty where none closes.
    pub rings: Vec<RoundRing>,
    /// From each side of a corner so far no row of a ring closes, m: the working width of the drill.
    pub corner_m: f64,
    /// Headland between the inner wheel's closed rows and the interior, m: interior tramlines cross it over rows
    /// that are sown along the border.
    pub crossed_m: f64,
    /// Ground of the closed rows, m2.
    pub closed_m2: f64,
    /// What of it is saved: all of it, or nothing where other rows get it.
    pub saved_m2: f64,
}

/// What happens to the rows under the wheels of the round.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum RoundRows {
    /// They close, but for corners.
    Close,
    /// Some close; the drill cannot close the outlets of the others.
    SomeClose,
    /// The job leaves them sown.
    Sown,
    /// The headland does not hold both wheels: none closes.
    TooNarrow,
}

/// A headland ring with rows under a wheel of the round.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct RoundRing {
    /// From 1 at the border.
    pub ring: u64,
    /// Outlets that close, from 1, from the left looking ahead, driven with the border on the right.
    pub outlets: Vec<u32>,
    /// Outlets under a wheel that the drill cannot close: their rows stay sown.
    pub stay_sown: Vec<u32>,
    /// Length of the ring's middle line, all its parts together, m.
    pub length_m: f64,
    /// Of it, where the outlets are closed: not in the corners, m.
    pub closed_m: f64,
}

/// Whether a job has the sprayer go around on the headland.
pub(super) fn is_made(job: &Job, tramline: &Tramline) -> bool {
    match tramline.headland {
        Some(HeadlandRound::None) => false,
        Some(HeadlandRound::Closed | HeadlandRound::Sown) => true,
        None => headland_m(job) > 0.0,
    }
}

fn headland_m(job: &Job) -> f64 {
    job.headland.metres(job.drill.working_width_m)
}

/// Whether the headland is a whole number of bouts wide, or there is none.
pub(super) fn is_whole_bouts(job: &Job) -> bool {
    let bouts = headland_m(job) / job.drill.working_width_m;
    (bouts - bouts.round()).abs() < 1e-6
}

/// Where bouts of this sprayer begin in the interior, m from its edge: where the round ends. Negative where that
/// is in the headland.
pub(super) fn bouts_begin_m(job: &Job, tramline: &Tramline, sprayer_mm: u64) -> f64 {
    match is_made(job, tramline) {
        true => sprayer_mm as f64 / 1000.0 - headland_m(job),
        false => 0.0,
    }
}

/// The round of a sprayer of this width, before the land is known: nothing has a length yet. `None` where it makes none.
pub(super) fn round(job: &Job, rows: Rows, tramline: &Tramline, sprayer_mm: u64) -> Option<Round> {
    if !is_made(job, tramline) {
        return None;
    }
    let width_m = job.drill.working_width_m;
    let headland_m = headland_m(job);
    let middle_m = sprayer_mm as f64 / 2000.0;
    let half_track_m = tramline.track_width_m / 2.0;
    let wheels_m = [middle_m - half_track_m, middle_m + half_track_m];
    let reach_m = tramline.tyre_width_m / 2.0 + tramline.clearance_m;
    let least_headland_m = wheels_m[1] + reach_m;
    let mut round = Round {
        middle_m,
        wheels_m,
        least_headland_m,
        least_bouts: whole_bouts(least_headland_m, width_m),
        headland_m,
        rows: RoundRows::Sown,
        rings: Vec::new(),
        corner_m: width_m,
        crossed_m: (headland_m - least_headland_m).max(0.0),
        closed_m2: 0.0,
        saved_m2: 0.0,
    };
    if tramline.headland == Some(HeadlandRound::Sown) {
        return Some(round);
    }
    if headland_m < least_headland_m - TOUCH_M {
        round.rows = RoundRows::TooNarrow;
        return Some(round);
    }
    for ring in 1..=whole_bouts(headland_m, width_m) {
        let under = (1..=rows.count).filter(|outlet| {
            // The border is on the right, and outlets count from the left.
            let from_border_m = ring as f64 * width_m - (f64::from(*outlet) - 0.5) * rows.spacing_m;
            let under = |wheel: &f64| (from_border_m - wheel).abs() <= reach_m + TOUCH_M;
            wheels_m.iter().any(under)
        });
        let closes = |outlet: &u32| {
            tramline.closable_outlets.is_empty() || tramline.closable_outlets.contains(outlet)
        };
        let (outlets, stay_sown): (Vec<u32>, Vec<u32>) = under.partition(closes);
        if !outlets.is_empty() || !stay_sown.is_empty() {
            round.rings.push(RoundRing {
                ring,
                outlets,
                stay_sown,
                length_m: 0.0,
                closed_m: 0.0,
            });
        }
    }
    let all = round.rings.iter().all(|ring| ring.stay_sown.is_empty());
    round.rows = match all {
        true => RoundRows::Close,
        false => RoundRows::SomeClose,
    };
    Some(round)
}

/// How many bouts cover a width; a sliver within the plane's grid is no bout.
fn whole_bouts(metres: f64, width_m: f64) -> u64 {
    (metres / width_m - 1e-6).ceil().max(0.0) as u64
}

/// A round that the job wants closed and the drill cannot close.
pub(super) fn check(job: &Job, rows: Rows, tramline: &Tramline, round: &Round) -> Outcome<()> {
    if tramline.headland != Some(HeadlandRound::Closed) || round.rows != RoundRows::SomeClose {
        return Ok(());
    }
    let found = format!(
        "the round of a {} sprayer along the border has its wheels {} from it, and under them {}, which this drill cannot close",
        job.report.units.given_length(tramline.sprayer_width_m),
        wheels(round, job),
        stay_sown(round),
    );
    Err(refusal(
        job,
        rows,
        tramline,
        "tramline.headland_cannot_close",
        found,
        "headland = \"sown\", which drives the round over sown rows",
    ))
}

/// Whether the headland holds a round of this sprayer, and the drill can close what lies under it.
pub(super) fn closes(job: &Job, rows: Rows, tramline: &Tramline, sprayer_mm: u64) -> bool {
    round(job, rows, tramline, sprayer_mm).is_none_or(|round| round.rows == RoundRows::Close)
}

fn wheels(round: &Round, job: &Job) -> String {
    let [outer, inner] = round.wheels_m.map(|m| job.report.units.length(m, 2));
    format!("{outer} and {inner}")
}

fn stay_sown(round: &Round) -> String {
    let rings = round.rings.iter().filter(|ring| !ring.stay_sown.is_empty());
    let rings = rings.map(|ring| {
        let outlets: Vec<String> = ring.stay_sown.iter().map(u32::to_string).collect();
        format!("outlets {} of ring {}", outlets.join(", "), ring.ring)
    });
    rings.collect::<Vec<_>>().join(" and ")
}

/// What of the round stays sown though nobody asked for that.
pub(super) fn findings(job: &Job, rows: Rows, tramline: &Tramline, round: &Round) -> Vec<Finding> {
    let (place, units) = (Place::file(&job.file), job.report.units);
    match round.rows {
        RoundRows::Close | RoundRows::Sown => Vec::new(),
        RoundRows::TooNarrow => {
            let message = format!(
                "the sprayer's round runs {} from the border, its wheels at {}, and the headland is {} wide: no row closes under them. {} bouts of the drill ({} at least) hold both wheels: set bouts = {} in [headland], or in [tramline] headland = \"sown\" where it is driven over sown rows, headland = \"none\" where the sprayer makes no round",
                units.given_length(round.middle_m),
                wheels(round, job),
                units.given_length(round.headland_m),
                round.least_bouts,
                units.length(round.least_headland_m, 2),
                round.least_bouts,
            );
            vec![Finding::warning(
                "tramline.headland_too_narrow",
                place,
                message,
            )]
        }
        RoundRows::SomeClose => {
            let near = super::offered(&super::nearest(rows, tramline, &|mm, start| {
                super::closes(job, rows, tramline, mm, start) && closes(job, rows, tramline, mm)
            }));
            let near = match near {
                Some(near) => format!("Nearest that it can close: {near}. "),
                None => String::new(),
            };
            let message = format!(
                "the sprayer's round has its wheels {} from the border, and this drill cannot close {} under them: these rows stay sown. {near}headland = \"sown\" in [tramline] leaves all of them sown, and this is not said",
                wheels(round, job),
                stay_sown(round),
            );
            vec![Finding::warning(
                "tramline.headland_stays_sown",
                place,
                message,
            )]
        }
    }
}

/// The round on the land: how long its rings are, and how long they are closed.
pub(super) fn measured(mut round: Round, land: &Land, job: &Job) -> Round {
    let Some(spacing_m) = job.drill.row_spacing_m else {
        return round;
    };
    let width_m = job.drill.working_width_m;
    for ring in &mut round.rings {
        let ways = rings::ways_of(land, ring.ring as usize, job);
        ring.length_m = ways.iter().map(Path::length_m).sum();
        let closed = ways.iter().flat_map(|way| between_corners(way, width_m));
        ring.closed_m = match ring.outlets.is_empty() {
            true => 0.0,
            false => closed.map(|[from, to]| to - from).sum(),
        };
    }
    let row_m = |ring: &RoundRing| ring.outlets.len() as f64 * ring.closed_m;
    round.closed_m2 = round.rings.iter().map(row_m).sum::<f64>() * spacing_m;
    round.saved_m2 = match ShutFlows::of(job).rows {
        ClosedFlow::Redistributed => 0.0,
        ClosedFlow::MeterSlows | ClosedFlow::Returned => round.closed_m2,
    };
    round
}

/// The rows that a way of a ring (from 1) closes, and where along it.
pub(in super::super) fn on_ring(
    rhythm: Option<&Rhythm>,
    number: usize,
    way: &Path,
    job: &Job,
) -> (Vec<ClosedRow>, ClosedAlong) {
    let round = rhythm.and_then(|rhythm| rhythm.headland.as_ref());
    let mut rings = round.iter().flat_map(|round| &round.rings);
    let Some(ring) = rings.find(|ring| ring.ring == number as u64) else {
        return (Vec::new(), ClosedAlong::AllTheWay);
    };
    let rows = rows_of_outlets(ring.outlets.iter().copied(), job);
    if rows.is_empty() {
        return (rows, ClosedAlong::AllTheWay);
    }
    let along = between_corners(way, job.drill.working_width_m);
    (rows, ClosedAlong::Between(along))
}

#[cfg(test)]
mod tests;
