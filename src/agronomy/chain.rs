//! The steps of one product's rate, in order.

use super::limit::Limited;
use super::trail::{Step, Trail};
use super::{Rate, adjust, base, text};
use crate::findings::{Fault, Finding, Outcome, Place};
use crate::job::{Job, LandPart, Product};
use crate::zones::Facts;

/// The rate of one product on land with these facts.
///
/// # Errors
/// See [`super::rates`].
pub(super) fn rate(
    job: &Job,
    product: &Product,
    facts: &Facts,
    findings: &mut Vec<Finding>,
) -> Outcome<Rate> {
    wanted(job, product, facts, findings).map_err(|fault| blame(job, product, Some(facts), *fault))
}

fn wanted(
    job: &Job,
    product: &Product,
    facts: &Facts,
    findings: &mut Vec<Finding>,
) -> Outcome<Rate> {
    let limited = Limited::new(&product.limits)?;
    let mut trail = Trail::default();
    base::begin(job, product, facts, &mut trail)?;
    adjust::adjustments(job, product, facts, &mut trail)?;
    adjust::special_areas(job, product, facts, &mut trail)?;
    let mut said = Vec::new();
    limits(&limited, &mut trail, &mut said)?;
    if setbacks(job, product, facts, &mut trail)? {
        // What the limits did to a rate that a setback then switches off is of no concern.
        return Ok(trail.finish());
    }
    findings.extend(said.into_iter().map(|(code, message)| {
        Finding::warning(
            code,
            job_file(job),
            format!("{}: {message}", who(job, product, Some(facts))),
        )
    }));
    Ok(trail.finish())
}

/// Most, least, step. What changes the rate by more than rounding is said as well.
fn limits(
    limited: &Limited,
    trail: &mut Trail,
    said: &mut Vec<(&'static str, String)>,
) -> Outcome<()> {
    let before = trail.kg_per_ha();
    if before == 0.0 {
        if limited.min > 0.0 {
            let text = format!(
                "0 stays 0: the least rate of {} kg/ha does not raise it",
                text::given(limited.min)
            );
            return take(
                trail,
                "limit.zero",
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
            "{} is more than the most allowed: {} kg/ha",
            text::rate(before),
            text::given(limited.max)
        );
        said.push(("agronomy.capped", text.clone()));
        take(
            trail,
            "limit.max",
            text,
            &[("kg/ha before", before), ("most kg/ha", limited.max)],
            capped,
        )?;
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
            trail,
            "limit.min",
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
            trail,
            "limit.step",
            text,
            &[("kg/ha before", raised), ("step kg/ha", step)],
            rounded,
        )?;
    }
    Ok(())
}

/// Switches the product off where a setback covers the land; true if one does.
fn setbacks(job: &Job, product: &Product, facts: &Facts, trail: &mut Trail) -> Outcome<bool> {
    let mut names = Vec::new();
    let mut inputs = Vec::new();
    for &index in &facts.setbacks {
        let setback = job.setbacks.get(index).ok_or_else(|| {
            Fault::input(
                "agronomy.facts",
                Place::nowhere(),
                format!(
                    "land lies in setback {}, and the job has {}",
                    index + 1,
                    job.setbacks.len()
                ),
                "land that was cut with this job",
                "Prepare the land again with this job.",
            )
        })?;
        if setback.products.contains(&product.id) {
            names.push(format!(
                "'{}' ({} m)",
                setback.name,
                text::given(setback.distance_m)
            ));
            inputs.push(("distance m", setback.distance_m));
        }
    }
    if names.is_empty() {
        return Ok(false);
    }
    let text = format!(
        "off in setback {}: 0 kg/ha, and nothing later changes that",
        names.join(" and ")
    );
    take(trail, "setback.off", text, &inputs, 0.0)?;
    Ok(true)
}

fn take(
    trail: &mut Trail,
    rule: &'static str,
    text: String,
    inputs: &[(&str, f64)],
    kg_per_ha: f64,
) -> Outcome<()> {
    trail.take(Step {
        rule,
        text,
        inputs,
        kg_per_ha,
        source: None,
    })
}

/// The same fault with the job's file, the product and the land in it.
pub(super) fn blame(
    job: &Job,
    product: &Product,
    facts: Option<&Facts>,
    mut fault: Fault,
) -> Box<Fault> {
    fault.found = format!("{}: {}", who(job, product, facts), fault.found);
    fault.place = job_file(job);
    Box::new(fault)
}

/// The job's file as a place, if the job came from one.
pub(super) fn job_file(job: &Job) -> Place {
    if job.file.as_os_str().is_empty() {
        Place::nowhere()
    } else {
        Place::file(&job.file)
    }
}

/// Product and land, such as: product 'barley' (headland, soil 'clay').
fn who(job: &Job, product: &Product, facts: Option<&Facts>) -> String {
    let Some(facts) = facts else {
        return format!("product '{}'", product.id);
    };
    let part = match facts.part {
        LandPart::Headland => "headland",
        LandPart::Interior => "interior",
    };
    let classes = job
        .layers
        .iter()
        .zip(&facts.classes)
        .map(|(layer, class)| format!(", {} '{class}'", layer.name));
    format!(
        "product '{}' ({part}{})",
        product.id,
        classes.collect::<String>()
    )
}
