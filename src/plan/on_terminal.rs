//! What the terminal knows already: the field by its id, and the parts of the machine that meter the products.
//! Method: docs/methods/terminal-machine.md.

use crate::codec::taskdata::{ELEMENT_INSTANCE, Element, SETPOINT_MASS_PER_AREA, device, is_id};
use crate::findings::{Decision, Fault, Finding, Outcome, Place};
use crate::job::{Job, Product, ProductsPerTask, TaskDataVersion};
use crate::read::Layer;
use crate::read::taskdata::{self, DeviceElement, Partfield, TaskSet};
use std::path::Path;

/// What a device element is: a bin.
const BIN: u8 = 3;

/// Field and machine as task data from the terminal describe them.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct OnTerminal {
    /// The field; `None` if no task data name it.
    pub field: Option<KnownField>,
    /// Descriptions of the devices that meter products, as they came.
    pub devices: Vec<Element>,
    /// Per product (job order) the element that meters it; empty without a machine.
    pub elements: Vec<MeteredBy>,
}

/// A field that the terminal knows.
#[derive(Debug, Clone, PartialEq)]
pub struct KnownField {
    /// Id of the partfield, such as `PFD3`.
    pub id: String,
    /// Name of the partfield.
    pub name: String,
    /// Id and name, where the set has them.
    pub customer: Option<(String, String)>,
    /// Id and name, where the set has them.
    pub farm: Option<(String, String)>,
}

/// A part of the machine that meters a product.
#[derive(Debug, Clone, PartialEq)]
pub struct MeteredBy {
    /// Id, such as `DET3`.
    pub id: String,
    /// Designator of the element.
    pub name: String,
    /// Which of the elements of its kind it is, from 0, where its description says so (entry 178); of a function that of the one bin below it.
    pub instance: Option<i32>,
}

impl OnTerminal {
    /// Ids that the terminal has given to customer, farm and field.
    pub fn ids(&self) -> impl Iterator<Item = &str> {
        let known = self.field.iter();
        known.flat_map(|field| {
            let owners = [&field.customer, &field.farm].into_iter().flatten();
            let owners = owners.map(|(id, _)| id.as_str());
            owners.chain([field.id.as_str()])
        })
    }

    /// The devices as a version of the standard takes them; `None` where it does not take one of them.
    pub fn devices_for(&self, version: TaskDataVersion) -> Option<Vec<Element>> {
        let devices = self.devices.iter();
        devices
            .map(|own| device(own, major(version)).ok())
            .collect()
    }
}

fn major(version: TaskDataVersion) -> u8 {
    match version {
        TaskDataVersion::V4_3 => 4,
        TaskDataVersion::V3_3 => 3,
    }
}

/// Reads what `[terminal]` of the job names; without it only the id of a boundary that is task data.
///
/// # Errors
/// No readable task data; a hopper whose part of the machine is not there or not plain; a description that the
/// version of the ready form does not take.
pub(super) fn read<P>(job: &Job, boundary: &Layer<P>) -> Outcome<(OnTerminal, Vec<Finding>)> {
    let mut findings = Vec::new();
    let Some(from) = &job.terminal.from else {
        let known = taskdata::is_task_data(&boundary.file);
        let field = match known {
            true => field(job, &open(&boundary.file)?, boundary, true, &mut findings),
            false => None,
        };
        let found = OnTerminal {
            field,
            ..OnTerminal::default()
        };
        return Ok((found, findings));
    };
    let path = job.folder.join(from);
    if !taskdata::is_task_data(&path) {
        return Err(Fault::input(
            "plan.terminal_from",
            Place::file(&path),
            "This is no task data",
            "a folder TASKDATA or a zip file that came from the terminal",
            "Correct `from` under [terminal], or remove it.",
        ));
    }
    let set = open(&path)?;
    let same = taskdata::is_task_data(&boundary.file) && boundary.file == path;
    let mut found = OnTerminal {
        field: field(job, &set, boundary, same, &mut findings),
        ..OnTerminal::default()
    };
    let place = Place::file(&path);
    if set.elements.is_empty() {
        if let Some(hopper) = job.drill.hoppers.iter().find(|own| own.element.is_some()) {
            let element = hopper.element.as_deref().unwrap_or_default();
            return Err(unknown_element(&path, &hopper.name, element, 0, &set));
        }
        findings.push(Finding::note(
            "plan.no_machine",
            place,
            "The task data describe no machine, so the maps do not name the meters: choose product and meter at the terminal.",
        ));
        return Ok((found, findings));
    }
    for product in &job.products {
        let element = metering(job, product, &set, &path)?;
        if found.elements.iter().any(|own| own.id == element.id) {
            return Err(Fault::input(
                "plan.element",
                place,
                format!(
                    "The element {} of the machine would meter two products, '{}' is the second",
                    element.id, product.id
                ),
                listed(&set),
                "Give each [[drill.hopper]] an `element` of its own.",
            ));
        }
        findings.extend(rate_of(element, product, &set, &place));
        let of_it = |own: &&Element| own.get("A") == Some(element.device.as_str());
        let descriptions = set.devices.iter().map(|own| &own.description);
        let known = found.devices.iter().any(|own| of_it(&own));
        if let Some(own) = descriptions.clone().find(of_it).filter(|_| !known) {
            found.devices.push(own.clone());
        }
        found.elements.push(MeteredBy {
            id: element.id.clone(),
            name: element.name.clone(),
            instance: instance(element, &set),
        });
    }
    check_versions(job, &found, &place, &mut findings)?;
    findings.push(channels(job, &set, &place));
    Ok((found, findings))
}

