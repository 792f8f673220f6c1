//! The rows of a table of features.

use super::super::gather::Gather;
use super::super::{DeclaredCrs, Feature, Geometry, Layer, Value};
use super::catalogue::FeatureTable;
use super::database::{Database, quoted};
use crate::codec::room::{PER_PIECE, Room};
use crate::codec::{geopackage, wkb};
use crate::findings::{Fault, Finding, Outcome};
use rusqlite::Row;
use rusqlite::types::ValueRef;

/// Code of a fault, and what to do next.
type Kind = [&'static str; 2];

const DAMAGED: Kind = ["read.damaged", "Export the layer again from a GIS."];
const ARC: Kind = [
    "read.arc",
    "Turn arcs into straight pieces in a GIS, and say how near they keep to the arc (0.01 m does); on a command line: ogr2ogr -nlt CONVERT_TO_LINEAR OUT.gpkg IN.gpkg",
];
const GEOMETRY_TYPE: Kind = [
    "read.geometry_type",
    "Turn it into plain polygons, lines or points in a GIS.",
];

/// A column of the table.
struct Column {
    name: String,
    /// As declared, in upper case.
    kind: String,
    primary: bool,
}

pub(super) fn read(
    database: &Database,
    table: &FeatureTable,
    crs: DeclaredCrs,
    findings: Vec<Finding>,
) -> Outcome<Layer> {
    let (geometry, columns) = columns(database, table)?;
    let mut layer = Layer {
        file: database.path.clone(),
        format: "GeoPackage",
        table: Some(table.name.clone()),
        crs,
        attributes: columns.iter().map(|column| column.name.clone()).collect(),
        features: Vec::new(),
        findings,
    };
    let mut reader = Reader {
        table,
        key: columns.iter().position(|column| column.primary),
        columns,
        gather: Gather::new(layer.place()),
        binary: Vec::new(),
        broken_texts: 0,
        room: Room::of(usize::try_from(database.bytes).unwrap_or(usize::MAX)),
    };
    let failed = |error| database.damaged(&format!("The table '{}'", table.name), &error);
    let query = reader.query(&geometry);
    database.keeps_nothing(&table.name, &query)?;
    let mut query = database.connection.prepare(&query).map_err(failed)?;
    let mut rows = query.query([]).map_err(failed)?;
    while let Some(row) = rows.next().map_err(failed)? {
        let feature = reader.feature(row, layer.features.len() + 1, &failed)?;
        layer.features.push(feature);
    }
    layer.findings.extend(reader.findings());
    Ok(layer)
}

/// The name of the geometry column as the table spells it, and all other columns.
fn columns(database: &Database, table: &FeatureTable) -> Outcome<(String, Vec<Column>)> {
    let failed = |error| database.damaged(&format!("The table '{}'", table.name), &error);
    let describe = format!("PRAGMA table_info({})", quoted(&table.name));
    let mut query = database.connection.prepare(&describe).map_err(failed)?;
    let column = |row: &Row<'_>| {
        Ok(Column {
            name: row.get(1)?,
            kind: row
                .get::<_, Option<String>>(2)?
                .unwrap_or_default()
                .to_ascii_uppercase(),
            primary: row.get::<_, i64>(5)? == 1,
        })
    };
    let all: Vec<Column> = query
        .query_map([], column)
        .and_then(Iterator::collect)
        .map_err(failed)?;
    let (mut geometry, others): (Vec<Column>, Vec<Column>) = all
        .into_iter()
        .partition(|column| column.name.eq_ignore_ascii_case(&table.geometry_column));
    match geometry.pop() {
        Some(column) => Ok((column.name, others)),
        None => Err(Fault::input(
            "read.damaged",
            super::Place::file(&database.path).layer(&table.name),
            format!(
                "The table has no geometry column '{}', or is not there at all",
                table.geometry_column
            ),
            "tables as gpkg_geometry_columns lists them",
            "Export the layer again from a GIS.",
        )),
    }
}

/// Bytes that a value takes.
fn held(value: &Value) -> usize {
    let text = match value {
        Value::Text(text) => text.len() + PER_PIECE,
        _ => 0,
    };
    size_of::<Value>() + text
}

struct Reader<'a> {
    table: &'a FeatureTable,
    columns: Vec<Column>,
    /// Which column is the primary key.
    key: Option<usize>,
    gather: Gather,
    /// Columns in which binary values were found.
    binary: Vec<String>,
    broken_texts: usize,
    /// Room for what is read.
    room: Room,
}

