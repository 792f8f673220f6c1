//! Numbers of rasters under polygons, as CSV (RFC 4180).

use super::tables::{csv, text};
use crate::findings::Outcome;
use crate::surface::{ZonalRow, ZonalTable};

/// One row per polygon that has land on the field. Numbers are in the raster's unit of measure, as exact as
/// they were found; `class` is the one that the job asks for, rounded as it says.
///
/// # Errors
/// None that sound tables can cause.
pub(super) fn table(tables: &[ZonalTable]) -> Outcome<Vec<u8>> {
    let header = [
        "layer",
        "feature",
        "area_m2",
        "valued_percent",
        "mean",
        "median",
        "lowest",
        "highest",
        "share_percent",
        "class",
    ];
    let rows = tables
        .iter()
        .flat_map(|table| table.rows.iter().map(|row| fields(&table.layer, row)));
    csv(header.map(str::to_owned).to_vec(), rows)
}

fn fields(layer: &str, row: &ZonalRow) -> Vec<String> {
    let mut fields = vec![
        text(layer),
        text(&row.feature),
        format!("{:.3}", row.area_m2),
        format!("{:.4}", row.valued_percent),
    ];
    let own = row.numbers;
    let share = own.and_then(|own| own.share_percent);
    let numbers = [
        own.map(|own| own.mean),
        own.map(|own| own.median),
        own.map(|own| own.lowest),
        own.map(|own| own.highest),
        share,
        own.map(|own| own.class),
    ];
    fields.extend(numbers.map(|number| number.map_or(String::new(), |own| own.to_string())));
    fields
}
