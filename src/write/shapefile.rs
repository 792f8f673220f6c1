//! Shapefile (description of July 1998) with its attribute table (dBASE III), in WGS 84.

use super::attributes::{Kind, Value};
use super::rings::{self, Rings, Winding};
use super::stamp::Stamp;
use crate::coordinates::LonLat;
use crate::findings::{Fault, Outcome, Place};
use crate::read::Polygon;
use dbase::{FieldName, FieldValue, TableWriterBuilder, Unicode};
use shapefile::{Point, PolygonRing, ShapeWriter};
use std::fmt::Display;
use std::io::Cursor;

/// Longest field name in a table.
pub(super) const LONGEST_NAME: usize = 10;
/// Decimals of numbers that were not converted.
pub(super) const DECIMALS: usize = 6;
/// Bytes of a text field, at most: the most the format allows.
const TEXT_BYTES: usize = 254;
/// WGS 84 in the spelling that shapefile readers know.
const PRJ: &str = r#"GEOGCS["GCS_WGS_1984",DATUM["D_WGS_1984",SPHEROID["WGS_1984",6378137.0,298.257223563]],PRIMEM["Greenwich",0.0],UNIT["Degree",0.0174532925199433]]"#;

/// A field of the attribute table.
pub(super) struct Field {
    /// At most [`LONGEST_NAME`] ASCII characters.
    pub name: String,
    pub kind: Kind,
}

/// The files of one layer, by extension, in the order in which they are written.
///
/// Shape: one record per entry of `rows`; several polygons are parts of one record. Units: degrees
/// on WGS 84, every bit kept, but counted on beyond 180 where a record goes across that meridian; numbers with 6 decimals,
/// converted ones with 9. Exteriors run clockwise. A text field is as wide as its longest text; a text longer than
/// 254 bytes is cut on a character.
///
/// # Errors
/// A field name or a file that the format cannot hold.
pub(super) fn files(
    fields: &[Field],
    rows: &[(&[Polygon<LonLat>], Vec<Value>)],
    stamp: &Stamp,
) -> Outcome<[(&'static str, Vec<u8>); 5]> {
    let (mut shp, mut shx, mut dbf) = (
        Cursor::new(Vec::new()),
        Cursor::new(Vec::new()),
        Cursor::new(Vec::new()),
    );
    let mut builder = TableWriterBuilder::with_encoding(Unicode);
    for (at, field) in fields.iter().enumerate() {
        let name = FieldName::try_from(field.name.as_str()).map_err(refused)?;
        builder = match field.kind {
            Kind::Integer => builder.add_numeric_field(name, 10, 0),
            Kind::Number => builder.add_numeric_field(name, 19, DECIMALS as u8),
            Kind::Converted => builder.add_numeric_field(name, 19, 9),
            Kind::Text => builder.add_character_field(name, widest(rows, at)),
        };
    }
    {
        let mut table = builder.build_with_dest(&mut dbf);
        let mut shapes = ShapeWriter::with_shx(&mut shp, &mut shx);
        for (polygons, values) in rows {
            let Some(shape) = shape(polygons) else {
                continue;
            };
            shapes.write_shape(&shape).map_err(refused)?;
            let mut record = dbase::Record::default();
            for (field, value) in fields.iter().zip(values) {
                record.insert(field.name.clone(), field_value(value));
            }
            table.write_record(&record).map_err(refused)?;
        }
        shapes.finalize().map_err(refused)?;
        table.finalize().map_err(refused)?;
    }
    let mut dbf = dbf.into_inner();
    // Date of the last change, handed in instead of taken from the clock; and no code page mark, for
    // the table has none for UTF-8: the .cpg file names it.
    let (year, month, day) = stamp.date;
    let years = u8::try_from(year.saturating_sub(1900)).unwrap_or(u8::MAX);
    for (at, byte) in [(1, years), (2, month), (3, day), (29, 0)] {
        dbf[at] = byte;
    }
    Ok([
        ("shp", shp.into_inner()),
        ("shx", shx.into_inner()),
        ("dbf", dbf),
        ("prj", PRJ.as_bytes().to_vec()),
        ("cpg", b"UTF-8".to_vec()),
    ])
}

/// Bytes of the longest text of a column: a field is no wider than what it holds, and one byte at least.
fn widest(rows: &[(&[Polygon<LonLat>], Vec<Value>)], at: usize) -> u8 {
    let bytes = |value: &Value| match value {
        Value::Text(text) => cut(text).len(),
        Value::Integer(_) | Value::Number(_) => 0,
    };
    let values = rows.iter().filter_map(|(_, values)| values.get(at));
    let most = values.map(bytes).max().unwrap_or(0).max(1);
    u8::try_from(most).unwrap_or(TEXT_BYTES as u8)
}

/// A text as a field holds it: what is too long is cut on a character.
fn cut(text: &str) -> &str {
    let mut end = text.len().min(TEXT_BYTES);
    while !text.is_char_boundary(end) {
        end -= 1;
    }
    text.get(..end).unwrap_or_default()
}

/// `None` where nothing has an area.
fn shape(polygons: &[Polygon<LonLat>]) -> Option<shapefile::Polygon> {
    let mut parts = Vec::new();
    let polygons = rings::of(polygons, Winding::ExteriorClockwise, None);
    for Rings(rings) in rings::counted_on(polygons) {
        for (at, ring) in rings.into_iter().enumerate() {
            let points = ring.into_iter().map(|[x, y]| Point::new(x, y)).collect();
            let outer = at == 0;
            parts.push(if outer {
                PolygonRing::Outer(points)
            } else {
                PolygonRing::Inner(points)
            });
        }
    }
    (!parts.is_empty()).then(|| shapefile::Polygon::with_rings(parts))
}

fn field_value(value: &Value) -> FieldValue {
    match value {
        // A numeric field is text with digits; the widest id fits a f64 exactly.
        Value::Integer(value) => FieldValue::Numeric(Some(*value as f64)),
        Value::Number(value) => FieldValue::Numeric(Some(*value)),
        Value::Text(text) => FieldValue::Character(Some(cut(text).to_string())),
    }
}

fn refused(error: impl Display) -> Box<Fault> {
    Fault::input(
        "write.shapefile",
        Place::nowhere(),
        format!("The plan does not fit a Shapefile: {error}"),
        "field names of 10 ASCII characters and files below 2 GB",
        "Shorten the product ids and layer names in the job file.",
    )
}
