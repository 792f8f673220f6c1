//! Each product on the land: rates with their colours, land by rate, totals, order.

use super::super::work::{Shown, Whole};
use super::{area, held, mass};
use crate::agronomy::has_balance;
use crate::job::{Job, Product};
use crate::map::Scale;
use crate::plan::{Plan, SpreaderPlan};
use crate::report::number::Numbers;
use crate::report::{legend, rule_names};
use crate::tally::Pack;
use crate::units::M2_PER_HA;
use serde_json::{Value, json};

/// Rates along the rows, with what a map of them shows.
fn map(
    shown: &Shown,
    rates: &[f64],
    scale: impl Fn(f64, f64) -> Scale,
    numbers: &Numbers,
) -> Value {
    let (low, high) = range(rates);
    let scale = scale(low, high);
    let colour = |rate: &f64| match *rate > 0.0 {
        true => scale.colour(*rate),
        false => String::new(),
    };
    let kg: f64 = rates
        .iter()
        .zip(shown.rows.iter())
        .map(|(rate, row)| rate * row.area_m2 / M2_PER_HA)
        .sum();
    json!({
        "map_kg": kg,
        "map_text": mass(numbers, kg),
        "lowest_text": numbers.rate_text(low),
        "highest_text": numbers.rate_text(high),
        "kg_per_ha": rates,
        "text": rates.iter().map(|rate| numbers.rate_text(*rate)).collect::<Vec<_>>(),
        "colour": rates.iter().map(colour).collect::<Vec<_>>(),
        "bars": legend(&shown.rows, rates, &scale, numbers).iter().rev().map(|line| bar(line, numbers)).collect::<Vec<_>>(),
    })
}

/// A line of the legend of the report.
fn bar(line: &Value, numbers: &Numbers) -> Value {
    let text = |pointer: &str| line.pointer(pointer).and_then(Value::as_str);
    let number = |pointer: &str| text(pointer).and_then(|text| text.parse::<f64>().ok());
    let rows = text("/rows").unwrap_or_default().split(' ');
    let rows: Vec<usize> = rows.filter_map(|row| row.parse().ok()).collect();
    let words = match (text("/low/text"), text("/high/text")) {
        (Some(low), Some(high)) => numbers.span(low, high),
        (low, _) => low.unwrap_or_default().to_owned(),
    };
    let m2 = number("/area/value").unwrap_or(0.0);
    json!({
        "kg_per_ha": number("/low/value"),
        "most_kg_per_ha": number("/high/value"),
        "text": words,
        "colour": line.get("fill"),
        "m2": m2,
        "area_text": area(numbers, m2),
        "mass_text": mass(numbers, number("/mass/value").unwrap_or(0.0)),
        "rows": rows,
    })
}

/// Lowest rate above zero and highest rate; zeros without any.
fn range(rates: &[f64]) -> (f64, f64) {
    let above = || rates.iter().copied().filter(|rate| *rate > 0.0);
    let low = above().fold(f64::INFINITY, f64::min);
    (
        if low.is_finite() { low } else { 0.0 },
        above().fold(0.0, f64::max),
    )
}

/// The products of the job.
pub(super) fn of(shown: &Shown, plan: Option<&Plan>, numbers: &Numbers) -> Vec<Value> {
    // Rules go by their ids where the texts cannot be read; whoever explains a rate says so.
    let names = rule_names(shown.job.report.language).unwrap_or_default();
    let products = shown.job.products.iter().enumerate();
    let one = |(nth, product): (usize, &Product)| {
        let rates: Vec<f64> = shown
            .rows
            .iter()
            .map(|row| row.rates.get(nth).map_or(0.0, |rate| rate.kg_per_ha))
            .collect();
        let down = shown.rows.iter();
        let down = down.map(|row| row.rates.get(nth).is_some_and(|rate| rate.held_down()));
        let down: Vec<bool> = down.collect();
        let held_m2: f64 = down
            .iter()
            .zip(shown.rows.iter())
            .filter(|(held, _)| **held)
            .map(|(_, row)| row.area_m2)
            .sum();
        let tally = plan.and_then(|plan| plan.tally.planned.products.get(nth));
        let mut value = map(
            shown,
            &rates,
            |low, high| Scale::of_product(nth, low, high),
            numbers,
        );
        add(
            &mut value,
            json!({
                "id": product.id,
                "nth": nth,
                "name": product.name,
                "kind": product.kind,
                "hopper": product.hopper,
                "held": down,
                "held_m2": held_m2,
                "held_text": area(numbers, held_m2),
                "held_by": held::by_rule(&shown.rows, nth, numbers, &names),
                "order_kg": tally.map(|of| of.order_kg),
                "order_text": tally.map(|of| mass(numbers, of.order_kg)),
                "packs": tally.and_then(|of| of.packs),
                "pack_text": tally.and_then(|of| of.packs).and_then(|packs| pack_text(packs, Pack::of(product), numbers)),
                "flat_text": tally.map(|of| numbers.rate_text(of.flat_kg_per_ha)),
                "driven_text": tally.map(|of| mass(numbers, of.as_driven_kg)),
            }),
        );
        value
    };
    products.map(one).collect()
}

