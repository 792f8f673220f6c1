//! Task data of ISO 11783-10, any version, from a folder or a zip file. What is there is read; what is
//! missing, cut off or not understood becomes a finding, and only a data set without a readable main file
//! is refused.

mod as_written;
mod attributes;
mod container;
mod external;
mod grid;
mod layers;
mod line;
mod log;
mod machine;
mod outline;
mod set;
#[cfg(test)]
mod tests;

use crate::codec::room::{PER_PIECE, Room};
use crate::codec::taskdata::{Element, parse_ddi, parse_within};
use crate::findings::{Fault, Finding, Outcome, Place};
pub use as_written::{AsWritten, as_written};
use attributes::{MOST_CHARACTERS, cut_texts, number, text};
use container::{Container, MAIN};
use external::merge_external;
pub(super) use layers::{FORMAT, layer, loose_files, raster, tables};
pub use line::Guidance;
pub use log::Noted;
pub use machine::{Device, DeviceElement};
pub use set::{Partfield, Task, TaskGrid, TaskSet, TreatmentZone, Variable};
use std::collections::{BTreeMap, BTreeSet};
use std::path::Path;

/// Whether this is task data by its name or content: a folder with the main file, the main file itself, or a
/// zip file that holds one.
pub fn is_task_data(path: &Path) -> bool {
    let name = path.file_name().unwrap_or_default().to_string_lossy();
    let ends = |end: &str| name.to_ascii_lowercase().ends_with(end);
    (path.is_dir() || ends(".zip") || is_main(path)) && Container::open(path).is_ok()
}

/// Whether a path names a main file.
pub fn is_main(path: &Path) -> bool {
    path.file_name()
        .is_some_and(|name| name.eq_ignore_ascii_case(MAIN))
}

/// Which of the binaries are wanted.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Parts {
    pub grids: bool,
    pub logs: bool,
}

/// Reads a data set with all its binaries.
///
/// # Errors
/// One fault: no main file; it is no XML or no task data; files of more than 256 MB, or 1 GB together; the disk.
pub fn read(path: &Path) -> Outcome<TaskSet> {
    read_parts(
        path,
        Parts {
            grids: true,
            logs: true,
        },
    )
}

