//! Trials in the map: `[[trial]]`. Strips along the bouts, put on the land after all else that decides a rate, so that every output is made
//! from the map with them in it. Method: docs/methods/trial-layout.md.

mod blocks;
mod board;
mod draw;
mod driven;
mod ground;
mod laid;
mod land;
mod sight;
mod spread;
mod told;
mod treatments;
mod width;

pub use laid::{FlatInAll, LaidTrial, TrialCost, TrialPlot, TrialTreatment};
pub use sight::Sight;
pub use width::Wheelings;

use super::rated_land::RatedLand;
use super::{Drive, drive};
use crate::drive::response;
use crate::findings::{Fault, Finding, Outcome, Place};
use crate::job::{Job, Trial};
use crate::map;
use blocks::{Block, MIXED_M, Search, Zones};
use ground::{Borders, Bouts, Rectangle};
use laid::Laying;
use land::{OfRow, WithStrips};
use treatments::Tried;
use width::{Sprayer, strip_width};

/// How often blocks are moved away from where the drive does not lay what they ask for.
const ROUNDS: usize = 6;

/// Land beside a place where the hoppers are filled, m.
const STOP_M: f64 = 1.0;

/// Trials on the land, before the plan is driven.
pub(super) struct Trials(Vec<Laying>);

impl Trials {
    /// The trials with what the drive lays on each plot.
    ///
    /// # Errors
    /// A plot that is not sown as it asks, because of a trial that was laid out after its own.
    pub fn driven(mut self, drive: &Drive, job: &Job) -> Outcome<Vec<LaidTrial>> {
        let patches = drive
            .as_driven
            .as_ref()
            .map(|driven| driven.patches.as_slice());
        for laying in &mut self.0 {
            laying.take_driven(patches.unwrap_or_default(), job);
            if let Some((nth, _)) = laying.not_as_asked(job).first() {
                return Err(told::not_driven(laying, *nth, job));
            }
        }
        Ok(self.0.into_iter().map(|laying| laying.trial).collect())
    }
}

/// Lays out the trials of the job on land with its rates. `wanted` (per row, per product, kg/ha) are the rates that a cut map was
/// made from; it follows the rows.
///
/// # Errors
/// Bouts along a curve, or none; a trial without room, or whose plots the drill would not sow as they ask.
pub(super) fn laid<'a>(
    mut land: RatedLand<'a>,
    mut wanted: Option<&mut Vec<Vec<f64>>>,
    job: &Job,
) -> Outcome<(RatedLand<'a>, Trials, Vec<Finding>)> {
    let mut trials = Trials(Vec::new());
    let mut findings = Vec::new();
    for (nth, trial) in job.trials.iter().enumerate() {
        let (with, laying, found) = one(&land, nth, trial, job)?;
        findings.extend(found);
        if let Some(wanted) = &mut wanted {
            let rows = with.before.iter().zip(&with.treatment).enumerate();
            let of = |(row, (before, treatment)): (usize, (&u32, &Option<usize>))| match treatment {
                Some(treatment) if !laying.is_map(*treatment) => {
                    with.land.kg_per_ha.get(row).cloned()
                }
                _ => wanted.get(*before as usize).cloned(),
            };
            **wanted = rows.filter_map(of).collect();
        }
        land = with.land;
        trials.0.push(laying);
    }
    Ok((land, trials, findings))
}

