//! Keeps a rate within its limits: the most, what may lie beside the seed, the least, the step.

use super::chain::{Cap, take};
use super::limit::Limited;
use super::reasons::{RateSoFar, Step};
use super::{Rule, text};
use crate::findings::Outcome;

/// Most, least, step. What changes the rate by more than rounding is said as well.
pub(super) fn apply(
    limited: &Limited,
    cap: Option<&Cap>,
    so_far: &mut RateSoFar,
    said: &mut Vec<(&'static str, String)>,
) -> Outcome<()> {
    let before = so_far.kg_per_ha();
    if before == 0.0 {
        if limited.min > 0.0 {
            let text = format!(
                "0 stays 0: the least rate of {} kg/ha does not raise it",
                text::given(limited.min)
            );
            return take(
                so_far,
                Rule::LimitZero,
                text,
                &[("least kg/ha", limited.min)],
                0.0,
            );
        }
        return Ok(());
    }
    let capped = limited.at_most(before);
    if capped != before {
        let text = format!(
            "{} is more than the {}: {} kg/ha",
            text::rate(before),
            if limited.by_label {
                "label allows"
            } else {
                "most allowed"
            },
            text::given(limited.max)
        );
        let rule = if limited.by_label {
            Rule::LimitLabel
        } else {
            Rule::LimitMax
        };
        said.push(("agronomy.capped", text.clone()));
        take(
            so_far,
            rule,
            text,
            &[("kg/ha before", before), ("most kg/ha", limited.max)],
            capped,
        )?;
    }
    if let Some(cap) = cap {
        return seed_safe(limited, cap, so_far, said);
    }
    let raised = limited.at_least(capped);
    if raised != capped {
        let text = format!(
            "{} is less than the least allowed: {} kg/ha",
            text::rate(capped),
            text::given(limited.min)
        );
        said.push(("agronomy.raised", text.clone()));
        take(
            so_far,
            Rule::LimitMin,
            text,
            &[("kg/ha before", capped), ("least kg/ha", limited.min)],
            raised,
        )?;
    }
    let rounded = limited.rounded(raised);
    if let (true, Some(step)) = (rounded != raised, limited.step) {
        let text = format!(
            "{} rounded to steps of {}: {} kg/ha",
            text::rate(raised),
            text::given(step),
            text::rate(rounded)
        );
        if raised < step / 2.0 {
            said.push((
                "agronomy.coarse_step",
                format!("{text}, because a rate above 0 is not rounded to 0"),
            ));
        }
        take(
            so_far,
            Rule::LimitStep,
            text,
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
    said: &mut Vec<(&'static str, String)>,
) -> Outcome<()> {
    let before = limited.rounded(limited.at_least(so_far.kg_per_ha()));
    if !cap.covered {
        return so_far.take(Step {
            rule: Rule::SeedSafeNotCovered,
            text: format!(
                "{} kg/ha with the seed is covered by no limit ({}): nothing of it is laid, all of it is the balance",
                text::rate(before),
                cap.cell
            ),
            inputs: &[("kg/ha before", before)],
            kg_per_ha: 0.0,
            source: None,
        });
    }
    so_far.take(Step {
        rule: Rule::SeedSafeCap,
        text: format!(
            "{} kg/ha would lay {} kg/ha {} with the seed, and at most {} kg/ha may ({}): {} kg/ha",
            text::rate(before),
            text::rate(cap.wanted_kg_per_ha),
            cap.counts,
            text::rate(cap.limit_kg_per_ha),
            cap.cell,
            text::rate(cap.kg_per_ha)
        ),
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
    let text = match lowered == 0.0 {
        true => format!(
            "{} is less than the drill is set to sow at least: nothing with the seed, all of it is the balance",
            text::rate(cap.kg_per_ha)
        ),
        false => format!(
            "{} rounded down to the step: {} kg/ha",
            text::rate(cap.kg_per_ha),
            text::rate(lowered)
        ),
    };
    if lowered == 0.0 {
        said.push(("seed_safe.below_least", text.clone()));
    }
    take(
        so_far,
        Rule::LimitStepDown,
        text,
        &[("kg/ha before", cap.kg_per_ha)],
        lowered,
    )
}
