//! Delivered files, read back and totalled from what they hold alone, and then held against the plan.
//!
//! Nothing of the plan is used to read a file: areas of grid cells come from the ellipsoid and the outline
//! in the file itself, areas of polygons from their coordinates. Only `against` looks into `plan.json`.
//!
//! The audit is a second pair of eyes: it shares no geometry with planning. Areas are its own (`ellipsoid`), so are the
//! shares of cells (`cells`); polygons are laid over each other by the crate geo (`overlay`). `tests/layers.rs` holds it
//! to that, `tests/audit_broken_kernel.rs` shows what it sees.

mod against;
mod against_job;
mod balance;
mod bounds;
mod carried;
mod cells;
mod displacement;
mod ellipsoid;
mod facts;
mod inside;
mod job_land;
mod land_of_cells;
mod orientation;
mod outline;
mod overlay;
mod plane;
mod polygons;
mod raster;
mod rated_land;
mod squares;
mod sums;
mod tasks;
mod vector;

pub use against::{Cause, Difference};
pub use against_job::JobFacts;
pub use facts::PlanFacts;
pub use inside::{PlanInside, audit_with_inside};
pub use sums::GridSums;

use crate::coordinates::LonLat;
use crate::findings::{Fault, Outcome, Place};
use crate::read::taskdata::{self, TaskSet};
use crate::read::{DeclaredCrs, Polygon};
use crate::units::UnitSystem;
use carried::Carrier;
use cells::Tile;
use land_of_cells::LandOfCells;
use outline::Outline;
use rated_land::RatedLand;
use rayon::prelude::*;
use serde::Serialize;
use std::collections::{BTreeMap, BTreeSet};
use std::fs;
use std::path::{Path, PathBuf};

/// What one file, or one task or layer in it, holds.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Delivered {
    /// Path of the file.
    pub file: String,
    /// Format in words, with task or table where there are several.
    pub format: String,
    /// Plan id that the file states.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub plan: Option<String>,
    /// Covered land, m2.
    pub area_m2: f64,
    /// Number of polygons or of cells with land in them.
    pub pieces: usize,
    /// One entry per product.
    pub products: Vec<Sown>,
    /// Cells beyond the outline that carry a rate (the rim); they count no kilograms.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub cells_in_rim: Option<usize>,
    #[serde(skip_serializing_if = "Option::is_none")]
    /// Sums over the cells; `None` for a file of polygons.
    pub grid: Option<GridSums>,
    /// For polygons: rates of all products, and the land that has them, m2; in order of rates.
    #[serde(rename = "rates", skip_serializing_if = "Vec::is_empty")]
    pub(in crate::audit) land: Vec<RatedLand>,
    /// For grids of task data: the outline of the field, obstacles with it.
    #[serde(skip)]
    pub(in crate::audit) outlined: Option<Outline>,
    /// West, south, east, north in degrees.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub extent: Option<[f64; 4]>,
    /// What is wrong with the file by itself or by a job, one plain line each.
    pub faults: Vec<String>,
    /// Which of the faults says that land of the outlined field has no cell.
    #[serde(skip)]
    pub(in crate::audit) without_cell: Option<usize>,
    /// What is worth knowing and no fault.
    pub notes: Vec<String>,
    /// What it calls its products by.
    #[serde(skip)]
    pub(in crate::audit) carrier: Carrier,
    /// Whether its polygons hold rates in steps of 0.01 kg/ha, as task data do.
    #[serde(skip)]
    pub(in crate::audit) hundredths: bool,
    /// Per variable of task data, in their order: what it sets on land.
    #[serde(skip)]
    pub set: Vec<SetRate>,
    /// The map itself, for a closer look.
    #[serde(skip)]
    pub(in crate::audit) shown: Shown,
}

/// What a variable of task data sets, whatever it is measured in: raw values of the file.
#[derive(Debug, Clone, PartialEq)]
pub struct SetRate {
    /// Name of the product.
    pub product: String,
    /// Data dictionary number.
    pub ddi: u16,
    /// Lowest value above zero on land; none where there is no such.
    pub lowest: Option<f64>,
    /// Mean by area on land with a value above zero.
    pub mean: Option<f64>,
    /// Highest.
    pub highest: Option<f64>,
    /// Land with a value above zero, m2.
    pub area_m2: f64,
}

impl SetRate {
    /// From pairs of value and area in m2.
    fn of(product: String, ddi: u16, values: impl Iterator<Item = (f64, f64)>) -> Self {
        let (mut sum, mut area_m2) = (0.0, 0.0);
        let (mut lowest, mut highest): (Option<f64>, Option<f64>) = (None, None);
        for (value, m2) in values.filter(|(value, m2)| *value > 0.0 && *m2 > 0.0) {
            sum += value * m2;
            area_m2 += m2;
            lowest = Some(lowest.map_or(value, |known| known.min(value)));
            highest = Some(highest.map_or(value, |known| known.max(value)));
        }
        Self {
            product,
            ddi,
            lowest,
            mean: (area_m2 > 0.0).then(|| sum / area_m2),
            highest,
            area_m2,
        }
    }
}

