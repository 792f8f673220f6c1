//! Task data as layers: fields, what lies in them, lines, maps and logs, each as a table of the set.

mod cells;
mod drawn;
mod points;

use super::container::Container;
use super::{Parts, TaskGrid, TaskSet, read_parts};
use crate::codec::room;
use crate::codec::taskdata::known;
use crate::coordinates::LonLat;
use crate::findings::{Fault, Outcome, Place};
use crate::read::file::{closest, listed};
use crate::read::{DeclaredCrs, Feature, Layer, TableSummary, Value};
use std::collections::{BTreeMap, BTreeSet};
use std::path::{Path, PathBuf};

/// Format in words.
pub(in crate::read) const FORMAT: &str = "task data (ISO 11783-10)";

/// The tables a set may have, in the order in which they are listed.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Table {
    Boundary,
    Obstacles,
    Areas,
    Guidance,
    Zones,
    Grid,
    Log,
}

impl Table {
    const ALL: [Self; 7] = [
        Self::Boundary,
        Self::Obstacles,
        Self::Areas,
        Self::Guidance,
        Self::Zones,
        Self::Grid,
        Self::Log,
    ];

    fn name(self) -> &'static str {
        match self {
            Self::Boundary => "boundary",
            Self::Obstacles => "obstacles",
            Self::Areas => "areas",
            Self::Guidance => "guidance",
            Self::Zones => "zones",
            Self::Grid => "grid",
            Self::Log => "log",
        }
    }

    fn parts(self) -> Parts {
        Parts {
            grids: self == Self::Grid,
            logs: self == Self::Log,
        }
    }

    /// How many features there are, without making them; for a grid its cells.
    fn count(self, set: &TaskSet) -> usize {
        let fields = set.partfields.iter();
        match self {
            Self::Boundary => fields.filter(|field| !field.boundary.is_empty()).count(),
            Self::Obstacles => fields.map(|field| field.obstacles.len()).sum(),
            Self::Areas => fields.map(|field| field.areas.len()).sum(),
            Self::Guidance => fields.map(|field| field.guidance.len()).sum(),
            Self::Zones => {
                let zones = set.tasks.iter().flat_map(|task| &task.zones);
                zones.filter(|zone| !zone.polygons.is_empty()).count()
            }
            Self::Grid => {
                let grids = set.tasks.iter().filter_map(|task| task.grid.as_ref());
                let cells = grids.map(|grid| grid.raw.first().map_or(0, Vec::len));
                cells.sum()
            }
            Self::Log => {
                let logs = set.tasks.iter().flat_map(|task| &task.logs);
                logs.map(|(_, log)| log.records.len()).sum()
            }
        }
    }

    fn geometry(self) -> &'static str {
        match self {
            Self::Guidance => "lines",
            Self::Log => "points",
            _ => "polygons",
        }
    }
}

/// The tables that hold anything.
pub(in crate::read) fn tables(path: &Path) -> Outcome<Vec<TableSummary>> {
    let set = super::read(path)?;
    let full = Table::ALL.iter().filter(|table| table.count(&set) > 0);
    let tables: Vec<TableSummary> = full
        .map(|table| TableSummary {
            name: Some(table.name().to_string()),
            geometry: table.geometry().to_string(),
            features: table.count(&set) as u64,
        })
        .collect();
    match tables.is_empty() {
        true => Err(nothing_in(path, &set)),
        false => Ok(tables),
    }
}

/// The fault for a set of which nothing can be read, with the first things that were wrong with it.
pub(in crate::read) fn nothing_in(path: &Path, set: &TaskSet) -> Box<Fault> {
    const SAID: usize = 5;
    let mut found = "No field, map, line or log can be read from these task data".to_string();
    for finding in set.findings.iter().take(SAID) {
        let place = finding.place.feature.as_deref().unwrap_or("");
        let between = if place.is_empty() { "" } else { ": " };
        let message = finding.message.trim_end_matches('.');
        found.push_str(&format!("; {place}{between}{message}"));
    }
    if set.findings.len() > SAID {
        found.push_str(&format!("; and {} more", set.findings.len() - SAID));
    }
    Fault::input(
        "read.task_data_empty",
        Place::file(path),
        found,
        "task data with a field (PFD), or a task (TSK) with polygons, a grid or a time log",
        "Copy the whole folder TASKDATA again, from the terminal or the office program that made it.",
    )
}

