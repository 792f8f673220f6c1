//! The whole at one glance: what to load, order, set, and look at first.

use super::caps;
use super::number::Numbers;
use super::operator;
use crate::findings::Severity;
use crate::plan::Plan;
use crate::tally::Pack;
use serde_json::{Value, json};

pub(super) fn of(plan: &Plan, numbers: &Numbers) -> Value {
    let drill = plan.drill();
    let products: Vec<Value> = plan
        .tally.planned
        .products
        .iter()
        .enumerate()
        .map(|(nth, tally)| {
            let from = |key: &str| format!("/tally/products/{nth}/{key}");
            let product = plan.job.products.get(nth);
            let rotor = drill
                .metering
                .iter()
                .find(|meter| meter.product == tally.id);
            let first_fill = plan.drive.refills.as_ref().and_then(|refills| {
                let mut halves = refills.halves.iter();
                let half = halves.position(|half| half.product == tally.id)?;
                let fill = refills.stops.first()?.fills.get(half)?;
                let from = format!("/refills/stops/0/fills/{half}/fill_kg");
                Some(numbers.mass(fill.fill_kg, from))
            });
            let pack = product.filter(|_| tally.lots.is_empty()).and_then(Pack::of);
            let pack_kg = match pack {
                Some(Pack::Kg(kg)) => Some(kg),
                _ => None,
            };
            json!({
                "first_fill": first_fill,
                "name": tally.name,
                "hopper": tally.hopper,
                "map": format!("map{}", nth + 1),
                "mass": numbers.mass(tally.map_kg(), from("steps/0/kg")),
                "low": numbers.rate(tally.lowest_kg_per_ha, from("lowest_kg_per_ha")),
                "high": numbers.rate(tally.highest_kg_per_ha, from("highest_kg_per_ha")),
                "area": numbers.area(tally.sown_m2, from("sown_m2")),
                "order": numbers.mass(tally.order_kg, from("order_kg")),
                // Packs of several lots may differ; then the kilograms stand alone.
                "packs": tally.packs.filter(|_| pack_kg.is_some()).map(|packs| numbers.plain(packs as f64, 0, from("packs"))),
                "pack": pack_kg.map(|kg| numbers.mass(kg, "")),
                "rotor": rotor.and_then(|meter| meter.best()).map(|fit| &fit.name),
                "fits": rotor.and_then(|meter| meter.best()).is_none_or(|fit| fit.margin >= 1.0),
            })
        })
        .collect();
    let warnings = plan.findings.iter();
    let warnings = warnings.filter(|finding| finding.severity == Severity::Warning);
    let balances = plan
        .tally
        .planned
        .balances
        .iter()
        .enumerate()
        .map(|(nth, tally)| {
            let from = |key: &str| format!("/tally/balances/{nth}/{key}");
            let mut products = plan.job.products.iter();
            let product = products.find(|product| product.id == tally.of);
            let pack_kg = product.and_then(|product| match &product.balance {
                Some(own) => own.pack_kg,
                None => product.pack_kg,
            });
            json!({
                "pack": pack_kg.map(|kg| numbers.mass(kg, "")),
                "name": tally.name,
                "with_product": tally.in_order_of_product(),
                "mass": numbers.mass(tally.spread_kg(), from(match tally.spreader {
                    Some(_) => "spreader/map_kg",
                    None => "steps/0/kg",
                })),
                "order": numbers.mass(tally.order_kg, from("order_kg")),
                "packs": tally.packs.map(|packs| numbers.plain(packs as f64, 0, from("packs"))),
            })
        });
    json!({
        "products": products,
        "balances": balances.collect::<Vec<_>>(),
        "held": caps::held_down(plan, numbers),
        "decisions": plan.open().len(),
        "warnings": warnings.count(),
        "speed": operator::speed(plan, numbers),
        "by_hand": operator::by_hand(plan),
    })
}
