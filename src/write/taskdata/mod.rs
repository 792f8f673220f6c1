//! ISO 11783-10 task data, version 4.3: one task with one type-2 grid, one process data variable per
//! product and cell.

mod cells;
mod outlines;

use crate::codec::taskdata::{self, Element, ddi, decimal, designator};
use crate::findings::{Fault, Outcome, Place};
use crate::job::{Fallback, Kind, Product};
use crate::map::Grid;
use crate::plan::Plan;
use cells::{RANGE, cells, integer, raw};
use outlines::{degrees, outlines};

pub use cells::TaskDataSums;

/// Ids of how a rate and a quantity are shown.
const RATE_SHOWN: &str = "VPN1";
const QUANTITY_SHOWN: &str = "VPN2";

/// Codes of the treatment zones.
const TEMPLATE: u8 = 1;
const DEFAULT: u8 = 2;
const POSITION_LOST: u8 = 3;
const OUT_OF_FIELD: u8 = 4;

/// The files of one data set.
pub(super) struct TaskData {
    /// Content of `TASKDATA.XML`.
    pub xml: Vec<u8>,
    /// Content of `GRD00001.bin`.
    pub grid: Vec<u8>,
    pub sums: TaskDataSums,
}

/// Task data for a terminal.
///
/// # Errors
/// A rate that does not fit the integers of the format, or grid numbers that it cannot write without
/// changing them.
pub(super) fn of(plan: &Plan) -> Outcome<TaskData> {
    let (values, sums) = cells(plan)?;
    let grid = taskdata::encode_cells(&values);
    let root = Element::new("ISO11783_TaskData")
        .with("VersionMajor", 4)
        .with("VersionMinor", 3)
        .with("ManagementSoftwareManufacturer", "twinsow")
        .with("ManagementSoftwareVersion", env!("CARGO_PKG_VERSION"))
        // 1: from the office.
        .with("DataTransferOrigin", 1)
        .children(owners(plan)?)
        .children(products(plan))
        .child(task(plan, grid.len())?);
    let xml = root.document().map_err(|error| {
        broken(
            Place::nowhere(),
            format!("The XML text could not be made: {error}"),
            "plain text",
        )
    })?;
    Ok(TaskData { xml, grid, sums })
}

/// Customer, farm and partfield. All three are there even if the job names only the field, for some
/// terminals list tasks by nothing else.
fn owners(plan: &Plan) -> Outcome<[Element; 3]> {
    let field = &plan.job.field;
    let first = |texts: [&str; 3]| {
        let named = texts
            .map(designator)
            .into_iter()
            .find(|text| !text.is_empty());
        named.unwrap_or_else(|| plan.id.clone())
    };
    let customer = first([&field.customer, &field.farm, &field.name]);
    let farm = first([&field.farm, &field.customer, &field.name]);
    let name = first([&field.name, &plan.job.name, &field.farm]);
    let area = plan.tally.mapped_m2.round();
    if !(0.0..4_294_967_294.0).contains(&area) {
        let found = format!("The mapped area is {area} m2");
        return Err(broken(Place::nowhere(), found, "areas below 2^32 m2"));
    }
    let partfield = Element::new("PFD")
        .with("A", "PFD1")
        .with("C", name)
        .with("D", area)
        .with("E", "CTR1")
        .with("F", "FRM1")
        .children(outlines(plan)?);
    Ok([
        Element::new("CTR").with("A", "CTR1").with("B", customer),
        Element::new("FRM")
            .with("A", "FRM1")
            .with("B", farm)
            .with("I", "CTR1"),
        partfield,
    ])
}

/// How rates (steps of 0.01 kg/ha) and quantities (grams) are shown, groups of products, and products.
fn products(plan: &Plan) -> Vec<Element> {
    let shown = |id: &str, scale: &str, decimals: u8, name: &str| {
        let element = Element::new("VPN")
            .with("A", id)
            .with("B", 0)
            .with("C", scale);
        element.with("D", decimals).with("E", name)
    };
    let mut elements = vec![
        shown(RATE_SHOWN, "0.01", 2, "kg/ha"),
        shown(QUANTITY_SHOWN, "0.001", 1, "kg"),
    ];
    let mut kinds: Vec<Kind> = Vec::new();
    for product in &plan.job.products {
        if !kinds.contains(&product.kind) {
            kinds.push(product.kind);
        }
    }
    for (at, kind) in kinds.iter().enumerate() {
        let name = match kind {
            Kind::Seed => "Seed",
            Kind::Fertiliser => "Fertiliser",
        };
        elements.push(
            Element::new("PGP")
                .with("A", format!("PGP{}", at + 1))
                .with("B", name),
        );
    }
    for (at, product) in plan.job.products.iter().enumerate() {
        let group = kinds
            .iter()
            .position(|kind| *kind == product.kind)
            .unwrap_or(0);
        elements.push(self::product(at, product, group));
    }
    elements
}

