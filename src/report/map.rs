//! The maps: per product, and per balance to broadcast, what each row of the rate table looks like.

use super::canvas::Canvas;
use super::label::{self, Middle};
use super::legend;
use super::number::Numbers;
use crate::coordinates::LonLat;
use crate::map::{MapZone, Scale};
use crate::plan::{Plan, Rates};
use crate::read::Polygon;
use rayon::prelude::*;
use serde_json::{Value, json};

/// A label needs this much room around it, in pixels; smaller land shows its rate when pointed at.
const LEAST_ROOM_PX: f64 = 4.0;

/// Land on the map of the bouts.
const PLAIN: &str = "#f4f1e6";

/// What a map shows.
pub(super) struct Shown<'a> {
    /// In the page's element ids.
    pub id: String,
    pub title: &'a str,
    /// "product" or "balance", and its place in the job or the tally.
    pub kind: &'static str,
    pub nth: usize,
    /// Per row of the rate table, kg/ha.
    pub rates: Vec<f64>,
    /// Land with one rate, and that rate.
    pub zones: Vec<(&'a MapZone, f64)>,
    pub scale: Scale,
}

/// All maps, products first, in job order.
pub(super) fn all(plan: &Plan, canvas: &Canvas, numbers: &Numbers) -> Vec<Value> {
    let shown = shown(plan);
    let views = shown.par_iter();
    let views: Vec<Value> = views.map(|map| view(plan, map, canvas, numbers)).collect();
    let drive = (!plan.drive.bouts.is_empty()).then(|| drive(&plan.rates));
    views.into_iter().chain(drive).collect()
}

/// The map of the bouts, on plain land.
fn drive(rates: &Rates) -> Value {
    let rows = (0..rates.rows.len())
        .map(|row| json!({ "row": row + 1, "fill": PLAIN, "rate": "", "setback": false }));
    json!({
        "id": "drive",
        "title": "",
        "kind": "drive",
        "nth": 0,
        "rows": rows.collect::<Vec<_>>(),
        "lines": "",
        "labels": [],
        "legend": [],
        "setbacks": false,
    })
}

fn shown(plan: &Plan) -> Vec<Shown<'_>> {
    let products = plan.job.products.iter().zip(&plan.tally.planned.products);
    let mut maps: Vec<Shown<'_>> = products
        .enumerate()
        .map(|(nth, (product, tally))| {
            let own = |rates: &[f64], at: usize| rates.get(at).copied().unwrap_or(0.0);
            let zones = plan.maps.drawing.products.get(nth).into_iter().flatten();
            let rates = plan.rates.rows.iter().map(|row| {
                let rate = row.rates.get(nth);
                rate.map_or(0.0, |rate| rate.kg_per_ha)
            });
            Shown {
                id: format!("map{}", nth + 1),
                title: &product.name,
                kind: "product",
                nth,
                rates: rates.collect(),
                zones: zones.map(|zone| (zone, own(&zone.kg_per_ha, 0))).collect(),
                scale: Scale::of_product(nth, tally.lowest_kg_per_ha, tally.highest_kg_per_ha),
            }
        })
        .collect();
    for (nth, tally) in plan.tally.planned.balances.iter().enumerate() {
        let product = plan.job.products.iter().position(|of| of.id == tally.of);
        let rates = plan.rates.rows.iter().map(|row| {
            let rate = product.and_then(|product| row.rates.get(product));
            let balance = rate.and_then(|rate| rate.balance.as_ref());
            balance.map_or(0.0, |balance| balance.kg_per_ha)
        });
        let own = |zone: &MapZone| zone.kg_per_ha.get(nth).copied().unwrap_or(0.0);
        let zones = plan.maps.balance.iter().flat_map(|map| &map.zones);
        maps.push(Shown {
            id: format!("balance{}", nth + 1),
            title: &tally.name,
            kind: "balance",
            nth,
            rates: rates.collect(),
            zones: zones.map(|zone| (zone, own(zone))).collect(),
            scale: Scale::of_balance(tally.lowest_kg_per_ha, tally.highest_kg_per_ha),
        });
    }
    maps
}

fn view(plan: &Plan, map: &Shown, canvas: &Canvas, numbers: &Numbers) -> Value {
    let rows = map.rates.iter().zip(&plan.rates.rows).enumerate();
    let rows: Vec<Value> = rows
        .map(|(row, (&rate, combination))| {
            json!({
                "row": row + 1,
                "fill": if rate > 0.0 { map.scale.colour(rate) } else { String::new() },
                "rate": numbers.rate_text(rate),
                "setback": !combination.facts.setbacks.is_empty(),
            })
        })
        .collect();
    let zones = || map.zones.iter().flat_map(|(zone, _)| zone.polygons.iter());
    json!({
        "id": map.id,
        "title": map.title,
        "kind": map.kind,
        "nth": map.nth,
        "rows": rows,
        "lines": canvas.path(zones()),
        "labels": labels(map, canvas, numbers),
        "legend": legend::legend(&plan.rates.rows, &map.rates, &map.scale, numbers),
        "setbacks": plan.rates.rows.iter().any(|row| !row.facts.setbacks.is_empty()),
    })
}

/// Where the rates stand: place, room, text, and whether there is room for it at full view.
fn labels(map: &Shown, canvas: &Canvas, numbers: &Numbers) -> Vec<Value> {
    let zones = map.zones.par_iter().flat_map(|(zone, rate)| {
        let text = numbers.rate_text(*rate);
        let polygons = zone.polygons.par_iter().with_min_len(16);
        polygons.filter_map(move |polygon| label(polygon, &text, canvas))
    });
    zones.collect()
}

/// The label of a polygon; `None` where there is no room for it.
fn label(polygon: &Polygon<LonLat>, text: &str, canvas: &Canvas) -> Option<Value> {
    let rings = std::iter::once(&polygon.exterior).chain(&polygon.holes);
    let rings: Vec<_> = rings
        .map(|ring| canvas.ring(ring))
        .filter(|ring| !ring.is_empty())
        .collect();
    let least = LEAST_ROOM_PX * canvas.pixel;
    let Middle { at: [x, y], radius } = label::middle(&rings, least, least / 4.0)?;
    // About 0.31 em of half a digit, and half the height of a line.
    let room = (text.chars().count() as f64 * 0.31).max(0.5);
    Some(json!({
        "x": x.round(),
        "y": y.round(),
        "room": (radius / room).round(),
        "fits": radius / room >= 12.0 * canvas.pixel,
        "text": text,
    }))
}
