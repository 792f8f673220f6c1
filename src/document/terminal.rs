//! What `plan.json` says about files for terminals.

use super::ProductNames;
use crate::coordinates::LonLat;
use crate::map::{Outline, Points};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use std::borrow::Cow;

/// What terminals are given.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct TerminalFiles<'a> {
    /// Main file of the task data, below the folder of the plan.
    pub task_data: Cow<'a, str>,
    /// Ids of products about which a decision is open: no file for them is there that a terminal could load, and none
    /// for several products at once. Absent where all files are there.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub held_back: Vec<Cow<'a, str>>,
    /// Ids that the terminal itself has given to customer, farm and field, as far as task data of it are named; absent
    /// where it has given none.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub ids_of_terminal: Vec<Cow<'a, str>>,
    /// What the rates are in the data dictionary of ISO 11783-11: 6 is a mass per area.
    pub data_dictionary_entry: u16,
    /// Step of the rates in task data, kg/ha.
    pub step_kg_per_ha: f64,
    /// The field as task data outline it, obstacles with it.
    pub outline: LandOutline,
    /// Per product, in job order: the names under which files carry it.
    pub carried_as: Vec<ProductNames>,
    /// Per product, in job order: rates and sums.
    pub products: Vec<TerminalProduct<'a>>,
    /// Maps of polygons with fewer points.
    pub polygons: Vec<TerminalPolygons<'a>>,
}

/// Some land: the field as drawn in task data, or a zone.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct LandOutline {
    /// On the ellipsoid, m2.
    pub area_m2: f64,
    /// Middle, degrees; null for land too small to have one.
    pub middle_lon_lat: Option<LonLat>,
    /// Length of all rings, those of obstacles and holes too, m.
    pub border_m: f64,
    /// The points of all rings.
    pub border_points: Points,
}

impl From<Outline> for LandOutline {
    fn from(of: Outline) -> Self {
        Self {
            area_m2: of.area_m2,
            middle_lon_lat: of.middle,
            border_m: of.border_m,
            border_points: of.points,
        }
    }
}

/// A product in the task data.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct TerminalProduct<'a> {
    /// Id of the product.
    pub product: Cow<'a, str>,
    /// Id of the part of the machine that meters it; null where the terminal has not described one.
    pub element: Option<Cow<'a, str>>,
    /// Rate that a terminal may send when a task is started, kg/ha.
    pub default_kg_per_ha: f64,
    /// Rate for a lost position, kg/ha.
    pub position_lost_kg_per_ha: f64,
    /// Rate outside of the field, kg/ha.
    pub out_of_field_kg_per_ha: f64,
    /// What the integers in the task data stand for, kg.
    pub kg_from_integers: f64,
    /// The same from the rates before they became integers, kg.
    pub kg_from_grid: f64,
    /// What whole steps add, kg: the first of these less the second.
    pub integers_less_grid_kg: f64,
}

/// A map of polygons with fewer points, for terminals.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct TerminalPolygons<'a> {
    /// Ids of its products.
    pub products: Vec<Cow<'a, str>>,
    /// How far a border may move, m.
    pub borders_move_up_to_m: f64,
    /// How many polygons it has.
    pub polygons: usize,
    /// Points of all rings before.
    pub points_before: usize,
    /// And after.
    pub points: usize,
    /// Per product of this map: what fewer points add, kg.
    pub change_kg: Vec<f64>,
    /// West, south, east and north, degrees; null without zones.
    pub extent_lon_lat: Option<[f64; 4]>,
    /// Land by its rates, largest first.
    pub zones: Vec<TerminalZone<'a>>,
}

/// Land with one set of rates on a map with fewer points.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct TerminalZone<'a> {
    /// Rates in the order of the map's products, kg/ha.
    pub kg_per_ha: Cow<'a, [f64]>,
    /// Its land, m2.
    pub area_m2: f64,
    /// Middle, degrees; null for land too small to have one.
    pub middle_lon_lat: Option<LonLat>,
    /// Length of all rings, m.
    pub border_m: f64,
    /// The points of all rings.
    pub border_points: Points,
    /// Its land before points were left out, m2.
    pub area_before_m2: f64,
}

impl TerminalZone<'_> {
    /// Its land.
    pub fn outline(&self) -> LandOutline {
        LandOutline {
            area_m2: self.area_m2,
            middle_lon_lat: self.middle_lon_lat,
            border_m: self.border_m,
            border_points: self.border_points,
        }
    }
}
