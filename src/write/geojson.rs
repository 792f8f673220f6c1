//! GeoJSON (RFC 7946) of the map zones.

use super::attributes::{Table, Value};
use super::rings::{self, Winding};
use crate::map::MapZone;
use crate::plan::Plan;
use std::fmt::Write;

/// Decimals of longitude and latitude: 0.1 mm on the ground.
const DECIMALS: i32 = 9;

/// A feature collection with one MultiPolygon per map zone, one feature a line.
///
/// Shape: `table` has one row per entry of `zones`. Units: degrees on WGS 84. The `plan` and `made_by`
/// members of the collection are foreign members by section 6.1 of the RFC.
pub(super) fn text(plan: &Plan, zones: &[MapZone], table: &Table) -> String {
    let mut out = String::new();
    let _ = write!(
        out,
        "{{\"type\":\"FeatureCollection\",\"plan\":{},\"made_by\":{},\"features\":[",
        quoted(&plan.id),
        quoted(concat!("twinsow ", env!("CARGO_PKG_VERSION")))
    );
    for (index, (zone, row)) in zones.iter().zip(&table.rows).enumerate() {
        out.push_str(if index == 0 { "\n" } else { ",\n" });
        let _ = write!(
            out,
            "{{\"type\":\"Feature\",\"id\":{},\"properties\":{{",
            zone.id
        );
        for (at, (column, value)) in table.columns.iter().zip(row).enumerate() {
            let comma = if at == 0 { "" } else { "," };
            let _ = write!(out, "{comma}{}:{}", quoted(&column.name), json(value));
        }
        out.push_str("},\"geometry\":{\"type\":\"MultiPolygon\",\"coordinates\":[");
        let polygons = rings::of(
            &zone.polygons,
            Winding::ExteriorCounterClockwise,
            Some(DECIMALS),
        );
        list(&mut out, &polygons, |out, polygon| {
            out.push('[');
            list(out, &polygon.0, |out, ring| {
                out.push('[');
                // A f64 prints as the shortest text that reads back as itself, so a number
                // rounded to 9 decimals has at most 9.
                list(out, ring, |out, [x, y]| {
                    let _ = write!(out, "[{x},{y}]");
                });
                out.push(']');
            });
            out.push(']');
        });
        out.push_str("]}}");
    }
    out.push_str("\n]}\n");
    out
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