/// One table as a layer; without a name the outlines of the fields.
pub(in crate::read) fn layer(path: &Path, wanted: Option<&str>) -> Outcome<Layer> {
    let wanted = wanted.unwrap_or(Table::Boundary.name());
    let Some(table) = Table::ALL.iter().find(|table| table.name() == wanted) else {
        let names = || Table::ALL.iter().map(|table| table.name());
        return Err(no_table(
            path,
            wanted,
            listed(names()),
            closest(wanted, names()),
        ));
    };
    let set = read_parts(path, table.parts())?;
    if table.count(&set) == 0 {
        let whole = super::read(path)?;
        let full = Table::ALL.iter().filter(|table| table.count(&whole) > 0);
        let full: Vec<&str> = full.map(|table| table.name()).collect();
        let allowed = match full.is_empty() {
            true => "there is nothing in these task data that is a map".to_string(),
            false => format!("tables with something in them: {}", listed(full)),
        };
        return Err(no_table(path, wanted, allowed, None));
    }
    let mut layer = Layer {
        file: path.to_path_buf(),
        format: FORMAT,
        table: Some(table.name().to_string()),
        // Positions are WGS 84 degrees by the standard.
        crs: DeclaredCrs::Text("EPSG:4326".to_string()),
        attributes: Vec::new(),
        features: Vec::new(),
        findings: set.findings.clone(),
    };
    match table {
        Table::Boundary => drawn::boundary(&set, &mut layer),
        Table::Obstacles => drawn::obstacles(&set, &mut layer),
        Table::Areas => drawn::areas(&set, &mut layer),
        Table::Guidance => drawn::guidance(&set, &mut layer),
        Table::Zones => drawn::zones(&set, &mut layer)?,
        Table::Grid => cells::fill(&set, &mut layer)?,
        Table::Log => points::fill(&set, &mut layer),
    }
    Ok(layer)
}

/// The grid of the one task that `only` leaves, for reading it as a raster: names of its bands, and the grid.
pub(in crate::read) fn raster(
    path: &Path,
    only: &std::collections::BTreeMap<String, String>,
) -> Outcome<(Vec<String>, TaskGrid)> {
    let set = read_parts(path, Table::Grid.parts())?;
    let mut found: Vec<(&str, &TaskGrid, Vec<String>)> = Vec::new();
    for task in &set.tasks {
        let Some(grid) = task.grid.as_ref().filter(|grid| !grid.raw.is_empty()) else {
            continue;
        };
        let attributes = task_values(&set, task);
        let fits = only.iter().all(|(name, wanted)| {
            let value = attributes.iter().find(|(own, _)| own == name);
            value.is_some_and(|(_, value)| value.matches(wanted))
        });
        if fits {
            found.push((&task.id, grid, columns(&set, grid)));
        }
    }
    match found.as_slice() {
        [(_, grid, names)] => Ok((names.clone(), (*grid).clone())),
        several => Err(Fault::input(
            "read.task_data_grids",
            Place::file(path).layer(Table::Grid.name()),
            format!("{} tasks with a grid are meant", several.len()),
            match several.is_empty() {
                true => "a task with a whole grid".to_string(),
                false => format!("one of {}", listed(several.iter().map(|(id, ..)| *id))),
            },
            "Name the task: only = { task = \"TSK1\" }; 'twinsow describe' lists them.",
        )),
    }
}

/// The files that a folder of task data consists of, or the zip file.
pub(in crate::read) fn loose_files(path: &Path) -> Vec<PathBuf> {
    match Container::open(path) {
        Ok(container) if path.is_dir() || super::is_main(path) => container.loose_files(),
        _ => vec![path.to_path_buf()],
    }
}

