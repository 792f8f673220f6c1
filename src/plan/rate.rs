//! From prepared land to a plan: [`rate`].

use super::maps::{self, Maps};
use super::{
    Options, Plan, PlannedLand, Prepared, across_180, cleaning, cutting, decisions, drill, drive,
    identity, joining, names, rates, shut_off, sown_again, spreader, tally, trial, turned,
};
use crate::findings::{Finding, Outcome};
use crate::job::Job;

/// Puts rates on the land.
///
/// # Errors
/// A class without a rate; a rate that cannot be made.
pub fn rate(prepared: &Prepared, job: &Job, options: &Options) -> Outcome<Plan> {
    let mut findings = prepared.findings.clone();
    let mut keep = |found: Vec<Finding>| findings.extend(found);
    let (rows, found) = rates::table(prepared, job)?;
    keep(found);
    let (land, found) = joining::joined(prepared, rows, job);
    keep(found);
    keep(cleaning::kilograms(
        &prepared.cleaned,
        &land.rates.rows,
        job,
    ));
    let (land, mut uncut, found) = cutting::cut(land, job)?;
    keep(found);
    let wanted = uncut.as_mut().map(|uncut| &mut uncut.wanted);
    let (land, trials, found) = trial::laid(land, wanted, job)?;
    keep(found);
    keep(drill::findings(&land, job));
    keep(names::findings(job));
    let mut rate_map = maps::rate_map(&land, options, job);
    let (turned, found) = turned::grid(&land, options, job);
    rate_map.turned = turned;
    keep(found);
    let wanted = uncut.as_ref().map(|uncut| uncut.wanted.as_slice());
    let (mut drive, by_wanted, found) = drive::driven(&land, &rate_map, wanted, job);
    keep(found);
    if let Some(uncut) = &uncut {
        keep(cutting::compared(uncut, &land, &by_wanted, &mut drive, job));
    }
    keep(sown_again::findings(&land, &drive, job));
    let trials = trials.driven(&drive, job)?;
    let (mut tally, found) = tally::counted(&land, &rate_map, &drive, job)?;
    keep(found);
    keep(shut_off::findings(&land.rates, &rate_map, job));
    let planned_land = PlannedLand::of(prepared);
    findings.extend(across_180::finding(&planned_land, job));
    let of_spread = spreader::set_aside(&mut findings, job);
    decisions::sign(&mut findings, job);
    let id = identity::short_id(&prepared.inputs, job)?;
    let mut drill = spreader::OfDrill {
        id: &id,
        findings: &mut findings,
        of_spread,
        tally: &mut tally.planned,
    };
    let spreaders = spreader::plans(&land, job, options, &mut drill)?;
    Ok(Plan {
        id,
        job: job.clone(),
        inputs: prepared.inputs.clone(),
        land: planned_land,
        // Outlines take memory, and the drive has let go of its own by now.
        maps: Maps::of(rate_map, &land, options, job),
        rates: land.rates,
        drive,
        tally,
        trials,
        findings,
        other_seedbed: None,
        spreaders,
        spreader_of: None,
        of_drill: Vec::new(),
    })
}