/// One trial, moved until the drive lays what it asks for.
fn one<'a>(
    land: &RatedLand<'a>,
    nth: usize,
    trial: &Trial,
    job: &Job,
) -> Outcome<(WithStrips<'a>, Laying, Vec<Finding>)> {
    let prepared = land.prepared;
    let heading_deg = prepared.drive.as_ref().map(|drive| drive.heading_deg);
    let bouts = heading_deg
        .filter(|_| !prepared.land.is_curved())
        .and_then(|heading_deg| Bouts::of(&prepared.bouts, heading_deg, job));
    let Some(bouts) = bouts else {
        return Err(told::no_bouts(trial, prepared.land.is_curved(), job));
    };
    let mm = |metres: f64| (metres * 1000.0).round().max(0.0) as u64;
    let width = strip_width(
        mm(bouts.width_m),
        Sprayer::of(job, prepared.tramlines.as_ref()),
        mm(trial.header_width_m),
    );
    let tried = Tried::of(trial, job, &land.rates.rows);
    let rows: Vec<OfRow> = land::rows(land, &tried, job)?;
    let area = prepared.trial_areas.get(nth).and_then(Option::as_ref);
    if area.is_some_and(Vec::is_empty) {
        return Err(told::area_elsewhere(trial, job));
    }
    let here = area.map(|shapes| Borders::around(shapes, &bouts));
    let mut blocked: Vec<Rectangle> = Vec::new();
    let mut last: Option<Box<Fault>> = None;
    // The last layout that is sown as it asks, though a hopper is filled within a plot of it.
    let mut with_refills: Option<(WithStrips<'a>, Laying, Vec<Finding>)> = None;
    let mut moved = 0;
    for _ in 0..ROUNDS {
        let search = Search {
            land,
            tried: &tried,
            rows: &rows,
            bouts: &bouts,
            strip: (width.bouts as i64, width.first as i64),
            ends_m: ends_m(trial, job),
            here: here.as_ref(),
            blocked: &blocked,
            job,
        };
        if trial
            .length_m
            .is_some_and(|length_m| length_m < search.least_m())
        {
            return Err(told::too_short(trial, search.least_m(), job));
        }
        let zones = Zones::of(&search);
        let found = search.blocks(&zones);
        if found.blocks.is_empty() {
            let no_room = || told::no_room(&search, &found, width.bouts as f64 * bouts.width_m);
            return with_refills.ok_or_else(|| last.unwrap_or_else(no_room));
        }
        let mut laying = Laying::of(nth, &search, &zones, &found.blocks, width.wheelings);
        let with = land::with_strips(land, &rows, &laying.plots(), &bouts, job)?;
        laying.take_land(land, &rows, &with, job)?;
        let (drive, at_stops) = on_paper(&with.land, &laying, job);
        let patches = drive
            .as_driven
            .as_ref()
            .map(|driven| driven.patches.as_slice());
        laying.take_driven(patches.unwrap_or_default(), job);
        let bad = laying.not_as_asked(job);
        let here = |rectangle: &Rectangle| bad.iter().any(|(_, own)| own == rectangle);
        if bad.is_empty() {
            let mut findings = with.findings.clone();
            findings.extend(told::findings(
                &laying,
                &zones,
                &found,
                moved,
                at_stops.len(),
                job,
            ));
            if at_stops.is_empty() {
                return Ok((with, laying, findings));
            }
            with_refills = Some((with, laying, findings));
            moved += at_stops.len();
            blocked.extend(at_stops);
            continue;
        }
        if let Some((plot, _)) = bad.first() {
            last = Some(told::not_driven(&laying, *plot, job));
        }
        let of_bad = |block: &&Block| block.plots.iter().any(here);
        let blocks: Vec<&Block> = found.blocks.iter().filter(of_bad).collect();
        moved += blocks.len() + at_stops.len();
        blocked.extend(blocks.iter().flat_map(|block| block.plots.iter().copied()));
        blocked.extend(at_stops);
    }
    with_refills.ok_or_else(|| last.unwrap_or_else(|| told::nowhere(trial, job)))
}

/// What is left out at both ends of a plot, m: what a reading mixes, or what the drill takes to come to a rate, whichever is more. In a cell
/// of a chessboard half of what it mixes, for a reading reaches half of that to both sides.
fn ends_m(trial: &Trial, job: &Job) -> f64 {
    let mixed_m = match trial.chessboard {
        Some(_) => MIXED_M / 2.0,
        None => MIXED_M,
    };
    let behind_m = job.drill.reference_to_outlets_m.abs();
    let changes = response::transitions(job);
    let longest = changes.iter().map(|of| {
        let each = [of.start_m, of.stop_m, of.step_up_m, of.step_down_m];
        each.into_iter().fold(0.0, f64::max) + behind_m
    });
    longest.fold(mixed_m, f64::max)
}

/// The drive over land with strips, and the ground around the places within its plots where the hoppers are filled.
fn on_paper(land: &RatedLand, laying: &Laying, job: &Job) -> (Drive, Vec<Rectangle>) {
    let (units, frame) = (land.units(), &land.prepared.frame);
    let map = map::rate_map(units, land.cells(), &land.kg_per_ha, job, frame);
    let (drive, _, _) = drive::driven(land, &map, None, job);
    let stops = drive.refills.iter().flat_map(|refills| &refills.stops);
    let places = stops.map(|stop| laying.bouts.turned(frame.to_plane(stop.lon_lat).pair()));
    let places = places.filter(|place| laying.plots().iter().any(|(plot, _)| plot.holds(*place)));
    let half_m = laying.bouts.width_m / 2.0;
    let around = places.map(|[u, v]| Rectangle {
        u: [u - STOP_M, u + STOP_M],
        v: [v - half_m, v + half_m],
    });
    let around = around.collect();
    (drive, around)
}

/// The job's file as a place.
fn job_file(job: &Job) -> Place {
    Place::file(&job.file)
}