fn no_table(path: &Path, wanted: &str, allowed: String, near: Option<&str>) -> Box<Fault> {
    Fault::input(
        "read.no_table",
        Place::file(path),
        format!("There is no table '{wanted}' in these task data"),
        allowed,
        match near {
            Some(near) => format!("Correct `table` in the job; did you mean '{near}'?"),
            None => {
                "Correct `table` in the job; 'twinsow describe' lists what is there.".to_string()
            }
        },
    )
}

/// Bytes that a feature takes, with these values and so many more that are numbers.
fn feature_bytes(values: &[Value], more: usize) -> usize {
    let texts = values.iter().map(|value| match value {
        Value::Text(text) => text.len() + room::PER_PIECE,
        _ => 0,
    });
    size_of::<Feature>()
        + 4 * room::PER_PIECE
        + texts.sum::<usize>()
        + (values.len() + more) * size_of::<Value>()
}

/// The fault for a table that takes more memory than the files of its set allow.
fn too_wide(set: &TaskSet, layer: &Layer, task: &str) -> Box<Fault> {
    Fault::input(
        "read.task_data_wide",
        layer.place().feature(task),
        format!(
            "The table has {} columns, one for each kind of value in any task, and a row for every piece, most of it empty",
            layer.attributes.len()
        ),
        format!(
            "a table of up to {} MB from files of {} bytes",
            room::most(set.bytes) / 1_000_000,
            set.bytes
        ),
        "Copy only the tasks you need from the terminal; or read a grid as values: values = { method = \"natural_breaks\", classes = 4 } instead of class_attribute.",
    )
}

/// A text, or nothing where it is empty.
fn said(text: &str) -> Value {
    match text.is_empty() {
        true => Value::Missing,
        false => Value::Text(text.to_string()),
    }
}

/// What every feature of a task is told apart by.
fn task_values(set: &TaskSet, task: &super::Task) -> Vec<(&'static str, Value)> {
    let field = set
        .partfields
        .iter()
        .find(|field| Some(&field.id) == task.partfield.as_ref());
    vec![
        ("task", said(&task.id)),
        ("task_name", said(&task.name)),
        (
            "field",
            field.map_or(Value::Missing, |field| said(&field.name)),
        ),
    ]
}

/// Names for the variables of a grid, such as `Oats_kg_per_ha`: product, and what the value is.
fn columns(set: &TaskSet, grid: &TaskGrid) -> Vec<String> {
    let mut names: Vec<String> = Vec::new();
    let mut taken: BTreeSet<String> = BTreeSet::new();
    // The number that the next one of a name gets.
    let mut numbers: BTreeMap<String, usize> = BTreeMap::new();
    let products = set.products.iter().rev();
    let products: BTreeMap<&str, &str> = products.map(|(id, name)| (&**id, &**name)).collect();
    for variable in &grid.variables {
        let id = variable.product.as_deref();
        let product = match id.and_then(|id| products.get(id)) {
            Some(name) if !name.is_empty() => (*name).to_string(),
            _ => id.unwrap_or("map").to_string(),
        };
        let what = match known(variable.ddi) {
            Some(known) => known.name.trim_start_matches("setpoint_").to_string(),
            None => format!("ddi_{:04X}", variable.ddi),
        };
        let blank = |c: char| if c.is_whitespace() { '_' } else { c };
        let base: String = format!("{product}_{what}").chars().map(blank).collect();
        let number = numbers.entry(base.clone()).or_insert(1);
        let mut name = base.clone();
        while !taken.insert(name.clone()) {
            *number += 1;
            name = format!("{base}_{number}");
        }
        names.push(name);
    }
    names
}

/// Raw values to those of the column.
fn factor(ddi: u16) -> f64 {
    known(ddi).map_or(1.0, |known| known.factor)
}

/// All places of task data are degrees on WGS 84 by the standard (ISO 11783-10), and so is a layer of it.
fn feature(name: String, geometry: crate::read::Geometry<LonLat>, values: Vec<Value>) -> Feature {
    Feature {
        name,
        geometry: geometry.moved(|path| path.into_iter().map(LonLat::pair).collect()),
        values,
    }
}