/// Rates by place.
#[derive(Debug, Clone, PartialEq)]
pub(in crate::audit) enum Shown {
    /// A grid in degrees: per product, per cell, kg/ha.
    Cells {
        tile: Tile,
        rates: Vec<Vec<f64>>,
    },
    /// A grid in the CRS of its file, whose origin is the south-west corner: per product, per cell from the south, kg/ha;
    /// not a number where there is none. `north` is the direction in which its rows follow each other, of length 1.
    Squares {
        tile: Tile,
        north: [f64; 2],
        rates: Vec<Vec<f64>>,
        crs: DeclaredCrs,
    },
    Polygons(Vec<Piece>),
    Nothing,
}

/// Land with one set of rates, as drawn.
#[derive(Debug, Clone, PartialEq)]
pub(in crate::audit) struct Piece {
    /// Of all products, kg/ha.
    rates: Vec<f64>,
    polygons: Vec<Polygon<LonLat>>,
}

/// One product in one file.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Sown {
    /// As the file names it.
    pub name: String,
    /// Lowest rate, which may be 0.
    pub lowest_kg_per_ha: f64,
    /// Highest rate.
    pub highest_kg_per_ha: f64,
    /// On all of its land.
    pub kg: f64,
    /// Lowest rate above zero; none where there is no such rate.
    pub lowest_above_zero: Option<f64>,
    /// Pieces of land with rate zero, and their area.
    pub zero_pieces: usize,
    /// Land with the rate 0, m2.
    pub zero_m2: f64,
}

/// What an audit found.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Audit {
    /// Id of the plan it was held against.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub plan: Option<String>,
    /// Every file that was read.
    pub files: Vec<Delivered>,
    /// What does not agree.
    pub differences: Vec<Difference>,
    /// Plans in folders of these, as a spreader's is, each held against its own `plan.json`.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub inside: Vec<PlanInside>,
    /// The units in which all of it is told: those of the plan, or of the job where no plan was given.
    #[serde(skip)]
    pub units: UnitSystem,
}

impl Audit {
    /// Whether no file is broken and every difference has a cause that it should have.
    pub fn agrees(&self) -> bool {
        self.files.iter().all(|file| file.faults.is_empty())
            && self
                .differences
                .iter()
                .all(|difference| difference.explained)
    }

    /// Faults of files and unexplained differences, one plain line each.
    pub fn complaints(&self) -> Vec<String> {
        let faults = self.files.iter().flat_map(|file| {
            let line = move |fault: &String| format!("{}: {fault}", file.file);
            file.faults.iter().map(line)
        });
        let differences = self.differences.iter().filter(|d| !d.explained);
        faults
            .chain(differences.map(|d| format!("{}: {}", d.file, d.text)))
            .collect()
    }
}

/// Reads files, and holds them against a plan and a job where they are given. `names` says how files are called in
/// what comes out: relative to this folder where they lie in it. Plans inside the folder of a plan are other plans: see
/// [`audit_with_inside`].
///
/// # Errors
/// A path that holds nothing that is delivered, or a file that cannot be read at all.
pub fn audit(
    paths: &[PathBuf],
    plan: Option<&PlanFacts>,
    job: Option<&JobFacts>,
    names: &Path,
) -> Outcome<Audit> {
    let mut files = Vec::new();
    for path in paths {
        let before = files.len();
        let each = delivered_in(path)?.files.into_par_iter().with_max_len(1);
        let cells = LandOfCells::default();
        let each = each.map(|file| looked_at(&file, job, &cells));
        let each: Vec<Outcome<Vec<Delivered>>> = each.collect();
        for file in each {
            files.extend(file?);
        }
        // Where a decision is open, what is for terminals has not been written.
        let kept_back = plan.is_some_and(|plan| plan.keeps_back(&[]));
        if files.len() == before && !kept_back {
            return Err(Fault::input(
                "audit.nothing",
                Place::file(path),
                "There is no rate map here",
                "task data, GeoJSON, GeoPackage, Shapefile or GeoTIFF with rates in kg/ha, or a folder with such",
                "Name the file or the folder that holds it.",
            ));
        }
    }
    for file in &mut files {
        let inside = Path::new(&file.file).strip_prefix(names);
        let Some(inside) = inside.ok().filter(|_| names != Path::new("")) else {
            continue;
        };
        let parts: Vec<_> = inside.iter().map(|part| part.to_string_lossy()).collect();
        if !parts.is_empty() {
            file.file = parts.join("/");
        }
    }
    let differences = plan.map_or(Vec::new(), |plan| against::plan(&files, plan));
    // A shifted corner leaves land without a cell: that follows from it and is no second fault.
    for file in &mut files {
        let same = |found: &&Difference| (&found.file, &found.part) == (&file.file, &file.format);
        let shifted = differences.iter().filter(same).any(|found| found.corner);
        if let Some(at) = file.without_cell.filter(|_| shifted) {
            file.faults.remove(at);
        }
    }
    Ok(Audit {
        plan: plan.map(|plan| plan.id.clone()),
        files,
        differences,
        inside: Vec::new(),
        units: match (plan, job) {
            (Some(plan), _) => plan.units,
            (None, Some(job)) => job.units(),
            (None, None) => UnitSystem::Metric,
        },
    })
}

