//! Rules of the place: the most of a nutrient or a product, and closed periods. The user enters them; nothing that
//! is drilled or broadcast exceeds them.

use super::chain::{self, Draft};
use super::reasons::Step;
use super::{Rate, Rule, Why, nutrient, placed, text};
use crate::findings::{Decision, Finding, Outcome};
use crate::job::{Grade, Job, Kind, PlaceLimit, Product};
use crate::texts::{Words, quantity};
use crate::zones::Facts;

/// Slack for sums of shares, kg/ha.
const SLACK_KG_PER_HA: f64 = 1e-6;

/// Takes closed periods and limits off the whole rates, before a share of them is placed.
///
/// # Errors
/// None: a rate only sinks.
pub(super) fn hold(
    job: &Job,
    facts: &Facts,
    drafts: &mut [Draft],
    findings: &mut Vec<Finding>,
) -> Outcome<()> {
    closed(job, drafts, findings)?;
    for limit in &job.place_limits {
        lower(job, limit, already(job, facts, limit)?, drafts, findings)?;
    }
    Ok(())
}

/// What counts as given before, kg/ha: as the job says it, or what a ledger knows of the season where that is more.
fn already(job: &Job, facts: &Facts, limit: &PlaceLimit) -> Outcome<f64> {
    let placed = match limit.nutrient {
        Some(of) => placed::of_nutrient(job, facts, of)?,
        None => None,
    };
    let placed = placed.map_or(0.0, |(kg_per_ha, _)| kg_per_ha);
    Ok(limit.already_kg_per_ha.max(placed))
}

/// Switches off what the sowing date closes.
fn closed(job: &Job, drafts: &mut [Draft], findings: &mut Vec<Finding>) -> Outcome<()> {
    for period in &job.closed_periods {
        // One for what the spreader broadcasts is held against the spreader's own day.
        if !job
            .products
            .iter()
            .any(|own| period.products.contains(&own.id))
        {
            continue;
        }
        let Some(day) = &job.sowing_date else {
            findings.push(Finding::decision(
                Decision::ClosedPeriodWithoutDate,
                chain::job_file(job),
                format!(
                    "'{}' closes {} from {} to {}, and the job has no sowing_date to hold against it",
                    period.name,
                    text::list(&period.products),
                    period.first_day,
                    period.last_day
                ),
            )
            .of_products(period.products.iter().map(String::as_str)));
            continue;
        };
        if !period.holds(day) {
            continue;
        }
        for draft in drafts.iter_mut() {
            let named = period.products.contains(&draft.product.id);
            if !named || draft.so_far.kg_per_ha() == 0.0 {
                continue;
            }
            draft.off = true;
            draft.so_far.take(Step {
                rule: Rule::PlaceClosed,
                why: Why::Closed {
                    name: period.name.clone(),
                    first: period.first_day.clone(),
                    last: period.last_day.clone(),
                    day: day.clone(),
                    rate: quantity::Rate(0.0),
                },
                inputs: &[],
                kg_per_ha: 0.0,
                source: Some(period.source.clone().into()),
            })?;
            findings.push(Finding::decision(
                Decision::ClosedPeriod,
                chain::job_file(job),
                format!(
                    "'{}' is closed from {} to {} by '{}', and the field is sown on {day}: none of it is planned. Sow on another day, or leave it out",
                    draft.product.id, period.first_day, period.last_day, period.name
                ),
            )
            .of_products([draft.product.id.as_str()]));
        }
    }
    Ok(())
}

