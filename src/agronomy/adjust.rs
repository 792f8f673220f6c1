//! Percentages on a rate: the product's adjustments, then special areas.

use super::class::look_up;
use super::reasons::{RateSoFar, Step};
use super::{Rule, Why};
use crate::findings::{Fault, Outcome, Place};
use crate::job::{Job, LandPart, Product};
use crate::texts::Words;
use crate::texts::quantity::{Given, Rate};
use crate::zones::Facts;

/// Percentages between 0 and this are refused: 1.15 was meant as 115. Common practice, no source.
pub const LEAST_PERCENT: f64 = 5.0;

/// Takes the product's own percentages, in job order.
///
/// # Errors
/// A class without a percentage; a percentage that cannot be meant.
pub(super) fn adjustments(
    job: &Job,
    product: &Product,
    facts: &Facts,
    so_far: &mut RateSoFar,
) -> Outcome<()> {
    for (index, adjustment) in product.adjustments.iter().enumerate() {
        if adjustment.land_part.is_some_and(|part| part != facts.part) {
            continue;
        }
        let key = format!("adjust[{}].percent", index + 1);
        let percent = look_up(job, &adjustment.percent, &key, facts)?;
        let part = adjustment.land_part.map_or("", |part| {
            Words::of(job).text(&match part {
                LandPart::Headland => Why::OnHeadland,
                LandPart::Interior => Why::InInterior,
            })
        });
        apply(
            Rule::AdjustPercent,
            &format!("{}{part}{}", adjustment.because, percent.on),
            percent.value,
            so_far,
        )?;
    }
    Ok(())
}

/// Takes the percentages of the special areas that cover the land, in job order; they multiply.
///
/// # Errors
/// A percentage that cannot be meant; facts that name an area the job does not have.
pub(super) fn special_areas(
    job: &Job,
    product: &Product,
    facts: &Facts,
    so_far: &mut RateSoFar,
) -> Outcome<()> {
    for &index in &facts.special_areas {
        let area = job.special_areas.get(index).ok_or_else(|| {
            Fault::program(
                "agronomy.facts",
                Place::nowhere(),
                format!(
                    "land lies in special area {}, and the job has {}",
                    index + 1,
                    job.special_areas.len()
                ),
                "land that was cut with this job",
            )
        })?;
        if let Some(percent) = area.percent.get(&product.id) {
            apply(
                Rule::SpecialAreaPercent,
                &Words::of(job).say(&Why::SpecialArea {
                    name: area.name.clone(),
                }),
                *percent,
                so_far,
            )?;
        }
    }
    Ok(())
}

/// Takes `percent` of the rate. 100 leaves no trace, and 0 stays 0 without more words.
fn apply(rule: Rule, because: &str, percent: f64, so_far: &mut RateSoFar) -> Outcome<()> {
    let may_be = percent == 0.0 || (percent >= LEAST_PERCENT && percent.is_finite());
    if !may_be {
        return Err(Fault::input(
            "agronomy.percent",
            Place::nowhere(),
            format!("{because} is set to {percent} % of the rate"),
            format!("0, or {LEAST_PERCENT} and more; 100 changes nothing"),
            "Write 115 for 15 % more, 85 for 15 % less and 0 for none.",
        ));
    }
    let before = so_far.kg_per_ha();
    if percent == 100.0 || before == 0.0 {
        return Ok(());
    }
    let after = before * percent / 100.0;
    so_far.take(Step {
        rule,
        why: Why::Percent {
            because: because.to_owned(),
            percent: Given(percent),
            before: Rate(before),
            rate: Rate(after),
        },
        inputs: &[("kg/ha before", before), ("percent", percent)],
        kg_per_ha: after,
        source: None,
    })
}
