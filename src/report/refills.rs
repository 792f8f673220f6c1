//! The stops at the tender: what goes into each half, and where.

use super::canvas::Canvas;
use super::number::Numbers;
use crate::plan::Plan;
use serde_json::{Value, json};

/// The stops in their order, the first fill first; null where the job does not tell enough.
pub(super) fn of(plan: &Plan, numbers: &Numbers, canvas: &Canvas) -> Value {
    let Some(refills) = &plan.drive.refills else {
        return Value::Null;
    };
    let name = |id: &str| {
        let product = plan.job.products.iter().find(|product| product.id == id);
        product.map_or_else(|| id.to_owned(), |product| product.name.clone())
    };
    let halves = refills.halves.iter().enumerate().map(|(nth, half)| {
        let from = |key: &str| format!("/refills/halves/{nth}/{key}");
        json!({
            "name": name(&half.product),
            "hopper": half.hopper,
            "filled": numbers.mass(half.filled_kg, from("filled_kg")),
            "left": numbers.mass(half.left_kg, from("left_kg")),
        })
    });
    let last = refills.stops.last().map(|stop| stop.number);
    let stops = refills.stops.iter().enumerate().map(|(nth, stop)| {
        let [x, y] = canvas.place(stop.lon_lat);
        let fills = stop.fills.iter().enumerate().map(|(half, fill)| {
            let from = |key: &str| format!("/refills/stops/{nth}/fills/{half}/{key}");
            json!({
                "left": numbers.mass(fill.left_kg, from("left_kg")),
                "fill": numbers.mass(fill.fill_kg, from("fill_kg")),
                "nothing": fill.fill_kg <= 0.0,
                "packs": fill.packs.map(|packs| numbers.plain(packs as f64, 0, from("packs"))),
                "level": fill.level_cm.map(|[_, after]| numbers.plain(after, 0, from("level_cm/1"))),
            })
        });
        json!({
            "number": stop.number,
            "after": numbers.plain(stop.after_bout as f64, 0, format!("/refills/stops/{nth}/after_bout")),
            "start": stop.after_bout == 0,
            "last": last == Some(stop.number),
            "away": stop.away,
            "governs": stop.governs.as_deref().map(name),
            "fills": fills.collect::<Vec<_>>(),
            "x": x.round(),
            "y": y.round(),
        })
    });
    json!({
        "halves": halves.collect::<Vec<_>>(),
        "stops": stops.collect::<Vec<_>>(),
        "away": refills.stops.iter().any(|stop| stop.away),
        "cannot": refills.cannot_last.as_ref().map(|cannot| json!({
            "bout": cannot.bout,
            "name": name(&cannot.product),
        })),
    })
}