fn product(at: usize, product: &Product, group: usize) -> Element {
    let name = [&product.name, &product.id].map(|text| designator(text));
    let name = name
        .into_iter()
        .find(|text| !text.is_empty())
        .unwrap_or_default();
    let mut element = Element::new("PDT")
        .with("A", format!("PDT{}", at + 1))
        .with("B", name)
        .with("C", format!("PGP{}", group + 1))
        .with("D", QUANTITY_SHOWN)
        .with("E", ddi(taskdata::ACTUAL_MASS_CONTENT));
    // Both are for display and for counting on the machine: mg/l, and mg per 1000 seeds.
    let density = product.bulk_density_kg_per_l.map(|value| value * 1e6);
    let grains = product.thousand_grain_weight_g.map(|value| value * 1e3);
    for (attribute, value) in [("H", density), ("I", grains)] {
        if let Some(value) = value.and_then(integer) {
            element = element.with(attribute, value);
        }
    }
    element
}

fn task(plan: &Plan, grid_bytes: usize) -> Outcome<Element> {
    let none = vec![0.0; plan.job.products.len()];
    let zones = [
        (TEMPLATE, "Grid", &none),
        (DEFAULT, "Default", base_rates(plan).unwrap_or(&none)),
        (
            POSITION_LOST,
            "Position lost",
            &plan.position_lost_kg_per_ha,
        ),
        (OUT_OF_FIELD, "Out of field", &plan.out_of_field_kg_per_ha),
    ];
    let mut task = Element::new("TSK")
        .with("A", "TSK1")
        // The id first: a screen may show only the start.
        .with("B", designator(&format!("{} {}", plan.id, plan.job.name)))
        .with("C", "CTR1")
        .with("D", "FRM1")
        .with("E", "PFD1")
        .with("G", 1)
        .with("H", DEFAULT)
        .with("I", POSITION_LOST)
        .with("J", OUT_OF_FIELD);
    for (code, name, rates) in zones {
        let mut zone = Element::new("TZN").with("A", code).with("B", name);
        for (at, (product, &rate)) in plan.job.products.iter().zip(rates).enumerate() {
            let practice = match product.kind {
                Kind::Fertiliser => 1,
                Kind::Seed => 2,
            };
            let raw = raw(rate).map_err(|found| {
                broken(
                    Place::nowhere().feature(format!("rate '{name}'")),
                    found,
                    RANGE,
                )
            })?;
            zone = zone.child(
                Element::new("PDV")
                    .with("A", ddi(taskdata::SETPOINT_MASS_PER_AREA))
                    .with("B", raw)
                    .with("C", format!("PDT{}", at + 1))
                    .with("E", RATE_SHOWN)
                    .with("F", practice),
            );
        }
        task = task.child(zone);
    }
    let log = Element::new("DLT")
        .with("A", ddi(taskdata::REQUEST_DEFAULT_DATA))
        .with("B", 31);
    Ok(task.child(log).child(grid(&plan.map.degrees, grid_bytes)?))
}

/// The base rates, wherever the plan uses them; `None` if the job asks for zero whenever the map does
/// not answer, and then the default is zero as well.
fn base_rates(plan: &Plan) -> Option<&Vec<f64>> {
    let terminal = &plan.job.terminal;
    if terminal.position_lost == Fallback::BaseRate {
        Some(&plan.position_lost_kg_per_ha)
    } else if terminal.out_of_field == Fallback::BaseRate {
        Some(&plan.out_of_field_kg_per_ha)
    } else {
        None
    }
}

fn grid(grid: &Grid, bytes: usize) -> Outcome<Element> {
    let [lon, lat] = grid.origin;
    let [width, height] = grid.cell;
    // The size is a double in the schema: all digits are allowed, and all are written.
    let size = |value: f64| {
        let text = decimal(value, usize::MAX).filter(|_| value > 0.0 && value <= 1.0);
        let found = format!("A cell of {value} degrees");
        text.ok_or_else(|| broken(Place::nowhere(), found, "cells up to 1 degree"))
    };
    let count = |value: usize| {
        let found = format!("A count of {value}");
        let fits = u32::try_from(value).ok().filter(|&value| value < u32::MAX);
        fits.ok_or_else(|| broken(Place::nowhere(), found, "counts below 2^32 - 1"))
    };
    Ok(Element::new("GRD")
        .with("A", degrees(lat, 90.0)?)
        .with("B", degrees(lon, 180.0)?)
        .with("C", size(height)?)
        .with("D", size(width)?)
        .with("E", count(grid.columns)?)
        .with("F", count(grid.rows)?)
        .with("G", "GRD00001")
        .with("H", count(bytes)?)
        .with("I", 2)
        .with("J", TEMPLATE))
}

fn broken(place: Place, found: String, allowed: &str) -> Box<Fault> {
    Fault::input(
        "write.task_data",
        place,
        format!("Task data cannot hold this plan. {found}"),
        allowed,
        "Check the rates, the cell size and the place of the field in the job file.",
    )
}
