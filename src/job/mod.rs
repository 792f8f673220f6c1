//! The job file: what to plan, with what, by which rules. TOML; every key carries its unit.
//!
//! The types are the file: what they accept is what the JSON Schema says, and a job with all its
//! defaults filled in is printed from the same types.

use crate::findings::Outcome;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;
use std::path::{Path, PathBuf};

/// A whole job.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Job {
    /// Name of the plan, as the terminal and the sheets show it.
    pub name: String,
    pub field: Field,
    /// Pieces of land that are not sown: ponds, masts, copses.
    #[serde(default, rename = "exclusion")]
    pub exclusions: Vec<Exclusion>,
    /// Strips along water or borders where named products are off.
    #[serde(default, rename = "setback")]
    pub setbacks: Vec<Setback>,
    /// Polygons with a percentage per product: entrance, wet hole, slug-prone edge.
    #[serde(default, rename = "special_area")]
    pub special_areas: Vec<SpecialArea>,
    #[serde(default)]
    pub headland: Headland,
    /// Zone layers, in the order in which reasons name them.
    #[serde(default, rename = "layer")]
    pub layers: Vec<ZoneLayer>,
    #[serde(default)]
    pub zones: ZoneRules,
    pub drill: Drill,
    /// One to three products.
    #[serde(rename = "product")]
    pub products: Vec<Product>,
    #[serde(default)]
    pub grid: GridSettings,
    #[serde(default)]
    pub terminal: Terminal,
    #[serde(default)]
    pub order: Order,
    /// Folder that relative paths start from: where the job file lies.
    #[serde(skip)]
    #[schemars(skip)]
    pub folder: PathBuf,
    /// The job file itself, for messages.
    #[serde(skip)]
    #[schemars(skip)]
    pub file: PathBuf,
}

/// A vector file and which part of it is meant.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Source {
    /// Path, relative to the job file.
    pub file: PathBuf,
    /// Layer or table inside the file; needed only where the file has several.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub table: Option<String>,
    /// CRS to read the coordinates in, such as "EPSG:25832", where the file declares none or a wrong one.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub crs: Option<String>,
    /// Only features whose attribute has this value, such as { field_id = "12" }.
    #[serde(default, skip_serializing_if = "BTreeMap::is_empty")]
    pub only: BTreeMap<String, String>,
}

/// The field and who it belongs to.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Field {
    pub name: String,
    #[serde(default)]
    pub farm: String,
    #[serde(default)]
    pub customer: String,
    /// Polygons of the boundary; several polygons are one field in several parts.
    pub boundary: Source,
}

/// A piece of land that is not sown.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Exclusion {
    pub name: String,
    pub source: Source,
    /// Land within this distance of it is left out as well. Lines and points need it.
    #[serde(default)]
    pub buffer_m: f64,
    /// True for water: neither the edge rim nor a neighbour's rate reaches into any exclusion; water is named so in outputs.
    #[serde(default)]
    pub water: bool,
}

/// A strip where named products are off and the others go on.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Setback {
    pub name: String,
    /// What the distance is measured from: polygons, lines or points.
    pub source: Source,
    /// Distance that must stay free, by label or local rule.
    pub distance_m: f64,
    /// Ids of the products that are off inside.
    pub products: Vec<String>,
}

/// A polygon with a percentage per product.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct SpecialArea {
    pub name: String,
    pub source: Source,
    /// Percent of the rate by product id, such as { barley = 115 }; a product not named keeps 100.
    pub percent: BTreeMap<String, f64>,
}

/// The headland: by bouts of the drill or by metres; neither given means none.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Headland {
    /// Number of bouts along the border.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub bouts: Option<u32>,
    /// Width in metres, instead of bouts.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub width_m: Option<f64>,
    /// Whether the drill also turns around exclusions.
    #[serde(default)]
    pub around_exclusions: bool,
}

