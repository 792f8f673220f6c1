//! From a job to its plan: the whole way in one call.

use super::gather::{self, Inputs, gather_told};
use super::{Extras, Plan, SharedInputs, Tell, prepare_told, progress, rate_with};
use crate::agronomy;
use crate::drive::tramline;
use crate::findings::Outcome;
use crate::job::Job;

/// Plans a job from its files.
///
/// # Errors
/// Everything that [`super::gather()`], [`super::prepare`] and [`super::rate`] refuse.
pub fn run(job: &Job) -> Outcome<Plan> {
    run_with(job, Extras::all())
}

/// Plans a job from its files, with the extras that are wanted.
///
/// # Errors
/// As [`run`].
pub fn run_with(job: &Job, extras: Extras) -> Outcome<Plan> {
    run_told(job, extras, &progress::quiet)
}

/// The same, and tells of each step as it begins.
///
/// # Errors
/// As [`run`].
pub fn run_told(job: &Job, extras: Extras, tell: Tell) -> Outcome<Plan> {
    planned(job, extras, |job| gather_told(job, tell), tell)
}

/// Plans one field of a job for many.
///
/// # Errors
/// As [`run`], for this field.
pub fn run_field(shared: &SharedInputs, nth: usize) -> Outcome<Plan> {
    run_field_with(shared, nth, Extras::all())
}

/// Plans one field of a job for many, with the extras that are wanted.
///
/// # Errors
/// As [`run`], for this field.
pub fn run_field_with(shared: &SharedInputs, nth: usize, extras: Extras) -> Outcome<Plan> {
    let gather = |job: &Job| gather::gather_field(shared, nth, job);
    planned(&shared.job(nth), extras, gather, &progress::quiet)
}

/// Plans a job from inputs that are gathered once its limits are known to be sound.
pub(super) fn planned(
    job: &Job,
    extras: Extras,
    gather: impl FnOnce(&Job) -> Outcome<Inputs>,
    tell: Tell,
) -> Outcome<Plan> {
    // What cannot be is told before what comes of it.
    agronomy::crops::check(job)?;
    agronomy::check_limits(job)?;
    tramline::rhythm(job)?;
    let prepared = prepare_told(gather(job)?, job, tell)?;
    progress::after(job, 2, tell);
    rate_with(&prepared, job, extras)
}
