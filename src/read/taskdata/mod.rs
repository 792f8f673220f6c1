//! Task data of ISO 11783-10, any version, from a folder or a zip file. What is there is read; what is
//! missing, cut off or not understood becomes a finding, and only a data set without a readable main file
//! is refused.

mod container;
mod grid;
mod outline;
#[cfg(test)]
mod tests;

use crate::codec::taskdata::{Element, Log, decode_log, parse, parse_ddi};
use crate::findings::{Fault, Finding, Outcome, Place};
use crate::read::{Path as Line, Polygon};
use container::{Container, MAIN};
use std::path::{Path, PathBuf};

/// A data set.
#[derive(Debug, Clone, PartialEq)]
pub struct TaskSet {
    /// What the user named.
    pub file: PathBuf,
    /// Version as the file states it, such as `4.3`.
    pub version: String,
    /// 1: made in the office, 2: made on the machine.
    pub origin: Option<u8>,
    pub partfields: Vec<Partfield>,
    /// Id and name, in document order.
    pub products: Vec<(String, String)>,
    pub tasks: Vec<Task>,
    pub findings: Vec<Finding>,
}

/// A field as the terminal knows it.
#[derive(Debug, Clone, PartialEq)]
pub struct Partfield {
    pub id: String,
    pub name: String,
    /// Area as stated, m2.
    pub area_m2: Option<f64>,
    /// Lon/lat, as drawn.
    pub boundary: Vec<Polygon>,
    /// Water, buildings, roads and obstacles inside it.
    pub obstacles: Vec<Polygon>,
    /// Guidance lines: name and points in lon/lat.
    pub guidance: Vec<(String, Line)>,
}

/// A task.
#[derive(Debug, Clone, PartialEq)]
pub struct Task {
    pub id: String,
    pub name: String,
    /// Id of the partfield.
    pub partfield: Option<String>,
    /// Codes of the zones for the default, a lost position and outside the field.
    pub default: Option<u8>,
    pub position_lost: Option<u8>,
    pub out_of_field: Option<u8>,
    pub zones: Vec<TreatmentZone>,
    pub grid: Option<TaskGrid>,
    /// File names and content of the time logs.
    pub logs: Vec<(String, Log)>,
}

/// A treatment zone.
#[derive(Debug, Clone, PartialEq)]
pub struct TreatmentZone {
    pub code: u8,
    pub name: String,
    pub variables: Vec<Variable>,
    pub polygons: Vec<Polygon>,
}

/// A process data variable.
#[derive(Debug, Clone, PartialEq)]
pub struct Variable {
    /// Data dictionary number.
    pub ddi: u16,
    /// Raw value.
    pub value: i32,
    /// Ids of the product and of the device element.
    pub product: Option<String>,
    pub element: Option<String>,
}

/// A grid of a task. Cell (column 0, row 0) is the south-west one; columns run fastest.
#[derive(Debug, Clone, PartialEq)]
pub struct TaskGrid {
    /// Name of its file, as the main file gives it.
    pub name: String,
    /// Outer south-west corner, lon/lat in degrees.
    pub origin: [f64; 2],
    /// Width (east) and height (north) of a cell, degrees.
    pub cell: [f64; 2],
    pub columns: usize,
    pub rows: usize,
    /// 1: codes of zones; 2: values.
    pub kind: u8,
    /// The variables, in the order of [`TaskGrid::raw`].
    pub variables: Vec<Variable>,
    /// Per variable, per cell: raw value. A cell that the file lacks is `None`.
    pub raw: Vec<Vec<Option<i32>>>,
    /// Set if the binary does not fit: a plain line on how.
    pub broken: Option<String>,
}

/// Whether this is task data by its name or content: a folder with the main file, the main file itself, or a
/// zip file that holds one.
pub fn is_task_data(path: &Path) -> bool {
    let name = path.file_name().unwrap_or_default().to_string_lossy();
    let ends = |end: &str| name.to_ascii_lowercase().ends_with(end);
    (path.is_dir() || ends(".zip") || name.eq_ignore_ascii_case(MAIN))
        && Container::open(path).is_ok()
}

