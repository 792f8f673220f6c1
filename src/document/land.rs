//! Land in `plan.json`: plane, rate table, zones.

use super::LandOutline;
use crate::agronomy::{Balance, Reason, SeedSafeCheck, Stand};
use crate::coordinates::LonLat;
use crate::job::LandPart;
use crate::map::Points;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use std::borrow::Cow;

/// The field's own plane.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Frame<'a> {
    /// The projection, in words.
    pub projection: Cow<'a, str>,
    /// Where the plane touches, degrees.
    pub origin_lon_lat: LonLat,
}

/// Polygons that lie in another file of the plan.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct InFile<'a> {
    /// Path below the folder of the plan.
    pub file: Cow<'a, str>,
    /// Table in that file.
    pub table: Cow<'a, str>,
    /// How many there are.
    pub polygons: usize,
}

/// A row of the rate table: a kind of land and its rates.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct LandRates<'a> {
    /// Number of the row, from 1.
    pub row: usize,
    /// Headland or interior.
    pub part: LandPart,
    /// Its class in each zone layer, in job order.
    pub classes: Vec<LayerClass<'a>>,
    /// Names of the special areas it lies in.
    pub special_areas: Vec<Cow<'a, str>>,
    /// Names of the setbacks it lies in.
    pub setbacks: Vec<Cow<'a, str>>,
    /// All land of this kind, m2.
    pub area_m2: f64,
    /// Per product, in job order.
    pub rates: Vec<RateOfProduct<'a>>,
}

/// A class of a zone layer.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct LayerClass<'a> {
    /// Name of the layer.
    pub layer: Cow<'a, str>,
    /// The class.
    pub class: Cow<'a, str>,
}

/// The rate of a product on a kind of land.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct RateOfProduct<'a> {
    /// Id of the product.
    pub product: Cow<'a, str>,
    /// The rate, kg/ha.
    pub kg_per_ha: f64,
    /// The lot that is sown; null where the product has no lots.
    pub lot: Option<Cow<'a, str>>,
    /// Seeds and plants that the rate comes to; null for what is no seed of known grain weight.
    pub stand: Option<Cow<'a, Stand>>,
    /// What made the rate, in order.
    pub reasons: Cow<'a, [Reason]>,
    /// What each table of limits beside the seed says; empty without such.
    pub seed_safe: Cow<'a, [SeedSafeCheck]>,
    /// What is left to broadcast; null for a product that leaves nothing.
    pub balance: Option<Cow<'a, Balance>>,
}

/// The rate map.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct ZoneMap<'a> {
    /// File with the polygons of its zones, below the folder of the plan.
    pub file: Cow<'a, str>,
    /// Table in that file.
    pub table: Cow<'a, str>,
    /// West, south, east and north of all zones, degrees; null without zones.
    pub extent_lon_lat: Option<[f64; 4]>,
    /// Its zones, without polygons.
    pub zones: Vec<Zone<'a>>,
}

/// A zone of a map, without its polygons.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Zone<'a> {
    /// Number, from 1.
    pub zone: usize,
    /// Headland or interior.
    pub part: LandPart,
    /// Rates, kg/ha: per product in job order, or per entry of `tally.balances`.
    pub kg_per_ha: Cow<'a, [f64]>,
    /// Land in the plane, m2.
    pub area_m2: f64,
    /// Middle of the land, degrees; null for land too small to have one.
    pub middle_lon_lat: Option<LonLat>,
    /// Length of all rings, m.
    pub border_m: f64,
    /// The points of all rings.
    pub border_points: Points,
    /// Rows of the rate table, from 1.
    pub rows: Cow<'a, [usize]>,
    /// How many polygons it has.
    pub polygons: usize,
}

impl Zone<'_> {
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
