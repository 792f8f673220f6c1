//! GeoPackage (OGC 12-128r17, version 1.3) with the map zones, the boundary, the exclusions and the
//! layers of the drive.

use super::attributes::{self, Kind, Table, Value};
use super::drive_layers::{Geometry, GeometryKind, Layer};
use super::geopackage_about as about;
use super::rings::{self, Rings, Winding};
use super::stamp::Stamp;
use super::{metadata, style};
use crate::codec::geopackage::{blob, line_blob, point_blob};
use crate::coordinates::LonLat;
use crate::findings::{Fault, Outcome, Place};
use crate::plan::{BalanceMap, Plan};
use crate::read::Polygon;
use rusqlite::types::ToSqlOutput;
use rusqlite::{Connection, ToSql, params, params_from_iter};
use std::path::Path;

const WGS_84: i32 = 4326;
/// Definition of the index extension, as in the annex on R-tree spatial indexes.
const RTREE: &str = "http://www.geopackage.org/spec120/#extension_rtree";

/// Writes the file, which must not exist yet.
///
/// Shape: table `rates` has one row per map zone, in map order; `balance`, where something is left to
/// broadcast, one per zone of its map; `boundary` and `exclusions` one per polygon; then the layers of the
/// drive. Units: degrees on WGS 84, every bit kept; attributes as their columns say.
///
/// # Errors
/// The disk (machine).
pub(super) fn write(
    plan: &Plan,
    table: &Table,
    layers: &[Layer],
    stamp: &Stamp,
    path: &Path,
) -> Outcome<()> {
    file(path, |database| fill(database, plan, table, layers, stamp))
}

/// Makes the file and lets `fill` put tables into it.
///
/// # Errors
/// The disk (machine).
pub(super) fn file(
    path: &Path,
    fill: impl FnOnce(&Connection) -> rusqlite::Result<()>,
) -> Outcome<()> {
    made(path, fill).map_err(|error| {
        Fault::machine(
            "write.geopackage",
            Place::file(path),
            format!("The GeoPackage could not be written: {error}"),
            "a disk with enough free space and a folder that this user may write to",
            "Check the disk or name another output folder; nothing was replaced.",
        )
    })
}

fn made(
    path: &Path,
    fill: impl FnOnce(&Connection) -> rusqlite::Result<()>,
) -> rusqlite::Result<()> {
    let mut database = Connection::open(path)?;
    // The file is in a temporary folder that goes away if anything fails: no journal needed.
    database.pragma_update(None, "journal_mode", "OFF")?;
    // Whoever has the file made waits for the disk afterwards, once for all files (`disk::keep`).
    database.pragma_update(None, "synchronous", "OFF")?;
    database.pragma_update(None, "application_id", 0x4750_4B47)?;
    // 1.3 and not 1.4: what is stored is the same, and programs of before 2024 warn about 1.4.
    database.pragma_update(None, "user_version", 10_300)?;
    let change = database.transaction()?;
    change.execute_batch(include_str!("geopackage.sql"))?;
    fill(&change)?;
    change.commit()?;
    database.close().map_err(|(_, error)| error)
}

