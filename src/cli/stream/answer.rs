//! What comes back for a line.

use super::request::{Part, Request};
use crate::cli::exit::Exit;
use crate::cli::frame;
use crate::cli::plan::exit_of;
use crate::cli::summary::{Row, line_of_fault, rows};
use crate::findings::{Fault, Finding, Outcome, Severity};
use crate::plan::Plan;
use crate::tally::Tally;
use crate::units::M2_PER_HA;
use crate::write;
use serde::Serialize;
use serde_json::Value;
use serde_json::value::RawValue;

/// The answer to a request that was planned.
#[derive(Serialize)]
struct Answer<'a> {
    id: &'a Value,
    exit: Exit,
    plan: &'a str,
    name: &'a str,
    field: &'a str,
    mapped_ha: f64,
    products: Vec<Product<'a>>,
    /// What asks for a look; notes where they are asked for.
    findings: Vec<&'a Finding>,
    /// Ids of products that no terminal may be given yet.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    held_back: Vec<&'a str>,
    #[serde(skip_serializing_if = "Option::is_none")]
    rates: Option<Vec<Row<'a>>>,
    #[serde(skip_serializing_if = "Option::is_none")]
    tally: Option<&'a Tally>,
    #[serde(skip_serializing_if = "Option::is_none")]
    map: Option<Box<RawValue>>,
}

/// Totals of a product.
#[derive(Serialize)]
struct Product<'a> {
    id: &'a str,
    map_kg: f64,
    lowest_kg_per_ha: f64,
    highest_kg_per_ha: f64,
    order_kg: f64,
}

/// The answer to a request that failed.
#[derive(Serialize)]
struct Failure<'a> {
    id: &'a Value,
    exit: Exit,
    fault: &'a Fault,
    /// The fault as it is printed for people.
    text: String,
}

/// A line for a plan.
pub(super) fn planned(request: &Request, plan: &Plan) -> Outcome<String> {
    let asked = |part: Part| request.with.contains(&part);
    let shown = |finding: &&Finding| asked(Part::Notes) || finding.severity > Severity::Note;
    let products = plan.tally.planned.products.iter().map(|product| Product {
        id: &product.id,
        map_kg: product.map_kg(),
        lowest_kg_per_ha: product.lowest_kg_per_ha,
        highest_kg_per_ha: product.highest_kg_per_ha,
        order_kg: product.order_kg,
    });
    let of_spreader = plan.spreaders.iter().map(|own| own.plan.held_back());
    let held_back = plan.held_back().into_iter();
    let held_back = held_back.chain(of_spreader.flatten()).collect();
    frame::json(&Answer {
        id: &request.id,
        exit: exit_of(plan, false),
        plan: &plan.id,
        name: &plan.job.name,
        field: &plan.job.field.name,
        mapped_ha: plan.tally.planned.mapped_m2 / M2_PER_HA,
        products: products.collect(),
        findings: plan.findings.iter().filter(shown).collect(),
        held_back,
        rates: asked(Part::Rates).then(|| rows(plan)),
        tally: asked(Part::Tally).then_some(&plan.tally.planned),
        map: asked(Part::Map).then(|| on_one_line(write::map_geojson(plan))),
    })
}

/// A line for a fault.
pub(super) fn failed(id: &Value, fault: &Fault) -> String {
    let failure = Failure {
        id,
        exit: Exit::of_fault(fault),
        fault,
        text: fault.to_string(),
    };
    line_of_fault(&failure, fault)
}

/// Line ends inside JSON texts are written as \n, so that those outside may go.
fn on_one_line(text: String) -> Box<RawValue> {
    RawValue::from_string(text.replace('\n', "")).unwrap_or_default()
}
