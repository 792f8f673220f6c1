//! How far long work has come, for those who wait.

use crate::job::Job;

/// A step of the work that begins now.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Step {
    /// From 1.
    pub nth: usize,
    /// How many there are.
    pub of: usize,
    /// What is done, in a few words.
    pub what: String,
}

/// Hears of each step as it begins. What is planned does not depend on it.
pub type Tell<'a> = &'a (dyn Fn(&Step) + Sync);

/// Nobody waits.
pub(super) fn quiet(_: &Step) {}

/// Steps of a job: the boundary, each layer, and what comes after them.
const AFTER: [&str; 3] = ["overlay of all layers", "cells and bouts", "rates"];

/// The boundary.
pub(super) fn boundary(job: &Job, tell: Tell) {
    step(job, 1, "boundary".to_owned(), tell);
}

/// The layer with this number, from 0.
pub(super) fn layer(job: &Job, nth: usize, tell: Tell) {
    let name = job.layers.get(nth).map_or("", |layer| &layer.name);
    step(job, nth + 2, format!("layer '{name}'"), tell);
}

/// What comes after the layers, from 0.
pub(super) fn after(job: &Job, nth: usize, tell: Tell) {
    let what = AFTER.get(nth).copied().unwrap_or_default();
    step(job, job.layers.len() + 2 + nth, what.to_owned(), tell);
}

fn step(job: &Job, nth: usize, what: String, tell: Tell) {
    tell(&Step {
        nth,
        of: 1 + job.layers.len() + AFTER.len(),
        what,
    });
}
