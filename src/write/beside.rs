//! GIS layers beside the rate map: places of the gate check, and land where a product is shut by hand.

use super::product_names::product_names;
use super::rings::{self, Winding};
use crate::plan::{GatePlace, Plan};
use serde_json::{Map, Value, json};

/// The places of the gate check as GeoJSON points, with the rate of each product; `None` without any.
pub(super) fn gate_check(plan: &Plan, places: &[GatePlace]) -> Option<String> {
    let names = product_names(&plan.job);
    let feature = |(nth, place): (usize, &GatePlace)| {
        let mut properties = Map::new();
        properties.insert("place".to_string(), json!(nth + 1));
        for (own, rate) in names.iter().zip(&place.kg_per_ha) {
            properties.insert(own.column.clone(), json!(rate));
        }
        properties.insert("plan".to_string(), json!(plan.id));
        let geometry = json!({ "type": "Point", "coordinates": place.lon_lat });
        json!({ "type": "Feature", "properties": properties, "geometry": geometry })
    };
    collection(places.iter().enumerate().map(feature).collect())
}

/// Land where a product is shut by hand, a feature per product; `None` where there is none. It has no
/// column of numbers, so that nobody takes one for a rate.
pub(super) fn shut_by_hand(plan: &Plan) -> Option<String> {
    let features = plan.shut_by_hand().into_iter().map(|land| {
        let name = plan
            .job
            .products
            .get(land.product)
            .map(|of| of.name.as_str());
        let polygons: Vec<_> = land.polygons.into_iter().cloned().collect();
        let rings = rings::of(&polygons, Winding::ExteriorCounterClockwise, Some(9));
        let coordinates: Vec<_> = rings.into_iter().map(|polygon| polygon.0).collect();
        let properties = json!({ "shut_by_hand": name, "plan": plan.id });
        let geometry = json!({ "type": "MultiPolygon", "coordinates": coordinates });
        json!({ "type": "Feature", "properties": properties, "geometry": geometry })
    });
    collection(features.collect())
}

fn collection(features: Vec<Value>) -> Option<String> {
    if features.is_empty() {
        return None;
    }
    let mut text = json!({ "type": "FeatureCollection", "features": features }).to_string();
    text.push('\n');
    Some(text)
}