/// A layer of zones.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct ZoneLayer {
    /// How rates refer to it, such as "soil".
    pub name: String,
    pub source: Source,
    /// Attribute whose values are the classes.
    pub class_attribute: String,
    /// Which polygon counts where two overlap: the one listed first in the file, or last.
    #[serde(default)]
    pub overlaps: OverlapRule,
    /// Class of land that no polygon covers. Without it the gap takes the class it shares the longest border with.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub class_of_gaps: Option<String>,
}

/// Which polygon of a layer counts where several cover the same land.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum OverlapRule {
    #[default]
    First,
    Last,
}

/// How zones are cleaned.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields, default)]
pub struct ZoneRules {
    /// Pieces smaller than this join the neighbour with the longest shared border.
    pub sliver_area_m2: f64,
    /// A gap in a layer larger than this share of the field (percent) asks for a decision.
    pub gap_decision_percent: f64,
}

impl Default for ZoneRules {
    fn default() -> Self {
        Self {
            sliver_area_m2: 25.0,
            gap_decision_percent: 1.0,
        }
    }
}

/// The drill.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Drill {
    #[serde(default)]
    pub name: String,
    pub working_width_m: f64,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub row_spacing_m: Option<f64>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub rows: Option<u32>,
    /// Widths of the sections, left to right; empty means one section over the whole width.
    #[serde(default)]
    pub sections_m: Vec<f64>,
    #[serde(default = "defaults::speed")]
    pub speed_km_per_h: f64,
    /// Error of the position at the drill; widens every setback.
    #[serde(default = "defaults::position_error")]
    pub position_error_m: f64,
    /// How far product still runs after the meter has stopped; widens every setback.
    #[serde(default = "defaults::run_on")]
    pub run_on_m: f64,
    /// The containers.
    #[serde(default, rename = "hopper")]
    pub hoppers: Vec<Hopper>,
}

/// A container: one half of the divided hopper, or the container of a surface unit.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Hopper {
    /// How products refer to it, such as "front".
    pub name: String,
    pub usable_l: f64,
}

/// A product.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Product {
    /// Short id without blanks: names columns and files.
    pub id: String,
    pub name: String,
    pub kind: Kind,
    /// Name of the hopper it is in.
    pub hopper: String,
    /// True for a third product that its own unit spreads on the surface, outside the air stream.
    #[serde(default)]
    pub surface_applied: bool,
    /// Lot or batch on the label.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub lot: Option<String>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub bulk_density_kg_per_l: Option<f64>,
    /// Weight of one pack (bag, big bag). Without it the order is in kilograms.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub pack_kg: Option<f64>,
    /// Grams per thousand seeds.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub thousand_grain_weight_g: Option<f64>,
    /// Germination on the label.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub germination_percent: Option<f64>,
    /// Nutrients of a fertiliser.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub grade: Option<Grade>,
    pub rate: RateRule,
    /// Percent adjustments, in order.
    #[serde(default, rename = "adjust")]
    pub adjustments: Vec<Adjustment>,
    #[serde(default)]
    pub limits: Limits,
    /// Rate for land outside the field and for a lost position, instead of the base rate.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub fallback_kg_per_ha: Option<f64>,
}

/// What a product is.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum Kind {
    Seed,
    Fertiliser,
}

/// Nutrients in percent of weight.
#[derive(Debug, Clone, Copy, Default, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields, default)]
pub struct Grade {
    pub n_percent: f64,
    pub p2o5_percent: f64,
    pub k2o_percent: f64,
}

/// A nutrient.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum Nutrient {
    N,
    P2o5,
    K2o,
}

/// Where a wanted rate comes from. Exactly one of `kg_per_ha`, `seeds_per_m2`, `plants_per_m2` and
/// `need_kg_per_ha` is given.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct RateRule {
    /// The rate itself.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub kg_per_ha: Option<Lookup>,
    /// Seeds to sow; needs the thousand-grain weight.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub seeds_per_m2: Option<Lookup>,
    /// Plants wanted; needs thousand-grain weight, germination and establishment.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub plants_per_m2: Option<Lookup>,
    /// Of the seeds that can germinate (multiply), or of all seeds with germination taken off in points (subtract), the share that become plants.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub establishment_percent: Option<Lookup>,
    /// How germination and establishment are joined.
    #[serde(default)]
    pub germination_joined: Joined,
    /// The nutrient that `need_kg_per_ha` speaks of.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub nutrient: Option<Nutrient>,
    /// Need of that nutrient; the product's grade turns it into a rate.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub need_kg_per_ha: Option<Lookup>,
}

