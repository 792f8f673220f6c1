//! What was placed comes off a need once: beside a ledger no two products may answer for one nutrient.

use super::placement::Decides;
use super::product::{Grade, Nutrient, Product};
use super::rules::{Check, at};

/// Products whose rates may go by the need of the same nutrient, in a job with `placed_since`.
pub(super) fn check(check: &mut Check<'_>) {
    let job = check.job;
    if job.layers.iter().all(|layer| layer.placed_since.is_none()) {
        return;
    }
    let mut known: Vec<(Nutrient, &str)> = Vec::new();
    for (n, product) in job.products.iter().enumerate() {
        for of in may_decide(product) {
            let before = known.iter().find(|(own, _)| *own == of);
            if let Some((_, first)) = before.filter(|(_, first)| *first != product.id) {
                check.add(
                    at!["product", n, "rate"],
                    format!(
                        "'{first}' and '{}' both go by a need of {}, beside a layer with 'placed_since'",
                        product.id,
                        symbol(of)
                    ),
                    "one product for each nutrient: what was placed would come off both needs",
                    "plan the second in a job of its own with its need less what is left of it, or give its rate as kg_per_ha",
                );
            }
            known.push((of, &product.id));
        }
    }
}

/// The nutrients whose need may decide the rate.
fn may_decide(product: &Product) -> Vec<Nutrient> {
    let rule = &product.rate;
    let Some(own) = rule.nutrient else {
        return Vec::new();
    };
    let grade = product.grade.unwrap_or_default();
    match &rule.need_from_table {
        Some(from) => {
            let also = from.also.iter().map(|also| also.nutrient);
            let also = also
                .filter(|of| from.decides == Decides::LargestNeed && percent(&grade, *of) > 0.0);
            std::iter::once(own).chain(also).collect()
        }
        None if rule.need_kg_per_ha.is_some() => vec![own],
        None => Vec::new(),
    }
}

fn percent(grade: &Grade, of: Nutrient) -> f64 {
    match of {
        Nutrient::N => grade.n_percent,
        Nutrient::P2o5 => grade.p2o5_percent,
        Nutrient::K2o => grade.k2o_percent,
    }
}

fn symbol(of: Nutrient) -> &'static str {
    match of {
        Nutrient::N => "N",
        Nutrient::P2o5 => "P2O5",
        Nutrient::K2o => "K2O",
    }
}
