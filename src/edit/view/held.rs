//! Which limit holds a product down, and where.

use super::{area, mass};
use crate::agronomy::{Effect, Rule};
use crate::plan::Combination;
use crate::report::number::Numbers;
use crate::units::M2_PER_HA;
use serde_json::{Value, json};

/// Land that one rule holds down.
struct Held {
    rule: Rule,
    m2: f64,
    kg: f64,
    rows: Vec<usize>,
}

/// Per rule that holds product `nth` down: land, what it takes off the map, rows.
pub(super) fn by_rule(
    rows: &[Combination],
    nth: usize,
    numbers: &Numbers,
    names: &Value,
) -> Vec<Value> {
    let mut all: Vec<Held> = Vec::new();
    for (row, combination) in rows.iter().enumerate() {
        let rate = combination.rates.get(nth).filter(|rate| rate.held_down());
        let mut before = 0.0;
        for reason in rate.iter().flat_map(|rate| &rate.reasons) {
            let less = before - reason.kg_per_ha;
            before = reason.kg_per_ha;
            if reason.rule.effect() != Effect::HoldsDown {
                continue;
            }
            let nth = all.iter().position(|held| held.rule == reason.rule);
            let nth = nth.unwrap_or_else(|| {
                all.push(Held {
                    rule: reason.rule,
                    m2: 0.0,
                    kg: 0.0,
                    rows: Vec::new(),
                });
                all.len() - 1
            });
            let Some(held) = all.get_mut(nth) else {
                continue;
            };
            held.kg += less.max(0.0) * combination.area_m2 / M2_PER_HA;
            if held.rows.last() != Some(&(row + 1)) {
                held.rows.push(row + 1);
                held.m2 += combination.area_m2;
            }
        }
    }
    let told = all.iter().map(|held| {
        json!({
            "rule": held.rule,
            "rule_text": names.get(held.rule.to_string()),
            "m2": held.m2,
            "area_text": area(numbers, held.m2),
            "mass_text": mass(numbers, held.kg),
            "rows": held.rows,
        })
    });
    told.collect()
}
