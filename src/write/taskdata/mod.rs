//! ISO 11783-10 task data: version 4.3 or 3.3, cells with rates (type 2) or with numbers of treatment zones
//! (type 1), all products in one task or a task for each.

mod cells;
mod outlines;
mod variant;

use crate::codec::taskdata::{self, Element, ddi, decimal, designator};
use crate::findings::{Fault, Outcome, Place};
use crate::job::{Fallback, GridHolds, Kind, Product, ProductsPerTask, TaskDataVersion};
use crate::map::Grid;
use crate::plan::Plan;
use cells::{RANGE, cells, integer, raw, sets};
use outlines::{degrees, outlines};

pub use cells::TaskDataSums;
pub(super) use variant::Variant;

/// Ids of how a rate and a quantity are shown.
const RATE_SHOWN: &str = "VPN1";
const QUANTITY_SHOWN: &str = "VPN2";

/// Codes of the treatment zones.
const TEMPLATE: u8 = 1;
const DEFAULT: u8 = 2;
const POSITION_LOST: u8 = 3;
const OUT_OF_FIELD: u8 = 4;

/// Code of the first zone of a grid of zone numbers, and how many there may be: codes end at 254.
const FIRST_SET: u8 = 5;
const MOST_SETS: usize = 250;

/// The files of one data set.
pub(super) struct TaskData {
    /// Name in the folder `TASKDATA`, and content; the main file first.
    pub files: Vec<(String, Vec<u8>)>,
    pub sums: TaskDataSums,
}

/// Task data for a terminal; `None` where the grid should hold zone numbers and there are more than 250
/// sets of rates.
///
/// # Errors
/// A rate that does not fit the integers of the format, or grid numbers that it cannot write without
/// changing them.
pub(super) fn of(plan: &Plan, variant: Variant) -> Outcome<Option<TaskData>> {
    let (values, sums) = cells(plan)?;
    let count = plan.job.products.len();
    let tasks: Vec<Vec<usize>> = match variant.products_per_task {
        ProductsPerTask::All => vec![(0..count).collect()],
        ProductsPerTask::One => (0..count).map(|at| vec![at]).collect(),
    };
    let minor = 3;
    let major = match variant.version {
        TaskDataVersion::V4_3 => 4,
        TaskDataVersion::V3_3 => 3,
    };
    let mut root = Element::new("ISO11783_TaskData")
        .with("VersionMajor", major)
        .with("VersionMinor", minor)
        .with("ManagementSoftwareManufacturer", "twinsow")
        .with("ManagementSoftwareVersion", env!("CARGO_PKG_VERSION"))
        // 1: from the office.
        .with("DataTransferOrigin", 1)
        .children(owners(plan, variant.version)?)
        .children(products(plan, variant.version));
    let mut files = Vec::new();
    for (nth, products) in tasks.iter().enumerate() {
        let own: Vec<i32> = values
            .chunks_exact(count.max(1))
            .flat_map(|cell| products.iter().filter_map(|&at| cell.get(at).copied()))
            .collect();
        let (sets, bytes) = match variant.grid_holds {
            GridHolds::Rates => (Vec::new(), taskdata::encode_cells(&own)),
            GridHolds::ZoneNumbers => {
                let Some((sets, places)) = sets(&own, products.len(), MOST_SETS) else {
                    return Ok(None);
                };
                let codes = places.iter().map(|place| place + FIRST_SET).collect();
                (sets, codes)
            }
        };
        let task = Task {
            plan,
            variant,
            nth,
            products,
            sets,
            bytes: bytes.len(),
        };
        root = root.child(task.element()?);
        files.push((format!("{}.bin", task.grid_name()), bytes));
    }
    let xml = root.document().map_err(|error| {
        broken(
            Place::nowhere(),
            format!("The XML text could not be made: {error}"),
            "plain text",
        )
    })?;
    files.insert(0, ("TASKDATA.XML".to_string(), xml));
    Ok(Some(TaskData { files, sums }))
}

/// Customer, farm and partfield. All three are there even if the job names only the field, for some
/// terminals list tasks by nothing else.
fn owners(plan: &Plan, version: TaskDataVersion) -> Outcome<[Element; 3]> {
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
        .children(outlines(plan, version)?);
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
fn products(plan: &Plan, version: TaskDataVersion) -> Vec<Element> {
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
        elements.push(self::product(at, product, group, version));
    }
    elements
}

