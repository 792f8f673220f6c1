//! What a job file holds: field, land, layers, drill and settings. Products are in their own file.
//!
//! The ranges stand on the fields, so that the schema, the messages and the page about the job file
//! all say the same.

use super::accepted::Accepted;
use super::closed_flow::ClosedFlow;
use super::country::Country;
use super::delays::MeterDelays;
use super::drive::Drive;
use super::local_rules::{ClosedPeriod, PlaceLimit};
use super::machine::Rotor;
use super::mixture::Mixture;
use super::placement::{OwnSeedLimit, SeedSafe};
use super::product::Product;
use super::refill::{Level, Refill};
use super::report::ReportSettings;
use super::terminal::{LonLat, Terminal};
use super::tramline::Tramline;
use super::values::Values;
use super::zonal::Zonal;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;
use std::path::PathBuf;

/// A whole job.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Job {
    /// Name of the plan, as the terminal and the sheets show it.
    #[schemars(length(min = 1))]
    pub name: String,
    /// The field and who it belongs to.
    pub field: Field,
    /// Day the field is sown, YYYY-MM-DD; for rates by date.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schemars(length(min = 10, max = 10))]
    pub sowing_date: Option<String>,
    /// Folder with transformation grids (NTv2, .gsb) for more exact datum shifts, relative to the job
    /// file.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub transformation_grids: Option<PathBuf>,
    /// Pieces of land that are not sown: ponds, masts, copses.
    #[serde(default, rename = "exclusion")]
    pub exclusions: Vec<Exclusion>,
    /// Strips along water or borders where named products are off.
    #[serde(default, rename = "setback")]
    pub setbacks: Vec<Setback>,
    /// Polygons with a percentage per product: entrance, wet hole, slug-prone edge.
    #[serde(default, rename = "special_area")]
    pub special_areas: Vec<SpecialArea>,
    /// The headland: by bouts or by metres; neither given means none.
    #[serde(default)]
    pub headland: Headland,
    /// Zone layers, in the order in which reasons name them.
    #[serde(default, rename = "layer")]
    pub layers: Vec<ZoneLayer>,
    /// How zones are cleaned.
    #[serde(default)]
    pub zones: ZoneRules,
    /// The drill.
    pub drill: Drill,
    /// How the field is driven; without it, it is not driven on paper.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub drive: Option<Drive>,
    /// Tramlines; without it, none.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub tramline: Option<Tramline>,
    /// Refilling, where the field is driven.
    #[serde(default)]
    pub refill: Refill,
    /// One to three products.
    #[serde(rename = "product")]
    #[schemars(length(min = 1, max = 3))]
    pub products: Vec<Product>,
    /// Two species sown at once, their rates tied.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub mixture: Option<Mixture>,
    /// The most of a nutrient or a product that your place allows, as you enter it.
    #[serde(default, rename = "place_limit")]
    pub place_limits: Vec<PlaceLimit>,
    /// Times of the year in which products must not be given, as you enter them.
    #[serde(default, rename = "closed_period")]
    pub closed_periods: Vec<ClosedPeriod>,
    /// Limits for the fertiliser that lies with the seed; of several, the strictest counts.
    #[serde(default, rename = "seed_safe")]
    pub seed_safe: Vec<SeedSafe>,
    /// Your own signed limits beside the seed, for cases that no table covers.
    #[serde(
        default,
        rename = "own_seed_limit",
        skip_serializing_if = "Vec::is_empty"
    )]
    pub own_seed_limits: Vec<OwnSeedLimit>,
    /// The grids.
    #[serde(default)]
    pub grid: GridSettings,
    /// What the terminal is told.
    #[serde(default)]
    pub terminal: Terminal,
    /// How the order is made.
    #[serde(default)]
    pub order: Order,
    /// The field report.
    #[serde(default)]
    pub report: ReportSettings,
    /// Decisions that somebody has signed for.
    #[serde(default, rename = "accepted", skip_serializing_if = "Vec::is_empty")]
    pub accepted: Vec<Accepted>,
    /// Of a job that was made from one with `split_by`: the value that tells its field apart.
    #[serde(skip)]
    #[schemars(skip)]
    pub split_value: Option<String>,
    /// Folder that relative paths start from: where the job file lies.
    #[serde(skip)]
    #[schemars(skip)]
    pub folder: PathBuf,
    /// The machine file that `[drill]` came from, as the job names it.
    #[serde(skip)]
    #[schemars(skip)]
    pub machine_file: Option<PathBuf>,
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
    /// Column of a CSV file that holds x or longitude, where its name does not say so.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub x_column: Option<String>,
    /// Column of a CSV file that holds y or latitude.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub y_column: Option<String>,
    /// Whether a comma in the numbers of a CSV file is a decimal one; asked for where it is not plain.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub decimal_comma: Option<bool>,
}

