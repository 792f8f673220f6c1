//! Keeps a rate within its limits: the most, what may lie beside the seed, the least, the step.

use super::chain::{Cap, take};
use super::limit::Limited;
use super::reasons::{RateSoFar, Step};
use super::{Rule, Why, text};
use crate::findings::Outcome;
use crate::job::UnitSystem;
use crate::texts::quantity::{GivenRate, Rate};

/// What limits did to a rate that is more than rounding, kg/ha.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) enum Told {
    Capped {
        before: f64,
        most: f64,
        by_label: bool,
    },
    Raised {
        before: f64,
        least: f64,
    },
    CoarseStep {
        before: f64,
        step: f64,
        after: f64,
    },
    BelowLeast {
        before: f64,
    },
}

impl Told {
    /// Code of the warning.
    pub fn code(&self) -> &'static str {
        match self {
            Self::Capped { .. } => "agronomy.capped",
            Self::Raised { .. } => "agronomy.raised",
            Self::CoarseStep { .. } => "agronomy.coarse_step",
            Self::BelowLeast { .. } => "seed_safe.below_least",
        }
    }

    /// What the warning says, in the units of the job's pages.
    pub fn words(&self, units: UnitSystem) -> String {
        let rate = |kg_per_ha: f64| text::rate_in(units, kg_per_ha);
        match *self {
            Self::Capped {
                before,
                most,
                by_label,
            } => format!(
                "{} is more than the {}: {}",
                rate(before),
                most_of(by_label),
                rate(most)
            ),
            Self::Raised { before, least } => format!(
                "{} is less than the least allowed: {}",
                rate(before),
                rate(least)
            ),
            Self::CoarseStep {
                before,
                step,
                after,
            } => format!(
                "{} rounded to steps of {}: {}, because a rate above 0 is not rounded to 0",
                rate(before),
                rate(step),
                rate(after)
            ),
            Self::BelowLeast { before } => format!("{} {BELOW_LEAST}", rate(before)),
        }
    }
}

/// Who says what the most is.
fn most_of(by_label: bool) -> &'static str {
    if by_label {
        "label allows"
    } else {
        "most allowed"
    }
}

/// What becomes of a rate that the seed bears and the drill cannot sow.
const BELOW_LEAST: &str = "is less than the drill is set to sow at least: nothing with the seed, all of it is the balance";

/// Most, least, step. What changes the rate by more than rounding is said as well.
pub(super) fn apply(
    limited: &Limited,
    cap: Option<&Cap>,
    so_far: &mut RateSoFar,
    told: &mut Vec<Told>,
) -> Outcome<()> {
    let before = so_far.kg_per_ha();
    if before == 0.0 {
        if limited.min > 0.0 {
            let why = Why::ZeroStays {
                least: GivenRate(limited.min),
            };
            return take(
                so_far,
                Rule::LimitZero,
                why,
                &[("least kg/ha", limited.min)],
                0.0,
            );
        }
        return Ok(());
    }
    let capped = limited.at_most(before);
    if capped != before {
        let most = GivenRate(limited.max);
        let said = Rate(before);
        let (rule, why) = match limited.by_label {
            true => (Rule::LimitLabel, Why::AboveLabel { before: said, most }),
            false => (Rule::LimitMax, Why::AboveMost { before: said, most }),
        };
        told.push(Told::Capped {
            before,
            most: limited.max,
            by_label: limited.by_label,
        });
        take(
            so_far,
            rule,
            why,
            &[("kg/ha before", before), ("most kg/ha", limited.max)],
            capped,
        )?;
    }
    if let Some(cap) = cap {
        return seed_safe(limited, cap, so_far, told);
    }
    let raised = limited.at_least(capped);
    if raised != capped {
        let why = Why::BelowLeast {
            before: Rate(capped),
            least: GivenRate(limited.min),
        };
        told.push(Told::Raised {
            before: capped,
            least: limited.min,
        });
        take(
            so_far,
            Rule::LimitMin,
            why,
            &[("kg/ha before", capped), ("least kg/ha", limited.min)],
            raised,
        )?;
    }
    let rounded = limited.rounded(raised);
    if let (true, Some(step)) = (rounded != raised, limited.step) {
        let why = Why::ToStep {
            before: Rate(raised),
            step: GivenRate(step),
            rate: Rate(rounded),
        };
        if raised < step / 2.0 {
            told.push(Told::CoarseStep {
                before: raised,
                step,
                after: rounded,
            });
        }
        take(
            so_far,
            Rule::LimitStep,
            why,
            &[("kg/ha before", raised), ("step kg/ha", step)],
            rounded,
        )?;
    }
    Ok(())
}

/// The seed-safe limit in the place of least and step: down to a multiple of the step, and nothing where
/// that is less than the least rate, for neither may lift a rate above what the seed bears.
fn seed_safe(
    limited: &Limited,
    cap: &Cap,
    so_far: &mut RateSoFar,
    told: &mut Vec<Told>,
) -> Outcome<()> {
    let before = limited.rounded(limited.at_least(so_far.kg_per_ha()));
    if !cap.covered {
        return so_far.take(Step {
            rule: Rule::SeedSafeNotCovered,
            why: Why::RowNotCovered {
                before: Rate(before),
                cell: cap.cell.clone(),
            },
            inputs: &[("kg/ha before", before)],
            kg_per_ha: 0.0,
            source: None,
        });
    }
    so_far.take(Step {
        rule: Rule::SeedSafeCap,
        why: Why::RowCap {
            before: Rate(before),
            wanted: Rate(cap.wanted_kg_per_ha),
            counts: cap.counts.clone(),
            limit: Rate(cap.limit_kg_per_ha),
            cell: cap.cell.clone(),
            rate: Rate(cap.kg_per_ha),
        },
        inputs: &[
            ("kg/ha before", before),
            ("wanted kg/ha", cap.wanted_kg_per_ha),
            ("limit kg/ha", cap.limit_kg_per_ha),
        ],
        kg_per_ha: cap.kg_per_ha,
        source: Some(cap.source.clone().into()),
    })?;
    let lowered = limited.rounded_down(cap.kg_per_ha);
    if lowered == cap.kg_per_ha {
        return Ok(());
    }
    let before = Rate(cap.kg_per_ha);
    let why = match lowered == 0.0 {
        true => Why::BelowTheDrill { before },
        false => Why::DownToStep {
            before,
            rate: Rate(lowered),
        },
    };
    if lowered == 0.0 {
        told.push(Told::BelowLeast {
            before: cap.kg_per_ha,
        });
    }
    take(
        so_far,
        Rule::LimitStepDown,
        why,
        &[("kg/ha before", cap.kg_per_ha)],
        lowered,
    )
}
