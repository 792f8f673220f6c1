//! What a job file says about a product: what it is, its rate, its limits.

use super::combined::Combined;
use super::delays::MeterDelays;
use super::lot_settings::Lots;
use super::placement::{BalanceProduct, FertiliserForm, FromTable};
use super::terminal::AtZero;
use super::us_units::LimitsLbPerAcre;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;

/// A product.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Product {
    /// Short id without blanks: names columns and files.
    #[schemars(length(min = 1, max = 32), extend("pattern" = "^[a-z0-9_-]+$"))]
    pub id: String,
    /// Name as the operator and the buyer know it.
    #[schemars(length(min = 1))]
    pub name: String,
    /// What it is.
    pub kind: Kind,
    /// Of a seed: the crop, by a name of the crop list; its numbers are held against what is published about it. Without it the id counts, if it is such a name.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schemars(length(min = 1))]
    pub crop: Option<String>,
    /// Name of the hopper it is in.
    pub hopper: String,
    /// True for a third product that its own unit spreads on the surface, outside the air stream.
    #[serde(default)]
    pub surface_applied: bool,
    /// Lot or batch on the label.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub lot: Option<String>,
    /// Several lots or varieties in one field, each with its own figures.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub lots: Option<Lots>,
    /// True as long as the label's figures are not known: a plan with expected ones asks for a decision, and an order by seeds needs no grain weight.
    #[serde(default, skip_serializing_if = "std::ops::Not::not")]
    pub label_pending: bool,
    /// Kilograms per litre, as filled; needed for hopper fills.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schemars(range(min = 0.1, max = 3.0))]
    pub bulk_density_kg_per_l: Option<f64>,
    /// Weight of one pack (bag, big bag). Without it the order is in kilograms.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schemars(range(max = 5000.0), extend("exclusiveMinimum" = 0.0))]
    pub pack_kg: Option<f64>,
    /// Seeds in one pack, where it is sold by seeds instead of weight.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schemars(range(min = 1.0, max = 1e10))]
    pub seeds_per_pack: Option<f64>,
    /// Seed dressing or coating; orders are never pooled across it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub dressing: Option<String>,
    /// Price of 1000 kg, in any one currency; orders are then costed.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schemars(range(min = 0.0, max = 1_000_000.0))]
    pub price_per_t: Option<f64>,
    /// Price of one pack, instead of `price_per_t`.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schemars(range(min = 0.0, max = 1_000_000.0))]
    pub price_per_pack: Option<f64>,
    /// Grams per thousand seeds.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schemars(range(min = 0.1, max = 2000.0))]
    pub thousand_grain_weight_g: Option<f64>,
    /// Seeds in a pound, instead of thousand_grain_weight_g.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schemars(range(min = 200.0, max = 5_000_000.0))]
    pub seeds_per_lb: Option<f64>,
    /// Germination on the label.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schemars(range(max = 100.0), extend("exclusiveMinimum" = 0.0))]
    pub germination_percent: Option<f64>,
    /// Depth at which it is to lie; stands on the operator's sheet.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schemars(range(min = 0.0, max = 300.0))]
    pub depth_mm: Option<f64>,
    /// Nutrients of a fertiliser.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub grade: Option<Grade>,
    /// Chemical form of a fertiliser; tables of seed-safe limits are for some forms only.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub form: Option<FertiliserForm>,
    /// How late the meter answers with this product, instead of what its hopper says.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub delays: Option<MeterDelays>,
    /// Where its rate comes from.
    pub rate: RateRule,
    /// Percent adjustments, in order.
    #[serde(default, rename = "adjust")]
    pub adjustments: Vec<Adjustment>,
    /// Limits of its rate.
    #[serde(default)]
    pub limits: Limits,
    /// The same limits in pounds per acre, instead of them.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub limits_lb_per_acre: Option<LimitsLbPerAcre>,
    /// What is done where its rate is 0: the sheet has a yard test that tells what your terminal does.
    #[serde(default)]
    pub at_zero: AtZero,
    /// What is broadcast for the part that does not go with the seed; without it the same product.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub balance: Option<BalanceProduct>,
    /// Rate for land outside the field and for a lost position, instead of the base rate.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schemars(range(min = 0.0, max = 5000.0))]
    pub fallback_kg_per_ha: Option<f64>,
}

