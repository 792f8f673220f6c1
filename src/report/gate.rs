//! The gate check: places near the entrance, and what the screen has to show there.

use super::canvas::Canvas;
use super::number::Numbers;
use crate::coordinates::LonLat;
use crate::plan::{GatePlace, Plan};
use serde_json::{Value, json};

/// The places in their order, each with the letter that it has on the maps.
pub(super) fn of(plan: &Plan, numbers: &Numbers, canvas: &Canvas) -> Vec<Value> {
    let places = plan.gate_check().into_iter().enumerate();
    let one = |((nth, place), letter): ((usize, GatePlace), char)| {
        let from = |key: &str| format!("/gate_check/{nth}/{key}");
        let rates = place.kg_per_ha.iter().enumerate();
        let rates: Vec<Value> = rates
            .map(|(at, rate)| numbers.rate(*rate, from(&format!("kg_per_ha/{at}"))))
            .collect();
        let LonLat { lon, lat } = place.lon_lat;
        let [x, y] = canvas.place(place.lon_lat);
        json!({
            "letter": letter.to_string(),
            "lon": numbers.degrees(lon, from("lon_lat/0")),
            "lat": numbers.degrees(lat, from("lon_lat/1")),
            "rates": rates,
            "x": x.round(),
            "y": y.round(),
        })
    };
    places.zip('A'..='Z').map(one).collect()
}
