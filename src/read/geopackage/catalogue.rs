//! What tables of features there are, and which CRS each is in.

use super::super::DeclaredCrs;
use super::database::{Database, quoted};
use crate::findings::{Fault, Finding, Outcome, Place};
use rusqlite::{OptionalExtension, Row};

/// A row of `gpkg_geometry_columns`.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct FeatureTable {
    pub(super) name: String,
    pub(super) geometry_column: String,
    /// `MULTIPOLYGON` and so on, in upper case.
    pub(super) geometry_type: String,
    pub(super) srs_id: i64,
}

/// The tables of features, by name.
pub(super) fn feature_tables(database: &Database) -> Outcome<Vec<FeatureTable>> {
    for table in ["gpkg_contents", "gpkg_geometry_columns"] {
        if !database.has_table(table)? {
            return Err(not_a_geopackage(database, table));
        }
    }
    let query = "SELECT c.table_name, g.column_name, upper(g.geometry_type_name), g.srs_id
         FROM gpkg_contents AS c
         JOIN gpkg_geometry_columns AS g ON lower(g.table_name) = lower(c.table_name)
         WHERE c.data_type = 'features' ORDER BY c.table_name";
    let entry = |row: &Row<'_>| {
        Ok(FeatureTable {
            name: row.get(0)?,
            geometry_column: row.get(1)?,
            geometry_type: row.get(2)?,
            srs_id: row.get(3)?,
        })
    };
    database
        .connection
        .prepare(query)
        .and_then(|mut query| query.query_map([], entry)?.collect())
        .map_err(|error| database.damaged("The list of layers", &error))
}

fn not_a_geopackage(database: &Database, missing: &str) -> Box<Fault> {
    Fault::input(
        "read.not_geopackage",
        Place::file(&database.path),
        format!("This is an SQLite database but no GeoPackage: it has no table {missing}"),
        "a GeoPackage (OGC 12-128)",
        "Check that it is the right file, or export the layer from your GIS as GeoPackage.",
    )
}

/// Number of rows of a table.
pub(super) fn count(database: &Database, table: &FeatureTable) -> Outcome<u64> {
    let query = format!("SELECT count(*) FROM {}", quoted(&table.name));
    database.keeps_nothing(&table.name, &query)?;
    database
        .connection
        .query_row(&query, [], |row| row.get(0))
        .map_err(|error| database.damaged(&format!("The table '{}'", table.name), &error))
}

/// The CRS of a table, by its row in `gpkg_spatial_ref_sys`.
///
/// Rows -1 and 0 mean "undefined" by the standard (section 1.1.2.1.2).
pub(super) fn crs(
    database: &Database,
    table: &FeatureTable,
    findings: &mut Vec<Finding>,
) -> Outcome<DeclaredCrs> {
    if matches!(table.srs_id, -1 | 0) {
        return Ok(DeclaredCrs::None);
    }
    let query = "SELECT organization, organization_coordsys_id, definition
         FROM gpkg_spatial_ref_sys WHERE srs_id = ?1";
    let entry = |row: &Row<'_>| {
        let organisation: Option<String> = row.get(0)?;
        let code: Option<i64> = row.get(1)?;
        let definition: Option<String> = row.get(2)?;
        Ok((
            organisation.unwrap_or_default(),
            code,
            definition.unwrap_or_default(),
        ))
    };
    let found = database
        .connection
        .query_row(query, [table.srs_id], entry)
        .optional()
        .map_err(|error| database.damaged("The list of coordinate systems", &error))?;
    let Some((organisation, code, definition)) = found else {
        findings.push(Finding::note(
            "read.no_crs",
            Place::file(&database.path).layer(&table.name),
            format!(
                "The coordinate system {} of this table is not in the file.",
                table.srs_id
            ),
        ));
        return Ok(DeclaredCrs::None);
    };
    Ok(declared(&organisation, code, definition.trim()))
}

fn declared(organisation: &str, code: Option<i64>, definition: &str) -> DeclaredCrs {
    let authority = organisation.trim().to_ascii_uppercase();
    match (authority.as_str(), code) {
        // The authorities whose codes PROJ knows.
        ("EPSG" | "ESRI" | "IGNF", Some(code)) => DeclaredCrs::Text(format!("{authority}:{code}")),
        _ if is_undefined(definition) => DeclaredCrs::None,
        _ => DeclaredCrs::Text(definition.to_string()),
    }
}

/// Nothing, the standard's word for it, or a local system by that name (GDAL writes such a row for
/// a layer without a CRS).
fn is_undefined(definition: &str) -> bool {
    let definition = definition.to_ascii_lowercase();
    let local = ["local_cs[", "engcrs["]
        .iter()
        .find_map(|start| definition.strip_prefix(start));
    let name = local.unwrap_or(&definition).trim_start_matches('"');
    definition.is_empty()
        || definition == "undefined"
        || local.is_some() && name.starts_with("undefined")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn codes_definitions_and_nothing() {
        let text = |text: &str| DeclaredCrs::Text(text.to_string());
        assert_eq!(
            declared("epsg", Some(28992), "PROJCS[]"),
            text("EPSG:28992")
        );
        assert_eq!(
            declared("FARM", Some(7), " PROJCS[] ".trim()),
            text("PROJCS[]")
        );
        assert_eq!(declared("NONE", Some(5), "undefined"), DeclaredCrs::None);
        assert_eq!(declared("", None, ""), DeclaredCrs::None);
    }
}
