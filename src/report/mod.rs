//! The field report: one HTML page for the adviser, the operator and the buyer.
//!
//! Takes a plan, gives bytes; touches no file. Both maps are drawn once, as SVG that needs no script.
//! What is shown is put together in Rust (one file per sheet) as plain values; the templates beside this
//! file lay it out and escape every text. All words of the page are in `texts/`, one file for each language. Numbers carry the
//! place in `plan.json` that they come from, so that they can be held against it. Method: docs/formats/report.md.

mod adviser;
mod after;
mod field_record;
mod buyer;
mod canvas;
mod caps;
mod card;
mod driving;
mod engine;
mod gate;
mod glance;
mod label;
mod legend;
mod map;
mod open_decisions;
pub mod number;
mod operator;
mod png;
mod refills;
mod rows;
mod season;
mod shapes;
mod sources;
mod texts;
mod trial;
mod week;

pub use after::{AfterCase, AfterPage, AfterPicture, AfterProduct, after};
pub use card::card;
pub use field_record::field_record;
pub use label::{Middle, middle};
pub use legend::legend;
pub use season::{CoverField, cover};
pub use texts::rule_names;
pub use week::{WeekDrill, WeekPage, WeekRow, week};

use crate::findings::Outcome;
use crate::job::Language;
use crate::plan::Plan;
use canvas::Canvas;
use number::Numbers;
use serde_json::{Value, json};
use sources::Sources;

/// Name of the report in the folder of a plan.
pub const FILE: &str = "report.html";

/// The report of a plan. `made_at` is the time at which the plan was made, RFC 3339; the same plan and time
/// give the same bytes.
///
/// # Errors
/// None that a sound plan can cause; a template that does not fit its values is told as a fault.
pub fn page(plan: &Plan, made_at: &str) -> Outcome<Vec<u8>> {
    let numbers = Numbers::of_pages(plan.job.report);
    let canvas = Canvas::of(plan);
    let mut sources = Sources::default();
    let mut value = common(plan, &canvas, &numbers);
    let rows = rows::table(plan, &numbers, &mut sources);
    let own = json!({
        "made_at": made_at,
        "made_on": numbers.language().date(made_at.get(..10).unwrap_or(made_at)),
        "made_moment": numbers.language().moment(made_at),
        "made_by": concat!("twinsow ", env!("CARGO_PKG_VERSION")),
        "open": open_decisions::of(plan, numbers.language()),
        "glance": glance::of(plan, &numbers),
        "driving": driving::of(&plan.drive, &canvas),
        "refills": refills::of(plan, &numbers, &canvas),
        "gate": gate::of(plan, &numbers, &canvas),
        "rows": rows,
        "trials": trial::all(plan, &numbers, &canvas),
        "adviser": adviser::sheet(plan, &numbers, &canvas),
        "operator": operator::sheet(plan, &numbers),
        "buyer": buyer::sheet(plan, &numbers),
        "sources": sources.list(),
        "inputs": plan.inputs,
    });
    if let (Some(value), Value::Object(own)) = (value.as_object_mut(), own) {
        value.extend(own);
    }
    engine::page(value, plan.job.report.language)
}

/// The page of a harvest, with the words and the style of the report. `values` as `harvest::page_values` gives them, in the
/// same language.
///
/// # Errors
/// Values that do not fit the template, which is the program's own fault.
pub fn harvest_page(mut values: Value, language: Language) -> Outcome<Vec<u8>> {
    if let Some(values) = values.as_object_mut() {
        values.insert(
            "units".to_owned(),
            Numbers::METRIC.in_language(language).words(),
        );
    }
    engine::still("harvest.html", values, language)
}

/// A picture of each rate map and of each map of a balance, as SVG that stands alone and as PNG: path in the
/// folder of the plan, bytes, what it shows.
///
/// # Errors
/// As [`page`].
pub fn pictures(plan: &Plan) -> Outcome<Vec<(String, Vec<u8>, String)>> {
    let numbers = Numbers::of_pages(plan.job.report);
    let value = common(plan, &Canvas::of(plan), &numbers);
    let products = plan.job.products.iter();
    let products = products.map(|of| (format!("map-{}", of.id), &of.name));
    let balances = plan.tally.planned.balances.iter();
    let balances = balances.map(|of| (format!("balance-{}", of.of), &of.name));
    let names: Vec<(String, &String)> = products.chain(balances).collect();
    let pictures = engine::pictures(value, plan.job.report.language, names.len())?;
    let painter = png::Painter::new();
    let mut files = Vec::new();
    for ((stem, name), svg) in names.into_iter().zip(pictures) {
        let shows = format!("picture of the map of {name}");
        let png = painter.png(&svg)?;
        files.push((format!("pictures/{stem}.svg"), svg, shows.clone()));
        files.push((format!("pictures/{stem}.png"), png, shows));
    }
    Ok(files)
}

/// What the page and the pictures have in common.
fn common(plan: &Plan, canvas: &Canvas, numbers: &Numbers) -> Value {
    let field = &plan.job.field;
    json!({
        "units": numbers.words(),
        "plan": {
            "id": plan.id,
            "seedbed": plan.other_seedbed.as_ref().map(|own| own.moisture.mark()),
            "name": plan.job.name,
            "field": field.name,
            "farm": field.farm,
            "customer": field.customer,
            "drill": plan.job.drill.name,
            "mapped": numbers.area(plan.tally.planned.mapped_m2, "/tally/mapped_m2"),
        },
        "canvas": canvas.words(numbers),
        "shapes": shapes::of(plan, canvas),
        "maps": map::all(plan, canvas, numbers),
    })
}