fn fill(
    change: &Connection,
    plan: &Plan,
    table: &Table,
    layers: &[Layer],
    stamp: &Stamp,
) -> rusqlite::Result<()> {
    let columns: Vec<(&str, Kind)> = table
        .columns
        .iter()
        .map(|column| (column.name.as_str(), column.kind))
        .collect();
    let zones = plan.maps.rate.zones.iter().zip(&table.rows);
    let zones = zones
        .map(|(zone, row)| (zone.polygons.as_slice(), row.clone()))
        .collect();
    let about = format!("Rates of plan {}, by rate and land part; kg/ha", plan.id);
    features(change, "rates", &about, &columns, zones, stamp)?;
    about::begin(change, stamp)?;
    about::columns(change, "rates", table)?;
    about::styles(change, "rates", &style::of_products(plan), stamp)?;
    about::metadata(change, &metadata::text(plan, stamp), stamp)?;
    if let Some(map) = &plan.maps.balance {
        balance(change, plan, map, stamp)?;
    }

    let columns = [("part", Kind::Integer), ("plan", Kind::Text)];
    let about = format!("Boundary of the field, plan {}", plan.id);
    features(
        change,
        "boundary",
        &about,
        &columns,
        numbered(&plan.land.boundary, plan),
        stamp,
    )?;
    let about = format!("Land left out, with its buffer, plan {}", plan.id);
    features(
        change,
        "exclusions",
        &about,
        &columns,
        numbered(&plan.land.exclusions, plan),
        stamp,
    )?;
    for layer in layers {
        let columns: Vec<(&str, Kind)> = layer
            .columns
            .iter()
            .map(|(name, kind)| (name.as_str(), *kind))
            .collect();
        let kind = match layer.geometry {
            GeometryKind::Point => "POINT",
            GeometryKind::Line => "LINESTRING",
            GeometryKind::Polygons => "MULTIPOLYGON",
        };
        let rows = layer.rows.iter().map(|(geometry, row)| {
            let drawn = match geometry {
                Geometry::Point(point) => Drawn::point(*point),
                Geometry::Line(points) => Drawn::line(points),
                Geometry::Polygons(polygons) => Drawn::polygons(polygons),
            };
            (drawn, row.clone())
        });
        let rows = rows.collect();
        table_of(
            change,
            layer.name,
            kind,
            &layer.about,
            &columns,
            rows,
            stamp,
        )?;
    }
    Ok(())
}

/// The map of what is left to broadcast.
fn balance(
    database: &Connection,
    plan: &Plan,
    map: &BalanceMap,
    stamp: &Stamp,
) -> rusqlite::Result<()> {
    let table = attributes::of_balance(plan, map);
    let columns: Vec<(&str, Kind)> = table
        .columns
        .iter()
        .map(|column| (column.name.as_str(), column.kind))
        .collect();
    let zones = map.zones.iter().zip(&table.rows);
    let zones = zones
        .map(|(zone, row)| (zone.polygons.as_slice(), row.clone()))
        .collect();
    let about = format!("Left to broadcast by plan {}; kg/ha", plan.id);
    features(database, "balance", &about, &columns, zones, stamp)?;
    about::columns(database, "balance", &table)?;
    about::styles(database, "balance", &style::of_balances(plan, map), stamp)
}

fn numbered<'a>(
    polygons: &'a [Polygon<LonLat>],
    plan: &Plan,
) -> Vec<(&'a [Polygon<LonLat>], Vec<Value>)> {
    let row = |number| vec![Value::Integer(number), Value::Text(plan.id.clone())];
    polygons
        .iter()
        .map(std::slice::from_ref)
        .zip((1..).map(row))
        .collect()
}

/// A geometry ready to store, and its extent.
struct Drawn {
    blob: Vec<u8>,
    extent: Option<[f64; 4]>,
}

impl Drawn {
    fn point(place: LonLat) -> Self {
        let point = place.pair();
        Self {
            blob: point_blob(WGS_84, point),
            extent: rings::extent([point]),
        }
    }

    fn line(line: &[LonLat]) -> Self {
        let points: Vec<[f64; 2]> = line.iter().map(|place| place.pair()).collect();
        Self {
            blob: line_blob(WGS_84, &points),
            extent: rings::extent(points),
        }
    }

    fn polygons(polygons: &[Polygon<LonLat>]) -> Self {
        let polygons = rings::of(polygons, Winding::ExteriorCounterClockwise, None);
        let slices: Vec<Vec<&[[f64; 2]]>> = polygons
            .iter()
            .map(|Rings(rings)| rings.iter().map(Vec::as_slice).collect())
            .collect();
        let points = polygons
            .iter()
            .flat_map(|Rings(rings)| rings.iter().flatten());
        Self {
            blob: blob(WGS_84, &slices),
            extent: rings::extent(points.copied()),
        }
    }
}