/// Reads a data set.
///
/// # Errors
/// One fault: no main file; it is no XML or no task data; a file of more than 256 MB; the disk.
pub fn read(path: &Path) -> Outcome<TaskSet> {
    let mut container = Container::open(path)?;
    let place = Place::file(path);
    let mut findings = Vec::new();
    let Some((real, bytes)) = container.get(MAIN)? else {
        return Err(no_root(path, "The main file is gone"));
    };
    if real != MAIN {
        findings.push(Finding::warning(
            "read.task_data_case",
            place.clone(),
            format!("The main file is named '{real}'; many terminals look for '{MAIN}' only."),
        ));
    }
    let mut root = parse(&bytes).map_err(|bad| {
        Fault::input(
            "read.task_data_xml",
            place.clone().layer(real.clone()).line(bad.line),
            format!("The text is no XML that can be read: {}", bad.what),
            "well-formed XML",
            "Copy the folder from the terminal or stick again.",
        )
    })?;
    if root.tag != "ISO11783_TaskData" {
        let found = format!("The root element is '{}'", root.tag);
        return Err(no_root(path, &found));
    }
    merge_external(&mut root, &mut container, &place, &mut findings)?;
    let mut reader = Reader {
        container,
        place,
        findings,
    };
    reader.set(path, &root)
}

/// Puts the content of external files in the place of the references to them. They hold no references
/// of their own: one level is all the standard has, and all that is followed.
fn merge_external(
    root: &mut Element,
    container: &mut Container,
    place: &Place,
    findings: &mut Vec<Finding>,
) -> Outcome<()> {
    let mut children = Vec::new();
    let mut seen: Vec<String> = Vec::new();
    for child in std::mem::take(&mut root.children) {
        if child.tag != "XFR" {
            children.push(child);
            continue;
        }
        let name = child.get("A").unwrap_or_default().to_string();
        let mut skipped = |why: &str| {
            findings.push(Finding::warning(
                "read.task_data_external",
                place.clone().feature(name.clone()),
                format!("The external file {why}, so what it holds is missing."),
            ));
        };
        if !is_stem(&name) {
            skipped("has no proper name (three letters, five digits)");
        } else if seen.contains(&name) {
            skipped("is named twice; it was read once");
        } else {
            seen.push(name.clone());
            match container.get(&format!("{name}.XML"))? {
                None => skipped("is not there"),
                Some((_, bytes)) => match parse(&bytes) {
                    Ok(external) => {
                        let inner = external.children.into_iter();
                        children.extend(inner.filter(|inner| inner.tag != "XFR"));
                    }
                    Err(bad) => skipped(&format!("is no XML (line {}: {})", bad.line, bad.what)),
                },
            }
        }
    }
    root.children = children;
    Ok(())
}

/// Three letters and five digits: nothing that could lead out of the folder.
fn is_stem(name: &str) -> bool {
    name.len() == 8
        && name.bytes().take(3).all(|b| b.is_ascii_alphabetic())
        && name.bytes().skip(3).all(|b| b.is_ascii_digit())
}

fn no_root(path: &Path, found: &str) -> Box<Fault> {
    Fault::input(
        "read.no_task_data",
        Place::file(path),
        found,
        "task data: the root element ISO11783_TaskData in TASKDATA.XML",
        "Name the folder that was copied from the stick.",
    )
}

/// What reading a set carries along.
struct Reader {
    container: Container,
    place: Place,
    findings: Vec<Finding>,
}

impl Reader {
    fn warn(&mut self, feature: &str, message: String) {
        let place = self.place.clone().feature(feature);
        self.findings
            .push(Finding::warning("read.task_data", place, message));
    }

    fn set(&mut self, path: &Path, root: &Element) -> Outcome<TaskSet> {
        let reader = self;
        let part = |name: &str| root.get(name).unwrap_or("?").trim().to_string();
        let version = format!("{}.{}", part("VersionMajor"), part("VersionMinor"));
        let of = |tag: &'static str| root.children.iter().filter(move |child| child.tag == tag);
        let mut partfields = Vec::new();
        for element in of("PFD") {
            partfields.push(reader.partfield(element));
        }
        let products = of("PDT").map(|product| (text(product, "A"), text(product, "B")));
        let products = products.collect();
        let mut tasks = Vec::new();
        for element in of("TSK") {
            tasks.push(reader.task(element)?);
        }
        Ok(TaskSet {
            file: path.to_path_buf(),
            version,
            origin: number(root, "DataTransferOrigin"),
            partfields,
            products,
            tasks,
            findings: std::mem::take(&mut reader.findings),
        })
    }

