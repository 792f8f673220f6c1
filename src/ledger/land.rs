//! The land of a ledger: pieces with what they got or gave, as GeoJSON beside the CSV of the year.

use super::row::{ToldBy, told_in_part};
use crate::agronomy::placed::{AMOUNTS, DATE, LOGS, PLACED, PLAN, TASKS, WHAT};
use crate::coordinates::LonLat;
use crate::findings::{Fault, Outcome, Place};
use crate::read::Polygon;
use serde_json::{Map, Value, json};
use std::path::Path;

/// A piece of land with what it got or gave.
#[derive(Debug, Clone)]
pub struct Piece {
    /// `placed` or `harvested`.
    pub what: &'static str,
    /// YYYY-MM-DD.
    pub date: String,
    /// Customer; empty where none is named.
    pub customer: String,
    /// Farm; empty where it has no name.
    pub farm: String,
    /// Name of the field.
    pub field: String,
    /// Id of the plan.
    pub plan: String,
    /// Tasks of the log; empty for a harvest.
    pub tasks: String,
    /// Signs of the logs; empty for a harvest.
    pub logs: String,
    /// Zone of the plan's map.
    pub zone: i64,
    /// N, P2O5, K2O and S that came (or left, below 0), kg/ha; none where nobody knows.
    pub kg_per_ha: [Option<f64>; 4],
    /// Yield, t/ha.
    pub yield_t_per_ha: Option<f64>,
    /// In degrees on WGS 84.
    pub polygons: Vec<Polygon<LonLat>>,
}

/// The land of a year with new pieces, which take the place of older ones that tell of the same.
///
/// # Errors
/// Bytes that are no land of a ledger.
pub fn land(old: Option<&[u8]>, new: &[Piece], file: &Path) -> Outcome<Vec<u8>> {
    let bad = |found: String| {
        Fault::input(
            "ledger.land",
            Place::file(file),
            found,
            "a GeoJSON FeatureCollection that a ledger has written, or no file of that name",
            "Name a folder of its own for the ledger, or put the file back as it was written.",
        )
    };
    let mut features: Vec<Value> = match old {
        None => Vec::new(),
        Some(bytes) => {
            let root: Value = serde_json::from_slice(bytes)
                .map_err(|error| bad(format!("This is no JSON ({error})")))?;
            let features = root.get("features").and_then(Value::as_array);
            let features = features.ok_or_else(|| bad("It has no features".to_owned()))?;
            let is_ours = |own: &Value| own["properties"].get(WHAT).is_some_and(Value::is_string);
            if let Some(nth) = features.iter().position(|own| !is_ours(own)) {
                return Err(bad(format!("Feature {} has no '{WHAT}'", nth + 1)));
            }
            features.clone()
        }
    };
    let told = |own: &Value, how| new.iter().any(|piece| told_by(own, piece) == how);
    if let Some(own) = features.iter().find(|own| told(own, ToldBy::Part)) {
        return Err(told_in_part(Place::file(file), text(own, LOGS)));
    }
    features.retain(|own| !told(own, ToldBy::Whole));
    features.extend(
        new.iter()
            .filter(|own| !own.polygons.is_empty())
            .map(feature),
    );
    let key = |own: &Value| {
        let text = |key: &str| text(own, key).to_owned();
        let zone = own["properties"]["zone"].as_i64();
        (
            text(DATE),
            text(FIELD),
            text(PLAN),
            text(TASKS),
            text(LOGS),
            text(WHAT),
            zone,
        )
    };
    features.sort_by_cached_key(key);
    let mut text = String::from("{\"type\":\"FeatureCollection\",\"features\":[\n");
    let lines: Vec<String> = features.iter().map(Value::to_string).collect();
    text.push_str(&lines.join(",\n"));
    text.push_str("\n]}\n");
    Ok(text.into_bytes())
}

const CUSTOMER: &str = "customer";
const FARM: &str = "farm";
const FIELD: &str = "field";

/// A text of a piece in the file; empty where it has none.
fn text<'a>(own: &'a Value, key: &str) -> &'a str {
    own["properties"][key].as_str().unwrap_or("")
}

/// How a new piece tells of one in the file: as rows do.
fn told_by(own: &Value, piece: &Piece) -> ToldBy {
    let same = |key: &str, new: &str| text(own, key) == new;
    if !same(WHAT, piece.what) {
        return ToldBy::No;
    }
    let of_field = same(CUSTOMER, &piece.customer)
        && same(FARM, &piece.farm)
        && same(FIELD, &piece.field)
        && same(DATE, &piece.date);
    match piece.what == PLACED {
        true if same(PLAN, &piece.plan) => ToldBy::logs(text(own, LOGS), &piece.logs),
        false if of_field => ToldBy::Whole,
        _ => ToldBy::No,
    }
}

fn feature(piece: &Piece) -> Value {
    let rounded = |value: f64| (value * 1000.0).round() / 1000.0;
    let mut properties = Map::new();
    let mut put = |key: &str, value: Value| properties.insert(key.to_owned(), value);
    put(WHAT, piece.what.into());
    put(DATE, piece.date.as_str().into());
    put(CUSTOMER, piece.customer.as_str().into());
    put(FARM, piece.farm.as_str().into());
    put(FIELD, piece.field.as_str().into());
    put(PLAN, piece.plan.as_str().into());
    put(TASKS, piece.tasks.as_str().into());
    put(LOGS, piece.logs.as_str().into());
    put("zone", piece.zone.into());
    for (name, amount) in AMOUNTS.into_iter().zip(piece.kg_per_ha) {
        put(name, amount.map(rounded).into());
    }
    put("yield_t_per_ha", piece.yield_t_per_ha.map(rounded).into());
    let place = |at: &LonLat| json!([degrees(at.lon), degrees(at.lat)]);
    let ring = |ring: &Vec<LonLat>| Value::from(ring.iter().map(place).collect::<Vec<_>>());
    let polygon = |own: &Polygon<LonLat>| {
        let rings = std::iter::once(&own.exterior).chain(&own.holes);
        Value::from(rings.map(ring).collect::<Vec<_>>())
    };
    let polygons: Vec<Value> = piece.polygons.iter().map(polygon).collect();
    json!({ "type": "Feature", "properties": properties, "geometry": { "type": "MultiPolygon", "coordinates": polygons } })
}

/// To a tenth of a millimetre.
fn degrees(value: f64) -> f64 {
    (value * 1e9).round() / 1e9
}
