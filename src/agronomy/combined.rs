//! A number from several layers: the first rule that matches, a sum of adjustments, a product of factors.

use super::class::{Found, class_key, in_table, layer_index};
use super::{Why, text};
use crate::findings::{Fault, Outcome, Place};
use crate::job::{ByClass, ClassRule, Combined, Job, Part};
use crate::texts::Words;
use crate::zones::Facts;

/// Whether all classes that a rule names hold on the land. A layer the job does not have holds nowhere.
pub(super) fn fits(job: &Job, rule: &ClassRule, facts: &Facts) -> bool {
    rule.when.iter().all(|(layer, classes)| {
        let place = job.layers.iter().position(|known| known.name == *layer);
        let here = place.and_then(|place| facts.classes.get(place));
        here.is_some_and(|here| {
            let here = class_key(here);
            classes.iter().any(|class| class_key(class) == here)
        })
    })
}

/// The number on land with these facts, before its range is looked at.
///
/// # Errors
/// No rule fits; a part without a number for its class; a way of combining that is not given.
pub(super) fn number(job: &Job, combined: &Combined, key: &str, facts: &Facts) -> Outcome<Found> {
    if !combined.sum.is_empty() {
        let parts = parts(job, &combined.sum, &format!("{key}.sum"), facts)?;
        let value = parts.iter().map(|(value, _)| value).sum();
        return Ok(Found {
            value,
            on: format!(" ({})", joined(&parts, " + ").replace("+ -", "- ")),
        });
    }
    if !combined.product.is_empty() {
        let parts = parts(job, &combined.product, &format!("{key}.product"), facts)?;
        let value = parts.iter().map(|(value, _)| value).product();
        return Ok(Found {
            value,
            on: format!(" ({})", joined(&parts, " x ")),
        });
    }
    let hit = combined
        .first
        .iter()
        .enumerate()
        .find(|(_, rule)| fits(job, rule, facts));
    match (hit, combined.otherwise) {
        (Some((n, rule)), _) => Ok(Found {
            value: rule.value,
            on: Words::of(job).say(&Why::ByRule {
                nth: n + 1,
                when: words(rule, Words::of(job)),
            }),
        }),
        (None, Some(value)) => Ok(Found {
            value,
            on: Words::of(job).say(&Why::NoRule),
        }),
        (None, None) => Err(Fault::input(
            "agronomy.no_rule_fits",
            Place::nowhere(),
            format!("{key}: none of the {} rules fits", combined.first.len()),
            "a rule for every combination of classes on the field",
            format!("Add a rule to {key}.first, a last one without 'when', or {key}.otherwise."),
        )),
    }
}

/// What a rule asks for, such as ` (soil 'clay', weeds 'many')`.
pub(super) fn words(rule: &ClassRule, words: Words) -> String {
    let parts: Vec<String> = rule
        .when
        .iter()
        .map(|(layer, classes)| {
            let classes: Vec<String> = classes.iter().map(|class| format!("'{class}'")).collect();
            format!("{layer} {}", classes.join(words.text(&Why::Or)))
        })
        .collect();
    match parts.is_empty() {
        true => words.say(&Why::Everywhere),
        false => format!(" ({})", parts.join(", ")),
    }
}

/// The parts on this land: each number, and where it holds.
fn parts(job: &Job, parts: &[Part], key: &str, facts: &Facts) -> Outcome<Vec<(f64, String)>> {
    let one = |(n, part): (usize, &Part)| match part {
        Part::Same(value) => Ok((*value, String::new())),
        Part::ByClass(table) => {
            let found = by_class(job, table, &format!("{key}[{}]", n + 1), facts)?;
            Ok((found.value, found.on))
        }
    };
    parts.iter().enumerate().map(one).collect()
}

fn joined(parts: &[(f64, String)], between: &str) -> String {
    let parts: Vec<String> = parts
        .iter()
        .map(|(value, on)| format!("{}{on}", text::given(*value)))
        .collect();
    parts.join(between)
}

/// The number of a table by class or curve on this land.
///
/// # Errors
/// No such layer; no value for the class.
pub(super) fn by_class(job: &Job, table: &ByClass, key: &str, facts: &Facts) -> Outcome<Found> {
    let index = layer_index(job, table)?;
    let class = facts.classes.get(index).ok_or_else(|| {
        Fault::input(
            "agronomy.no_class",
            Place::nowhere(),
            format!("there is land without a class of layer '{}'", table.layer),
            "a class from every layer on all land",
            "Give the layer a 'class_of_gaps'.",
        )
    })?;
    let (layer, class_here) = (table.layer.clone(), class_key(class));
    let on = Words::of(job).say(&match table.curve.is_empty() {
        true => Why::OnClass {
            layer,
            class: class_here,
        },
        false => Why::OnCurve {
            layer,
            class: class_here,
        },
    });
    match in_table(table, class)? {
        Some(value) => Ok(Found { value, on }),
        None => Err(super::class::no_value(table, key, class)),
    }
}
