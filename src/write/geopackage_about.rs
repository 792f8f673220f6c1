//! What a GeoPackage says about its tables: how columns are called for people and their units, the colours of maps, metadata.

use super::attributes::Table;
use super::stamp::Stamp;
use super::style::Style;
use super::{metadata, names, qml, sld};
use rusqlite::{Connection, params};
use std::collections::BTreeSet;

/// Makes the tables that the rest of this file fills, and lists the extensions they belong to.
pub(super) fn begin(database: &Connection, stamp: &Stamp) -> rusqlite::Result<()> {
    database.execute_batch(include_str!("geopackage_about.sql"))?;
    database.execute(
        "INSERT INTO gpkg_contents (table_name, data_type, identifier, description, last_change) VALUES ('layer_styles', 'attributes', 'layer_styles', 'How the layers are shown', ?)",
        params![stamp.utc],
    )?;
    Ok(())
}

/// Names for people, with the unit (`gpkg_data_columns`).
pub(super) fn columns(database: &Connection, name: &str, table: &Table) -> rusqlite::Result<()> {
    let mut insert = database.prepare(
        "INSERT INTO gpkg_data_columns (table_name, column_name, name, title, description) VALUES (?1, ?2, ?3, ?3, ?4)",
    )?;
    let mut taken = BTreeSet::new();
    for column in &table.columns {
        // The format wants them different.
        let title = names::distinct(&column.title, "", " ", usize::MAX, &mut taken);
        insert.execute(params![name, column.name, title, column.about])?;
    }
    Ok(())
}

/// The colours of a table (`layer_styles`); a GIS opens it with the first of them.
pub(super) fn styles(
    database: &Connection,
    table: &str,
    styles: &[Style],
    stamp: &Stamp,
) -> rusqlite::Result<()> {
    let mut insert = database.prepare(
        "INSERT INTO layer_styles (f_table_catalog, f_table_schema, f_table_name, f_geometry_column, styleName, styleQML, styleSLD, useAsDefault, description, owner, update_time) VALUES ('', '', ?, 'geom', ?, ?, ?, ?, ?, '', ?)",
    )?;
    for (nth, style) in styles.iter().enumerate() {
        let name: String = style.name.chars().take(30).collect();
        insert.execute(params![
            table,
            name,
            qml::zones(style, &style.column, None),
            sld::text(style, table),
            nth == 0,
            format!("{}, column {}", style.name, style.column),
            stamp.utc
        ])?;
    }
    Ok(())
}

/// Metadata of the whole file (`gpkg_metadata`).
pub(super) fn metadata(database: &Connection, text: &str, stamp: &Stamp) -> rusqlite::Result<()> {
    database.execute(
        "INSERT INTO gpkg_metadata VALUES (1, 'dataset', ?, 'text/xml', ?)",
        params![metadata::STANDARD, text],
    )?;
    database.execute(
        "INSERT INTO gpkg_metadata_reference VALUES ('geopackage', NULL, NULL, NULL, ?, 1, NULL)",
        params![stamp.utc],
    )?;
    Ok(())
}
