//! GeoPackage: an SQLite file with tables of features.
//!
//! Source: OGC 12-128r18 (GeoPackage 1.3.1).

mod catalogue;
mod database;
mod rows;

use super::file::{closest, listed};
use super::{Layer, Place, TableSummary};
use crate::findings::{Fault, Outcome};
use catalogue::FeatureTable;
use database::Database;
use std::path::Path;

/// Reads one table of features; `table` is needed where there are several.
pub(super) fn read(path: &Path, table: Option<&str>) -> Outcome<Layer> {
    let database = Database::open(path)?;
    let tables = catalogue::feature_tables(&database)?;
    let chosen = choose(&tables, table, path)?;
    let mut findings = Vec::new();
    let crs = catalogue::crs(&database, chosen, &mut findings)?;
    rows::read(&database, chosen, crs, findings)
}

/// Reads the tables of features that are wanted, by name.
pub(super) fn layers(path: &Path, wanted: impl Fn(&TableSummary) -> bool) -> Outcome<Vec<Layer>> {
    let database = Database::open(path)?;
    let tables = catalogue::feature_tables(&database)?;
    let mut layers = Vec::new();
    for table in &tables {
        let summary = TableSummary {
            name: Some(table.name.clone()),
            geometry: table.geometry_type.clone(),
            features: 0,
        };
        if wanted(&summary) {
            let mut findings = Vec::new();
            let crs = catalogue::crs(&database, table, &mut findings)?;
            layers.push(rows::read(&database, table, crs, findings)?);
        }
    }
    Ok(layers)
}

/// Lists the tables of features, by name.
pub(super) fn tables(path: &Path) -> Outcome<Vec<TableSummary>> {
    let database = Database::open(path)?;
    catalogue::feature_tables(&database)?
        .into_iter()
        .map(|table| {
            let features = catalogue::count(&database, &table)?;
            Ok(TableSummary {
                name: Some(table.name),
                geometry: table.geometry_type,
                features,
            })
        })
        .collect()
}

fn choose<'a>(
    tables: &'a [FeatureTable],
    wanted: Option<&str>,
    path: &Path,
) -> Outcome<&'a FeatureTable> {
    let names = || tables.iter().map(|table| table.name.as_str());
    match (wanted, tables) {
        (_, []) => Err(Fault::input(
            "read.no_feature_table",
            Place::file(path),
            "The GeoPackage has no table of features",
            "at least one table that gpkg_contents lists as 'features'",
            "Check that it is the right file; rasters and plain tables are no polygon layers.",
        )),
        (None, [only]) => Ok(only),
        (None, _) => Err(Fault::input(
            "read.several_tables",
            Place::file(path),
            format!("The GeoPackage has {} tables of features", tables.len()),
            format!("one of {}", listed(names())),
            "Say which one with `table` in the job.",
        )),
        (Some(wanted), _) => tables
            .iter()
            .find(|table| table.name == wanted)
            // Names in SQLite do not tell upper from lower case.
            .or_else(|| {
                tables
                    .iter()
                    .find(|table| table.name.eq_ignore_ascii_case(wanted))
            })
            .ok_or_else(|| {
                Fault::input(
                    "read.no_such_table",
                    Place::file(path),
                    format!("The GeoPackage has no table of features '{wanted}'"),
                    format!("one of {}", listed(names())),
                    match closest(wanted, names()) {
                        Some(near) => format!("Correct `table` in the job; did you mean '{near}'?"),
                        None => "Correct `table` in the job.".to_string(),
                    },
                )
            }),
    }
}