impl Reader<'_> {
    /// The geometry first, then the other columns in their order.
    fn query(&self, geometry: &str) -> String {
        let mut names = vec![quoted(geometry)];
        names.extend(self.columns.iter().map(|column| quoted(&column.name)));
        let mut query = format!(
            "SELECT {} FROM {}",
            names.join(", "),
            quoted(&self.table.name)
        );
        if let Some(key) = self.key.and_then(|key| self.columns.get(key)) {
            query.push_str(&format!(" ORDER BY {}", quoted(&key.name)));
        }
        query
    }

    fn feature(
        &mut self,
        row: &Row<'_>,
        number: usize,
        failed: &impl Fn(rusqlite::Error) -> Box<Fault>,
    ) -> Outcome<Feature> {
        let mut values = Vec::with_capacity(self.columns.len());
        for at in 0..self.columns.len() {
            let raw = row.get_ref(at + 1).map_err(failed)?;
            values.push(self.value(at, raw));
        }
        let name = match self.key.and_then(|key| values.get(key)) {
            None | Some(Value::Missing) => number.to_string(),
            Some(key) => key.to_string(),
        };
        let geometry = row.get_ref(0).map_err(failed)?;
        let held = size_of::<Feature>()
            + name.len()
            + geometry.as_blob().map_or(0, |blob| 2 * blob.len())
            + values.iter().map(held).sum::<usize>()
            + 4 * PER_PIECE;
        if !self.room.take(held) {
            return Err(self.too_much(number));
        }
        let geometry = self.geometry(&name, geometry)?;
        Ok(Feature {
            name,
            geometry,
            values,
        })
    }

    fn value(&mut self, at: usize, raw: ValueRef<'_>) -> Value {
        let boolean = self
            .columns
            .get(at)
            .is_some_and(|column| column.kind == "BOOLEAN");
        match raw {
            ValueRef::Null => Value::Missing,
            ValueRef::Integer(number @ (0 | 1)) if boolean => Value::Flag(number == 1),
            ValueRef::Integer(number) => Value::Integer(number),
            ValueRef::Real(number) => Value::Number(number),
            ValueRef::Text(bytes) => {
                let text = String::from_utf8_lossy(bytes);
                self.broken_texts += usize::from(matches!(text, std::borrow::Cow::Owned(_)));
                Value::Text(text.into_owned())
            }
            ValueRef::Blob(_) => {
                if let Some(column) = self.columns.get(at)
                    && !self.binary.contains(&column.name)
                {
                    self.binary.push(column.name.clone());
                }
                Value::Missing
            }
        }
    }

    fn geometry(&mut self, feature: &str, raw: ValueRef<'_>) -> Outcome<Geometry> {
        let blob = match raw {
            ValueRef::Null => return self.gather.geometry(feature, wkb::Shape::Empty),
            ValueRef::Blob(blob) => blob,
            _ => {
                return Err(self.fault(DAMAGED, feature, "The geometry is not binary".into()));
            }
        };
        let header = geopackage::header(blob)
            .map_err(|error| self.fault(DAMAGED, feature, error.to_string()))?;
        // -1 and 0 say "undefined"; some programs leave them in the blob whatever the table has.
        let own = i64::from(header.srs_id);
        if !matches!(own, -1 | 0) && own != self.table.srs_id {
            return Err(self.fault(
                DAMAGED,
                feature,
                format!(
                    "The geometry says it is in coordinate system {own}, its table says {}",
                    self.table.srs_id
                ),
            ));
        }
        let body = blob.get(header.length..).unwrap_or_default();
        if header.empty && body.is_empty() {
            return self.gather.geometry(feature, wkb::Shape::Empty);
        }
        let decoded = wkb::read(body).map_err(|error| {
            let kind = match error {
                wkb::Error::Arc => ARC,
                wkb::Error::Unsupported(_) | wkb::Error::Mixed => GEOMETRY_TYPE,
                _ => DAMAGED,
            };
            self.fault(kind, feature, format!("In this feature {error}"))
        })?;
        self.gather.dropped(feature, decoded.z, decoded.m);
        self.gather.geometry(feature, decoded.shape)
    }

    fn too_much(&self, number: usize) -> Box<Fault> {
        Fault::input(
            "read.wide_table",
            self.gather.place().clone(),
            format!(
                "With row {number} of {} columns the table takes more memory than a file of {} bytes may",
                self.columns.len() + 1,
                self.room.bytes()
            ),
            "100 MB and ten times the size of the file",
            "Cut the layer to the land around the field in a GIS, or export it with the attributes that are needed.",
        )
    }

    fn fault(&self, [code, next]: Kind, feature: &str, found: String) -> Box<Fault> {
        Fault::input(
            code,
            self.gather.at(feature),
            found,
            "points, lines and polygons, alone or in multiples, of one kind per feature",
            next,
        )
    }

    fn findings(&self) -> Vec<Finding> {
        let mut findings = self.gather.findings();
        for column in &self.binary {
            findings.push(Finding::note(
                "read.binary_attribute",
                self.gather.place().clone(),
                format!("The attribute '{column}' holds binary data, which counts as missing."),
            ));
        }
        if self.broken_texts > 0 {
            findings.push(Finding::warning(
                "read.text",
                self.gather.place().clone(),
                format!(
                    "{} texts are not UTF-8; the bytes in question show as \u{fffd}.",
                    self.broken_texts
                ),
            ));
        }
        findings
    }
}