    fn partfield(&mut self, element: &Element) -> Partfield {
        let id = text(element, "A");
        let kinds = |wanted: &'static [u8]| {
            element.children.iter().filter(move |child| {
                child.tag == "PLN" && number(child, "A").is_some_and(|kind| wanted.contains(&kind))
            })
        };
        // 1: boundary; 3 to 6: water surface, building, road, obstacle.
        let boundary = outline::polygons(kinds(&[1]), &id, self);
        let obstacles = outline::polygons(kinds(&[3, 4, 5, 6]), &id, self);
        Partfield {
            name: text(element, "C"),
            area_m2: number(element, "D"),
            guidance: outline::guidance(element, &id, self),
            boundary,
            obstacles,
            id,
        }
    }

    fn task(&mut self, element: &Element) -> Outcome<Task> {
        let id = text(element, "A");
        let children = |tag: &'static str| element.children.iter().filter(move |c| c.tag == tag);
        let mut zones: Vec<TreatmentZone> = Vec::new();
        for zone in children("TZN") {
            let Some(code) = number::<u8>(zone, "A") else {
                self.warn(
                    &id,
                    "A treatment zone has no usable code and was left out.".into(),
                );
                continue;
            };
            if zones.iter().any(|known| known.code == code) {
                let message =
                    format!("The code {code} is given to two treatment zones; the first counts.");
                self.warn(&id, message);
                continue;
            }
            let variables = zone.children.iter().filter(|c| c.tag == "PDV");
            let mut usable = Vec::new();
            for variable in variables {
                match self.variable(variable) {
                    Some(variable) => usable.push(variable),
                    None => {
                        let message = format!(
                            "A process data variable of zone {code} has no usable number or value and was left out."
                        );
                        self.warn(&id, message);
                    }
                }
            }
            let polygons = zone.children.iter().filter(|c| c.tag == "PLN");
            zones.push(TreatmentZone {
                code,
                name: text(zone, "B"),
                variables: usable,
                polygons: outline::polygons(polygons, &id, self),
            });
        }
        let special = ["H", "I", "J"].map(|name| number::<u8>(element, name));
        for code in special.iter().flatten() {
            if !zones.iter().any(|zone| zone.code == *code) {
                self.warn(
                    &id,
                    format!("The task names the treatment zone {code}, which it lacks."),
                );
            }
        }
        let mut grids = children("GRD");
        let grid = match grids.next() {
            Some(grid) => grid::read(grid, &zones, &id, self)?,
            None => None,
        };
        if grids.next().is_some() {
            self.warn(
                &id,
                "The task has more than one grid; only the first was read.".into(),
            );
        }
        let mut logs = Vec::new();
        for log in children("TLG") {
            if let Some(log) = self.log(log, &id)? {
                logs.push(log);
            }
        }
        let [default, position_lost, out_of_field] = special;
        Ok(Task {
            name: text(element, "B"),
            partfield: element.get("E").map(str::to_string),
            default,
            position_lost,
            out_of_field,
            zones,
            grid,
            logs,
            id,
        })
    }

    fn variable(&mut self, element: &Element) -> Option<Variable> {
        Some(Variable {
            ddi: parse_ddi(element.get("A")?)?,
            value: number(element, "B")?,
            product: element.get("C").map(str::to_string),
            element: element.get("D").map(str::to_string),
        })
    }

    fn log(&mut self, element: &Element, task: &str) -> Outcome<Option<(String, Log)>> {
        let name = text(element, "A");
        if !is_stem(&name) {
            self.warn(
                task,
                format!("The time log '{name}' has no proper file name and was left out."),
            );
            return Ok(None);
        }
        let header = self.container.get(&format!("{name}.XML"))?;
        let records = self.container.get(&format!("{name}.BIN"))?;
        let (Some((_, header)), Some((_, records))) = (header, records) else {
            self.warn(
                task,
                format!("A file of the time log {name} is not there, so it was left out."),
            );
            return Ok(None);
        };
        let header = match parse(&header) {
            Ok(header) => header,
            Err(bad) => {
                let message = format!("The header of the time log {name} is no XML: {}.", bad.what);
                self.warn(task, message);
                return Ok(None);
            }
        };
        let log = decode_log(&header, &records);
        if log.left_bytes > 0 {
            let message = format!(
                "The time log {name} ends in {} bytes that make no record.",
                log.left_bytes
            );
            self.warn(task, message);
        }
        Ok(Some((name, log)))
    }
}

/// An attribute as text; empty where it is missing.
fn text(element: &Element, name: &str) -> String {
    element.get(name).unwrap_or_default().trim().to_string()
}

/// An attribute as a number; `None` where it is missing or no such number.
fn number<T: std::str::FromStr>(element: &Element, name: &str) -> Option<T> {
    element.get(name)?.trim().parse().ok()
}
