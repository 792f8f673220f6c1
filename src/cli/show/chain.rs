//! Everything that made the rates of one row of the rate table.

use super::cautions;
use super::number::{numbers, rate};
use super::words;
use crate::plan::Plan;
use std::fmt::Write as _;

/// Row `number` (from 1) of the rate table with every reason; `None` if there is no such row.
pub(in crate::cli) fn row(plan: &Plan, number: usize) -> Option<String> {
    let row = plan.rates.rows.get(number.checked_sub(1)?)?;
    let numbers = numbers(plan);
    let mut text = format!("{}, plan {}\n", plan.job.field.name, plan.id);
    let layers = plan.job.layers.iter().zip(&row.facts.classes);
    let classes: String = layers
        .map(|(layer, class)| format!(", {} '{class}'", layer.name))
        .collect();
    let _ = writeln!(
        text,
        "Row {number} of the rate table: {}{classes}, {}",
        row.facts.part.word(),
        numbers.area_of(row.area_m2)
    );
    for (what, names) in [
        ("Special area", words::special_areas(&plan.job, &row.facts)),
        ("Setback", words::setbacks(&plan.job, &row.facts)),
    ] {
        if !names.is_empty() {
            let _ = writeln!(text, "{what}: {}", names.join(", "));
        }
    }
    let mut sources: Vec<&str> = Vec::new();
    for (product, made) in plan.job.products.iter().zip(&row.rates) {
        let _ = writeln!(
            text,
            "\n{} ({}): {}",
            product.name,
            product.id,
            numbers.rate_of(made.kg_per_ha)
        );
        for (n, reason) in made.reasons.iter().enumerate() {
            let source = reason.source.as_deref().map_or(String::new(), |source| {
                let place = sources.iter().position(|known| *known == source);
                let place = place.unwrap_or_else(|| {
                    sources.push(source);
                    sources.len() - 1
                });
                format!(" ({})", place + 1)
            });
            let _ = writeln!(
                text,
                "  {}. {}{source} [{}]",
                n + 1,
                reason.text,
                reason.rule
            );
            let after = numbers.rate_of(reason.kg_per_ha);
            // The inputs carry metric units in their names, as in plan.json; the sentence above has them all.
            let inputs: Vec<String> = match numbers.is_us() {
                true => Vec::new(),
                false => reason
                    .inputs
                    .iter()
                    .map(|(name, value)| format!("{name} {}", rate(*value)))
                    .collect(),
            };
            let _ = writeln!(text, "     {} -> {after}", inputs.join(", "));
        }
    }
    text.push_str("\nSources\n");
    for (n, source) in sources.iter().enumerate() {
        let _ = writeln!(text, "  ({}) {source}", n + 1);
    }
    text.push_str("  Steps without a number follow from the job file alone.\n");
    text.push_str(&cautions::text(&plan.job));
    Some(text)
}
