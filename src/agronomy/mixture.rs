//! Two species at once: each product's own rule gives its full rate, and the mixture the share of it.

use super::chain::{self, Draft};
use super::class::look_up;
use super::reasons::Step;
use super::{Rule, Why};
use crate::findings::Outcome;
use crate::job::{Job, Series};
use crate::texts::Words;
use crate::texts::quantity::{Given, Number, Rate};
use crate::zones::Facts;
use serde::Serialize;

/// Source of the terms additive and replacement series.
pub const SOURCE: &str = "Canadian Journal of Plant Science 102(3), CJPS-2021-0182 (additive pea with barley, oats or mustard); shares times full rates: the definition of the two series";

/// What is sown of a species that is one of two, against its full rate.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Share {
    /// Rate of this species if it were sown alone, kg/ha.
    pub full_kg_per_ha: f64,
    /// Share of it that the mixture asks for, percent.
    pub wanted_percent: f64,
    /// Share of it that is sown, after limits, rounding and setbacks, percent.
    pub sown_percent: f64,
    /// The sown shares of both species added up, percent.
    pub together_percent: f64,
}

/// This share, in percent, of a full rate, in kg/ha.
pub fn of_full_kg_per_ha(full_kg_per_ha: f64, percent: f64) -> f64 {
    full_kg_per_ha * percent / 100.0
}

/// The full rate and the wanted share of a draft that is one of the two.
#[derive(Debug, Clone, Copy)]
pub(super) struct Part {
    full_kg_per_ha: f64,
    wanted_percent: f64,
}

/// Takes the shares of the two species. Where the companion is not sown (its own rate is 0, or a setback
/// switches it off), the main crop keeps its whole rate.
///
/// # Errors
/// A class without a share; a share that cannot be.
pub(super) fn tie(job: &Job, facts: &Facts, drafts: &mut [Draft]) -> Outcome<()> {
    let Some(mixture) = &job.mixture else {
        return Ok(());
    };
    let place = |id: &str| job.products.iter().position(|product| product.id == id);
    let (Some(main), Some(companion)) = (place(&mixture.main), place(&mixture.companion)) else {
        // The job's rules have refused such a mixture.
        return Ok(());
    };
    let sown = !drafts[companion].off && drafts[companion].so_far.kg_per_ha() > 0.0;
    let percent = match sown {
        true => look_up(
            job,
            &mixture.companion_percent,
            "mixture.companion_percent",
            facts,
        )
        .map_err(|fault| with_job(job, *fault))?,
        false => super::class::Found {
            value: 0.0,
            on: String::new(),
        },
    };
    let words = Words::of(job);
    let alone = percent.value == 0.0;
    let (main_percent, why) = match (mixture.series, &mixture.main_percent) {
        _ if alone => (100.0, words.say(&Why::Alone)),
        (Series::Replacement, _) => (
            100.0 - percent.value,
            words.say(&Why::Replacement {
                companion: mixture.companion.clone(),
            }),
        ),
        (Series::Additive, None) => (
            100.0,
            words.say(&Why::Additive {
                on: String::new(),
                companion: mixture.companion.clone(),
            }),
        ),
        (Series::Additive, Some(lookup)) => {
            let found = look_up(job, lookup, "mixture.main_percent", facts)
                .map_err(|fault| with_job(job, *fault))?;
            let why = words.say(&Why::Additive {
                on: found.on,
                companion: mixture.companion.clone(),
            });
            (found.value, why)
        }
    };
    take(&mut drafts[main], Rule::MixtureMain, main_percent, &why)?;
    let why = match sown {
        true => Why::Beside {
            on: percent.on,
            main: mixture.main.clone(),
        },
        false => Why::NotSown {
            main: mixture.main.clone(),
        },
    };
    let why = words.say(&why);
    take(
        &mut drafts[companion],
        Rule::MixtureCompanion,
        percent.value,
        &why,
    )
}

fn take(draft: &mut Draft, rule: Rule, percent: f64, why: &str) -> Outcome<()> {
    let full = draft.so_far.kg_per_ha();
    draft.part = Some(Part {
        full_kg_per_ha: full,
        wanted_percent: percent,
    });
    if full == 0.0 {
        return Ok(());
    }
    let kg_per_ha = of_full_kg_per_ha(full, percent);
    draft.so_far.take(Step {
        rule,
        why: Why::Share {
            percent: Given(percent),
            full: Rate(full),
            why: why.to_owned(),
            rate: Rate(kg_per_ha),
        },
        inputs: &[("full rate kg/ha", full), ("share %", percent)],
        kg_per_ha,
        source: Some(SOURCE.into()),
    })
}

/// The shares of all drafts as they are sown, once limits and setbacks have been taken.
pub(super) fn shares(drafts: &[Draft]) -> Vec<Option<Share>> {
    let sown = |draft: &Draft| {
        let part = draft.part?;
        let percent = match part.full_kg_per_ha > 0.0 {
            true => draft.sown() / part.full_kg_per_ha * 100.0,
            false => 0.0,
        };
        Some((part, percent))
    };
    let together_percent = drafts.iter().filter_map(sown).map(|(_, sown)| sown).sum();
    let share = |draft: &Draft| {
        let (part, sown_percent) = sown(draft)?;
        Some(Share {
            full_kg_per_ha: part.full_kg_per_ha,
            wanted_percent: part.wanted_percent,
            sown_percent,
            together_percent,
        })
    };
    drafts.iter().map(share).collect()
}

/// Writes the share that is sown down, after limits and rounding.
///
/// # Errors
/// None: the rate stays.
pub(super) fn say(share: &Share, draft: &mut Draft) -> Outcome<()> {
    let kg_per_ha = draft.so_far.kg_per_ha();
    if kg_per_ha == 0.0 {
        return Ok(());
    }
    draft.so_far.take(Step {
        rule: Rule::MixtureSown,
        why: Why::SharesSown {
            rate: Rate(kg_per_ha),
            share: Number(share.sown_percent, 1),
            together: Number(share.together_percent, 1),
        },
        inputs: &[
            ("full rate kg/ha", share.full_kg_per_ha),
            ("share wanted %", share.wanted_percent),
            ("share sown %", share.sown_percent),
            ("both shares %", share.together_percent),
        ],
        kg_per_ha,
        source: Some(SOURCE.into()),
    })
}

fn with_job(job: &Job, mut fault: crate::findings::Fault) -> Box<crate::findings::Fault> {
    fault.place = chain::job_file(job);
    Box::new(fault)
}
