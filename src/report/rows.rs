//! The rate table: each row's land, its rates and everything that made them.

use super::number::Numbers;
use super::sources::Sources;
use crate::agronomy::Rate;
use crate::job::LandPart;
use crate::plan::{Combination, Plan};
use crate::units::M2_PER_HA;
use serde_json::{Value, json};

/// The table: heads, rows in the order of the rate table, totals.
pub(super) fn table(plan: &Plan, numbers: &Numbers, sources: &mut Sources) -> Value {
    let job = &plan.job;
    let rows: Vec<Value> = plan
        .rates
        .rows
        .iter()
        .enumerate()
        .map(|(at, row)| view(plan, at, row, numbers, sources))
        .collect();
    let totals: Vec<Value> = plan
        .tally
        .planned
        .products
        .iter()
        .enumerate()
        .map(|(nth, tally)| {
            numbers.mass(tally.map_kg(), format!("/tally/products/{nth}/steps/0/kg"))
        })
        .collect();
    json!({
        "layers": job.layers.iter().map(|layer| &layer.name).collect::<Vec<_>>(),
        "special": !job.special_areas.is_empty(),
        "setbacks": !job.setbacks.is_empty(),
        "products": job.products.iter().map(|product| &product.name).collect::<Vec<_>>(),
        "balances": plan.tally.planned.balances.iter().map(|balance| &balance.name).collect::<Vec<_>>(),
        "rows": rows,
        "total_area": numbers.area(plan.tally.planned.mapped_m2, "/tally/mapped_m2"),
        "totals": totals,
        "balance_totals": plan.tally.planned.balances.iter().enumerate().map(|(nth, tally)| {
            numbers.mass(tally.map_kg(), format!("/tally/balances/{nth}/steps/0/kg"))
        }).collect::<Vec<_>>(),
    })
}

fn view(
    plan: &Plan,
    at: usize,
    row: &Combination,
    numbers: &Numbers,
    sources: &mut Sources,
) -> Value {
    let job = &plan.job;
    let special = row.facts.special_areas.iter();
    let special = special.filter_map(|&nth| job.special_areas.get(nth).map(|area| &area.name));
    let setbacks = row.facts.setbacks.iter();
    let setbacks = setbacks.filter_map(|&nth| job.setbacks.get(nth).map(|setback| &setback.name));
    let products = job.products.iter().zip(&row.rates).enumerate();
    let products: Vec<Value> = products
        .map(|(nth, (product, rate))| {
            let from = format!("/rate_table/{at}/rates/{nth}/kg_per_ha");
            json!({
                "name": product.name,
                "rate": numbers.rate(rate.kg_per_ha, from),
                "mass": numbers.mass(rate.kg_per_ha * row.area_m2 / M2_PER_HA, ""),
                "reasons": reasons(rate, numbers, sources),
            })
        })
        .collect();
    let balances = plan.tally.planned.balances.iter().map(|tally| {
        let product = job
            .products
            .iter()
            .position(|product| product.id == tally.of);
        let rate = product.and_then(|nth| Some((nth, row.rates.get(nth)?.balance.as_ref()?)));
        rate.map_or_else(
            || numbers.rate(0.0, ""),
            |(nth, balance)| {
                let from = format!("/rate_table/{at}/rates/{nth}/balance/kg_per_ha");
                numbers.rate(balance.kg_per_ha, from)
            },
        )
    });
    json!({
        "row": at + 1,
        "headland": row.facts.part == LandPart::Headland,
        "classes": row.facts.classes,
        "special": special.collect::<Vec<_>>(),
        "setbacks": setbacks.collect::<Vec<_>>(),
        "area": numbers.area(row.area_m2, format!("/rate_table/{at}/area_m2")),
        "products": products,
        "balances": balances.collect::<Vec<_>>(),
    })
}

fn reasons(rate: &Rate, numbers: &Numbers, sources: &mut Sources) -> Vec<Value> {
    let reasons = rate.reasons.iter().map(|reason| {
        let source = reason.source.as_deref();
        json!({
            "text": reason.text,
            "rule": reason.rule,
            "rate": numbers.rate(reason.kg_per_ha, ""),
            "source": source.map(|source| sources.number(source)),
        })
    });
    reasons.collect()
}