/// What is left to broadcast, per product that can leave some.
pub(super) fn balances(shown: &Shown, plan: Option<&Plan>, numbers: &Numbers) -> Vec<Value> {
    let job: &Job = &shown.job;
    let leaving = job.products.iter().enumerate();
    let leaving = leaving.filter(|(_, product)| has_balance(job, product));
    let one = |(nth, product): (usize, &Product)| {
        let rates: Vec<f64> = shown
            .rows
            .iter()
            .map(|row| {
                let balance = row.rates.get(nth).and_then(|rate| rate.balance.as_ref());
                balance.map_or(0.0, |balance| balance.kg_per_ha)
            })
            .collect();
        let tally = plan.and_then(|plan| {
            let mut all = plan.tally.planned.balances.iter();
            all.find(|of| of.of == product.id)
        });
        let pack = product
            .balance
            .as_ref()
            .and_then(|of| of.pack_kg)
            .map(Pack::Kg);
        let name = product.balance.as_ref().map(|of| of.name.clone());
        let mut value = map(shown, &rates, Scale::of_balance, numbers);
        add(
            &mut value,
            json!({
                "of": product.id,
                "name": tally.map(|of| of.name.clone()).or(name),
                "order_kg": tally.map(|of| of.order_kg),
                "order_text": tally.map(|of| mass(numbers, of.order_kg)),
                "packs": tally.and_then(|of| of.packs),
                "pack_text": tally.and_then(|of| of.packs).and_then(|packs| pack_text(packs, pack, numbers)),
            }),
        );
        value
    };
    leaving.map(one).collect()
}

/// What the spreader broadcasts of each product, in the units of its screen, on land of its own.
pub(super) fn spread(whole: &Whole) -> Vec<Value> {
    let plans = whole.plan.spreaders.iter().zip(&whole.spread);
    let one = |(own, shown): (&SpreaderPlan, &Shown)| {
        let numbers = Numbers::of(shown.job.report.units);
        let rates: Vec<f64> = shown
            .rows
            .iter()
            .map(|row| row.rates.first().map_or(0.0, |rate| rate.kg_per_ha))
            .collect();
        let product = shown.job.products.first();
        let job = &shown.job;
        let mut value = map(shown, &rates, Scale::of_balance, &numbers);
        add(
            &mut value,
            json!({
                "of": whole.plan.job.products.get(own.of).map(|product| &product.id),
                "name": product.map(|product| &product.name),
                "machine": job.drill.name,
                "width_text": format!("{}\u{a0}{}", numbers.length_text(job.drill.working_width_m), numbers.length_unit()),
                "rate_unit": numbers.rate_unit(),
                "plan": own.plan.id,
                "folder": own.folder,
                "held_back": own.plan.holds_any_back(),
                "picture": shown.picture,
                "rows": super::rows(shown, &numbers),
            }),
        );
        value
    };
    plans.map(one).collect()
}

fn pack_text(packs: u64, pack: Option<Pack>, numbers: &Numbers) -> Option<String> {
    Some(match pack? {
        Pack::Kg(kg) => format!("{packs} \u{d7} {}", mass(numbers, kg)),
        Pack::Seeds(seeds, _) => format!("{packs} \u{d7} {} seeds", numbers.grouped(seeds, 0)),
    })
}

/// Adds the keys of one object to another.
fn add(to: &mut Value, more: Value) {
    if let (Some(to), Value::Object(more)) = (to.as_object_mut(), more) {
        to.extend(more);
    }
}