/// The field and who it belongs to.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Field {
    /// Name of the field.
    #[schemars(length(min = 1))]
    pub name: String,
    /// Farm, for sheets and task data.
    #[serde(default)]
    pub farm: String,
    /// Customer, for sheets and task data.
    #[serde(default)]
    pub customer: String,
    /// Polygons of the boundary. Several that an attribute tells apart need `in_parts`, `split_by`, or `only` for one of them.
    pub boundary: Source,
    /// True where several features of the boundary are parts of one field.
    #[serde(default, skip_serializing_if = "std::ops::Not::not")]
    pub in_parts: bool,
    /// Country whose usage the numbers of seeds are held against as well: outside what its publishers print is a note.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub country: Option<Country>,
    /// Where the drill enters; the places of the gate check lie near it. Without it, near the start of the first bout.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub entrance: Option<LonLat>,
    /// Attribute of the boundary that tells fields apart: each of its values is planned as a field of its own, with files of its own.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub split_by: Option<String>,
}

/// A piece of land that is not sown.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Exclusion {
    /// What it is, for messages and outputs.
    #[schemars(length(min = 1))]
    pub name: String,
    /// Polygons, lines or points.
    pub source: Source,
    /// Land within this distance of it is left out as well. Lines and points need it.
    #[serde(default)]
    #[schemars(range(min = 0.0, max = 1000.0))]
    pub buffer_m: f64,
    /// True for water: neither the edge rim nor a neighbour's rate reaches into any exclusion; water is named so in outputs.
    #[serde(default)]
    pub water: bool,
}

/// A strip where named products are off and the others go on.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Setback {
    /// What it keeps clear of, for messages and reasons.
    #[schemars(length(min = 1))]
    pub name: String,
    /// What the distance is measured from: polygons, lines or points.
    pub source: Source,
    /// Distance that must stay free, by label or local rule.
    #[schemars(range(min = 0.0, max = 1000.0))]
    pub distance_m: f64,
    /// What the shapes of 'source' are, so where the distance is measured from; without it sheets say that it is not named.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub measured_from: Option<MeasuredFrom>,
    /// Ids of the products that are off inside.
    pub products: Vec<String>,
}

/// Where the distance of a setback is measured from, as labels and local rules put it. Rules differ by metres for the same
/// water: England's cross compliance kept 2 m from the centre of a watercourse, and 1 m from the top of its bank (Tried &
/// Tested, nutrientmanagement.org, "No spread zones").
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum MeasuredFrom {
    /// Where the land begins to fall to the water.
    TopOfBank,
    /// Where the water stands.
    EdgeOfWater,
    /// The middle of a ditch or stream.
    CentreOfWatercourse,
    /// A well, a spring or a borehole.
    WellOrSpring,
    /// The border of the field.
    FieldBorder,
}

impl MeasuredFrom {
    /// As a sentence has it.
    pub fn words(self) -> &'static str {
        match self {
            Self::TopOfBank => "the top of the bank",
            Self::EdgeOfWater => "the edge of the water",
            Self::CentreOfWatercourse => "the centre of the watercourse",
            Self::WellOrSpring => "the well or spring",
            Self::FieldBorder => "the field border",
        }
    }
}

/// A polygon with a percentage per product.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct SpecialArea {
    /// What it is, for reasons.
    #[schemars(length(min = 1))]
    pub name: String,
    /// Polygons.
    pub source: Source,
    /// Percent of the rate by product id, such as { barley = 115 }; a product not named keeps 100.
    #[schemars(extend("additionalProperties" = serde_json::json!({ "type": "number", "minimum": 0, "maximum": 1000 })))]
    pub percent: BTreeMap<String, f64>,
}

/// The headland: by bouts of the drill or by metres; neither given means none.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Headland {
    /// Number of bouts along the border.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schemars(range(min = 0, max = 20))]
    pub bouts: Option<u32>,
    /// Width in metres, instead of bouts.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schemars(range(min = 0.0, max = 500.0))]
    pub width_m: Option<f64>,
    /// Whether the drill also turns around exclusions.
    #[serde(default)]
    pub around_exclusions: bool,
    /// True where the headland is sown twice, once along and once across: what lies beside the seed there counts double.
    #[serde(default, skip_serializing_if = "std::ops::Not::not")]
    pub sown_twice: bool,
}

