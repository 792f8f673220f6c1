//! What a comparison takes from a plan: its zones with their land, products and the drill.

use crate::findings::{Fault, Outcome, Place};
use crate::frame::Frame;
use crate::read::{self, Geometry, Polygon, Value, Xy};
use std::fs;
use std::path::Path;

/// A plan as its folder holds it.
pub struct PlanMap {
    pub id: String,
    pub products: Vec<Planned>,
    /// Width of one bout, m, and of each section, left to right; empty for one section.
    pub width_m: f64,
    pub sections_m: Vec<f64>,
    /// Edge of a square of the difference map, m.
    pub square_m: f64,
    pub(super) zones: Vec<Zone>,
    pub(super) frame: Frame,
}

/// A product of the plan.
pub struct Planned {
    pub id: String,
    pub name: String,
    /// Name in our task data.
    pub in_task_data: Option<String>,
    pub hopper: String,
    pub thousand_grain_weight_g: Option<f64>,
    pub bulk_density_kg_per_l: Option<f64>,
}

/// A map zone; polygons in the field's plane.
pub(super) struct Zone {
    pub number: i64,
    pub part: String,
    pub kg_per_ha: Vec<f64>,
    pub area_m2: f64,
    pub polygons: Vec<Polygon>,
}

impl PlanMap {
    /// Reads a plan: its folder, or the plan.json in it.
    ///
    /// # Errors
    /// No plan; files that are not there or do not belong together.
    pub fn read(path: &Path) -> Outcome<Self> {
        let json_file = match path.is_dir() {
            true => path.join("plan.json"),
            false => path.to_path_buf(),
        };
        let folder = json_file.parent().unwrap_or(Path::new("."));
        let bad = |what: String| {
            Fault::input(
                "compare.plan",
                Place::file(&json_file),
                what,
                "the folder of a plan, as 'twinsow plan' has written it",
                "Name the folder of the plan or the plan.json in it, or plan the job again.",
            )
        };
        read::no_endless(&json_file)?;
        let bytes = fs::read(&json_file)
            .map_err(|error| bad(format!("The plan cannot be read ({error})")))?;
        let json: serde_json::Value = serde_json::from_slice(&bytes)
            .map_err(|error| bad(format!("The plan is no JSON that can be read ({error})")))?;
        if json.get("format").and_then(serde_json::Value::as_str) != Some("twinsow-plan") {
            return Err(bad("This is no plan of this program".to_string()));
        }
        let layer = read::read(&folder.join("gis").join("rates.gpkg"), Some("rates"))?;
        let column = layer.attributes.iter().position(|name| name == "zone");
        let mut points: Vec<Xy> = Vec::new();
        let mut drawn: Vec<(i64, Vec<Polygon>)> = Vec::new();
        for feature in &layer.features {
            let number = column.and_then(|at| feature.values.get(at));
            if let (Some(Value::Integer(number)), Geometry::Polygons(polygons)) =
                (number, &feature.geometry)
            {
                points.extend(polygons.iter().flat_map(|p| p.exterior.iter().copied()));
                drawn.push((*number, polygons.clone()));
            }
        }
        let frame = Frame::centred_on(&points)?;
        for polygon in drawn.iter_mut().flat_map(|(_, polygons)| polygons) {
            frame.all_to_plane(&mut polygon.exterior);
            polygon
                .holes
                .iter_mut()
                .for_each(|hole| frame.all_to_plane(hole));
        }
        Self::of(&json, drawn, frame)
            .ok_or_else(|| bad("The plan lacks what a log is held against".to_string()))
    }

    fn of(json: &serde_json::Value, drawn: Vec<(i64, Vec<Polygon>)>, frame: Frame) -> Option<Self> {
        let number = |pointer: &str| json.pointer(pointer).and_then(serde_json::Value::as_f64);
        let mut products = Vec::new();
        for product in json.pointer("/job/product")?.as_array()? {
            let text = |key: &str| Some(product.get(key)?.as_str()?.to_string());
            let number = |key: &str| product.get(key).and_then(serde_json::Value::as_f64);
            products.push(Planned {
                id: text("id")?,
                name: text("name")?,
                in_task_data: json
                    .pointer(&format!(
                        "/terminal/carried_as/{}/task_data",
                        products.len()
                    ))
                    .and_then(|name| Some(name.as_str()?.to_string())),
                hopper: text("hopper")?,
                thousand_grain_weight_g: number("thousand_grain_weight_g"),
                bulk_density_kg_per_l: number("bulk_density_kg_per_l"),
            });
        }
        let mut zones = Vec::new();
        for zone in json.pointer("/map/zones")?.as_array()? {
            let number = zone.get("zone")?.as_i64()?;
            let rates = zone.get("kg_per_ha")?.as_array()?;
            let rates: Option<Vec<f64>> = rates.iter().map(serde_json::Value::as_f64).collect();
            let rates = rates.filter(|rates| rates.len() == products.len())?;
            let polygons = drawn.iter().find(|(own, _)| *own == number);
            zones.push(Zone {
                number,
                part: zone.get("part")?.as_str()?.to_string(),
                kg_per_ha: rates,
                area_m2: zone.get("area_m2")?.as_f64()?,
                polygons: polygons.map(|(_, polygons)| polygons.clone())?,
            });
        }
        let sections = json
            .pointer("/job/drill/sections_m")
            .and_then(|s| s.as_array());
        let sections = sections.map_or(Vec::new(), |s| {
            s.iter().filter_map(|v| v.as_f64()).collect()
        });
        let cell = json
            .pointer("/grids/metric/cell/0")
            .and_then(|cell| cell.as_f64());
        Some(Self {
            id: json.get("id")?.as_str()?.to_string(),
            products,
            width_m: number("/job/drill/working_width_m").filter(|width| *width > 0.1)?,
            sections_m: sections,
            square_m: cell.filter(|cell| *cell > 0.1)?,
            zones,
            frame,
        })
    }

    /// The place of a product in the plan.
    ///
    /// # Errors
    /// The plan has no such product.
    pub fn product(&self, id: &str) -> Outcome<usize> {
        let found = self.products.iter().position(|product| product.id == id);
        found.ok_or_else(|| {
            let ids: Vec<&str> = self.products.iter().map(|p| p.id.as_str()).collect();
            Fault::input(
                "compare.product",
                Place::nowhere(),
                format!("The plan has no product '{id}'"),
                format!("one of: {}", ids.join(", ")),
                "Use the id that the product has in the job file.",
            )
        })
    }
}
