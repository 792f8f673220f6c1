//! Task data: each task by itself. The covered land of a cell is worked out from the outline of the
//! partfield and from the ellipsoid.

use super::bounds;
use super::carried::Carrier;
use super::cells::Tile;
use super::land_of_cells::LandOfCells;
use super::outline::Outline;
use super::rated_land::{RatedLand, by_rates};
use super::sums::GridSums;
use super::{Delivered, Piece, SetRate, Shown, Sown};
use crate::coordinates::LonLat;
use crate::findings::Outcome;
use crate::read::Polygon;
use crate::read::taskdata::{self, Task, TaskGrid, TaskSet, Variable};
use std::path::Path;

/// Mass per area (1 mg/m2 a step): the entries for setpoint and default.
const MASS_PER_AREA: [u16; 2] = [0x0006, 0x0008];

pub(super) fn read(path: &Path, cells: &LandOfCells) -> Outcome<Vec<Delivered>> {
    let set = taskdata::read(path)?;
    let found = set.tasks.iter().map(|task| of_task(&set, task, cells));
    let mut found: Vec<Delivered> = found.collect();
    if found.is_empty() {
        let mut none = empty(path, format!("task data {}", set.version));
        none.faults.push("the set holds no task".to_string());
        found.push(none);
    }
    // What reading noticed is about the whole set; it stands once, at the first task.
    if let Some(first) = found.first_mut() {
        let said = set.findings.iter().map(|finding| finding.message.clone());
        let own: Vec<String> = said
            .filter(|line| {
                !first
                    .faults
                    .iter()
                    .any(|fault| line.trim_end_matches('.') == fault)
            })
            .collect();
        first.notes.extend(own);
    }
    Ok(found)
}

fn empty(path: &Path, format: String) -> Delivered {
    Delivered {
        file: path.display().to_string(),
        format,
        plan: None,
        area_m2: 0.0,
        pieces: 0,
        products: Vec::new(),
        cells_in_rim: None,
        grid: None,
        land: Vec::new(),
        outlined: None,
        carrier: Carrier::TaskData,
        extent: None,
        faults: Vec::new(),
        without_cell: None,
        notes: Vec::new(),
        hundredths: false,
        set: Vec::new(),
        shown: Shown::Nothing,
    }
}

pub(super) fn of_task(set: &TaskSet, task: &Task, cells: &LandOfCells) -> Delivered {
    let mut out = empty(&set.file, format!("task data {}, {}", set.version, task.id));
    // Ours start with the id of the plan; what others start with is not taken for one.
    out.plan = task
        .name
        .split_whitespace()
        .next()
        .filter(|word| {
            word.len() == 6
                && word
                    .chars()
                    .all(|c| c.is_ascii_uppercase() || c.is_ascii_digit())
        })
        .map(str::to_string);
    for (name, log) in &task.logs {
        let records = log.records.len();
        out.notes
            .push(format!("time log {name}: {records} records"));
    }
    let field = task
        .partfield
        .as_ref()
        .and_then(|id| set.partfields.iter().find(|field| field.id == *id));
    let (boundary, obstacles) = match field {
        Some(field) => (field.boundary.as_slice(), field.obstacles.as_slice()),
        None => (&[][..], &[][..]),
    };
    let outline = Outline::of(boundary).and(Outline::of(obstacles));
    out.outlined = (!boundary.is_empty()).then_some(outline);
    match (
        &task.grid,
        task.zones.iter().any(|zone| !zone.polygons.is_empty()),
    ) {
        (Some(grid), _) => {
            if boundary.is_empty() {
                let note = "the task has no outline of the field, so whole cells are counted";
                out.notes.push(note.to_string());
            }
            let tile = Tile {
                origin: grid.origin,
                cell: grid.cell,
                columns: grid.columns,
                rows: grid.rows,
            };
            of_grid(&mut out, set, grid, &tile, [boundary, obstacles], cells);
        }
        (None, true) => of_polygons(&mut out, set, task),
        (None, false) => out
            .faults
            .push("the task has no map: no grid and no polygons".to_string()),
    }
    out
}

/// The name of the product of a variable.
fn name_of(set: &TaskSet, variable: &Variable, at: usize) -> String {
    let id = variable.product.as_deref();
    let known = set
        .products
        .iter()
        .find(|(own, _)| Some(own.as_str()) == id);
    known.map_or_else(|| format!("variable {}", at + 1), |(_, name)| name.clone())
}

/// Kg/ha of a raw value, where the variable is a mass per area.
fn is_mass(variable: &Variable) -> bool {
    MASS_PER_AREA.contains(&variable.ddi)
}