fn product(at: usize, product: &Product, group: usize, version: TaskDataVersion) -> Element {
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
    if version == TaskDataVersion::V3_3 {
        return element;
    }
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

/// One task of a data set.
struct Task<'a> {
    plan: &'a Plan,
    variant: Variant,
    /// Number in the set, from 0.
    nth: usize,
    /// Products in it.
    products: &'a [usize],
    /// Raw values of its zones where the grid holds numbers of zones.
    sets: Vec<Vec<i32>>,
    /// Length of its grid's binary.
    bytes: usize,
}

impl Task<'_> {
    fn grid_name(&self) -> String {
        format!("GRD{:05}", self.nth + 1)
    }

    fn element(&self) -> Outcome<Element> {
        let plan = self.plan;
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
        // The id first: a screen may show only the start.
        let name = match (self.variant.products_per_task, self.products) {
            (ProductsPerTask::One, [only]) => {
                let product = plan.job.products.get(*only);
                product.map_or("", |product| product.name.as_str())
            }
            _ => plan.job.name.as_str(),
        };
        let mut task = Element::new("TSK")
            .with("A", format!("TSK{}", self.nth + 1))
            .with("B", designator(&format!("{} {name}", plan.id)))
            .with("C", "CTR1")
            .with("D", "FRM1")
            .with("E", "PFD1")
            .with("G", 1)
            .with("H", DEFAULT)
            .with("I", POSITION_LOST)
            .with("J", OUT_OF_FIELD);
        for (code, name, rates) in zones {
            if code == TEMPLATE && self.variant.grid_holds == GridHolds::ZoneNumbers {
                continue;
            }
            let mut values = Vec::new();
            for &at in self.products {
                let rate = rates.get(at).copied().unwrap_or(0.0);
                values.push(raw(rate).map_err(|found| {
                    broken(
                        Place::nowhere().feature(format!("rate '{name}'")),
                        found,
                        RANGE,
                    )
                })?);
            }
            task = task.child(self.zone(code, name, &values));
        }
        for (at, set) in self.sets.iter().enumerate() {
            let code = u8::try_from(at)
                .unwrap_or(u8::MAX)
                .saturating_add(FIRST_SET);
            task = task.child(self.zone(code, &format!("Rates {}", at + 1), set));
        }
        let log = Element::new("DLT")
            .with("A", ddi(taskdata::REQUEST_DEFAULT_DATA))
            .with("B", 31);
        Ok(task.child(log).child(self.grid()?))
    }

    fn zone(&self, code: u8, name: &str, values: &[i32]) -> Element {
        let mut zone = Element::new("TZN").with("A", code).with("B", name);
        for (&at, raw) in self.products.iter().zip(values) {
            let mut variable = Element::new("PDV")
                .with("A", ddi(taskdata::SETPOINT_MASS_PER_AREA))
                .with("B", raw)
                .with("C", format!("PDT{}", at + 1))
                .with("E", RATE_SHOWN);
            let kind = self.plan.job.products.get(at).map(|product| product.kind);
            if self.variant.version == TaskDataVersion::V4_3
                && let Some(kind) = kind
            {
                let practice = match kind {
                    Kind::Fertiliser => 1,
                    Kind::Seed => 2,
                };
                variable = variable.with("F", practice);
            }
            zone = zone.child(variable);
        }
        zone
    }

    fn grid(&self) -> Outcome<Element> {
        let element = grid(&self.plan.map.degrees, self.bytes, &self.grid_name())?;
        Ok(match self.variant.grid_holds {
            GridHolds::Rates => element.with("I", 2).with("J", TEMPLATE),
            GridHolds::ZoneNumbers => element.with("I", 1),
        })
    }
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

fn grid(grid: &Grid, bytes: usize, name: &str) -> Outcome<Element> {
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
        .with("G", name)
        .with("H", count(bytes)?))
}

/// The fault for a job that wants zone numbers and has more sets of rates than there are numbers.
pub(super) fn too_many_sets() -> Box<Fault> {
    Fault::input(
        "write.zone_numbers",
        Place::nowhere(),
        format!(
            "The map has more than {MOST_SETS} different sets of rates, and a grid of zone numbers cannot tell them apart"
        ),
        format!("up to {MOST_SETS} sets of rates with grid_holds = \"zone_numbers\""),
        "Set grid_holds = \"rates\" under [terminal], or round the rates more coarsely.",
    )
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
