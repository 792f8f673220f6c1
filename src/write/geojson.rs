//! GeoJSON (RFC 7946) of the map zones and of the layers of the drive.

use super::attributes::{Table, Value};
use super::drive_layers::{Geometry, Layer};
use super::rings::{self, Winding};
use crate::codec::decimal;
use crate::coordinates::LonLat;
use crate::map::MapZone;
use crate::plan::Plan;
use crate::read::Polygon;
use rayon::prelude::*;
use std::fmt::Write;

/// Decimals of longitude and latitude: 0.1 mm on the ground.
const DECIMALS: i32 = 9;

/// A feature collection with one MultiPolygon per map zone, one feature a line.
///
/// Shape: `table` has one row per entry of `zones`. Units: degrees on WGS 84. The `plan` and `made_by`
/// members of the collection are foreign members by section 6.1 of the RFC.
pub(super) fn text(plan: &Plan, zones: &[MapZone], table: &Table) -> String {
    let names: Vec<&str> = table
        .columns
        .iter()
        .map(|column| column.name.as_str())
        .collect();
    let mut out = head(Some(plan));
    // Room for all of it: a text that grows as it gets longer takes twice its own for a while.
    out.reserve(zones.iter().map(|zone| room_for(&zone.polygons)).sum());
    let across = goes_across(zones.iter().flat_map(|zone| zone.polygons.iter()));
    for (index, (zone, row)) in zones.iter().zip(&table.rows).enumerate() {
        feature_head(&mut out, index, zone.id, &names, row);
        polygons_of(&mut out, &zone.polygons, across);
        out.push('}');
    }
    out.push_str("\n]}\n");
    out
}

/// A feature collection of a layer of the drive, or of what belongs to no plan, one feature a line; features are numbered from 1.
pub(super) fn layer_text(plan: Option<&Plan>, layer: &Layer) -> String {
    let names: Vec<&str> = layer
        .columns
        .iter()
        .map(|(name, _)| name.as_str())
        .collect();
    let mut out = head(plan);
    let across = layer.rows.iter().any(|(geometry, _)| match geometry {
        Geometry::Polygons(polygons) => goes_across(polygons),
        Geometry::Line(points) => rings::is_across(points),
        Geometry::Point(_) => false,
    });
    let at = |place: LonLat| match across {
        true => rings::counts_on(place.pair()),
        false => place.pair(),
    };
    for (index, (geometry, row)) in layer.rows.iter().enumerate() {
        feature_head(&mut out, index, index + 1, &names, row);
        match geometry {
            Geometry::Polygons(polygons) => polygons_of(&mut out, polygons, across),
            Geometry::Line(points) => {
                out.push_str("{\"type\":\"LineString\",\"coordinates\":[");
                list(&mut out, points, |out, place| point(out, at(*place)));
                out.push_str("]}");
            }
            Geometry::Point(place) => {
                out.push_str("{\"type\":\"Point\",\"coordinates\":");
                point(&mut out, at(*place));
                out.push('}');
            }
        }
        out.push('}');
    }
    out.push_str("\n]}\n");
    out
}

/// A feature collection of polygons without a plan, with a value per name; numbered from 1.
pub(super) fn collection(names: &[&str], rows: &[(&[Polygon<LonLat>], Vec<Value>)]) -> String {
    let mut out = head(None);
    let across = goes_across(rows.iter().flat_map(|(polygons, _)| *polygons));
    for (index, (polygons, row)) in rows.iter().enumerate() {
        feature_head(&mut out, index, index + 1, names, row);
        polygons_of(&mut out, polygons, across);
        out.push('}');
    }
    out.push_str("\n]}\n");
    out
}

/// One feature of polygons with a text as its id.
pub(super) fn feature(
    id: &str,
    names: &[&str],
    row: &[Value],
    polygons: &[Polygon<LonLat>],
) -> String {
    let mut out = format!("{{\"type\":\"Feature\",\"id\":{},", quoted(id));
    properties(&mut out, names, row);
    polygons_of(&mut out, polygons, goes_across(polygons));
    out.push('}');
    out
}

/// A collection up to its first feature.
pub(super) fn head(plan: Option<&Plan>) -> String {
    let plan = plan.map(|plan| format!("\"plan\":{},", quoted(&plan.id)));
    format!(
        "{{\"type\":\"FeatureCollection\",{}\"made_by\":{},\"features\":[",
        plan.unwrap_or_default(),
        quoted(concat!("twinsow ", env!("CARGO_PKG_VERSION")))
    )
}