fn of_grid(
    out: &mut Delivered,
    set: &TaskSet,
    grid: &TaskGrid,
    tile: &Tile,
    [boundary, obstacles]: [&[Polygon<LonLat>]; 2],
    cells: &LandOfCells,
) {
    if let Some(broken) = &grid.broken {
        out.faults.push(broken.clone());
    }
    if grid.raw.is_empty() {
        return;
    }
    let land = cells.of(tile, boundary, obstacles);
    let covered = &land.m2;
    out.area_m2 = covered.iter().sum();
    out.pieces = covered.iter().filter(|m2| **m2 > 0.0).count();
    // Obstacles may lie across borders.
    if let Some(outline) = out.outlined.as_ref().filter(|_| obstacles.is_empty()) {
        let missing = outline.area_m2 - out.area_m2;
        if missing.abs() > bounds::in_cells_m2(tile, outline) {
            out.without_cell = Some(out.faults.len());
            out.faults.push(format!(
                "the grid leaves {missing:.2} m2 of the outlined field without a cell"
            ));
        }
    }
    let mut sums = GridSums {
        origin: grid.origin,
        cell: grid.cell,
        columns: grid.columns,
        rows: grid.rows,
        row_sums: Vec::new(),
        column_sums: Vec::new(),
        degrees: true,
        heading_deg: None,
    };
    let mut shown = Vec::new();
    let mut in_rim = 0;
    for at in 0..covered.len() {
        let rated =
            |values: &Vec<Option<i32>>| values.get(at).copied().flatten().is_some_and(|v| v > 0);
        in_rim += usize::from(covered.get(at) == Some(&0.0) && grid.raw.iter().any(rated));
    }
    out.cells_in_rim = (!boundary.is_empty()).then_some(in_rim);
    for (at, (variable, raw)) in grid.variables.iter().zip(&grid.raw).enumerate() {
        let name = name_of(set, variable, at);
        let raw_on_land = raw.iter().zip(covered);
        let raw_on_land = raw_on_land.map(|(value, m2)| (f64::from(value.unwrap_or(0)), *m2));
        out.set
            .push(SetRate::of(name.clone(), variable.ddi, raw_on_land));
        if !is_mass(variable) {
            out.notes.push(format!(
                "{name} is set by data dictionary entry {}, which is no mass per area, so it has no kilograms",
                variable.ddi
            ));
            continue;
        }
        sums.add(raw.iter().map(|value| i64::from(value.unwrap_or(0))));
        let cells = raw.iter().zip(covered).filter(|(_, m2)| **m2 > 0.0);
        let missing = cells.clone().filter(|(value, _)| value.is_none()).count();
        let negative = cells
            .clone()
            .filter(|(value, _)| value.is_some_and(|v| v < 0))
            .count();
        for (count, what) in [(missing, "no value"), (negative, "a negative value")] {
            if count > 0 {
                out.faults
                    .push(format!("{name}: {count} cells on the field have {what}"));
            }
        }
        let rate = |value: &Option<i32>| f64::from(value.unwrap_or(0)) / 100.0;
        shown.push(raw.iter().map(rate).collect());
        let rates = cells.map(|(value, m2)| (f64::from(value.unwrap_or(0)) / 100.0, *m2));
        out.products.push(Sown::of(name, rates));
    }
    out.grid = Some(sums);
    out.shown = Shown::Cells {
        tile: tile.clone(),
        rates: shown,
    };
}

fn of_polygons(out: &mut Delivered, set: &TaskSet, task: &Task) {
    let with_land = task.zones.iter().filter(|zone| !zone.polygons.is_empty());
    let drawn = with_land.clone().map(|zone| &zone.polygons);
    out.extent = drawn.fold(None, |extent, own| super::vector::with(extent, own));
    let zones: Vec<_> = with_land
        .map(|zone| (zone, Outline::of(&zone.polygons)))
        .collect();
    out.area_m2 = zones.iter().map(|(_, outline)| outline.area_m2).sum();
    out.pieces = zones.iter().map(|(zone, _)| zone.polygons.len()).sum();
    let Some((first, _)) = zones.first() else {
        return;
    };
    let mut land: Vec<RatedLand> = zones
        .iter()
        .map(|(_, outline)| RatedLand {
            rates: Vec::new(),
            outline: outline.clone(),
        })
        .collect();
    for (at, variable) in first.variables.iter().enumerate() {
        let same =
            |other: &&Variable| other.ddi == variable.ddi && other.product == variable.product;
        let raw = zones.iter().map(|(zone, outline)| {
            let value = zone.variables.iter().find(same);
            (
                value.map_or(0.0, |value| f64::from(value.value)),
                outline.area_m2,
            )
        });
        out.set
            .push(SetRate::of(name_of(set, variable, at), variable.ddi, raw));
        if !is_mass(variable) {
            continue;
        }
        let mut own = Vec::new();
        for ((zone, outline), land) in zones.iter().zip(&mut land) {
            let value = zone.variables.iter().find(same);
            let rate = value.map_or(0.0, |value| f64::from(value.value) / 100.0);
            own.push((rate, outline.area_m2));
            land.rates.push(rate);
        }
        out.products
            .push(Sown::of(name_of(set, variable, at), own.into_iter()));
    }
    let pieces = zones.iter().zip(&land);
    let pieces = pieces.map(|((zone, _), own)| Piece {
        rates: own.rates.clone(),
        polygons: zone.polygons.clone(),
    });
    out.shown = Shown::Polygons(pieces.collect());
    out.hundredths = true;
    out.land = by_rates(land);
}
