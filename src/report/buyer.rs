//! The buyer's sheet: the tally in steps to the order, per product and lot.

use super::number::Numbers;
use crate::job::Product;
use crate::plan::Plan;
use crate::tally::{OnePackLess, Pack, Price, Step};
use serde_json::{Value, json};

pub(super) fn sheet(plan: &Plan, numbers: &Numbers) -> Value {
    let mut items: Vec<Value> = Vec::new();
    let products = plan.job.products.iter().zip(&plan.tally.planned.products);
    for (nth, (product, tally)) in products.enumerate() {
        let from = format!("/tally/products/{nth}");
        if tally.lots.is_empty() {
            let bought = Bought {
                classes: &[],
                steps: &tally.steps,
                order_kg: tally.order_kg,
                packs: tally.packs,
                one_pack_less: tally.one_pack_less,
            };
            items.push(bought.item(product, &from, numbers));
        }
        for (at, lot) in tally.lots.iter().enumerate() {
            let mut known = product.each_lot().iter();
            let known = known.find(|known| known.lot == lot.lot);
            let own = known.map_or_else(|| product.clone(), |known| product.as_lot(known));
            let bought = Bought {
                classes: &lot.classes,
                steps: &lot.steps,
                order_kg: lot.order_kg,
                packs: lot.packs,
                one_pack_less: lot.one_pack_less,
            };
            items.push(bought.item(&own, &format!("{from}/lots/{at}"), numbers));
        }
    }
    let balances = plan
        .tally
        .planned
        .balances
        .iter()
        .enumerate()
        .map(|(nth, tally)| {
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
                "classes": [],
                "pack_seeds": null,
                "balance_of": product.map(|product| &product.name),
                "steps": steps(&tally.steps, &from("steps"), numbers),
                "order": numbers.mass(tally.order_kg, from("order_kg")),
                "packs": tally.packs.map(|packs| numbers.plain(packs as f64, 0, from("packs"))),
                "less": tally.one_pack_less.map(|of| less(&of, &from("one_pack_less"), numbers)),
                "pack": pack_kg.map(|kg| numbers.mass(kg, "")),
                "price": cost(price, tally.order_kg, tally.packs, numbers),
                "price_per_t": price.and_then(Price::per_t).map(|price| numbers.grouped(price, 2)),
                "price_per_pack": price.and_then(Price::per_pack).map(|price| numbers.grouped(price, 2)),
            })
        });
    items.extend(balances);
    json!({ "items": items })
}

/// A product, or one of its lots, on its way from the map to the order.
struct Bought<'a> {
    /// Classes on whose land a lot is sown.
    classes: &'a [String],
    steps: &'a [Step],
    order_kg: f64,
    packs: Option<u64>,
    one_pack_less: Option<OnePackLess>,
}

impl Bought<'_> {
    /// For the template; `from` is its place in `plan.json`.
    fn item(&self, product: &Product, from: &str, numbers: &Numbers) -> Value {
        let from = |key: &str| format!("{from}/{key}");
        let pack = Pack::of(product);
        let price = Price::of(product);
        json!({
            "name": product.name,
            "lot": product.lot,
            "dressing": product.dressing,
            "classes": self.classes,
            "balance_of": null,
            "steps": steps(self.steps, &from("steps"), numbers),
            "order": numbers.mass(self.order_kg, from("order_kg")),
            "packs": self.packs.map(|packs| numbers.plain(packs as f64, 0, from("packs"))),
            "less": self.one_pack_less.map(|of| less(&of, &from("one_pack_less"), numbers)),
            "pack": pack.map(|pack| numbers.mass(pack.kg(), "")),
            "pack_seeds": match pack {
                Some(Pack::Seeds(seeds, _)) => Some(numbers.grouped(seeds, 0)),
                _ => None,
            },
            "price": cost(price, self.order_kg, self.packs, numbers),
            "price_per_t": price.and_then(Price::per_t).map(|price| numbers.grouped(price, 2)),
            "price_per_pack": price.and_then(Price::per_pack).map(|price| numbers.grouped(price, 2)),
        })
    }
}

/// What one pack less would leave.
fn less(of: &OnePackLess, from: &str, numbers: &Numbers) -> Value {
    json!({
        "packs": numbers.plain(of.packs as f64, 0, format!("{from}/packs")),
        "reserve": numbers.mass(of.reserve_kg, format!("{from}/reserve_kg")),
        "percent": numbers.plain(of.reserve_percent, 1, format!("{from}/reserve_percent")),
    })
}

fn cost(
    price: Option<Price>,
    order_kg: f64,
    packs: Option<u64>,
    numbers: &Numbers,
) -> Option<String> {
    let cost = price?.cost(order_kg, packs)?;
    Some(numbers.grouped(cost, 2))
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