/// Reads a data set; grids and logs only where they are wanted.
///
/// # Errors
/// As [`read`].
pub fn read_parts(path: &Path, parts: Parts) -> Outcome<TaskSet> {
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
    let mut room = Room::of(bytes.len());
    let mut root = parse_within(&bytes, &mut room).map_err(|bad| {
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
    drop(bytes);
    merge_external(&mut root, &mut container, &mut room, &place, &mut findings)?;
    let cut = cut_texts(&mut root);
    if cut > 0 {
        findings.push(Finding::warning(
            "read.task_data",
            place.clone(),
            format!("{cut} texts of more than {MOST_CHARACTERS} characters were cut there."),
        ));
    }
    let mut reader = Reader {
        container,
        place,
        findings,
        parts,
        said: 0,
        logs: BTreeSet::new(),
        grids: BTreeSet::new(),
        room,
    };
    reader.set(path, &root)
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
    parts: Parts,
    /// Number of warnings so far, said or not.
    said: usize,
    /// Names of the logs read so far, in capitals.
    logs: BTreeSet<String>,
    /// The same of the grids.
    grids: BTreeSet<String>,
    /// Room for what the set holds.
    room: Room,
}

/// Most warnings about one set: a broken file repeats itself.
const MOST_WARNINGS: usize = 100;

impl Reader {
    fn warn(&mut self, feature: &str, message: String) {
        self.said += 1;
        if self.said > MOST_WARNINGS {
            return;
        }
        let place = self.place.clone().feature(feature);
        self.findings
            .push(Finding::warning("read.task_data", place, message));
    }

    /// Takes room for a field or a task, beside its element, and for the texts that it has.
    fn has_room(&mut self, bytes: usize, element: &Element) -> Outcome<()> {
        match self.room.take(bytes + 6 * PER_PIECE) {
            true => Ok(()),
            false => Err(Fault::input(
                "read.task_data_size",
                self.place.clone().feature(text(element, "A")),
                format!(
                    "With this the fields and tasks take more memory than {} bytes of task data may",
                    self.room.bytes()
                ),
                "100 MB, and ten times what the files have",
                "Copy only the fields and tasks you need from the terminal.",
            )),
        }
    }

    fn set(&mut self, path: &Path, root: &Element) -> Outcome<TaskSet> {
        let reader = self;
        let part = |name: &str| root.get(name).unwrap_or("?").trim().to_string();
        let version = format!("{}.{}", part("VersionMajor"), part("VersionMinor"));
        let of = |tag: &'static str| root.children.iter().filter(move |child| child.tag == tag);
        // By their ids, the first of each: a broken file may have very many of both.
        let by_id = |tag: &'static str| -> BTreeMap<&str, &Element> {
            let pairs = of(tag).filter_map(|own| Some((own.get("A")?, own)));
            let mut known = BTreeMap::new();
            for (id, own) in pairs {
                known.entry(id).or_insert(own);
            }
            known
        };
        let (customers, farms) = (by_id("CTR"), by_id("FRM"));
        let named = |known: &BTreeMap<&str, &Element>, id: Option<&str>| -> String {
            let found = id.and_then(|id| known.get(id));
            found.map_or(String::new(), |own| text(own, "B"))
        };
        let mut partfields = Vec::new();
        for element in of("PFD") {
            reader.has_room(size_of::<Partfield>(), element)?;
            let mut field = reader.partfield(element);
            field.customer = named(&customers, element.get("E"));
            field.farm = named(&farms, element.get("F"));
            partfields.push(field);
        }
        let products = of("PDT").map(|product| (text(product, "A"), text(product, "B")));
        let products = products.collect();
        let mut tasks = Vec::new();
        for element in of("TSK") {
            reader.has_room(size_of::<Task>(), element)?;
            tasks.push(reader.task(element)?);
        }
        if reader.said > MOST_WARNINGS {
            let more = reader.said - MOST_WARNINGS;
            let message = format!("{more} more things like these were found.");
            let place = reader.place.clone();
            reader
                .findings
                .push(Finding::warning("read.task_data", place, message));
        }
        Ok(TaskSet {
            file: path.to_path_buf(),
            elements: machine::elements(root),
            devices: machine::devices(root),
            channels: machine::channels(root),
            version,
            origin: number(root, "DataTransferOrigin"),
            partfields,
            products,
            tasks,
            findings: std::mem::take(&mut reader.findings),
            bytes: reader.room.bytes(),
        })
    }

    fn partfield(&mut self, element: &Element) -> Partfield {
        let id = text(element, "A");
        let mut field = Partfield {
            name: text(element, "C"),
            area_m2: number(element, "D"),
            boundary: Vec::new(),
            obstacles: Vec::new(),
            obstacle_kinds: Vec::new(),
            areas: Vec::new(),
            guidance: line::guidance(element, &id, self),
            farm: String::new(),
            customer: String::new(),
            farm_id: element.get("F").map(str::to_string),
            customer_id: element.get("E").map(str::to_string),
            id,
        };
        for drawn in element.children.iter().filter(|child| child.tag == "PLN") {
            let polygons = outline::polygons(std::iter::once(drawn), &field.id, self);
            let name = text(drawn, "B");
            match number::<u8>(drawn, "A") {
                Some(1) => field.boundary.extend(polygons),
                kind => {
                    let (what, is_obstacle) = outline::kind(kind);
                    for polygon in polygons {
                        match is_obstacle {
                            true => {
                                field.obstacles.push(polygon);
                                field.obstacle_kinds.push((what, name.clone()));
                            }
                            false => field.areas.push((what, name.clone(), polygon)),
                        }
                    }
                }
            }
        }
        field
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
        let grid = match grids.next().filter(|_| self.parts.grids) {
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
        let wanted = self.parts.logs;
        for element in children("TLG").filter(|_| wanted) {
            if let Some(log) = log::read(element, &id, self)? {
                logs.push(log);
            }
        }
        let allocations = children("PAN").filter_map(|pan| {
            let (product, element) = (pan.get("A")?, pan.get("E")?);
            Some((product.to_string(), element.to_string()))
        });
        let allocations = allocations.collect();
        let [default, position_lost, out_of_field] = special;
        Ok(Task {
            name: text(element, "B"),
            partfield: element.get("E").map(str::to_string),
            default,
            position_lost,
            out_of_field,
            zones,
            grid,
            allocations,
            logs,
            noted: log::noted(element),
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
}
