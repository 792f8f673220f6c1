//! Why the rates of a place are what they are.

use super::super::work::{Shown, Whole};
use super::{PER_M, area, picture, rate, trials};
use crate::agronomy::Rate;
use crate::coordinates::PlaneXy;
use crate::findings::{Fault, Outcome, Place};
use crate::geometry::Pt;
use crate::job::Product;
use crate::report::number::Numbers;
use crate::report::rule_names;
use serde_json::{Value, json};

/// The row (from 0) of the land at a place of the plane, in what travels; none where no land is.
pub fn row_at(shown: &Shown, place: [f64; 2]) -> Option<usize> {
    let at = Pt::from_metres(place.map(|travels| travels / PER_M))?;
    let shapes = picture::by_row(shown);
    let found = shapes.iter().find(|(_, shape)| {
        // Holes count with the exterior.
        let crossings = shape.rings().map(|ring| east_of(ring, at));
        crossings.sum::<usize>() % 2 == 1
    });
    found.map(|(row, _)| *row)
}

/// Edges of a ring that a ray from the place to the east crosses.
fn east_of(ring: &[Pt], at: Pt) -> usize {
    let ends = ring.iter().cycle().skip(1);
    let crossed = ring.iter().zip(ends).filter(|(a, b)| {
        let up = a.y > at.y;
        if up == (b.y > at.y) {
            return false;
        }
        let left = crate::geometry::cross(**a, **b, at) > 0;
        left != up
    });
    crossed.count()
}

/// Every reason of the rates on the land at a place, or of a row; with the rates of the spreader there, and the plot of a trial,
/// as the whole plan has them.
///
/// # Errors
/// A place without land.
pub fn of(
    shown: &Shown,
    whole: Option<&Whole>,
    row: Option<usize>,
    place: Option<[f64; 2]>,
) -> Outcome<Value> {
    let found = row.or_else(|| row_at(shown, place?));
    let (nth, row) = found
        .and_then(|nth| Some((nth, shown.rows.get(nth)?)))
        .ok_or_else(no_land)?;
    let job = &shown.job;
    let numbers = Numbers::of_pages(job.report);
    let names = rule_names(job.report.language)?;
    let classes = job.layers.iter().zip(&row.facts.classes);
    let classes = classes.map(|(layer, class)| json!({ "layer": layer.name, "class": class }));
    let special = row.facts.special_areas.iter();
    let special = special.filter_map(|&nth| job.special_areas.get(nth).map(|of| &of.name));
    let setbacks = row.facts.setbacks.iter();
    let setbacks = setbacks.filter_map(|&nth| job.setbacks.get(nth).map(|of| &of.name));
    let products = job.products.iter().zip(&row.rates);
    let products = products.map(|(product, own)| rate_of(product, own, &numbers, &names));
    let whole = whole.filter(|whole| whole.serial == shown.serial);
    let spread = whole.iter().flat_map(|whole| &whole.spread);
    let spread = spread.filter_map(|shown| spread_at(shown, place?, &names));
    let plot = whole.and_then(|whole| trials::at(&whole.plan, &numbers, place?));
    let lon_lat = place.map(|place| {
        let frame = &shown.prepared.frame;
        frame.to_lon_lat(PlaneXy::of_pair(place.map(|travels| travels / PER_M)))
    });
    Ok(json!({
        "row": nth + 1,
        "at": place,
        "lon_lat": lon_lat,
        "part": row.facts.part.word(),
        "classes": classes.collect::<Vec<_>>(),
        "special_areas": special.collect::<Vec<_>>(),
        "setbacks": setbacks.collect::<Vec<_>>(),
        "area_text": area(&numbers, row.area_m2),
        "products": products.collect::<Vec<_>>(),
        "spread": spread.collect::<Vec<_>>(),
        "plot": plot,
    }))
}

/// The rate of a product with its reasons.
fn rate_of(product: &Product, own: &Rate, numbers: &Numbers, names: &Value) -> Value {
    let reasons = own.reasons.iter().map(|reason| {
        json!({
            "text": reason.text,
            "rule": reason.rule,
            "rule_text": names.get(reason.rule.to_string()),
            "kg_per_ha": reason.kg_per_ha,
            "rate_text": rate(numbers, reason.kg_per_ha),
            "inputs": reason.inputs,
            "source": reason.source,
        })
    });
    json!({
        "id": product.id,
        "name": product.name,
        "kg_per_ha": own.kg_per_ha,
        "text": rate(numbers, own.kg_per_ha),
        "held": own.held_down(),
        "balance_text": own.balance.as_ref().map(|of| rate(numbers, of.kg_per_ha)),
        "reasons": reasons.collect::<Vec<_>>(),
    })
}

/// What the spreader broadcasts at a place, in the units of its screen; none where its map has no land.
fn spread_at(shown: &Shown, place: [f64; 2], names: &Value) -> Option<Value> {
    let row = shown.rows.get(row_at(shown, place)?)?;
    let (product, own) = shown.job.products.iter().zip(&row.rates).next()?;
    let numbers = Numbers::of(shown.job.report.units);
    Some(rate_of(product, own, &numbers, names))
}

fn no_land() -> Box<Fault> {
    Fault::input(
        "explain.no_land",
        Place::nowhere(),
        "no rates are known for this place",
        "a place inside the boundary and outside all exclusions, or a row of the rate table",
        "point at the land",
    )
}