/// How germination and field establishment are joined; published guides disagree.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum Joined {
    /// germination x establishment.
    #[default]
    Multiply,
    /// germination minus the points lost in the field (100 - establishment).
    Subtract,
    /// establishment already counts germination.
    Included,
}

/// One number for the whole field, or one by class of a layer.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(untagged)]
pub enum Lookup {
    Same(f64),
    ByClass(ByClass),
}

/// Numbers by class of a layer.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct ByClass {
    /// Name of the layer.
    pub layer: String,
    pub by_class: BTreeMap<String, f64>,
    /// For classes that the table does not name. Without it such a class is an error.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub otherwise: Option<f64>,
}

/// A percentage on the rate.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Adjustment {
    /// Why, in a few words: stands in the reasons.
    pub because: String,
    /// Percent of the rate so far; 100 changes nothing.
    pub percent: Lookup,
    /// The land part it is for; without it, both.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub land_part: Option<LandPart>,
}

/// A part of the land.
#[derive(
    Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize, JsonSchema,
)]
#[serde(rename_all = "snake_case")]
pub enum LandPart {
    Headland,
    Interior,
}

/// Limits of a product's rate. A rate of 0 stays 0.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Limits {
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub min_kg_per_ha: Option<f64>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub max_kg_per_ha: Option<f64>,
    /// Rates are rounded to a multiple of this.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub step_kg_per_ha: Option<f64>,
}

/// The grids.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct GridSettings {
    /// Edge of a cell; without it one working width, at least 5 m.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub cell_m: Option<f64>,
    /// Width of the rim outside the field that carries the nearest rate; without it one working width.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub rim_m: Option<f64>,
    /// Most cells a grid may have.
    #[serde(default = "defaults::most_cells")]
    pub most_cells: u64,
}

/// What the terminal is told.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields, default)]
pub struct Terminal {
    /// What is sown while the position is lost.
    pub position_lost: Fallback,
    /// What is sown outside the field.
    pub out_of_field: Fallback,
}

impl Default for Terminal {
    fn default() -> Self {
        Self {
            position_lost: Fallback::BaseRate,
            out_of_field: Fallback::BaseRate,
        }
    }
}

/// A rate for when the map does not answer.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum Fallback {
    /// The product's base rate (zero for a product with a setback at the border).
    BaseRate,
    Zero,
}

/// How the order is made.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields, default)]
pub struct Order {
    /// On top of the map's total. 3 % is an assumption of common practice, no source.
    pub reserve_percent: f64,
}

impl Default for Order {
    fn default() -> Self {
        Self {
            reserve_percent: 3.0,
        }
    }
}

mod defaults {
    pub(super) fn speed() -> f64 {
        10.0
    }
    pub(super) fn position_error() -> f64 {
        0.5
    }
    pub(super) fn run_on() -> f64 {
        3.0
    }
    pub(super) fn most_cells() -> u64 {
        1_000_000
    }
}

impl Job {
    /// Reads a job from the text of a file; `file` is for messages and relative paths.
    ///
    /// # Errors
    /// One fault that names file and line: not TOML, an unknown key (with the nearest known one), a
    /// value of the wrong type, negative or not finite, or settings that contradict each other.
    pub fn parse(_text: &str, _file: &Path) -> Outcome<Self> {
        todo!()
    }

    /// The resolved job as TOML, every default filled in.
    pub fn print(&self) -> String {
        todo!()
    }

    /// The JSON Schema of the job file.
    pub fn schema() -> serde_json::Value {
        todo!()
    }
}