fn open(path: &Path) -> Outcome<TaskSet> {
    let nothing = taskdata::Parts {
        grids: false,
        logs: false,
    };
    taskdata::read_parts(path, nothing)
}

/// The field in the set: the one that the boundary is, else the one with the job's name for it.
fn field<P>(
    job: &Job,
    set: &TaskSet,
    boundary: &Layer<P>,
    is_boundary: bool,
    findings: &mut Vec<Finding>,
) -> Option<KnownField> {
    let name = job.field.name.trim();
    let own = boundary.features.first().map(|own| own.name.as_str());
    let fits = |field: &&Partfield| match is_boundary {
        true => Some(field.id.as_str()) == own,
        false => field.name.trim().eq_ignore_ascii_case(name),
    };
    let place = Place::file(&set.file);
    let mut found = set.partfields.iter().filter(fits);
    let (first, second) = (found.next(), found.next());
    let usable = first.filter(|field| second.is_none() && is_id(&field.id, "PFD"));
    let Some(field) = usable else {
        let why = match (first, second) {
            (None, _) => format!("No field of the task data is called '{name}'"),
            (_, Some(_)) => format!("Several fields of the task data are called '{name}'"),
            (Some(field), None) => format!("The field's id '{}' is no proper one", field.id),
        };
        findings.push(Finding::warning(
            "plan.new_partfield",
            place,
            format!("{why}, so the terminal will see '{name}' as a new field. `field.name` has to be the terminal's name for it."),
        ));
        return None;
    };
    let owner = |id: &Option<String>, name: &str, tag: &str| {
        let id = id.clone().filter(|id| is_id(id, tag));
        id.zip(Some(name.to_string()).filter(|name| !name.is_empty()))
    };
    Some(KnownField {
        id: field.id.clone(),
        name: field.name.clone(),
        customer: owner(&field.customer_id, &field.customer, "CTR"),
        farm: owner(&field.farm_id, &field.farm, "FRM"),
    })
}

/// The element that meters a product: what its hopper names, else the one named like the hopper.
fn metering<'a>(
    job: &Job,
    product: &Product,
    set: &'a TaskSet,
    path: &Path,
) -> Outcome<&'a DeviceElement> {
    let hoppers = &job.drill.hoppers;
    let hopper = hoppers.iter().find(|own| own.name == product.hopper);
    let named = hopper.and_then(|own| own.element.as_deref());
    let wanted = named.unwrap_or(&product.hopper).trim();
    let by_id = set.elements.iter().find(|own| own.id == wanted);
    let called = |own: &&DeviceElement| own.name.trim().eq_ignore_ascii_case(wanted);
    let mut by_name = set.elements.iter().filter(called);
    let (first, count) = (by_name.clone().next(), by_name.by_ref().count());
    let usable = |own: &&DeviceElement| is_id(&own.id, "DET");
    by_id
        .or(first.filter(|_| count == 1))
        .filter(usable)
        .ok_or_else(|| unknown_element(path, &product.hopper, wanted, count, set))
}

fn unknown_element(
    path: &Path,
    hopper: &str,
    wanted: &str,
    count: usize,
    set: &TaskSet,
) -> Box<Fault> {
    let found = match count {
        0 => format!("No element of the machine is called '{wanted}', for hopper '{hopper}'"),
        _ => format!(
            "{count} elements of the machine are called '{wanted}', and hopper '{hopper}' is one of them"
        ),
    };
    Fault::input(
        "plan.element",
        Place::file(path),
        found,
        listed(set),
        "Name its element by the id: element = \"DET3\" under that [[drill.hopper]].",
    )
}