/// A table of polygons.
pub(super) fn features(
    database: &Connection,
    name: &str,
    about: &str,
    columns: &[(&str, Kind)],
    rows: Vec<(&[Polygon<LonLat>], Vec<Value>)>,
    stamp: &Stamp,
) -> rusqlite::Result<()> {
    let drawn = rows.into_iter();
    let drawn = drawn.map(|(polygons, row)| (Drawn::polygons(polygons), row));
    table_of(
        database,
        name,
        "MULTIPOLYGON",
        about,
        columns,
        drawn.collect(),
        stamp,
    )
}

/// A table of features with its entries in the tables that list it, and its spatial index.
fn table_of(
    database: &Connection,
    name: &str,
    kind: &str,
    about: &str,
    columns: &[(&str, Kind)],
    rows: Vec<(Drawn, Vec<Value>)>,
    stamp: &Stamp,
) -> rusqlite::Result<()> {
    let definitions: String = columns
        .iter()
        .map(|(column, kind)| format!(", {} {}", quoted(column), sql_type(*kind)))
        .collect();
    database.execute_batch(&format!(
        "CREATE TABLE \"{name}\" (fid INTEGER PRIMARY KEY AUTOINCREMENT NOT NULL, geom {kind}{definitions});
         CREATE VIRTUAL TABLE \"rtree_{name}_geom\" USING rtree(id, minx, maxx, miny, maxy);"
    ))?;

    let marks: String = columns.iter().map(|_| ", ?").collect();
    let mut insert =
        database.prepare(&format!("INSERT INTO \"{name}\" VALUES (NULL, ?{marks})"))?;
    let mut index = database.prepare(&format!(
        "INSERT INTO \"rtree_{name}_geom\" VALUES (?, ?, ?, ?, ?)"
    ))?;
    let mut extents = Vec::new();
    for (drawn, row) in rows {
        let values =
            std::iter::once(Bound::Blob(drawn.blob)).chain(row.into_iter().map(Bound::Value));
        insert.execute(params_from_iter(values))?;
        if let Some([west, south, east, north]) = drawn.extent {
            index.execute(params![
                database.last_insert_rowid(),
                west,
                east,
                south,
                north
            ])?;
            extents.extend([[west, south], [east, north]]);
        }
    }

    let extent = rings::extent(extents);
    let side = |at: usize| extent.and_then(|sides| sides.get(at).copied());
    database.execute(
        "INSERT INTO gpkg_contents VALUES (?, 'features', ?, ?, ?, ?, ?, ?, ?, ?)",
        params![
            name,
            name,
            about,
            stamp.utc,
            side(0),
            side(1),
            side(2),
            side(3),
            WGS_84
        ],
    )?;
    database.execute(
        "INSERT INTO gpkg_geometry_columns VALUES (?, 'geom', ?, ?, 0, 0)",
        params![name, kind, WGS_84],
    )?;
    database.execute(
        "INSERT INTO gpkg_extensions VALUES (?, 'geom', 'gpkg_rtree_index', ?, 'write-only')",
        params![name, RTREE],
    )?;
    // Last, for they call functions of a GIS that this connection does not have.
    database.execute_batch(&include_str!("geopackage_index.sql").replace("<t>", name))
}

fn sql_type(kind: Kind) -> &'static str {
    match kind {
        Kind::Integer => "INTEGER",
        Kind::Number | Kind::Converted => "DOUBLE",
        Kind::Text => "TEXT",
    }
}

fn quoted(name: &str) -> String {
    format!("\"{}\"", name.replace('"', "\"\""))
}

/// A value on its way into a statement.
enum Bound {
    Blob(Vec<u8>),
    Value(Value),
}

impl ToSql for Bound {
    fn to_sql(&self) -> rusqlite::Result<ToSqlOutput<'_>> {
        match self {
            Bound::Blob(bytes) => bytes.to_sql(),
            Bound::Value(Value::Integer(value)) => value.to_sql(),
            Bound::Value(Value::Number(value)) => value.to_sql(),
            Bound::Value(Value::Text(text)) => text.to_sql(),
        }
    }
}
