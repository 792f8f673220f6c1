//! The field report: one HTML page for the adviser, the operator and the buyer.
//!
//! Takes a plan, gives bytes; touches no file. Both maps are drawn once, as SVG that needs no script.
//! What is shown is put together in Rust (one file per sheet) as plain values; the templates beside this
//! file lay it out and escape every text. All words of the page are in `texts/en.toml`. Numbers carry the
//! place in `plan.json` that they come from, so that they can be held against it. Method: docs/formats/report.md.

mod adviser;
mod buyer;
mod canvas;
mod caps;
mod colour;
mod engine;
mod glance;
mod label;
mod legend;
mod map;
pub mod number;
mod operator;
mod rows;
mod shapes;
mod sources;
mod texts;

use crate::findings::Outcome;
use crate::plan::Plan;
use canvas::Canvas;
use number::Numbers;
use serde_json::json;
use sources::Sources;

/// Name of the report in the folder of a plan.
pub const FILE: &str = "report.html";

/// The report of a plan. `made_at` is the time at which the plan was made, RFC 3339; the same plan and time
/// give the same bytes.
///
/// # Errors
/// None that a sound plan can cause; a template that does not fit its values is told as a fault.
pub fn page(plan: &Plan, made_at: &str) -> Outcome<Vec<u8>> {
    let texts = texts::of(plan.job.report.language)?;
    let numbers = Numbers::of(plan.job.report.units);
    let canvas = Canvas::of(plan);
    let mut sources = Sources::default();
    let field = &plan.job.field;
    let rows = rows::table(plan, &numbers, &mut sources);
    let maps = map::all(plan, &canvas, &numbers);
    let adviser = adviser::sheet(plan, &numbers, &canvas);
    let value = json!({
        "t": texts,
        "units": numbers.words(),
        "plan": {
            "id": plan.id,
            "name": plan.job.name,
            "field": field.name,
            "farm": field.farm,
            "customer": field.customer,
            "drill": plan.job.drill.name,
            "made_at": made_at,
            "made_on": made_at.get(..10).unwrap_or(made_at),
            "made_by": concat!("twinsow ", env!("CARGO_PKG_VERSION")),
            "mapped": numbers.area(plan.tally.mapped_m2, "/tally/mapped_m2"),
            "boundary": numbers.area(plan.tally.boundary_m2, "/tally/boundary_m2"),
            "excluded": numbers.area(plan.tally.excluded_m2, "/tally/excluded_m2"),
        },
        "glance": glance::of(plan, &numbers),
        "canvas": canvas.words(&numbers),
        "shapes": shapes::of(plan, &canvas),
        "maps": maps,
        "rows": rows,
        "adviser": adviser,
        "operator": operator::sheet(plan, &numbers),
        "buyer": buyer::sheet(plan, &numbers),
        "sources": sources.list(),
        "inputs": plan.inputs,
    });
    engine::page(value)
}