impl Headland {
    /// Its width behind a drill of this working width, m; 0 for none.
    pub fn metres(&self, working_width_m: f64) -> f64 {
        let bouts = self.bouts.map(|bouts| f64::from(bouts) * working_width_m);
        self.width_m.or(bouts).unwrap_or(0.0)
    }
}

/// A layer of zones.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct ZoneLayer {
    /// How rates refer to it, such as "soil".
    #[schemars(length(min = 1))]
    pub name: String,
    /// Polygons; a raster or points, together with `values`; a line, together with `divides`.
    #[serde(default, skip_serializing_if = "Source::is_none")]
    pub source: Source,
    /// True for a line across the field. Its classes are "left" and "right", seen along the line; beyond its ends it goes on straight.
    #[serde(default, skip_serializing_if = "std::ops::Not::not")]
    pub divides: bool,
    /// Two or more points of such a line, instead of a source.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    #[schemars(length(max = 1000))]
    pub line: Vec<LonLat>,
    /// Attribute whose values are the classes. Polygons need it, or `zonal`.
    #[serde(default, skip_serializing_if = "String::is_empty")]
    #[schemars(length(min = 1))]
    pub class_attribute: String,
    /// How classes are made from the values of a raster or of points.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub values: Option<Values>,
    /// A number for each polygon from a raster, instead of a class from an attribute.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub zonal: Option<Zonal>,
    /// Which polygon counts where two overlap: the one listed first in the file, or last. Without it the first, and a decision where more than 1 % of the land lies in zones of two classes.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub overlaps: Option<OverlapRule>,
    /// Class of land that no polygon covers. Without it the gap takes the class it shares the longest border with.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub class_of_gaps: Option<String>,
}

impl Source {
    /// Whether no file is named.
    pub fn is_none(&self) -> bool {
        self.file.as_os_str().is_empty()
    }
}

impl ZoneLayer {
    /// The attribute that holds the classes, also of polygons that were made from values.
    pub fn class_attribute(&self) -> &str {
        match self.values.is_some() || self.zonal.is_some() || self.is_line() {
            true => Values::CLASS_ATTRIBUTE,
            false => &self.class_attribute,
        }
    }

    /// Whether it is a line that divides the field, from a file or from points of the job.
    pub fn is_line(&self) -> bool {
        self.divides || !self.line.is_empty()
    }
}

/// Which polygon of a layer counts where several cover the same land.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
#[allow(missing_docs)] // Words of the job file.
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
    #[schemars(range(min = 0.0, max = 10000.0))]
    pub sliver_area_m2: f64,
    /// Gaps of a layer that together are more than this share of the land (percent) ask for a decision.
    #[schemars(range(min = 0.0, max = 100.0))]
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
    /// A machine file that several jobs share, relative to the job file: a TOML file with a `[drill]` of
    /// its own. What stands here counts instead of what it says, key by key.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub from: Option<PathBuf>,
    /// Name of the drill, for sheets and task data.
    #[serde(default)]
    pub name: String,
    /// Width of one bout.
    #[schemars(range(min = 0.5, max = 60.0))]
    pub working_width_m: f64,
    /// Distance between rows; rows times spacing is the working width.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schemars(range(min = 0.02, max = 2.0))]
    pub row_spacing_m: Option<f64>,
    /// Number of rows.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schemars(range(min = 1, max = 1000))]
    pub rows: Option<u32>,
    /// Widths of the sections, left to right; empty means one section over the whole width.
    #[serde(default)]
    #[schemars(inner(range(min = 0.05, max = 60.0)))]
    pub sections_m: Vec<f64>,
    /// What becomes of the product of a section that is shut while others sow: the meter slows, or the flow
    /// returns to the hopper (both save it), or the other rows get it. From the drill's manual.
    #[serde(default)]
    pub shut_flow: ClosedFlow,
    /// Speed while sowing.
    #[serde(default = "defaults::speed")]
    #[schemars(range(min = 1.0, max = 30.0))]
    pub speed_km_per_h: f64,
    /// Slowest speed while sowing, as on the headland; without it the speed while sowing.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schemars(range(min = 0.5, max = 30.0))]
    pub headland_speed_km_per_h: Option<f64>,
    /// Fastest speed while sowing; without it the speed while sowing.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schemars(range(min = 1.0, max = 30.0))]
    pub fastest_speed_km_per_h: Option<f64>,
    /// Speed of the fan for this job, from the drill's manual; stands on the operator's sheet.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schemars(range(min = 100.0, max = 10000.0))]
    pub fan_rpm: Option<f64>,
    /// Most that the air stream carries, all its products together.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schemars(range(max = 1000.0), extend("exclusiveMinimum" = 0.0))]
    pub max_flow_kg_per_min: Option<f64>,
    /// Error of the position at the drill; widens every setback.
    #[serde(default = "defaults::position_error")]
    #[schemars(range(min = 0.0, max = 20.0))]
    pub position_error_m: f64,
    /// How far product still runs after the meter has stopped; widens every setback.
    #[serde(default = "defaults::run_on")]
    #[schemars(range(min = 0.0, max = 50.0))]
    pub run_on_m: f64,
    /// How far the outlets lie behind the place where the terminal looks up its map, if the terminal does
    /// not make up for it; negative if they lie before it. The drive on paper uses it; maps stay in place.
    #[serde(default)]
    #[schemars(range(min = -20.0, max = 20.0))]
    pub reference_to_outlets_m: f64,
    /// What the drive wheel covers in one turn, measured in work so that slip is in it; `twinsow calibrate` then also
    /// says the turns of the wheel.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schemars(range(min = 0.3, max = 10.0))]
    pub wheel_round_m: Option<f64>,
    /// Width over which seed and fertiliser spread at the opener, measured in the field; for every
    /// seed-safe limit without its own `spread_m`.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schemars(range(max = 1.0), extend("exclusiveMinimum" = 0.0))]
    pub opener_spread_m: Option<f64>,
    /// The containers.
    #[serde(default, rename = "hopper")]
    pub hoppers: Vec<Hopper>,
}

