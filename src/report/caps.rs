//! What moved the rates: from the first step of each rate to the total of the map, by rule.

use super::number::Numbers;
use crate::agronomy::{Rate, Rule};
use crate::plan::{Plan, Rates};
use crate::units::M2_PER_HA;
use serde_json::{Value, json};

/// One rule over the whole field.
struct Moved {
    rule: Rule,
    /// Land whose rate it changed, m2.
    m2: f64,
    /// What it added to the map total, kg.
    kg: f64,
    rows: Vec<usize>,
    example: String,
}

/// Per product: rules in the order in which they come; their kilograms add up to the map total.
pub(super) fn by_product(plan: &Plan, numbers: &Numbers) -> Vec<Value> {
    let products = plan.job.products.iter().enumerate();
    products
        .map(|(nth, product)| {
            let moved = of_product(&plan.rates, nth, |_| true);
            // What the rules add up to, but for rounding in the last place.
            let total = plan.tally.planned.products.get(nth).map_or(0.0, |tally| tally.map_kg());
            let rules: Vec<Value> = moved
                .iter()
                .map(|rule| {
                    json!({
                        "rule": rule.rule,
                        "area": numbers.area(rule.m2, ""),
                        "mass": numbers.mass(rule.kg, ""),
                        "plus": rule.kg > 0.0,
                        "rows": rule.rows.iter().map(ToString::to_string).collect::<Vec<_>>().join(" "),
                        "example": rule.example,
                    })
                })
                .collect();
            json!({
                "name": product.name,
                "rules": rules,
                "total": numbers.mass(total, format!("/tally/products/{nth}/steps/0/kg")),
            })
        })
        .collect()
}

/// On the land whose rate `counts`.
fn of_product(rates: &Rates, nth: usize, counts: impl Fn(&Rate) -> bool) -> Vec<Moved> {
    let mut moved: Vec<Moved> = Vec::new();
    for (row, combination) in rates.rows.iter().enumerate() {
        let Some(rate) = combination.rates.get(nth).filter(|rate| counts(rate)) else {
            continue;
        };
        let mut before = 0.0;
        for reason in &rate.reasons {
            let change = reason.kg_per_ha - before;
            before = reason.kg_per_ha;
            if change == 0.0 {
                continue;
            }
            let place = moved.iter().position(|known| known.rule == reason.rule);
            let place = place.unwrap_or_else(|| {
                moved.push(Moved {
                    rule: reason.rule,
                    m2: 0.0,
                    kg: 0.0,
                    rows: Vec::new(),
                    example: reason.text.clone(),
                });
                moved.len() - 1
            });
            let rule = &mut moved[place];
            rule.kg += change * combination.area_m2 / M2_PER_HA;
            if rule.rows.last() != Some(&(row + 1)) {
                rule.rows.push(row + 1);
                rule.m2 += combination.area_m2;
            }
        }
    }
    moved
}

/// Rules that hold a rate down, in words for the headline: per product, the land and the example.
pub(super) fn held_down(plan: &Plan, numbers: &Numbers) -> Vec<Value> {
    let mut held = Vec::new();
    for (nth, product) in plan.job.products.iter().enumerate() {
        for rule in of_product(&plan.rates, nth, Rate::held_down) {
            if rule.rule.holds_down() {
                held.push(json!({
                    "name": product.name,
                    "rule": rule.rule,
                    "area": numbers.area(rule.m2, ""),
                    "mass": numbers.mass(rule.kg.abs(), ""),
                    "example": rule.example,
                    "rows": rule.rows.iter().map(ToString::to_string).collect::<Vec<_>>().join(" "),
                }));
            }
        }
    }
    held
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::job::Job;
    use std::path::Path;

    #[test]
    fn the_rules_add_up_to_the_map() {
        let file = Path::new(env!("CARGO_MANIFEST_DIR")).join("examples/demo/job.toml");
        let plan = crate::plan::plan(
            &Job::load(&file).unwrap(),
            &crate::plan::Disk,
            &crate::plan::Options::default(),
        )
        .unwrap();
        for (nth, tally) in plan.tally.planned.products.iter().enumerate() {
            let sum: f64 = of_product(&plan.rates, nth, |_| true)
                .iter()
                .map(|rule| rule.kg)
                .sum();
            assert!(
                (sum - tally.map_kg()).abs() < 1e-6,
                "{sum} {}",
                tally.map_kg()
            );
        }
        // 210 wanted and 107.8 allowed beside the seed on the poorest land: the cap takes most.
        let rules = of_product(&plan.rates, 1, |_| true);
        let cap = rules
            .iter()
            .find(|rule| rule.rule == Rule::SeedSafeCap)
            .unwrap();
        assert!(
            cap.kg < -1000.0 && cap.m2 > 190_000.0,
            "{} {}",
            cap.kg,
            cap.m2
        );
    }
}
