//! The difference map of a log as a GeoPackage with one layer.

use super::attributes::{Kind, Value};
use super::stamp::Stamp;
use super::{disk, geopackage};
use crate::coordinates::LonLat;
use crate::findings::Outcome;
use crate::read::Polygon;
use rusqlite::{Connection, OpenFlags};
use std::io::ErrorKind;
use std::path::Path;

/// Name of the layer.
const LAYER: &str = "difference";

/// Whether a file is a difference map as [`difference_map`] writes it: a GeoPackage with this layer and no other. Nothing is
/// changed, and what cannot be read is none.
pub fn is_difference_map(path: &Path) -> bool {
    let flags = OpenFlags::SQLITE_OPEN_READ_ONLY | OpenFlags::SQLITE_OPEN_NO_MUTEX;
    // Tables only: a view may stand for anything.
    let looked = Connection::open_with_flags(path, flags).and_then(|database| {
        database.execute_batch("PRAGMA trusted_schema = OFF; PRAGMA cell_size_check = ON;")?;
        let number = |query: &str| database.query_row(query, [], |row| row.get::<_, i64>(0));
        Ok([
            number(
                "SELECT count(*) FROM sqlite_master WHERE type = 'table' AND name IN ('gpkg_contents', 'difference')",
            )?,
            number("SELECT count(*) FROM gpkg_contents")?,
            number(
                "SELECT count(*) FROM pragma_table_info('difference') WHERE name IN ('land_m2', 'drilled_percent', 'passes', 'plan')",
            )?,
        ])
    });
    looked.is_ok_and(|found| found == [2, 1, 4])
}

/// Writes polygons in degrees on WGS 84 with columns of numbers and the plan's id; an older file is replaced.
///
/// # Errors
/// The time stamp is none; the disk.
pub fn difference_map<'a>(
    plan: &str,
    columns: &[String],
    rows: impl Iterator<Item = (&'a Polygon<LonLat>, &'a [f64])>,
    path: &Path,
    timestamp: &str,
) -> Outcome<()> {
    let stamp = Stamp::parse(timestamp)?;
    let mut typed: Vec<(&str, Kind)> = columns
        .iter()
        .map(|name| (name.as_str(), Kind::Number))
        .collect();
    typed.push(("plan", Kind::Text));
    let rows = rows.map(|(polygon, values)| {
        let numbers = values.iter().map(|value| Value::Number(*value));
        let id = Value::Text(plan.to_owned());
        (std::slice::from_ref(polygon), numbers.chain([id]).collect())
    });
    let about = format!("Planned and sown by plan {plan}, from the terminal's log; kg/ha");
    // Beside the target, so that an older map stays whole if the disk fills up.
    let part = disk::part_of(path);
    let part = part.as_path();
    match std::fs::remove_file(part) {
        Err(error) if error.kind() != ErrorKind::NotFound => {
            return Err(disk::fault(part, "removed", &error));
        }
        _ => {}
    }
    let made = geopackage::file(part, |database| {
        geopackage::features(database, LAYER, &about, &typed, rows.collect(), &stamp)
    });
    made.and_then(|()| disk::keep(part))
        .and_then(|()| disk::named(part, path))
        .inspect_err(|_| {
            let _ = std::fs::remove_file(part);
        })
}
