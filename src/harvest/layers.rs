//! Map layers as GeoJSON: every reading with the step that took it, and the yield map.

use super::clean::Cleaned;
use super::surface::Cell;
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
    let mut text = String::from("{\"type\":\"FeatureCollection\",\"features\":[\n");
    for (at, cell) in cells.iter().enumerate() {
        let [x, y] = cell.corner;
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
            "{comma}{{\"type\":\"Feature\",\"properties\":{{\"kg_per_ha\":{},\"plus_minus_kg_per_ha\":{},\"readings\":{}}},\"geometry\":{{\"type\":\"Polygon\",\"coordinates\":[[{}]]}}}}",
            number(cell.kg_per_ha),
            cell.plus_minus_kg_per_ha.map_or("null".to_owned(), number),
            cell.readings,
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
