//! The grid of task data as a raster: in degrees, rows from south to north, a band for each variable.

use super::{Pixels, Raster, Window, damaged};
use crate::codec::taskdata::known;
use crate::findings::Outcome;
use crate::read::{DeclaredCrs, taskdata};
use std::collections::BTreeMap;
use std::path::Path;
use std::sync::Arc;

/// Per band: its factor, and the raw value of each cell, rows from south to north.
#[derive(Debug, Clone, PartialEq)]
pub(in crate::read) struct Held(Arc<Vec<(f64, Vec<Option<i32>>)>>);

/// Opens the grid of the one task that `only` leaves.
pub(super) fn open(path: &Path, only: &BTreeMap<String, String>) -> Outcome<Raster> {
    let (_, grid) = taskdata::raster(path, only)?;
    let count = |count: usize| u32::try_from(count).ok();
    let bands = grid.variables.iter().zip(grid.raw);
    let bands: Vec<(f64, Vec<Option<i32>>)> = bands
        .map(|(variable, raw)| (known(variable.ddi).map_or(1.0, |known| known.factor), raw))
        .collect();
    let counts = (count(grid.columns), count(grid.rows), count(bands.len()));
    let (Some(columns), Some(rows), Some(bands_count)) = counts else {
        return Err(damaged(path, taskdata::FORMAT, "it has too many cells"));
    };
    Ok(Raster {
        file: path.to_path_buf(),
        format: taskdata::FORMAT,
        crs: DeclaredCrs::Text("EPSG:4326".to_string()),
        columns,
        rows,
        bands: bands_count,
        corner: grid.origin,
        step: grid.cell,
        nodata: None,
        scales: Vec::new(),
        findings: Vec::new(),
        held: Some(Held(Arc::new(bands))),
    })
}

impl Held {
    /// The values of a window that lies inside.
    pub(super) fn pixels(&self, columns: u32, band: u32, window: Window) -> Pixels {
        let mut values = Vec::new();
        let band = (band as usize).checked_sub(1).and_then(|at| self.0.get(at));
        for row in window.row..window.row + window.rows {
            for column in window.column..window.column + window.columns {
                let at = row as usize * columns as usize + column as usize;
                let raw =
                    band.and_then(|(factor, raw)| Some((factor, raw.get(at).copied().flatten()?)));
                values.push(raw.map_or(f64::NAN, |(factor, raw)| {
                    (f64::from(raw) * factor * 1e6).round() / 1e6
                }));
            }
        }
        Pixels { window, values }
    }
}
