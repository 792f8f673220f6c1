//! Which lot of a product is sown where, and what it says in the reasons.

use super::chain::job_file;
use super::class::class_key;
use super::reasons::{RateSoFar, Step};
use super::{Rule, Why, text};
use crate::findings::{Decision, Fault, Finding, Outcome, Place};
use crate::job::{Job, Lot, Lots, Product};
use crate::texts::Words;
use crate::texts::quantity::{Given, GrainWeight};
use crate::zones::Facts;

/// The lot, by its place in the product's list, that is sown on land with these facts; none for a
/// product without lots.
///
/// # Errors
/// A layer that the job does not have; a class without a lot.
pub fn lot_on(job: &Job, product: &Product, facts: &Facts) -> Outcome<Option<usize>> {
    let Some(lots) = &product.lots else {
        return Ok(None);
    };
    let class = facts.classes.get(layer(job, lots)?).map(String::as_str);
    let class = class.unwrap_or_default();
    match nth(lots, class) {
        Some(lot) => Ok(Some(lot)),
        None => Err(no_lot(job, product, lots, &[(class, None)])),
    }
}

/// Puts the lot at the front of the reasons, for every number after it is the lot's own.
pub(super) fn say(lots: &Lots, lot: &Lot, sown: &Product, words: Words, so_far: &mut RateSoFar) {
    let mut facts = Vec::new();
    let mut inputs = Vec::new();
    if let Some(weight) = sown.thousand_grain_weight_g {
        facts.push(words.say(&Why::LotWeight {
            weight: GrainWeight(weight),
        }));
        inputs.push(("thousand-grain weight g", weight));
    }
    if let Some(germination) = sown.germination_percent {
        facts.push(words.say(&Why::LotGermination {
            germination: Given(germination),
        }));
        inputs.push(("germination %", germination));
    }
    if let Some(dressing) = &sown.dressing {
        facts.push(words.say(&Why::LotDressing {
            dressing: dressing.clone(),
        }));
    }
    let facts = match facts.is_empty() {
        true => String::new(),
        false => format!(": {}", facts.join(", ")),
    };
    let kg_per_ha = so_far.kg_per_ha();
    so_far.lead(Step {
        rule: Rule::SeedLot,
        why: Why::Lot {
            lot: lot.title(),
            layer: lots.layer.clone(),
            class: class_key(&lot.class),
            facts,
        },
        inputs: &inputs,
        kg_per_ha,
        source: None,
    });
}

/// Holds the lots of all products against the classes on the field, which have their areas in m2.
/// A lot for a class that the field does not have is a warning: it is not ordered.
///
/// # Errors
/// Land without a lot: one fault per product with the classes and their hectares.
pub(super) fn check(job: &Job, found: &[Vec<(String, f64)>]) -> Outcome<Vec<Finding>> {
    let mut findings = Vec::new();
    for product in &job.products {
        if product.label_pending {
            findings.push(Finding::decision(
                Decision::LabelPending,
                job_file(job),
                format!(
                    "the figures of '{}' are expected, not those of its label: plan again with the label's before drilling",
                    product.id
                ),
            )
            .of_products([product.id.as_str()]));
        }
        let Some(lots) = &product.lots else {
            continue;
        };
        let on_field = found.get(layer(job, lots)?).map_or(&[][..], Vec::as_slice);
        let without: Vec<(&str, Option<f64>)> = on_field
            .iter()
            .filter(|(class, _)| nth(lots, class).is_none())
            .map(|(class, area)| (class.as_str(), Some(*area)))
            .collect();
        if !without.is_empty() {
            return Err(no_lot(job, product, lots, &without));
        }
        for lot in &lots.each {
            let class = class_key(&lot.class);
            if on_field.iter().any(|(known, _)| class_key(known) == class) {
                continue;
            }
            findings.push(Finding::warning(
                "agronomy.lot_unused",
                job_file(job),
                format!(
                    "{} of '{}' is for {} '{class}', which the field does not have; nothing of it is planned or ordered",
                    lot.title(),
                    product.id,
                    lots.layer
                ),
            ));
        }
    }
    Ok(findings)
}

fn nth(lots: &Lots, class: &str) -> Option<usize> {
    let wanted = class_key(class);
    lots.each
        .iter()
        .position(|lot| class_key(&lot.class) == wanted)
}

fn layer(job: &Job, lots: &Lots) -> Outcome<usize> {
    let names = || job.layers.iter().map(|layer| layer.name.as_str());
    names().position(|name| name == lots.layer).ok_or_else(|| {
        Fault::input(
            "agronomy.no_layer",
            job_file(job),
            format!(
                "lots go by the layer '{}', which the job does not have",
                lots.layer
            ),
            format!("one of the job's layers: {}", text::list(names())),
            "Correct the layer's name, or add the layer to the job.",
        )
    })
}

fn no_lot(
    job: &Job,
    product: &Product,
    lots: &Lots,
    without: &[(&str, Option<f64>)],
) -> Box<Fault> {
    let classes: Vec<String> = without
        .iter()
        .map(|(class, m2)| match m2 {
            Some(m2) => format!(
                "'{}' ({})",
                class_key(class),
                text::land(job.report.units, *m2)
            ),
            None => format!("'{}'", class_key(class)),
        })
        .collect();
    let place = match job.file.as_os_str().is_empty() {
        true => Place::nowhere(),
        false => Place::file(&job.file),
    };
    Fault::input(
        "agronomy.class_without_lot",
        place,
        format!(
            "no lot of '{}' is for class {} of layer '{}'",
            product.id,
            classes.join(", "),
            lots.layer
        ),
        format!(
            "a lot for every class on the field; there is one for {}",
            text::list(lots.each.iter().map(|lot| &lot.class))
        ),
        "Add a [[product.lots.lot]] with that class.",
    )
}
