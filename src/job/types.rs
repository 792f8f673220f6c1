//! What a job file holds: all of it, drill and settings. Land, layers and products are in their own files.
//!
//! The ranges stand on the fields, so that the schema, the messages and the page about the job file
//! all say the same.

use super::accepted::Accepted;
use super::closed_flow::ClosedFlow;
use super::delays::MeterDelays;
use super::drive::Drive;
use super::land::{Exclusion, Field, Headland, Setback, SpecialArea};
use super::layer::{ZoneLayer, ZoneRules};
use super::local_rules::{ClosedPeriod, PlaceLimit};
use super::machine::Rotor;
use super::mixture::Mixture;
use super::placement::{OwnSeedLimit, SeedSafe};
use super::product::Product;
use super::refill::{Level, Refill};
use super::report::ReportSettings;
use super::seedbed::Seedbed;
use super::spreader::Spreader;
use super::terminal::Terminal;
use super::tramline::Tramline;
use super::trial::Trial;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
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
    /// How moist the seedbed is, for fertiliser that lies with the seed; `not_known` makes two plans, a moist and a dry one, to
    /// choose from at the field. Without it `dry` of each `[[seed_safe]]` says it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub seedbed: Option<Seedbed>,
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
    /// The spreader that broadcasts what is not placed with the seed; without it that is a layer for a GIS and a line of the order.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub spreader: Option<Spreader>,
    /// How the field is driven; without it, it is not driven on paper.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub drive: Option<Drive>,
    /// Tramlines; without it, none.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub tramline: Option<Tramline>,
    /// Trials in the map, where the field is driven.
    #[serde(default, rename = "trial", skip_serializing_if = "Vec::is_empty")]
    pub trials: Vec<Trial>,
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
    /// Made by [`Job::in_seedbed`]: the job of one of two plans, one for each seedbed.
    #[serde(skip)]
    #[schemars(skip)]
    pub of_two_seedbeds: bool,
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
    /// Number of its bin as the terminal counts the bins of the drill, from 1: maps of one unit are then told apart by it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schemars(range(min = 1, max = 100))]
    pub bin_number: Option<u16>,
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
