//! The buyer's sheet: the tally in steps to the order, per product and lot.

use super::number::{Numbers, grouped};
use crate::plan::Plan;
use crate::tally::{Price, Step};
use serde_json::{Value, json};

pub(super) fn sheet(plan: &Plan, numbers: &Numbers) -> Value {
    let products = plan.tally.products.iter().enumerate().map(|(nth, tally)| {
        let from = |key: &str| format!("/tally/products/{nth}/{key}");
        let product = plan.job.products.get(nth);
        let price = product.and_then(Price::of);
        json!({
            "name": tally.name,
            "lot": tally.lot,
            "dressing": product.and_then(|product| product.dressing.as_ref()),
            "balance_of": null,
            "steps": steps(&tally.steps, &from("steps"), numbers),
            "order": numbers.mass(tally.order_kg, from("order_kg")),
            "packs": tally.packs.map(|packs| numbers.plain(packs as f64, 0, from("packs"))),
            "pack": product.and_then(|product| product.pack_kg).map(|kg| numbers.mass(kg, "")),
            "price": cost(price, tally.order_kg, tally.packs),
            "price_per_t": price.and_then(Price::per_t).map(|price| grouped(price, 2)),
            "price_per_pack": price.and_then(Price::per_pack).map(|price| grouped(price, 2)),
        })
    });
    let balances = plan.tally.balances.iter().enumerate().map(|(nth, tally)| {
        let from = |key: &str| format!("/tally/balances/{nth}/{key}");
        let product = plan
            .job
            .products
            .iter()
            .find(|product| product.id == tally.of);
        let pack_kg = product.and_then(|product| match &product.balance {
            Some(own) => own.pack_kg,
            None => product.pack_kg,
        });
        let price = product.and_then(Price::of_balance);
        json!({
            "name": tally.name,
            "lot": null,
            "dressing": null,
            "balance_of": product.map(|product| &product.name),
            "steps": steps(&tally.steps, &from("steps"), numbers),
            "order": numbers.mass(tally.order_kg, from("order_kg")),
            "packs": tally.packs.map(|packs| numbers.plain(packs as f64, 0, from("packs"))),
            "pack": pack_kg.map(|kg| numbers.mass(kg, "")),
            "price": cost(price, tally.order_kg, tally.packs),
            "price_per_t": price.and_then(Price::per_t).map(|price| grouped(price, 2)),
            "price_per_pack": price.and_then(Price::per_pack).map(|price| grouped(price, 2)),
        })
    });
    json!({ "items": products.chain(balances).collect::<Vec<_>>() })
}

fn cost(price: Option<Price>, order_kg: f64, packs: Option<u64>) -> Option<String> {
    let cost = price?.cost(order_kg, packs)?;
    Some(grouped(cost, 2))
}

fn steps(steps: &[Step], from: &str, numbers: &Numbers) -> Vec<Value> {
    let lines = steps.iter().enumerate();
    lines
        .map(|(at, step)| {
            json!({
                "text": step.text,
                "mass": numbers.mass(step.kg, format!("{from}/{at}/kg")),
                "plus": at > 0 && step.kg > 0.0,
            })
        })
        .collect()
}
