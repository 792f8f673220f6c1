//! The difference map: squares of the plan's grid size with planned and sown rates.

use super::PlanMap;
use super::land::{Ground, OUTSIDE};
use crate::coordinates::{LonLat, PlaneXy};
use crate::read::Polygon;
use std::fmt::Write as _;

/// Squares with planned and sown rates, in degrees on WGS 84. Rates are means over the plan's land in the square:
/// planned over all of it, sown over all of it as well, so that missed land lowers it.
#[derive(Debug, Clone, PartialEq)]
pub struct Differences {
    /// Id of the plan.
    pub plan: String,
    /// `land_m2`, `drilled_percent`, `passes`, and three rates in kg/ha per product.
    pub columns: Vec<String>,
    pub squares: Vec<Square>,
}

/// A square.
#[derive(Debug, Clone, PartialEq)]
pub struct Square {
    pub polygon: Polygon<LonLat>,
    /// In order of the columns.
    pub values: Vec<f64>,
}

impl Differences {
    /// A GeoJSON feature collection; one square a line.
    pub fn geojson(&self) -> String {
        let mut out = format!(
            "{{\"type\":\"FeatureCollection\",\"plan\":{},\"features\":[",
            serde_json::Value::from(self.plan.as_str())
        );
        for (nth, square) in self.squares.iter().enumerate() {
            out.push_str(if nth == 0 { "\n" } else { ",\n" });
            let pairs = self.columns.iter().zip(&square.values);
            let pairs = pairs.map(|(name, value)| (name.clone(), serde_json::Value::from(*value)));
            let properties = serde_json::Value::Object(pairs.collect());
            let points = square.polygon.exterior.iter();
            let ring: Vec<String> = points
                .map(|LonLat { lon, lat }| format!("[{lon:.9},{lat:.9}]"))
                .collect();
            let _ = write!(
                out,
                "{{\"type\":\"Feature\",\"properties\":{properties},\"geometry\":{{\"type\":\"Polygon\",\"coordinates\":[[{}]]}}}}",
                ring.join(",")
            );
        }
        out.push_str("\n]}\n");
        out
    }
}

/// The difference map on squares of the plan's grid size.
pub(super) fn of(plan: &PlanMap, ground: &Ground) -> Differences {
    let step = (plan.square_m / ground.edge_m).round().max(1.0) as usize;
    let mut columns = ["land_m2", "drilled_percent", "passes"]
        .map(String::from)
        .to_vec();
    for product in &plan.products {
        for what in ["planned", "sown", "difference"] {
            columns.push(format!("{}_{what}_kg_ha", product.id));
        }
    }
    let mut squares = Vec::new();
    for row in (0..ground.rows).step_by(step) {
        for column in (0..ground.columns).step_by(step) {
            let Some(values) = square(plan, ground, [column, row], step) else {
                continue;
            };
            let corner = |east: usize, north: usize| {
                plan.frame.to_lon_lat(PlaneXy::new(
                    ground.origin[0] + (column + east * step) as f64 * ground.edge_m,
                    ground.origin[1] + (row + north * step) as f64 * ground.edge_m,
                ))
            };
            let exterior =
                [[0, 0], [1, 0], [1, 1], [0, 1], [0, 0]].map(|[east, north]| corner(east, north));
            let polygon = Polygon {
                exterior: exterior.to_vec(),
                holes: Vec::new(),
            };
            squares.push(Square { polygon, values });
        }
    }
    Differences {
        plan: plan.id.clone(),
        columns,
        squares,
    }
}

fn square(
    plan: &PlanMap,
    ground: &Ground,
    [column, row]: [usize; 2],
    step: usize,
) -> Option<Vec<f64>> {
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
    let mut values = vec![
        (land as f64 * ground.square_m2() * 10.0).round() / 10.0,
        mean(drilled as f64 * 100.0),
        mean(passes as f64),
    ];
    for (planned, sown) in planned.iter().zip(&sown) {
        values.extend([mean(*planned), mean(*sown), mean(*sown - *planned)]);
    }
    Some(values)
}