/// What a product is.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
#[allow(missing_docs)] // Words of the job file.
pub enum Kind {
    Seed,
    Fertiliser,
}

/// Nutrients in percent of weight.
#[derive(Debug, Clone, Copy, Default, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields, default)]
pub struct Grade {
    /// Nitrogen, N.
    #[schemars(range(min = 0.0, max = 100.0))]
    pub n_percent: f64,
    /// Phosphate, as P2O5.
    #[schemars(range(min = 0.0, max = 100.0))]
    pub p2o5_percent: f64,
    /// Potash, as K2O.
    #[schemars(range(min = 0.0, max = 100.0))]
    pub k2o_percent: f64,
    /// Sulphur, as S (SO3 on the bag times 0.4). Without it nobody knows, and the ledger leaves it blank.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schemars(range(min = 0.0, max = 100.0))]
    pub s_percent: Option<f64>,
    /// Boron, in a blend or on a coat too: it must not touch the seed.
    #[serde(skip_serializing_if = "is_zero")]
    #[schemars(range(min = 0.0, max = 100.0))]
    pub boron_percent: f64,
}

fn is_zero(value: &f64) -> bool {
    *value == 0.0
}

/// A nutrient.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
#[allow(missing_docs)] // Words of the job file.
pub enum Nutrient {
    N,
    P2o5,
    K2o,
}

/// Where a wanted rate comes from. Exactly one of `kg_per_ha`, `seeds_per_m2`, `plants_per_m2`,
/// `need_kg_per_ha` and `need_from_table` is given.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct RateRule {
    /// The rate itself.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schemars(extend("minimum" = 0, "maximum" = 5000))]
    pub kg_per_ha: Option<Lookup>,
    /// Seeds to sow; needs the thousand-grain weight.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schemars(extend("minimum" = 0, "maximum" = 5000))]
    pub seeds_per_m2: Option<Lookup>,
    /// Plants wanted; needs thousand-grain weight, germination and establishment.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schemars(extend("minimum" = 0, "maximum" = 5000))]
    pub plants_per_m2: Option<Lookup>,
    /// The rate itself in pounds per acre, instead of kg_per_ha.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schemars(extend("minimum" = 0, "maximum" = 4461))]
    pub lb_per_acre: Option<Lookup>,
    /// Seeds to sow per square foot, instead of seeds_per_m2.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schemars(extend("minimum" = 0, "maximum" = 464))]
    pub seeds_per_ft2: Option<Lookup>,
    /// Plants wanted per square foot, instead of plants_per_m2.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schemars(extend("minimum" = 0, "maximum" = 464))]
    pub plants_per_ft2: Option<Lookup>,
    /// More plants or seeds per m2 by sowing date: in a straight line between two dates, and before the first and after the last as on it.
    #[serde(default)]
    pub by_date: Vec<ByDate>,
    /// Of the seeds that can germinate (multiply), or of all seeds with germination taken off in points (subtract), the share that become plants.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schemars(extend("exclusiveMinimum" = 0, "maximum" = 100))]
    pub establishment_percent: Option<Lookup>,
    /// How germination and establishment are joined.
    #[serde(default)]
    pub germination_joined: Joined,
    /// The nutrient that `need_kg_per_ha` or `need_from_table` speaks of.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub nutrient: Option<Nutrient>,
    /// Need of that nutrient; the product's grade turns it into a rate.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schemars(extend("minimum" = 0, "maximum" = 2000))]
    pub need_kg_per_ha: Option<Lookup>,
    /// Need of that nutrient in pounds per acre, instead of need_kg_per_ha.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schemars(extend("minimum" = 0, "maximum" = 1784))]
    pub need_lb_per_acre: Option<Lookup>,
    /// Need of that nutrient by a recommendation table.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub need_from_table: Option<FromTable>,
    /// Share of the rate that goes with the seed; the rest is the balance to broadcast.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schemars(range(max = 100.0), extend("exclusiveMinimum" = 0.0))]
    pub placed_percent: Option<f64>,
}

