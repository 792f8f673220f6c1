//! Vector files: polygons with one column of rates per product, in kg/ha or lb/ac.

use super::carried::Carrier;
use super::outline::Outline;
use super::rated_land::{RatedLand, by_rates};
use super::{Delivered, Piece, Shown, Sown};
use crate::coordinates::LonLat;
use crate::findings::Outcome;
use crate::frame::{Crs, as_drawn};
use crate::read::{self, Geometry, Layer, Polygon, Value};
use crate::units::{M2_PER_HA, kg_per_ha_from_lb_per_acre};
use crate::write::CLASSES;
use std::path::Path;

pub(super) fn read(path: &Path) -> Outcome<Vec<Delivered>> {
    let mut found = Vec::new();
    for layer in read::polygon_layers(path)? {
        let (columns, note) = rate_columns(&layer);
        if !columns.is_empty() {
            found.push(of_layer(layer, &columns, note)?);
        }
    }
    Ok(found)
}

/// A column of rates.
#[derive(Debug, Clone, Copy, PartialEq)]
struct RateColumn {
    at: usize,
    /// kg/ha in one of its unit.
    each: f64,
}

/// How the names of columns with rates end, in one spelling or another, and kg/ha in one of their unit.
fn unit_of(name: &str) -> Option<f64> {
    let name = name.to_lowercase();
    let ends = |ends: &[&str]| ends.iter().any(|end| name.ends_with(end));
    if ends(&["kg_ha", "kg/ha", "kg_per_ha", "kgha"]) {
        return Some(1.0);
    }
    ends(&["lb_ac", "lb/ac", "lb_per_ac", "lbac"]).then(|| kg_per_ha_from_lb_per_acre(1.0))
}

/// Columns that hold rates: those whose name ends in kg/ha or lb/ac in one spelling or another; else the only
/// column of numbers, if there is just one.
fn rate_columns(layer: &Layer) -> (Vec<RateColumn>, Option<String>) {
    let columns = 0..layer.attributes.len();
    let by_name: Vec<RateColumn> = columns
        .clone()
        .filter(|&at| !holds_classes(layer, at))
        .filter_map(|at| {
            let each = unit_of(layer.attributes.get(at)?)?;
            Some(RateColumn { at, each })
        })
        .collect();
    if !by_name.is_empty() {
        return (by_name, None);
    }
    let numeric = |at: &usize| {
        let mut values = layer.features.iter().filter_map(|f| f.values.get(*at));
        values.clone().next().is_some()
            && values.all(|v| matches!(v, Value::Number(_) | Value::Integer(_)))
    };
    let numbers: Vec<usize> = columns.filter(numeric).collect();
    match numbers.as_slice() {
        [only] => {
            let name = layer.attributes.get(*only).cloned().unwrap_or_default();
            let note = format!("'{name}' is the only column of numbers and was taken for kg/ha");
            let only = RateColumn {
                at: *only,
                each: 1.0,
            };
            (vec![only], Some(note))
        }
        _ => (Vec::new(), None),
    }
}

/// Whether a column holds the classes of a zone layer: the layer may be called `yield_kg_ha`.
fn holds_classes(layer: &Layer, at: usize) -> bool {
    let name = layer.attributes.get(at);
    let called = name.is_some_and(|name| CLASSES.iter().any(|front| name.starts_with(front)));
    let is_text = |value: Option<&Value>| matches!(value, Some(Value::Text(_) | Value::Missing));
    called && layer.features.iter().all(|own| is_text(own.values.get(at)))
}

