//! The strictest bound that is published: less than that asks nothing.

use super::strictness::{Speaks, speaks};
use super::{By, Table, seedbed_utilisation_percent};
use crate::agronomy::crop_tolerance::{Crop, Group};
use crate::job::FertiliserForm;

/// The lowest limit that a table gives for any crop up to a group's sensitivity, kg/ha of what it counts: its least cell, half of
/// it unless the table knows dry soil, and in rows wider than its own the same per metre of row. None where it is for
/// no such crop or not for the form.
pub fn lowest_kg_per_ha(
    table: &Table,
    group: Group,
    form: FertiliserForm,
    row_m: f64,
    spread_m: f64,
) -> Option<f64> {
    let factor = match speaks(table.form, form) {
        Speaks::Of(factor) => factor,
        Speaks::OfAMoreHarmfulOne => 1.0,
        Speaks::Not => return None,
    };
    let listed = |word: &String| Crop::of(word).is_some_and(|crop| crop.group() <= group);
    if table.no_tolerance.iter().any(listed) {
        return Some(0.0);
    }
    let by_crop = table.columns_are == super::ColumnsAre::Crop;
    let columns: Vec<usize> = match by_crop {
        true => (0..table.columns.len())
            .filter(|column| table.columns.get(*column).is_some_and(listed))
            .collect(),
        false if table.crops.iter().any(listed) => (0..table.columns.len()).collect(),
        false => Vec::new(),
    };
    let cells = table.rows.iter().flat_map(|row| {
        columns
            .iter()
            .filter_map(|column| row.kg_per_ha.get(*column).copied())
    });
    let least = cells.reduce(f64::min)?;
    let dry = match (table.dry_column, table.dry_factor) {
        (Some(_), _) => 1.0,
        (None, Some(factor)) => factor,
        (None, None) => super::DRY_SHARE,
    };
    let of_form = table.form_factors.get(&form).copied().unwrap_or(1.0);
    let most = |of: fn(&super::Row) -> f64| table.rows.iter().map(of).fold(0.0, f64::max);
    let per_metre = match table.by {
        By::Nothing if table.widest_row_m > 0.0 => table.widest_row_m / row_m,
        By::Nothing => 1.0,
        By::RowSpacing => most(|row| row.row_m) / row_m,
        By::SeedbedUtilisation => {
            let rows = table.rows.iter();
            let least = rows
                .map(|row| seedbed_utilisation_percent(row.spread_m, row.row_m))
                .fold(f64::INFINITY, f64::min);
            seedbed_utilisation_percent(spread_m, row_m) / least
        }
    };
    let narrow = match table.least_spread_m > 0.0 {
        true => spread_m / table.least_spread_m,
        false => 1.0,
    };
    Some(least * factor * dry * of_form * per_metre.min(1.0) * narrow.min(1.0))
}