/// A feature up to its geometry: place in the list, id, properties.
fn feature_head(out: &mut String, index: usize, id: usize, names: &[&str], row: &[Value]) {
    out.push_str(if index == 0 { "\n" } else { ",\n" });
    let _ = write!(out, "{{\"type\":\"Feature\",\"id\":{id},");
    properties(out, names, row);
}

/// The properties of a feature, and all before its geometry.
fn properties(out: &mut String, names: &[&str], row: &[Value]) {
    out.push_str("\"properties\":{");
    for (at, (name, value)) in names.iter().zip(row).enumerate() {
        let comma = if at == 0 { "" } else { "," };
        let _ = write!(out, "{comma}{}:{}", quoted(name), json(value));
    }
    out.push_str("},\"geometry\":");
}

/// Whether a ring goes across the 180th meridian. Then all longitudes of a file count on to the east beyond 180: a ring that jumped
/// from 180 to -180 would go around the globe for most who read it.
fn goes_across<'a>(polygons: impl IntoIterator<Item = &'a Polygon<LonLat>>) -> bool {
    polygons
        .into_iter()
        .any(|polygon| rings::is_across(&polygon.exterior))
}

fn polygons_of(out: &mut String, polygons: &[Polygon<LonLat>], across: bool) {
    out.push_str("{\"type\":\"MultiPolygon\",\"coordinates\":[");
    let mut first = true;
    // Pieces of text made side by side, put together in order; a few at a time, for a map is large.
    for polygons in polygons.chunks(POLYGONS * PIECES) {
        let texts: Vec<String> = polygons
            .par_chunks(POLYGONS)
            .map(|polygons| text_of(polygons, across))
            .collect();
        for text in texts.iter().filter(|text| !text.is_empty()) {
            if !first {
                out.push(',');
            }
            out.push_str(text);
            first = false;
        }
    }
    out.push_str("]}");
}

/// Polygons in one piece of text, and pieces that are made before they are put together.
const POLYGONS: usize = 64;
const PIECES: usize = 16;

/// Polygons with commas between them; nothing if rounding leaves none.
fn text_of(polygons: &[Polygon<LonLat>], across: bool) -> String {
    let mut text = String::with_capacity(room_for(polygons));
    let to_write = |polygon| rings::one(polygon, Winding::ExteriorCounterClockwise, Some(DECIMALS));
    for polygon in polygons.iter().filter_map(to_write) {
        let polygon = if across {
            polygon.counted_on()
        } else {
            polygon
        };
        text.push_str(if text.is_empty() { "[" } else { ",[" });
        list(&mut text, &polygon.0, |text, ring| {
            text.push('[');
            list(text, ring, |text, [x, y]| {
                text.push('[');
                decimal::push(text, *x);
                text.push(',');
                decimal::push(text, *y);
                text.push(']');
            });
            text.push(']');
        });
        text.push(']');
    }
    text
}

/// About as many bytes as the points of polygons take.
fn room_for(polygons: &[Polygon<LonLat>]) -> usize {
    let count =
        |of: &Polygon<LonLat>| of.exterior.len() + of.holes.iter().map(Vec::len).sum::<usize>();
    28 * polygons.iter().map(count).sum::<usize>()
}

/// A place with its decimals.
fn point(out: &mut String, place: [f64; 2]) {
    let scale = 10f64.powi(DECIMALS);
    let [x, y] = place.map(|v| rings::rounded(v, scale));
    let _ = write!(out, "[{x},{y}]");
}

fn list<T>(out: &mut String, items: &[T], mut one: impl FnMut(&mut String, &T)) {
    for (index, item) in items.iter().enumerate() {
        if index > 0 {
            out.push(',');
        }
        one(out, item);
    }
}

fn json(value: &Value) -> String {
    match value {
        Value::Integer(value) => value.to_string(),
        // With its point even if it is whole, so that a column keeps one type from file to file.
        Value::Number(value) => serde_json::Value::from(*value).to_string(),
        Value::Text(text) => quoted(text),
    }
}

fn quoted(text: &str) -> String {
    serde_json::Value::from(text).to_string()
}