/// Which of the elements of its kind an element is, as its description fixes it; else that of the only bin that hangs on it.
fn instance(element: &DeviceElement, set: &TaskSet) -> Option<i32> {
    let own = |of: &DeviceElement| {
        let fixed = of.fixed.iter().find(|(ddi, _)| *ddi == ELEMENT_INSTANCE);
        fixed.map(|(_, value)| *value).filter(|value| *value >= 0)
    };
    let is_bin_of = |other: &&DeviceElement| {
        let same = other.device == element.device && element.object.is_some();
        same && other.kind == Some(BIN) && other.parent == element.object
    };
    let mut bins = set.elements.iter().filter(is_bin_of);
    let only = bins.next().filter(|_| bins.next().is_none());
    own(element).or_else(|| only.and_then(own))
}

/// The elements that could meter a product: those that take a rate, else the bins, else all.
fn listed(set: &TaskSet) -> String {
    let pick = |test: &dyn Fn(&DeviceElement) -> bool| -> Vec<String> {
        let found = set.elements.iter().filter(|own| test(own)).take(12);
        found
            .map(|own| format!("{} '{}'", own.id, own.name))
            .collect()
    };
    let mut named = pick(&|own| own.settable.iter().any(|ddi| rate_name(*ddi).is_some()));
    if named.is_empty() {
        named = pick(&|own| own.kind == Some(BIN));
    }
    if named.is_empty() {
        named = pick(&|_| true);
    }
    match named.is_empty() {
        true => "an element of a machine, and these task data describe none".to_string(),
        false => format!("one of: {}", named.join(", ")),
    }
}

/// Setpoints of a rate, by the data dictionary.
fn rate_name(ddi: u16) -> Option<&'static str> {
    Some(match ddi {
        0x0001 => "volume per area",
        SETPOINT_MASS_PER_AREA => "mass per area",
        0x000B => "count per area",
        _ => return None,
    })
}

/// Whether the element takes a rate in kg/ha by its own description.
fn rate_of(
    element: &DeviceElement,
    product: &Product,
    set: &TaskSet,
    place: &Place,
) -> Vec<Finding> {
    let is = format!(
        "'{}' in hopper '{}' is metered by {} '{}' of the machine",
        product.id, product.hopper, element.id, element.name
    );
    let place = place.clone();
    if element.settable.contains(&SETPOINT_MASS_PER_AREA) {
        let message = format!("{is}; compare it with the terminal's list of the machine.");
        return vec![Finding::note("plan.element", place, message)];
    }
    let takes: Vec<&str> = element
        .settable
        .iter()
        .filter_map(|ddi| rate_name(*ddi))
        .collect();
    let takes = match takes.is_empty() {
        true => "takes no rate by its description".to_string(),
        false => format!("takes {} only", takes.join(" and ")),
    };
    vec![Finding::decision(
        Decision::ElementTakesNoMass,
        place,
        format!(
            "{is}, which {takes}; the map says mass per area (kg/ha). Elements that could be meant: {}.",
            listed(set)
        ),
    )
    .of_products([product.id.as_str()])]
}

/// Refuses a description that the ready form cannot hold; says so where another form cannot.
fn check_versions(
    job: &Job,
    found: &OnTerminal,
    place: &Place,
    findings: &mut Vec<Finding>,
) -> Outcome<()> {
    let ready = job.terminal.task_data_version;
    for version in [TaskDataVersion::V4_3, TaskDataVersion::V3_3] {
        let mut devices = found.devices.iter();
        let Some(why) = devices.find_map(|own| device(own, major(version)).err()) else {
            continue;
        };
        let place = place.clone();
        if version == ready {
            return Err(Fault::input(
                "plan.device",
                place,
                format!("The description of the machine cannot be sent back: {why}"),
                "a description as the standard has it",
                "Copy the task data from the terminal again, or remove `from` under [terminal] and choose the meters at the terminal.",
            ));
        }
        findings.push(Finding::note(
            "plan.device",
            place,
            format!(
                "Task data of version {} under terminal/fallback do not name the meters, for they cannot hold the description of the machine: {why}.",
                major(version)
            ),
        ));
    }
    Ok(())
}

/// Whether the terminal controls as many products at once as a task has.
fn channels(job: &Job, set: &TaskSet, place: &Place) -> Finding {
    let wanted = match job.terminal.products_per_task {
        ProductsPerTask::All => job.products.len(),
        ProductsPerTask::One => 1,
    };
    let place = place.clone();
    match set.channels {
        Some(channels) if (channels as usize) < wanted => Finding::decision(
            Decision::TooFewChannels,
            place,
            format!(
                "The terminal says that it controls {channels} channels at once, and the ready task has {wanted} maps. Set products_per_task = \"one\" under [terminal], or ask for more channels to be unlocked."
            ),
        ),
        Some(channels) => Finding::note(
            "plan.channels",
            place,
            format!(
                "The terminal says that it controls {channels} channels at once; a task needs {wanted}."
            ),
        ),
        None => Finding::note(
            "plan.channels",
            place,
            format!(
                "The task data do not say how many channels the terminal controls at once; a task needs {wanted}."
            ),
        ),
    }
}
