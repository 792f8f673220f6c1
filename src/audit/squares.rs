//! Cells of a raster as polygons in degrees, whatever its CRS.

use super::cells::Tile;
use crate::coordinates::LonLat;
use crate::frame::{Crs, as_drawn};
use crate::read::{DeclaredCrs, Feature, Geometry, Layer, Polygon};
use std::path::PathBuf;

/// Cells with a rate above 0, those side by side in a row as one rectangle, in the raster's CRS; `north` is the way its rows
/// follow each other.
pub(super) fn rated(tile: &Tile, north: [f64; 2], rates: &[f64]) -> Vec<Polygon> {
    let mut runs = Vec::new();
    for (row, rates) in rates.chunks(tile.columns.max(1)).enumerate() {
        let mut from = None;
        for column in 0..=rates.len() {
            let is_on = rates.get(column).is_some_and(|rate| *rate > 0.0);
            match (is_on, from) {
                (true, None) => from = Some(column),
                (false, Some(first)) => {
                    runs.push(rectangle(tile, north, row, [first, column]));
                    from = None;
                }
                _ => {}
            }
        }
    }
    runs
}

fn rectangle(tile: &Tile, [x, y]: [f64; 2], row: usize, [first, end]: [usize; 2]) -> Polygon {
    let corner = |column: usize, row: usize| {
        let (right, along) = (column as f64 * tile.cell[0], row as f64 * tile.cell[1]);
        [
            tile.origin[0] + right * y + along * x,
            tile.origin[1] - right * x + along * y,
        ]
    };
    Polygon {
        exterior: vec![
            corner(first, row),
            corner(end, row),
            corner(end, row + 1),
            corner(first, row + 1),
            corner(first, row),
        ],
        holes: Vec::new(),
    }
}

/// Polygons of a CRS in degrees; `None` where the CRS is not known or has no way there.
pub(super) fn in_degrees(runs: Vec<Polygon>, crs: &DeclaredCrs) -> Option<Vec<Polygon<LonLat>>> {
    let layer = Layer {
        file: PathBuf::new(),
        format: "GeoTIFF",
        table: None,
        crs: crs.clone(),
        attributes: Vec::new(),
        features: vec![Feature {
            name: String::new(),
            geometry: Geometry::Polygons(runs),
            values: Vec::new(),
        }],
        findings: Vec::new(),
    };
    let crs = Crs::of(&layer, None).ok()?;
    let layer = as_drawn(layer, &crs).ok()?;
    let polygons = layer
        .features
        .into_iter()
        .flat_map(|own| match own.geometry {
            Geometry::Polygons(polygons) => polygons,
            _ => Vec::new(),
        });
    Some(polygons.collect())
}