/// Lowers every product that a limit counts, each by the same share.
fn lower(
    job: &Job,
    limit: &PlaceLimit,
    already_kg_per_ha: f64,
    drafts: &mut [Draft],
    findings: &mut Vec<Finding>,
) -> Outcome<()> {
    let wanted: f64 = drafts
        .iter()
        .map(|draft| match draft.off {
            true => 0.0,
            // The least rate or the step may lift a rate later on.
            false => draft.expected().max(draft.so_far.kg_per_ha()) * counted(limit, draft.product),
        })
        .sum();
    let left = (limit.most_kg_per_ha - already_kg_per_ha).max(0.0);
    if wanted <= left + SLACK_KG_PER_HA {
        return Ok(());
    }
    let share = left / wanted;
    let words = Words::of(job);
    for draft in drafts.iter_mut() {
        let before = draft.so_far.kg_per_ha();
        if draft.off || before == 0.0 || counted(limit, draft.product) == 0.0 {
            continue;
        }
        let full = draft.expected().max(before);
        let kg_per_ha = draft.limited.rounded_down(full * share).min(before);
        draft.off = kg_per_ha == 0.0;
        draft.so_far.take(Step {
            rule: Rule::PlaceLimit,
            why: Why::PlaceLimit {
                name: limit.name.clone(),
                most: quantity::GivenRate(limit.most_kg_per_ha),
                what: what(limit, words),
                given: quantity::GivenRate(already_kg_per_ha),
                wanted: quantity::Rate(wanted),
                before: quantity::Rate(before),
                rate: quantity::Rate(kg_per_ha),
            },
            inputs: &[
                ("most kg/ha", limit.most_kg_per_ha),
                ("given before kg/ha", already_kg_per_ha),
                ("wanted kg/ha", wanted),
            ],
            kg_per_ha,
            source: Some(limit.source.clone().into()),
        })?;
    }
    let rate = |kg_per_ha| text::rate_in(job.report.units, kg_per_ha);
    findings.push(Finding::warning(
        "place.limit",
        chain::job_file(job),
        format!(
            "'{}': {} {} wanted, {} allowed less {} given before; cut to that, and the need is not met in full",
            limit.name,
            rate(wanted),
            what(limit, words),
            rate(limit.most_kg_per_ha),
            rate(already_kg_per_ha)
        ),
    ));
    Ok(())
}

/// Holds what is drilled and broadcast in the end against each limit. What is above asks for a decision: the product
/// for the balance brings more of what is counted than the one it stands for.
///
/// # Errors
/// An amount that a ledger does not know.
pub(super) fn verify(
    job: &Job,
    facts: &Facts,
    rates: &[Rate],
    findings: &mut Vec<Finding>,
) -> Outcome<()> {
    let shown = |kg_per_ha| text::rate_in(job.report.units, kg_per_ha);
    for limit in &job.place_limits {
        let already_kg_per_ha = already(job, facts, limit)?;
        let given: f64 = job
            .products
            .iter()
            .zip(rates)
            .map(|(product, rate)| {
                let drilled = rate.kg_per_ha * counted(limit, product);
                let other = product.balance.as_ref().and_then(|other| other.grade);
                let spread = match (other, limit.nutrient) {
                    (Some(grade), Some(_)) => of_grade(limit, &grade),
                    // Another product than the one that is counted.
                    (Some(_), None) => 0.0,
                    (None, _) => counted(limit, product),
                };
                let left = rate.balance.as_ref().map_or(0.0, |left| left.kg_per_ha);
                drilled + left * spread
            })
            .sum();
        let left = limit.most_kg_per_ha - already_kg_per_ha;
        if given > left.max(0.0) + SLACK_KG_PER_HA {
            findings.push(Finding::decision(
                Decision::AbovePlaceLimit,
                chain::job_file(job),
                format!(
                    "'{}': with what is broadcast {} {} come to the land, {} are allowed less {} given before. Take another product for the balance",
                    limit.name,
                    shown(given),
                    what(limit, Words::of(job)),
                    shown(limit.most_kg_per_ha),
                    shown(already_kg_per_ha)
                ),
            )
            .of_products(
                job.products
                    .iter()
                    .filter(|product| counted(limit, product) > 0.0)
                    .map(|product| product.id.as_str()),
            ));
        }
    }
    Ok(())
}

/// What a kilogram of a product counts.
fn counted(limit: &PlaceLimit, product: &Product) -> f64 {
    match (&limit.product, product.kind) {
        (Some(id), _) => f64::from(u8::from(*id == product.id)),
        (None, Kind::Seed) => 0.0,
        (None, Kind::Fertiliser) => of_grade(limit, &product.grade.unwrap_or_default()),
    }
}

fn of_grade(limit: &PlaceLimit, grade: &Grade) -> f64 {
    let nutrient = limit.nutrient;
    nutrient.map_or(0.0, |of| nutrient::supply_kg_per_ha(1.0, grade, of))
}

fn what(limit: &PlaceLimit, words: Words) -> String {
    match (&limit.product, limit.nutrient) {
        (None, Some(of)) => nutrient::symbol(of).to_owned(),
        (id, _) => words.say(&Why::OfProduct {
            id: id.clone().unwrap_or_default(),
        }),
    }
}
