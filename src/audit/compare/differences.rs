//! The difference map: squares of the plan's grid size with planned and sown rates.

use super::PlanMap;
use super::land::{Ground, OUTSIDE};
use std::fmt::Write as _;

/// A feature collection; one square a line, in degrees on WGS 84. Rates are means over the plan's land in the square:
/// planned over all of it, sown over all of it as well, so that missed land lowers it.
pub(super) fn geojson(plan: &PlanMap, ground: &Ground) -> String {
    let step = (plan.square_m / ground.edge_m).round().max(1.0) as usize;
    let mut out = format!(
        "{{\"type\":\"FeatureCollection\",\"plan\":{},\"features\":[",
        serde_json::Value::from(plan.id.as_str())
    );
    let mut first = true;
    for row in (0..ground.rows).step_by(step) {
        for column in (0..ground.columns).step_by(step) {
            let Some(properties) = square(plan, ground, [column, row], step) else {
                continue;
            };
            out.push_str(if first { "\n" } else { ",\n" });
            first = false;
            let corner = |east: usize, north: usize| {
                let at = [
                    ground.origin[0] + (column + east * step) as f64 * ground.edge_m,
                    ground.origin[1] + (row + north * step) as f64 * ground.edge_m,
                ];
                let [lon, lat] = plan.frame.to_lon_lat(at);
                format!("[{lon:.9},{lat:.9}]")
            };
            let ring = [
                corner(0, 0),
                corner(1, 0),
                corner(1, 1),
                corner(0, 1),
                corner(0, 0),
            ];
            let _ = write!(
                out,
                "{{\"type\":\"Feature\",\"properties\":{properties},\"geometry\":{{\"type\":\"Polygon\",\"coordinates\":[[{}]]}}}}",
                ring.join(",")
            );
        }
    }
    out.push_str("\n]}\n");
    out
}

fn square(
    plan: &PlanMap,
    ground: &Ground,
    [column, row]: [usize; 2],
    step: usize,
) -> Option<String> {
    let products = plan.products.len();
    let (mut land, mut drilled, mut passes) = (0_usize, 0_usize, 0_usize);
    let mut planned = vec![0.0; products];
    let mut sown = vec![0.0; products];
    for row in row..(row + step).min(ground.rows) {
        for column in column..(column + step).min(ground.columns) {
            let at = row * ground.columns + column;
            let zone = ground.zone.get(at).copied().filter(|zone| *zone != OUTSIDE);
            let Some(zone) = zone.and_then(|zone| plan.zones.get(usize::from(zone))) else {
                continue;
            };
            let times = ground.passes.get(at).copied().unwrap_or(0);
            land += 1;
            drilled += usize::from(times > 0);
            passes += usize::from(times);
            for (product, (planned, sown)) in planned.iter_mut().zip(&mut sown).enumerate() {
                *planned += zone.kg_per_ha.get(product).copied().unwrap_or(0.0);
                let rate = ground
                    .kg_per_ha
                    .get(product)
                    .and_then(|rates| rates.get(at));
                *sown += f64::from(rate.copied().unwrap_or(0.0));
            }
        }
    }
    if land == 0 {
        return None;
    }
    let mean = |sum: f64| (sum / land as f64 * 100.0).round() / 100.0;
    let mut properties = serde_json::Map::new();
    let mut put = |name: String, value: f64| {
        properties.insert(name, serde_json::Value::from(value));
    };
    put(
        "land_m2".to_string(),
        (land as f64 * ground.square_m2() * 10.0).round() / 10.0,
    );
    put("drilled_percent".to_string(), mean(drilled as f64 * 100.0));
    put("passes".to_string(), mean(passes as f64));
    for (product, (planned, sown)) in plan.products.iter().zip(planned.iter().zip(&sown)) {
        let id = &product.id;
        put(format!("{id}_planned_kg_ha"), mean(*planned));
        put(format!("{id}_sown_kg_ha"), mean(*sown));
        put(format!("{id}_difference_kg_ha"), mean(*sown - *planned));
    }
    serde_json::to_string(&properties).ok()
}