/// More plants or seeds per m2 from a sowing date on.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct ByDate {
    /// Sowing date, YYYY-MM-DD.
    #[schemars(length(min = 10, max = 10))]
    pub date: String,
    /// What `plants_per_m2` (or `seeds_per_m2`) goes up by.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schemars(range(min = 0.0, max = 1000.0))]
    pub more_per_m2: Option<f64>,
    /// The same per square foot, instead of it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schemars(range(min = 0.0, max = 93.0))]
    pub more_per_ft2: Option<f64>,
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

/// One number for the whole field, one by class of a layer, or one from several layers.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(untagged)]
#[allow(missing_docs)] // Words of the job file.
pub enum Lookup {
    Same(f64),
    ByClass(ByClass),
    Combined(Combined),
}

/// For the schema: any number. The range of a number by class is that of the key it stands for.
#[derive(JsonSchema)]
#[schemars(inline, extend("minimum" = -100_000, "maximum" = 100_000))]
#[allow(dead_code)]
struct AnyNumber(f64);

/// Numbers by class, or by a curve over the values, of a layer.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct ByClass {
    /// Name of the layer.
    #[schemars(length(min = 1))]
    pub layer: String,
    /// The number of each class.
    #[serde(default)]
    #[schemars(with = "BTreeMap<String, AnyNumber>")]
    pub by_class: BTreeMap<String, f64>,
    /// Instead of classes, for a layer whose classes are numbers: in a straight line between two points, and beyond the first and the last as at them.
    #[serde(default)]
    pub curve: Vec<CurvePoint>,
    /// For classes that the table does not name, or that are no numbers for a curve. Without it such a class is an error.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schemars(range(min = -100_000.0, max = 100_000.0))]
    pub otherwise: Option<f64>,
}

/// A point of a curve.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct CurvePoint {
    /// The layer's value, such as percent of clay.
    #[schemars(range(min = -1e300, max = 1e300))]
    pub at: f64,
    /// The number that holds there.
    #[schemars(range(min = -100_000.0, max = 100_000.0))]
    pub value: f64,
}

/// A percentage on the rate.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Adjustment {
    /// Why, in a few words: stands in the reasons.
    #[schemars(length(min = 1))]
    pub because: String,
    /// Percent of the rate so far; 100 changes nothing.
    #[schemars(extend("minimum" = 0, "maximum" = 1000))]
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
#[allow(missing_docs)] // Words of the job file.
pub enum LandPart {
    Headland,
    Interior,
}

impl LandPart {
    /// The word for it, in files and on the screen.
    pub fn word(self) -> &'static str {
        match self {
            Self::Headland => "headland",
            Self::Interior => "interior",
        }
    }
}

/// Limits of a product's rate. A rate of 0 stays 0.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Limits {
    /// Lowest rate above zero.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schemars(range(min = 0.0, max = 5000.0))]
    pub min_kg_per_ha: Option<f64>,
    /// Highest rate by the product's label: nothing exceeds it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schemars(range(min = 0.0, max = 5000.0))]
    pub label_max_kg_per_ha: Option<f64>,
    /// Of a seed: most seeds in a hectare by the seed tag, as dressed seed may have; nothing exceeds it. Needs the thousand-grain weight.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schemars(range(max = 1e9), extend("exclusiveMinimum" = 0.0))]
    pub label_max_seeds_per_ha: Option<f64>,
    /// Highest rate.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schemars(range(min = 0.0, max = 5000.0))]
    pub max_kg_per_ha: Option<f64>,
    /// Rates are rounded to a multiple of this.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schemars(range(max = 1000.0), extend("exclusiveMinimum" = 0.0))]
    pub step_kg_per_ha: Option<f64>,
}