/// A container: one half of the divided hopper, or the container of a surface unit.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Hopper {
    /// How products refer to it, such as "front".
    #[schemars(length(min = 1))]
    pub name: String,
    /// Litres it holds that can be sown.
    #[schemars(range(min = 20.0, max = 50000.0))]
    pub usable_l: f64,
    /// Litres that the meter cannot empty; they are ordered and left over.
    #[serde(default)]
    #[schemars(range(min = 0.0, max = 5000.0))]
    pub residue_l: f64,
    /// Litres that must stay in it while sowing, so that the meter is fed on slopes and over the cone.
    #[serde(default)]
    #[schemars(range(min = 0.0, max = 50000.0))]
    pub min_level_l: f64,
    /// Its own table of levels, from the bottom up; fills then also come as levels.
    #[serde(default, rename = "level")]
    pub levels: Vec<Level>,
    /// The part of the machine that meters it, by its id or name in the task data of `terminal.from`, such as
    /// "DET3"; without it the part that is named like the hopper.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schemars(length(min = 1))]
    pub element: Option<String>,
    /// Width that a unit of its own spreads from this hopper, for a surface-applied product; without it
    /// its meter is not checked, and the drive takes the working width of the drill.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schemars(range(min = 0.5, max = 60.0))]
    pub spreads_width_m: Option<f64>,
    /// Steps between two rates that are smaller than this share do not change what its meter does.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schemars(range(max = 50.0), extend("exclusiveMinimum" = 0.0))]
    pub resolves_percent: Option<f64>,
    /// How late its meter answers; a product may have its own.
    #[serde(default)]
    pub delays: MeterDelays,
    /// The set of rotors that fit its metering unit.
    #[serde(default, rename = "rotor")]
    pub rotors: Vec<Rotor>,
}

/// The grids.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct GridSettings {
    /// Edge of a cell; without it one working width, at least 5 m.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schemars(range(min = 0.5, max = 1000.0))]
    pub cell_m: Option<f64>,
    /// Width of the rim outside the field that carries the nearest rate; without it one working width.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schemars(range(min = 0.0, max = 1000.0))]
    pub rim_m: Option<f64>,
    /// Most cells a grid may have. Each takes some 200 bytes of memory in a plan of all forms.
    #[serde(default = "defaults::most_cells")]
    #[schemars(range(min = 1, max = 10_000_000))]
    pub most_cells: u64,
}

impl Default for GridSettings {
    fn default() -> Self {
        Self {
            cell_m: None,
            rim_m: None,
            most_cells: defaults::most_cells(),
        }
    }
}

/// How the order is made.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields, default)]
pub struct Order {
    /// On top of the map's total. 3 % is an assumption of common practice, no source.
    #[schemars(range(min = 0.0, max = 100.0))]
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
