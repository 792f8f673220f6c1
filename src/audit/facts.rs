//! What an audit takes from `plan.json`: only what files are held against.

use super::bounds::Bounds;
use super::outline::Outline;
use super::rated_land::{RatedLand, by_rates};
use super::sums::GridSums;
use crate::findings::{Fault, Outcome, Place};
use crate::write::ProductNames;
use serde::Deserialize;
use serde_json::Value;
use std::fs;
use std::path::Path;

/// A plan as its `plan.json` states it.
#[derive(Debug, Clone, PartialEq)]
pub struct PlanFacts {
    pub id: String,
    pub mapped_m2: f64,
    pub products: Vec<PlanProduct>,
    /// The names under which files carry the products, in their order.
    pub(super) names: Vec<ProductNames>,
    /// What the plan's plane and its files may differ by.
    pub(super) bounds: Bounds,
    /// Rates of all products and the land that has them, in order of rates.
    pub(super) land: Vec<RatedLand>,
    /// The field as task data outline it, and all of its border with that of exclusions.
    pub(super) outlined: Outline,
    /// Per difference map of a drive, that of the air stream first; empty without one.
    pub(super) driven: Vec<DrivenMap>,
    /// The same as `land` for what is left to broadcast, per balance.
    pub(super) balance: Vec<RatedLand>,
    /// West, south, east, north of the map zones, degrees.
    pub(super) extent: Option<[f64; 4]>,
    /// Polygon maps with fewer points, for terminals.
    pub(super) polygons: Vec<PlanPolygons>,
    pub(super) metric: PlanGrid,
    pub(super) degrees: PlanGrid,
    /// Grid of what is left to broadcast.
    pub(super) balance_grid: Option<PlanGrid>,
}

/// A product of a plan.
#[derive(Debug, Clone, PartialEq)]
pub struct PlanProduct {
    pub id: String,
    pub name: String,
    /// On the polygon map; on the metric grid less that; on the grid in degrees less that.
    pub map_kg: f64,
    pub metric_grid_kg: f64,
    pub degrees_grid_kg: f64,
    /// What whole steps of 0.01 kg/ha add on the grid in degrees.
    pub integers_kg: f64,
}

/// A polygon map with fewer points.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct PlanPolygons {
    /// Ids of its products.
    pub products: Vec<String>,
    /// Rates in that order, and the land that has them, in order of rates.
    pub land: Vec<RatedLand>,
    /// What fewer points add, kg, in that order.
    pub change_kg: Vec<f64>,
    pub extent: Option<[f64; 4]>,
}

/// A difference map of a drive.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct DrivenMap {
    /// Of each product the id, kg wanted on the land, kg as driven.
    pub products: Vec<(String, f64, f64)>,
    /// Length of the border of all its pieces, m.
    pub border_m: f64,
    /// Pieces too small to be drawn, m2.
    pub left_out_m2: f64,
}

#[derive(Debug, Clone, PartialEq, Deserialize)]
pub(super) struct PlanGrid {
    origin: [f64; 2],
    cell: [f64; 2],
    columns: usize,
    rows: usize,
    pub covered_m2: f64,
    row_sums: Vec<Vec<i64>>,
    column_sums: Vec<Vec<i64>>,
}

impl PlanGrid {
    pub fn sums(&self, degrees: bool) -> GridSums {
        GridSums {
            origin: self.origin,
            cell: self.cell,
            columns: self.columns,
            rows: self.rows,
            row_sums: self.row_sums.clone(),
            column_sums: self.column_sums.clone(),
            degrees,
        }
    }
}

impl PlanFacts {
    /// The names of the product with this id.
    pub(super) fn names_of(&self, id: &str) -> Option<&ProductNames> {
        let mut products = self.products.iter().zip(&self.names);
        products
            .find(|(own, _)| own.id == id)
            .map(|(_, names)| names)
    }

    /// The highest rate of the product with this id on the map, kg/ha.
    pub(super) fn highest_kg_per_ha(&self, id: &str) -> f64 {
        let at = self.products.iter().position(|own| own.id == id);
        let rates = self.land.iter().filter_map(|own| own.rates.get(at?));
        rates.copied().fold(0.0, f64::max)
    }

    /// Reads a `plan.json`.
    ///
    /// # Errors
    /// The file is not there, is no `plan.json`, or is one of a version without the sums of its grids.
    pub fn read(path: &Path) -> Outcome<Self> {
        let bad = |what: String| {
            Fault::input(
                "audit.plan",
                Place::file(path),
                what,
                "the plan.json that the same version of this program has written",
                "Name the plan.json in the folder of the plan, or plan the job again.",
            )
        };
        crate::read::no_endless(path)?;
        let bytes =
            fs::read(path).map_err(|error| bad(format!("The plan cannot be read ({error})")))?;
        let json: Value = serde_json::from_slice(&bytes)
            .map_err(|error| bad(format!("The plan is no JSON that can be read ({error})")))?;
        if json.get("format").and_then(Value::as_str) != Some("twinsow-plan") {
            return Err(bad("This is no plan of this program".to_string()));
        }
        Self::of(&json).ok_or_else(|| bad("The plan lacks what files are held against".to_string()))
    }

