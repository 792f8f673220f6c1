//! ESRI ASCII grid: a surface that any GIS opens.

use crate::surface::SurfaceGrid;
use std::fmt::Write as _;

/// What stands for no value: no measurement is so low.
const NO_VALUE: f64 = -1e30;

/// The grid as text, rows from north to south; numbers as exact as they are.
pub(super) fn text(surface: &SurfaceGrid) -> String {
    let rows = surface.values.len() / surface.columns.max(1);
    let south = surface.corner[1] - rows as f64 * surface.cell_m;
    let mut text = format!(
        "ncols {}\nnrows {rows}\nxllcorner {}\nyllcorner {south}\ncellsize {}\nNODATA_value {NO_VALUE:e}\n",
        surface.columns, surface.corner[0], surface.cell_m
    );
    for row in surface.values.chunks(surface.columns.max(1)) {
        for (column, value) in row.iter().enumerate() {
            let gap = if column == 0 { "" } else { " " };
            let value = match value.is_finite() {
                true => value.to_string(),
                false => format!("{NO_VALUE:e}"),
            };
            let _ = write!(text, "{gap}{value}");
        }
        text.push('\n');
    }
    text
}
