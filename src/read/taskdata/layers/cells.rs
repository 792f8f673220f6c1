//! A grid as polygons: cells with the same values in a row are one piece, pieces with the same ends and values in
//! rows above each other as well.

use super::super::{TaskGrid, TaskSet};
use super::{columns, factor, feature, feature_bytes, said, task_values, too_wide};
use crate::codec::room;
use crate::coordinates::LonLat;
use crate::findings::{Fault, Outcome};
use crate::read::{Geometry, Layer, Polygon, Value};
use std::collections::BTreeMap;

/// Most pieces of all grids of a set.
const MOST_PIECES: usize = 200_000;

/// Columns from and to, rows from and to (exclusive), and the values.
struct Piece {
    columns: [usize; 2],
    rows: [usize; 2],
    values: Vec<Option<i32>>,
}

pub(super) fn fill(set: &TaskSet, layer: &mut Layer) -> Outcome<()> {
    layer.attributes = ["task", "task_name", "field"].map(str::to_string).to_vec();
    let fixed = layer.attributes.len();
    for task in &set.tasks {
        let Some(grid) = task.grid.as_ref().filter(|grid| !grid.raw.is_empty()) else {
            continue;
        };
        let mut at = Vec::new();
        for column in columns(set, grid) {
            let own = layer.attributes.iter().skip(fixed);
            let known = own.clone().position(|own| *own == column);
            at.push(known.map_or(layer.attributes.len(), |at| fixed + at));
            if known.is_none() {
                layer.attributes.push(column);
            }
        }
        let left = MOST_PIECES.saturating_sub(layer.features.len());
        let Some(pieces) = pieces(grid, left) else {
            return Err(Fault::input(
                "read.task_data_pieces",
                layer.place().feature(&task.id),
                format!("The grid has more than {MOST_PIECES} pieces of equal values"),
                format!("up to {MOST_PIECES} pieces for a layer of polygons"),
                "Read it as values instead: values = { method = \"natural_breaks\", classes = 4 } instead of class_attribute.",
            ));
        };
        let own: Vec<Value> = task_values(set, task)
            .into_iter()
            .map(|(_, value)| value)
            .collect();
        // All features have all columns in the end.
        let each = feature_bytes(&own, layer.attributes.len());
        let all = layer.features.len() + pieces.len();
        if all.saturating_mul(each) > room::most(set.bytes) {
            return Err(too_wide(set, layer, &task.id));
        }
        for piece in pieces {
            let mut values = own.clone();
            values.resize(layer.attributes.len(), Value::Missing);
            for ((raw, variable), at) in piece.values.iter().zip(&grid.variables).zip(&at) {
                if let Some(raw) = raw {
                    // Rounded, so that 0.01 a step does not become 0.060000000000000005.
                    let scaled = f64::from(*raw) * factor(variable.ddi);
                    values[*at] = Value::Number((scaled * 1e6).round() / 1e6);
                }
            }
            let name = format!(
                "{}, row {}, column {}",
                task.id,
                piece.rows[0] + 1,
                piece.columns[0] + 1
            );
            let geometry = Geometry::Polygons(vec![outline(grid, &piece)]);
            layer.features.push(feature(name, geometry, values));
        }
    }
    let all = layer.attributes.len();
    for feature in &mut layer.features {
        feature.values.resize(all, said(""));
    }
    Ok(())
}

/// `None` if there are more than `most`.
fn pieces(grid: &TaskGrid, most: usize) -> Option<Vec<Piece>> {
    let mut done: Vec<Piece> = Vec::new();
    // Open pieces by where they start, as they were in the row before.
    let mut open: BTreeMap<usize, Piece> = BTreeMap::new();
    let values_at = |cell: usize| -> Vec<Option<i32>> {
        let raw = grid.raw.iter();
        raw.map(|raw| raw.get(cell).copied().flatten()).collect()
    };
    for row in 0..grid.rows {
        let mut next: BTreeMap<usize, Piece> = BTreeMap::new();
        let mut column = 0;
        while column < grid.columns {
            let values = values_at(row * grid.columns + column);
            let mut end = column + 1;
            while end < grid.columns && values_at(row * grid.columns + end) == values {
                end += 1;
            }
            let below = open.remove(&column);
            let piece = match below {
                Some(mut below) if below.columns[1] == end && below.values == values => {
                    below.rows[1] = row + 1;
                    below
                }
                other => {
                    done.extend(other);
                    Piece {
                        columns: [column, end],
                        rows: [row, row + 1],
                        values,
                    }
                }
            };
            next.insert(column, piece);
            column = end;
        }
        done.extend(open.into_values());
        open = next;
        if done.len() + open.len() > most {
            return None;
        }
    }
    done.extend(open.into_values());
    done.sort_by_key(|piece| (piece.rows[0], piece.columns[0]));
    Some(done)
}

fn outline(grid: &TaskGrid, piece: &Piece) -> Polygon<LonLat> {
    let lon = |column: usize| grid.origin[0] + column as f64 * grid.cell[0];
    let lat = |row: usize| grid.origin[1] + row as f64 * grid.cell[1];
    let [west, east] = piece.columns.map(lon);
    let [south, north] = piece.rows.map(lat);
    let corners = [
        [west, south],
        [east, south],
        [east, north],
        [west, north],
        [west, south],
    ]
    .map(LonLat::of_pair);
    Polygon {
        exterior: corners.to_vec(),
        holes: Vec::new(),
    }
}