    fn of(json: &Value) -> Option<Self> {
        let grid = |name: &str| -> Option<PlanGrid> {
            serde_json::from_value(json.pointer(&format!("/grids/{name}"))?.clone()).ok()
        };
        let in_terminal = json.pointer("/terminal/products")?.as_array()?;
        let number = |value: &Value, key: &str| value.get(key).and_then(Value::as_f64);
        let text = |value: &Value, key: &str| Some(value.get(key)?.as_str()?.to_string());
        let mut products = Vec::new();
        for (product, terminal) in json
            .pointer("/tally/products")?
            .as_array()?
            .iter()
            .zip(in_terminal)
        {
            products.push(PlanProduct {
                id: text(product, "id")?,
                name: text(product, "name")?,
                map_kg: product.pointer("/steps/0/kg")?.as_f64()?,
                metric_grid_kg: number(product, "metric_grid_kg")?,
                degrees_grid_kg: number(product, "degrees_grid_kg")?,
                integers_kg: number(terminal, "integers_less_grid_kg")?,
            });
        }
        let outline_of = |value: &Value| -> Option<Outline> {
            let own = |key: &str| value.get(key).cloned();
            Some(Outline {
                area_m2: number(value, "area_m2")?,
                // Land too small to have a middle has none.
                middle: serde_json::from_value(own("middle_lon_lat")?).ok()?,
                border_m: number(value, "border_m")?,
                points: serde_json::from_value(own("border_points")?).ok()?,
            })
        };
        let land_of = |zones: &Value| -> Option<Vec<RatedLand>> {
            let zones = zones.as_array()?.iter();
            let land = zones.map(|zone| {
                Some(RatedLand {
                    rates: serde_json::from_value(zone.get("kg_per_ha")?.clone()).ok()?,
                    outline: outline_of(zone)?,
                })
            });
            land.collect::<Option<Vec<_>>>().map(by_rates)
        };
        let land = |pointer: &str| land_of(json.pointer(pointer)?);
        let polygons = |map: &Value| -> Option<PlanPolygons> {
            let extent = map.get("extent_lon_lat")?.clone();
            Some(PlanPolygons {
                products: serde_json::from_value(map.get("products")?.clone()).ok()?,
                land: land_of(map.get("zones")?)?,
                change_kg: serde_json::from_value(map.get("change_kg")?.clone()).ok()?,
                extent: serde_json::from_value(extent).ok()?,
            })
        };
        let maps = json.pointer("/terminal/polygons")?.as_array()?;
        let extent = json.pointer("/map/extent_lon_lat")?;
        let extent: Option<[f64; 4]> = serde_json::from_value(extent.clone()).ok()?;
        let origin = json.pointer("/frame/origin_lon_lat")?.clone();
        Some(Self {
            id: text(json, "id")?,
            mapped_m2: number(json.get("tally")?, "mapped_m2")?,
            products,
            names: serde_json::from_value(json.pointer("/terminal/carried_as")?.clone()).ok()?,
            bounds: Bounds::of(serde_json::from_value(origin).ok()?, extent),
            land: land("/map/zones")?,
            outlined: outline_of(json.pointer("/terminal/outline")?)?,
            balance: land("/balance")?,
            driven: driven(json),
            extent,
            polygons: maps.iter().map(polygons).collect::<Option<_>>()?,
            metric: grid("metric")?,
            degrees: grid("degrees")?,
            balance_grid: grid("balance"),
        })
    }
}

/// The difference maps of the drive, as far as there is one.
fn driven(json: &Value) -> Vec<DrivenMap> {
    let number = |value: &Value, key: &str| value.get(key).and_then(Value::as_f64);
    let of_product = |product: &Value| {
        let id = product.get("id")?.as_str()?.to_owned();
        Some((
            id,
            number(product, "map_kg")?,
            number(product, "as_driven_kg")?,
        ))
    };
    let spread = json.get("spread").and_then(Value::as_array);
    let spread = spread.into_iter().flatten();
    let drives = json.get("as_driven").into_iter();
    let drives = drives.chain(spread.filter_map(|unit| unit.get("as_driven")));
    let of_map = |drive: &Value| {
        let products = drive.get("products")?.as_array()?;
        let map = drive.get("difference_map")?;
        Some(DrivenMap {
            products: products.iter().filter_map(of_product).collect(),
            border_m: number(map, "border_m")?,
            left_out_m2: number(map, "left_out_m2")?,
        })
    };
    drives.filter_map(of_map).collect()
}
