//! The rings driven by every set of sections and every rule that the job's report compares: once, for whatever asks.

use super::SwitchRule;
use super::bout::{self, Bout, Section, Sections};
use super::rings::{self, Drilled};
use super::ways::Ways;
use crate::job::{HeadlandTurn, Job};
use crate::land::Land;
use rayon::prelude::*;

/// All rules, in the order in which they are told.
pub(super) const RULES: [SwitchRule; 3] =
    [SwitchRule::AnyPartIn, SwitchRule::HalfIn, SwitchRule::AllIn];

/// The rings driven by one set of sections and one rule.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct RingDrive {
    by: Sections,
    /// Per way, in the order in which they are driven: its sections, left to right.
    pub(super) sections: Vec<Vec<Section>>,
    pub(super) drilled: Drilled,
    /// Headland that bouts before the rings drill, m2.
    pub(super) before_m2: f64,
}

/// The rings driven by the sets of sections to compare, each by all rules: set by set, in the order of [`RULES`].
pub(super) fn to_compare(ways: &Ways, land: &Land, job: &Job) -> Vec<RingDrive> {
    if ways.rings.ways.is_empty() {
        return Vec::new();
    }
    let sets = sets(job);
    let drives = sets.par_iter().flat_map(|widths_m| {
        let with = |rule| Sections {
            widths_m: widths_m.clone(),
            rule,
        };
        drives(ways, land, job, &RULES.map(with))
    });
    drives.collect()
}

/// The rings driven by these sections: looked up where they are among those to compare.
pub(super) fn one(ways: &Ways, land: &Land, job: &Job, by: &Sections) -> Option<RingDrive> {
    let known = ways.ring_drives.iter().find(|drive| drive.by == *by);
    match known {
        Some(known) => Some(known.clone()),
        None => drives(ways, land, job, std::slice::from_ref(by)).pop(),
    }
}

/// The rings driven by sections that differ in their rule only.
fn drives(ways: &Ways, land: &Land, job: &Job, by: &[Sections]) -> Vec<RingDrive> {
    let Some(sections) = by.first() else {
        return Vec::new();
    };
    let last = job.drive.as_ref().map(|drive| drive.headland) == Some(HeadlandTurn::Last);
    let before = |by: &Sections| match last {
        true => bout::interior(ways, land, job, None, by),
        false => Vec::new(),
    };
    let before: Vec<Vec<Bout>> = by.iter().map(before).collect();
    let rules = by.iter().zip(&before);
    let rules: Vec<(SwitchRule, &[Bout])> = rules
        .map(|(by, before)| (by.rule, before.as_slice()))
        .collect();
    let swept = rings::sweep(&ways.rings, job, sections, &rules);
    let swept = swept.into_iter().zip(by).zip(&before);
    swept
        .map(|((swept, by), before)| RingDrive {
            by: by.clone(),
            sections: swept.sections,
            drilled: swept.drilled,
            before_m2: rings::drilled_m2(&ways.rings, before),
        })
        .collect()
}

/// Sections to compare, left to right: one, as many as the job asks for, and those of the drill.
pub(super) fn sets(job: &Job) -> Vec<Vec<f64>> {
    let width_m = job.drill.working_width_m;
    let mut sets: Vec<Vec<f64>> = vec![vec![width_m]];
    let asked = job.drive.iter().flat_map(|drive| &drive.compare_sections);
    let asked = asked.map(|count| vec![width_m / f64::from(*count); *count as usize]);
    let own = Some(job.drill.sections_m.clone()).filter(|own| !own.is_empty());
    for set in asked.chain(own) {
        let same = |known: &Vec<f64>| {
            let close = |(a, b): (&f64, &f64)| (a - b).abs() < 1e-9;
            known.len() == set.len() && known.iter().zip(&set).all(close)
        };
        if !sets.iter().any(same) {
            sets.push(set);
        }
    }
    sets
}
