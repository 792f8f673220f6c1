//! What a job file says about the terminal: which form of map it takes, and what it does without one.

use super::rules::{Check, at};
use super::types::Job;
use crate::coordinates::LonLat;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use std::path::PathBuf;

/// What the terminal is told.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields, default)]
pub struct Terminal {
    /// Task data that came from the terminal, relative to the job file: the field keeps the id that the terminal knows it
    /// by, and each product's map names the part of the machine that meters it.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub from: Option<PathBuf>,
    /// What is sown before the map has said anything: a terminal may send it when the task is started.
    pub default_rate: Fallback,
    /// What is sown while the position is lost; zero for a product with a setback at the border.
    pub position_lost: Fallback,
    /// What is sown outside the field; zero for a product with a setback at the border.
    pub out_of_field: Fallback,
    /// Version of the task data that lie ready for the stick; the other forms are in the fallback folder.
    pub task_data_version: TaskDataVersion,
    /// Whether the map of the ready task data is a grid or polygons. Every terminal with rate maps takes grids, not every one polygons.
    pub map_as: MapAs,
    /// What the cells of the ready task data hold.
    pub grid_holds: GridHolds,
    /// How many products a task of the ready task data has.
    pub products_per_task: ProductsPerTask,
    /// How far borders between rates may move in polygons for terminals, so that they have fewer points; 0 leaves them as they are.
    #[schemars(range(min = 0.0, max = 5.0))]
    pub simplify_m: f64,
}

impl Default for Terminal {
    fn default() -> Self {
        Self {
            from: None,
            default_rate: Fallback::BaseRate,
            position_lost: Fallback::BaseRate,
            out_of_field: Fallback::BaseRate,
            task_data_version: TaskDataVersion::V4_3,
            map_as: MapAs::Grid,
            grid_holds: GridHolds::Rates,
            products_per_task: ProductsPerTask::All,
            simplify_m: 0.5,
        }
    }
}

/// Version of ISO 11783-10.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[allow(missing_docs)] // Words of the job file.
pub enum TaskDataVersion {
    #[serde(rename = "4.3")]
    V4_3,
    #[serde(rename = "3.3")]
    V3_3,
}

/// The form of a map.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
#[allow(missing_docs)] // Words of the job file.
pub enum MapAs {
    Grid,
    /// Treatment zones with polygons, each with its rates; at most 250 polygons.
    Polygons,
}

/// What the cells of a grid hold.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum GridHolds {
    /// The rates themselves (type 2).
    Rates,
    /// Numbers of treatment zones, each with its rates (type 1); at most 250 sets of rates.
    ZoneNumbers,
}

/// How many products a task has.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
#[allow(missing_docs)] // Words of the job file.
pub enum ProductsPerTask {
    All,
    /// A task for each product, for terminals that run one map at a time.
    One,
}

/// A rate for when the map does not answer.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
#[allow(missing_docs)] // Words of the job file.
pub enum Fallback {
    /// The product's base rate.
    BaseRate,
    Zero,
}

/// What is done where a product's rate is 0, for terminals and meters treat 0 in different ways.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum AtZero {
    /// The files say 0, and the meter stands still.
    #[default]
    Zero,
    /// For a meter that cannot stand still: the least rate (`limits.min_kg_per_ha`) instead of 0, except in a setback, which stays 0 and is to be shut by hand.
    LeastRate,
    /// For a terminal that does not take 0 for 0: the files say 0, and the land where the operator shuts the product by hand is listed.
    ShutByHand,
}

/// A place.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
#[schemars(rename = "LonLat")]
pub struct PlaceKeys {
    /// Longitude, degrees on WGS 84.
    #[schemars(range(min = -180.0, max = 180.0))]
    pub lon: f64,
    /// Latitude, degrees on WGS 84.
    #[schemars(range(min = -90.0, max = 90.0))]
    pub lat: f64,
}

impl PlaceKeys {
    /// The place that these keys name.
    pub fn lon_lat(self) -> LonLat {
        LonLat::new(self.lon, self.lat)
    }
}

/// Settings of the terminal that do not go together.
pub(super) fn check(check: &mut Check<'_>, job: &Job) {
    let terminal = &job.terminal;
    if terminal.map_as == MapAs::Polygons && terminal.grid_holds == GridHolds::ZoneNumbers {
        check.add(
            at!["terminal", "grid_holds"],
            "grid_holds = \"zone_numbers\" with map_as = \"polygons\"",
            "'grid_holds' with map_as = \"grid\"",
            "remove one of the two",
        );
    }
    for (n, hopper) in job.drill.hoppers.iter().enumerate() {
        if hopper.element.is_some() && terminal.from.is_none() {
            check.add(
                at!["drill", "hopper", n, "element"],
                format!(
                    "hopper '{}' names an element of the machine, and no task data describe the machine",
                    hopper.name
                ),
                "'element' together with 'from' under [terminal]",
                "add from = \"...\" under [terminal]: the task data that came from the terminal; or remove 'element'",
            );
        }
    }
    for (n, product) in job.products.iter().enumerate() {
        let least = product.limits.min_kg_per_ha.unwrap_or(0.0);
        if product.at_zero == AtZero::LeastRate && least <= 0.0 {
            check.add(
                at!["product", n, "at_zero"],
                format!(
                    "'{}' has at_zero = \"least_rate\" and no least rate",
                    product.id
                ),
                "limits.min_kg_per_ha above 0 with it",
                "add min_kg_per_ha under the product's limits: the least its meter delivers",
            );
        }
    }
}