/// Reads task data with the tasks of several plans, and holds each task against the plan that its name begins with.
///
/// # Errors
/// Task data that cannot be read at all.
pub fn audit_tasks(path: &Path, plans: &[&PlanFacts]) -> Outcome<Audit> {
    let (mut files, mut differences) = (Vec::new(), Vec::new());
    let known: BTreeMap<&str, &PlanFacts> =
        plans.iter().map(|own| (own.id.as_str(), *own)).collect();
    let mut seen = BTreeSet::new();
    for mut file in tasks::read(path, &LandOfCells::default())? {
        match file.plan.as_deref().and_then(|id| known.get(id)) {
            Some(plan) => {
                seen.insert(plan.id.as_str());
                differences.extend(against::plan(std::slice::from_ref(&file), plan));
            }
            None => file
                .faults
                .push("the task is of none of the plans".to_string()),
        }
        files.push(file);
    }
    let missing = known.keys().filter(|id| !seen.contains(*id));
    let missing: Vec<String> = missing
        .map(|id| format!("no task is of plan {id}"))
        .collect();
    if let Some(first) = files.first_mut() {
        first.faults.extend(missing);
    }
    Ok(Audit {
        plan: None,
        files,
        differences,
        inside: Vec::new(),
        units: plans.first().map_or(UnitSystem::Metric, |plan| plan.units),
    })
}

/// What each task of a set that was read holds, in its order.
pub fn audit_set(set: &TaskSet) -> Vec<Delivered> {
    let cells = LandOfCells::default();
    let tasks = set.tasks.iter();
    tasks
        .map(|task| tasks::of_task(set, task, &cells))
        .collect()
}

/// What lies in a folder, each in order of its names.
struct FoundIn {
    /// Files that carry rates.
    files: Vec<PathBuf>,
    /// Folders of plans inside a plan, as a spreader has.
    plans: Vec<PathBuf>,
}

/// The files of a folder that carry rates, and the plans inside a plan; a file stands for itself.
fn delivered_in(path: &Path) -> Outcome<FoundIn> {
    if !path.is_dir()
        || taskdata::is_task_data(path) && !path.join(crate::write::folder::MARKER).exists()
    {
        return Ok(FoundIn {
            files: vec![path.to_path_buf()],
            plans: Vec::new(),
        });
    }
    let (mut found, mut plans) = (Vec::new(), Vec::new());
    let in_a_plan = path.join("plan.json").exists();
    let mut open = vec![path.to_path_buf()];
    while let Some(folder) = open.pop() {
        let unreadable = |error: std::io::Error| {
            Fault::machine(
                "read.unreadable",
                Place::file(&folder),
                format!("The folder cannot be read ({error})"),
                "a folder that may be read",
                "Give yourself the right to read it.",
            )
        };
        let entries = fs::read_dir(&folder).map_err(unreadable)?;
        let entries: Vec<_> = entries.collect::<Result<_, _>>().map_err(unreadable)?;
        // By the name of the main file alone: a set that cannot be read is told, and not passed over.
        if folder != path && entries.iter().any(|entry| taskdata::is_main(&entry.path())) {
            found.push(folder);
            continue;
        }
        for entry in entries {
            let path = entry.path();
            let kind = entry.file_type().map_err(unreadable)?;
            let name = entry.file_name().to_string_lossy().to_lowercase();
            let ends = [".geojson", ".gpkg", ".tif", ".tiff", ".shp", ".shp.zip"];
            if kind.is_dir() {
                // Where its plan.json cannot be read, its files are held against what all others are.
                match in_a_plan && inside::is_plan(&path) {
                    true => plans.push(path),
                    false => open.push(path),
                }
            } else if ends.iter().any(|end| name.ends_with(end)) && !name.starts_with("._") {
                found.push(path);
            }
        }
    }
    found.sort();
    plans.sort();
    Ok(FoundIn {
        files: found,
        plans,
    })
}

/// What a file holds, and what is wrong with it by itself and by the job. The map in it is let go of: the maps of all files
/// together would fill the memory.
fn looked_at(path: &Path, job: Option<&JobFacts>, cells: &LandOfCells) -> Outcome<Vec<Delivered>> {
    let mut found = one(path, cells)?;
    for file in &mut found {
        if let Shown::Polygons(pieces) = &file.shown {
            file.faults.extend(against_job::overlaps(pieces));
        }
        if let Some(job) = job {
            let faults = job.faults(file);
            file.faults.extend(faults);
        }
        file.shown = Shown::Nothing;
    }
    Ok(found)
}

fn one(path: &Path, cells: &LandOfCells) -> Outcome<Vec<Delivered>> {
    let name = path.file_name().unwrap_or_default().to_string_lossy();
    let name = name.to_lowercase();
    if taskdata::is_task_data(path) {
        return tasks::read(path, cells);
    }
    if name.ends_with(".tif") || name.ends_with(".tiff") {
        return raster::read(path).map(|one| vec![one]);
    }
    vector::read(path)
}
