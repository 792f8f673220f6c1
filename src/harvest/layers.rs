//! Map layers as GeoJSON: every reading with the step that took it, and the yield map.

use super::clean::Cleaned;
use super::surface::Cell;
use super::years::Stacked;
use crate::coordinates::{LonLat, PlaneXy};
use crate::frame::Frame;
use std::fmt::Write as _;

/// Every reading of the files as a point: yield at the basis in kg/ha (null where the data give none), and `taken_by`, the step
/// that took it (null where it counts).
pub fn readings_geojson(cleaned: &Cleaned, frame: &Frame) -> String {
    let mut text = String::with_capacity(170 * cleaned.readings.len() + 64);
    text.push_str("{\"type\":\"FeatureCollection\",\"features\":[\n");
    for (at, reading) in cleaned.readings.iter().enumerate() {
        let LonLat { lon, lat } = frame.to_lon_lat(PlaneXy::of_pair(reading.xy));
        let kg_per_ha = number(cleaned.kg_per_ha[at]);
        let taken =
            cleaned.taken[at].map_or("null".to_owned(), |step| format!("\"{}\"", step.key()));
        let comma = if at == 0 { "" } else { ",\n" };
        let _ = write!(
            text,
            "{comma}{{\"type\":\"Feature\",\"properties\":{{\"kg_per_ha\":{kg_per_ha},\"taken_by\":{taken}}},\"geometry\":{{\"type\":\"Point\",\"coordinates\":[{lon:.7},{lat:.7}]}}}}"
        );
    }
    text.push_str("\n]}\n");
    text
}

/// The squares of the yield map as polygons.
pub fn cells_geojson(cells: &[Cell], edge_m: f64, frame: &Frame) -> String {
    let each = cells.iter().map(|cell| {
        let values = format!(
            "\"kg_per_ha\":{},\"plus_minus_kg_per_ha\":{},\"readings\":{}",
            number(cell.kg_per_ha),
            cell.plus_minus_kg_per_ha.map_or("null".to_owned(), number),
            cell.readings
        );
        (cell.corner, values)
    });
    squares(each, edge_m, frame)
}

/// The squares over the years as polygons: `class` makes zones of them.
pub fn years_geojson(stacked: &[Stacked], edge_m: f64, frame: &Frame) -> String {
    let each = stacked.iter().map(|own| {
        let values = format!(
            "\"class\":\"{}\",\"percent\":{},\"variation_percent\":{},\"years\":{}",
            own.class.word(),
            number(own.percent),
            number(own.variation_percent),
            own.years
        );
        (own.corner, values)
    });
    squares(each, edge_m, frame)
}

/// Squares by their south-west corners, with their values.
fn squares(each: impl Iterator<Item = ([f64; 2], String)>, edge_m: f64, frame: &Frame) -> String {
    let mut text = String::from("{\"type\":\"FeatureCollection\",\"features\":[\n");
    for (at, ([x, y], values)) in each.enumerate() {
        let ring = [
            [x, y],
            [x + edge_m, y],
            [x + edge_m, y + edge_m],
            [x, y + edge_m],
            [x, y],
        ];
        let ring = ring.map(|xy| {
            let LonLat { lon, lat } = frame.to_lon_lat(PlaneXy::of_pair(xy));
            format!("[{lon:.7},{lat:.7}]")
        });
        let comma = if at == 0 { "" } else { ",\n" };
        let _ = write!(
            text,
            "{comma}{{\"type\":\"Feature\",\"properties\":{{{values}}},\"geometry\":{{\"type\":\"Polygon\",\"coordinates\":[[{}]]}}}}",
            ring.join(",")
        );
    }
    text.push_str("\n]}\n");
    text
}

/// A decimal number to a tenth; `null` for what is none.
fn number(value: f64) -> String {
    match value.is_finite() {
        true => format!("{value:.1}"),
        false => "null".to_owned(),
    }
}
