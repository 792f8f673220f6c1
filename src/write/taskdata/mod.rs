//! ISO 11783-10 task data: version 4.3 or 3.3, cells with rates (type 2) or with numbers of treatment zones
//! (type 1) or zones with polygons, all products in one task or a task for each.

mod cells;
mod colours;
mod crop;
mod guidance;
mod ids;
mod outlines;
mod task;
mod tramlines;
mod triggers;
mod variant;

use super::product_names::product_names;
use crate::codec::taskdata::{self, Element, ddi, designator};
use crate::findings::{Fault, Outcome, Place};
use crate::job::{Job, Kind, Product, ProductsPerTask, TaskDataVersion, UnitSystem};
use crate::plan::{Maps, Plan};
use crate::units;
use cells::{integer, sets};
use ids::{Ids, Owners};
use outlines::outlines;
use task::{FIRST_SET, MOST_SETS, Task};

pub use cells::TaskDataSums;
pub(super) use variant::{Holds, Variant};

/// Ids of how a rate and a quantity are shown: by the units, so that fields in both can lie in one set.
fn shown(units: UnitSystem) -> [&'static str; 2] {
    match units {
        UnitSystem::Metric => ["VPN1", "VPN2"],
        UnitSystem::UsCustomary => ["VPN3", "VPN4"],
    }
}

/// The files of one data set.
pub(super) struct TaskData {
    /// Name in the folder `TASKDATA`, and content; the main file first.
    pub files: Vec<(String, Vec<u8>)>,
    pub sums: TaskDataSums,
}

/// Task data for a terminal; `None` where zones should hold the map and there are more than 250 sets of rates
/// or polygons.
///
/// # Errors
/// A rate that does not fit the integers of the format, or grid numbers that it cannot write without
/// changing them.
pub(super) fn of(plan: &Plan, variant: Variant) -> Outcome<Option<TaskData>> {
    let grid = &plan.maps.rate.degrees;
    let raw_sets = cells::raw_sets(grid)?;
    let count = plan.job.products.len();
    let tasks: Vec<Vec<usize>> = match variant.products_per_task {
        ProductsPerTask::All => vec![(0..count).collect()],
        ProductsPerTask::One => (0..count).map(|at| vec![at]).collect(),
    };
    let ids = Ids::of(plan, variant);
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
        .children(crop::element(&plan.job, &ids))
        .children(owners(plan, &ids, variant.version)?)
        .children(products(&plan.job, &ids, variant.version));
    let machine = plan.land.on_terminal.devices_for(variant.version);
    root = root.children(machine.iter().flatten().cloned());
    let mut files = Vec::new();
    for (nth, products) in tasks.iter().enumerate() {
        let own = cells::values(grid, &raw_sets, products);
        let mut sets_of_zones = Vec::new();
        let mut binary = None;
        match variant.holds {
            Holds::Rates => binary = Some(taskdata::encode_cells(&own)),
            Holds::ZoneNumbers => {
                let Some((sets, places)) = sets(&own, products.len(), MOST_SETS) else {
                    return Ok(None);
                };
                sets_of_zones = sets;
                binary = Some(places.iter().map(|place| place + FIRST_SET).collect());
            }
            Holds::Polygons => {
                let map = task::polygon_map(&plan.maps, products);
                if map.is_none_or(|map| map.polygons() > MOST_SETS) {
                    return Ok(None);
                }
            }
        }
        let task = Task {
            plan,
            variant,
            machine: machine.as_deref(),
            ids: &ids,
            nth,
            products,
            sets: sets_of_zones,
            bytes: binary.as_ref().map(Vec::len),
        };
        root = root.child(task.element()?);
        if let Some(bytes) = binary {
            files.push((format!("{}.bin", task.grid_name()), bytes));
        }
    }
    let xml = root.document().map_err(|error| {
        Fault::program(
            "write.task_data",
            Place::nowhere(),
            format!("The XML text could not be made: {error}"),
            "plain text",
        )
    })?;
    files.insert(0, ("TASKDATA.XML".to_string(), xml));
    let sums = cells::sums(grid, &raw_sets);
    Ok(Some(TaskData { files, sums }))
}

/// What the integers of the grid stand for, without making any file.
///
/// # Errors
/// A rate that does not fit the integers of the format.
pub(super) fn sums(maps: &Maps) -> Outcome<TaskDataSums> {
    let grid = &maps.rate.degrees;
    Ok(cells::sums(grid, &cells::raw_sets(grid)?))
}

