//! The grid of a task: place and counts from the main file, cells from its binary.

use super::{Reader, TaskGrid, TreatmentZone, Variable, is_stem, number, text};
use crate::codec::room::Room;
use crate::codec::taskdata::Element;
use crate::findings::Outcome;

/// Reads a grid; `None`, with a finding, where its numbers are not usable.
pub(super) fn read(
    element: &Element,
    zones: &[TreatmentZone],
    task: &str,
    reader: &mut Reader,
) -> Outcome<Option<TaskGrid>> {
    let name = text(element, "G");
    let placed = (|| {
        let lat = number::<f64>(element, "A").filter(|lat| lat.abs() <= 90.0)?;
        let lon = number::<f64>(element, "B").filter(|lon| lon.abs() <= 180.0)?;
        let size = |name| number::<f64>(element, name).filter(|size| *size > 0.0 && *size <= 1.0);
        let count = |name| number::<u32>(element, name).filter(|count| *count > 0);
        let cell = [size("D")?, size("C")?];
        Some(([lon, lat], cell, count("E")? as usize, count("F")? as usize))
    })();
    let Some((origin, cell, columns, rows)) = placed.filter(|_| is_stem(&name)) else {
        reader.warn(
            task,
            format!(
                "The grid '{name}' has no usable corner, cell, count or file name and was left out."
            ),
        );
        return Ok(None);
    };
    let kind = number::<u8>(element, "I").unwrap_or(2);
    let variables = variables(element, zones, kind);
    let mut grid = TaskGrid {
        name: name.clone(),
        origin,
        cell,
        columns,
        rows,
        kind,
        raw: Vec::new(),
        variables,
        broken: None,
    };
    match reader.container.get(&format!("{name}.BIN"))? {
        Some((_, bytes)) => {
            // Named by several tasks, it is held for each of them.
            if reader.grids.insert(name.to_ascii_uppercase()) {
                reader.room.read(bytes.len());
            }
            fill(&mut grid, &bytes, zones, &mut reader.room);
        }
        None => grid.broken = Some(format!("the binary of the grid {name} is not there")),
    }
    if let Some(broken) = &grid.broken {
        reader.warn(task, format!("{broken}."));
    }
    Ok(Some(grid))
}

/// What a cell holds: for values the variables of the template zone, for codes those of any zone.
fn variables(element: &Element, zones: &[TreatmentZone], kind: u8) -> Vec<Variable> {
    let template = number::<u8>(element, "J");
    let by_code = zones.iter().find(|zone| Some(zone.code) == template);
    let of_codes = zones.iter().max_by_key(|zone| zone.variables.len());
    let zone = if kind == 1 {
        of_codes
    } else {
        by_code.or(zones.first())
    };
    zone.map(|zone| zone.variables.clone()).unwrap_or_default()
}

fn fill(grid: &mut TaskGrid, bytes: &[u8], zones: &[TreatmentZone], room: &mut Room) {
    let (columns, rows) = (grid.columns, grid.rows);
    let per_cell = match grid.kind {
        1 => 1,
        2 => 4 * grid.variables.len(),
        other => {
            grid.broken = Some(format!(
                "the grid is of type {other}; the standard has 1 and 2"
            ));
            return;
        }
    };
    if per_cell == 0 {
        grid.broken = Some("the grid's treatment zone has no process data variables".to_string());
        return;
    }
    let cells = columns.checked_mul(rows);
    let Some(wanted) = cells.and_then(|cells| cells.checked_mul(per_cell)) else {
        grid.broken = Some(format!(
            "{columns} x {rows} cells are more than can be counted"
        ));
        return;
    };
    if bytes.len() != wanted {
        let (name, has) = (&grid.name, bytes.len());
        let how = if has < wanted {
            "is cut off"
        } else {
            "holds more than its cells"
        };
        let whole = has / per_cell;
        grid.broken = Some(format!(
            "the grid {name} {how}: {columns} x {rows} cells need {wanted} bytes, it has {has} ({whole} whole cells)"
        ));
        // The counts of a file that is too short are not believed: memory follows the bytes.
        if has < wanted {
            return;
        }
    }
    let bytes = bytes.get(..wanted).unwrap_or(bytes);
    // Codes of one byte may stand for very many values each.
    let values = (wanted / per_cell).saturating_mul(grid.variables.len());
    if !room.take(values.saturating_mul(size_of::<Option<i32>>())) {
        grid.broken = Some(format!(
            "the grid {} has {values} values, more than files of this size may have together; they were not read",
            grid.name
        ));
        return;
    }
    let mut raw = vec![Vec::with_capacity(wanted / per_cell); grid.variables.len()];
    for cell in bytes.chunks_exact(per_cell) {
        match grid.kind {
            1 => {
                let zone = zones.iter().find(|zone| Some(&zone.code) == cell.first());
                for (values, variable) in raw.iter_mut().zip(&grid.variables) {
                    let same = |other: &&Variable| {
                        other.ddi == variable.ddi && other.product == variable.product
                    };
                    let value = zone.and_then(|zone| zone.variables.iter().find(same));
                    values.push(value.map(|value| value.value));
                }
            }
            _ => {
                let (numbers, _) = cell.as_chunks::<4>();
                for (values, number) in raw.iter_mut().zip(numbers) {
                    values.push(Some(i32::from_le_bytes(*number)));
                }
            }
        }
    }
    grid.raw = raw;
}