fn of_layer(layer: Layer, columns: &[RateColumn], note: Option<String>) -> Outcome<Delivered> {
    let crs = Crs::of(&layer, None)?;
    // What is in degrees is taken as it is drawn: point by point, with straight lines between.
    let layer = as_drawn(layer, &crs)?;
    let mut out = Delivered {
        file: layer.file.display().to_string(),
        format: match &layer.table {
            Some(table) => format!("{}, table {table}", layer.format),
            None => layer.format.to_string(),
        },
        plan: plan_of(&layer),
        area_m2: 0.0,
        pieces: 0,
        products: Vec::new(),
        cells_in_rim: None,
        grid: None,
        land: Vec::new(),
        outlined: None,
        carrier: match layer.format {
            read::SHAPEFILE => Carrier::Shapefile,
            _ => Carrier::Whole,
        },
        extent: extent_of(&layer),
        faults: Vec::new(),
        without_cell: None,
        notes: note.into_iter().collect(),
        hundredths: false,
        set: Vec::new(),
        shown: Shown::Nothing,
    };
    let mut land = Vec::new();
    let mut pieces = Vec::new();
    let mut missing = 0;
    for feature in &layer.features {
        let Geometry::Polygons(polygons) = &feature.geometry else {
            continue;
        };
        let outline = Outline::of(polygons);
        let m2 = outline.area_m2;
        let mut rates = Vec::new();
        for RateColumn { at, each } in columns {
            rates.push(match feature.values.get(*at) {
                Some(Value::Number(rate)) if rate.is_finite() => *rate * each,
                Some(Value::Integer(rate)) => *rate as f64 * each,
                _ => {
                    missing += 1;
                    0.0
                }
            });
        }
        out.pieces += polygons.len();
        out.area_m2 += m2;
        pieces.push(Piece {
            rates: rates.clone(),
            polygons: polygons.clone(),
        });
        land.push(RatedLand { rates, outline });
    }
    if missing > 0 {
        out.faults
            .push(format!("{missing} rates are missing or are no numbers"));
    }
    for (nth, column) in columns.iter().enumerate() {
        let name = layer.attributes.get(column.at).cloned().unwrap_or_default();
        let own = land.iter().map(|own| {
            let rate = own.rates.get(nth).copied().unwrap_or(0.0);
            (rate, own.outline.area_m2)
        });
        let sown = Sown::of(name, own);
        if sown.lowest_kg_per_ha < 0.0 {
            out.faults
                .push(format!("{}: a rate is negative", sown.name));
        }
        out.products.push(sown);
    }
    out.land = by_rates(land);
    out.shown = Shown::Polygons(pieces);
    Ok(out)
}

/// The extent of all polygons of a layer.
fn extent_of(layer: &Layer<LonLat>) -> Option<[f64; 4]> {
    layer
        .features
        .iter()
        .fold(None, |extent, feature| match &feature.geometry {
            Geometry::Polygons(polygons) => with(extent, polygons),
            _ => extent,
        })
}

/// An extent (west, south, east, north) that takes in polygons as well.
pub(super) fn with(extent: Option<[f64; 4]>, polygons: &[Polygon<LonLat>]) -> Option<[f64; 4]> {
    let places = polygons.iter().flat_map(|polygon| &polygon.exterior);
    places.fold(extent, |extent, LonLat { lon, lat }| {
        let [west, south, east, north] = extent.unwrap_or([*lon, *lat, *lon, *lat]);
        Some([
            west.min(*lon),
            south.min(*lat),
            east.max(*lon),
            north.max(*lat),
        ])
    })
}

/// The id in a column `plan`, or at the end of the file's name as our terminal files have it.
fn plan_of(layer: &Layer<LonLat>) -> Option<String> {
    let column = layer
        .attributes
        .iter()
        .position(|name| name.eq_ignore_ascii_case("plan"));
    let value = column.and_then(|at| layer.features.first()?.values.get(at));
    if let Some(Value::Text(id)) = value {
        return Some(id.trim().to_string());
    }
    let stem = layer.file.file_stem()?.to_string_lossy().into_owned();
    let (_, id) = stem.rsplit_once('_')?;
    let is_id = id.len() == 6
        && id
            .chars()
            .all(|c| c.is_ascii_uppercase() || c.is_ascii_digit());
    is_id.then(|| id.to_string())
}

impl Sown {
    /// From the rate and the area of each piece of land.
    pub(super) fn of(name: String, pieces: impl Iterator<Item = (f64, f64)>) -> Self {
        let mut sown = Self {
            name,
            lowest_kg_per_ha: f64::INFINITY,
            highest_kg_per_ha: f64::NEG_INFINITY,
            kg: 0.0,
            lowest_above_zero: None,
            zero_pieces: 0,
            zero_m2: 0.0,
        };
        for (rate, m2) in pieces {
            sown.lowest_kg_per_ha = sown.lowest_kg_per_ha.min(rate);
            sown.highest_kg_per_ha = sown.highest_kg_per_ha.max(rate);
            sown.kg += rate * m2 / M2_PER_HA;
            if rate > 0.0 {
                let lowest = sown.lowest_above_zero.unwrap_or(rate);
                sown.lowest_above_zero = Some(lowest.min(rate));
            }
            if rate == 0.0 {
                sown.zero_pieces += 1;
                sown.zero_m2 += m2;
            }
        }
        if sown.lowest_kg_per_ha > sown.highest_kg_per_ha {
            (sown.lowest_kg_per_ha, sown.highest_kg_per_ha) = (0.0, 0.0);
        }
        sown
    }
}