/// Customer, farm and partfield.
fn owners(plan: &Plan, ids: &Ids, version: TaskDataVersion) -> Outcome<[Element; 3]> {
    let shown = Owners::of(&plan.job, &plan.id);
    let known = plan.land.on_terminal.field.as_ref();
    // An id of the terminal keeps the terminal's name.
    let theirs = |own: Option<&(String, String)>| own.map(|(_, name)| designator(name));
    let customer = theirs(known.and_then(|own| own.customer.as_ref())).unwrap_or(shown.customer);
    let farm = theirs(known.and_then(|own| own.farm.as_ref())).unwrap_or(shown.farm);
    let named = known.map(|own| designator(&own.name));
    let name = named.filter(|name| !name.is_empty()).unwrap_or(shown.field);
    let area = plan.tally.planned.mapped_m2.round();
    if !(0.0..4_294_967_294.0).contains(&area) {
        let found = format!("The mapped area is {area} m2");
        return Err(broken(Place::nowhere(), found, "areas below 2^32 m2"));
    }
    let partfield = Element::new("PFD")
        .with("A", &ids.partfield)
        .with("C", name)
        .with("D", area)
        .with("E", &ids.customer)
        .with("F", &ids.farm);
    let partfield = match crop::crop(&plan.job) {
        Some(_) => partfield.with("G", &ids.crop),
        None => partfield,
    };
    let partfield = partfield
        .children(outlines(&plan.land, version)?)
        // The guide line first: a reader may take the first line for it.
        .children(guidance::line(plan, ids, version)?)
        .children(tramlines::lines(plan)?);
    Ok([
        Element::new("CTR")
            .with("A", &ids.customer)
            .with("B", customer),
        Element::new("FRM")
            .with("A", &ids.farm)
            .with("B", farm)
            .with("I", &ids.customer),
        partfield,
    ])
}

/// How rates (steps of 0.01 kg/ha) and quantities (grams) are shown, in the units of the report; groups of products, and products.
fn products(job: &Job, ids: &Ids, version: TaskDataVersion) -> Vec<Element> {
    let [rate_shown, quantity_shown] = shown(job.report.units);
    let shown = |id: &str, scale: &str, decimals: u8, name: &str| {
        let element = Element::new("VPN")
            .with("A", id)
            .with("B", 0)
            .with("C", scale);
        element.with("D", decimals).with("E", name)
    };
    // Per step of the file: nine decimals are the most that the standard takes.
    let mut elements = match job.report.units {
        UnitSystem::Metric => vec![
            shown(rate_shown, "0.01", 2, "kg/ha"),
            shown(quantity_shown, "0.001", 1, "kg"),
        ],
        UnitSystem::UsCustomary => {
            let rate = units::lb_per_acre_from_kg_per_ha(0.01);
            let quantity = units::lb_from_kg(0.001);
            vec![
                shown(rate_shown, &format!("{rate:.9}"), 1, "lb/ac"),
                shown(quantity_shown, &format!("{quantity:.9}"), 0, "lb"),
            ]
        }
    };
    for kind in [Kind::Seed, Kind::Fertiliser] {
        let (id, name) = group(kind);
        if job.products.iter().any(|product| product.kind == kind) {
            elements.push(Element::new("PGP").with("A", id).with("B", name));
        }
    }
    let names = product_names(job);
    for (at, product) in job.products.iter().enumerate() {
        let name = names.get(at).map_or("", |own| own.task_data.as_str());
        elements.push(self::product(
            ids.product(at),
            name,
            product,
            quantity_shown,
            version,
        ));
    }
    elements
}

/// Id and name of the group of a kind: the same in every set, so that fields can lie in one.
fn group(kind: Kind) -> (&'static str, &'static str) {
    match kind {
        Kind::Seed => ("PGP1", "Seed"),
        Kind::Fertiliser => ("PGP2", "Fertiliser"),
    }
}

fn product(
    id: &str,
    name: &str,
    product: &Product,
    quantity_shown: &str,
    version: TaskDataVersion,
) -> Element {
    let (group, _) = group(product.kind);
    let mut element = Element::new("PDT")
        .with("A", id)
        .with("B", name)
        .with("C", group)
        .with("D", quantity_shown)
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

/// The fault for a job that wants more zones than there are codes for.
pub(super) fn too_many_sets(holds: Holds) -> Box<Fault> {
    let (what, setting) = match holds {
        Holds::Polygons => ("polygons", "map_as = \"polygons\""),
        _ => ("sets of rates", "grid_holds = \"zone_numbers\""),
    };
    Fault::input(
        "write.zone_numbers",
        Place::nowhere(),
        format!(
            "The map has more than {MOST_SETS} different {what}, and treatment zones have no more codes"
        ),
        format!("up to {MOST_SETS} {what} with {setting}"),
        "Remove that setting under [terminal], or round the rates more coarsely.",
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
