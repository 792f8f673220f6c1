//! What a job file says about recommendation tables, fertiliser beside the seed, and the balance.

use super::product::{Grade, Lookup, Nutrient};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;
use std::path::PathBuf;

/// A need from a published recommendation table. Exactly one of `table` and `file` is given.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct FromTable {
    /// Name of a built-in table.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schemars(length(min = 1))]
    pub table: Option<String>,
    /// A table of your own, relative to the job file; its form is described with the methods.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub file: Option<PathBuf>,
    /// Crop, as the table calls it.
    #[schemars(length(min = 1))]
    pub crop: String,
    /// What becomes of the straw.
    pub straw: Straw,
    /// Expected yield; without it the yield that the table is for.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schemars(range(max = 200.0), extend("exclusiveMinimum" = 0.0))]
    pub yield_t_per_ha: Option<f64>,
    /// Zone layer with the soil index of the product's nutrient, or with the laboratory's values.
    #[schemars(length(min = 1))]
    pub layer: String,
    /// Unit of the laboratory's values, as the table writes it. Given, the layer's classes are such values; without it they are the table's classes.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schemars(length(min = 1))]
    pub laboratory_unit: Option<String>,
    /// Which need decides the rate of the product.
    #[serde(default)]
    pub decides: Decides,
    /// Other nutrients of the crop, to compare with what the product brings.
    #[serde(default)]
    pub also: Vec<AlsoNeeded>,
}

/// Another nutrient that the crop needs.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct AlsoNeeded {
    /// The nutrient.
    pub nutrient: Nutrient,
    /// Zone layer with its soil index, or with the laboratory's values.
    #[schemars(length(min = 1))]
    pub layer: String,
    /// Unit of the laboratory's values, as the table writes it; without it the layer's classes are the table's.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schemars(length(min = 1))]
    pub laboratory_unit: Option<String>,
}

/// Which need decides where one product meets several.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum Decides {
    /// The need of `nutrient`; the others are compared with what the product brings.
    #[default]
    Nutrient,
    /// The need that asks for most of the product.
    LargestNeed,
}

/// What becomes of the straw.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
#[allow(missing_docs)] // Words of the job file.
pub enum Straw {
    Incorporated,
    Removed,
    /// The table makes no difference.
    Any,
}

/// Chemical form of a fertiliser, as far as tables of seed-safe limits tell it apart.
#[derive(
    Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize, JsonSchema,
)]
#[serde(rename_all = "snake_case")]
#[allow(missing_docs)] // Words of the job file.
pub enum FertiliserForm {
    Urea,
    UreaWithInhibitor,
    UreaAmmoniumNitrate,
    /// Such as 11-52-0 or 12-52-0.
    MonoammoniumPhosphate,
    /// Such as 18-46-0.
    DiammoniumPhosphate,
    /// Such as 0-46-0.
    TripleSuperphosphate,
    /// Such as 21-0-0 with sulphur.
    AmmoniumSulphate,
    /// Any other form that contains no urea, blends too.
    WithoutUrea,
}

impl FertiliserForm {
    /// The form in words.
    pub fn words(self) -> &'static str {
        match self {
            Self::Urea => "urea",
            Self::UreaWithInhibitor => "urea with inhibitor",
            Self::UreaAmmoniumNitrate => "urea ammonium nitrate",
            Self::MonoammoniumPhosphate => "monoammonium phosphate",
            Self::DiammoniumPhosphate => "diammonium phosphate",
            Self::TripleSuperphosphate => "triple superphosphate",
            Self::AmmoniumSulphate => "ammonium sulphate",
            Self::WithoutUrea => "fertiliser without urea",
        }
    }
}

/// A limit for the fertiliser that lies with the seed, and the case it is asked for. `table` or `file` names one; with
/// neither, every built-in table that covers the case holds.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct SeedSafe {
    /// Name of a built-in table.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schemars(length(min = 1))]
    pub table: Option<String>,
    /// A table of your own, relative to the job file; its form is described with the methods.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub file: Option<PathBuf>,
    /// Crop: a word of the crop list (a page of the methods has it), or one of your own table's.
    #[schemars(length(min = 1))]
    pub crop: String,
    /// Width over which seed and fertiliser spread at the opener, measured in the field; without it
    /// `opener_spread_m` of the drill.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schemars(range(max = 1.0), extend("exclusiveMinimum" = 0.0))]
    pub spread_m: Option<f64>,
    /// True for a dry seedbed.
    #[serde(default)]
    pub dry: bool,
    /// Texture of the whole field: light, medium or heavy, a soil such as "sandy loam", or a word of your own table.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schemars(length(min = 1))]
    pub texture: Option<String>,
    /// Texture by class of a layer, instead of `texture`.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub texture_by_class: Option<WordsByClass>,
    /// Soil pH, one number or by a layer; ammonium sulphate and diammonium phosphate need it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schemars(extend("minimum" = 0, "maximum" = 14))]
    pub soil_ph: Option<Lookup>,
    /// What happens where more lies with the seed than the table allows.
    #[serde(default)]
    pub above: AboveLimit,
    /// Highest stand loss that is accepted; for the equation only.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schemars(range(max = 50.0), extend("exclusiveMinimum" = 0.0))]
    pub stand_loss_percent: Option<f64>,
    /// Factor for moisture and texture, 1 on moist fine or medium soil; for the equation only.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schemars(range(max = 100.0), extend("exclusiveMinimum" = 0.0))]
    pub moisture_texture_factor: Option<f64>,
}

impl SeedSafe {
    /// The spread at the opener; a parsed job has one here or in `[drill]`, else 0, which no table allows.
    pub fn at_opener_m(&self) -> f64 {
        self.spread_m.unwrap_or_default()
    }
}

/// Your own limit for one fertiliser beside the seed, for a case that no table covers, signed. It lifts no limit of a table
/// and none of a label.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct OwnSeedLimit {
    /// Id of the fertiliser.
    #[schemars(length(min = 1))]
    pub product: String,
    /// The most of it beside the seed.
    #[schemars(range(min = 0.0, max = 5000.0))]
    pub max_kg_per_ha: f64,
    /// Crop it is for, where `[[seed_safe]]` or the seed names one: it holds for that crop and for hardier ones.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schemars(length(min = 1))]
    pub crop: Option<String>,
    /// Widest rows it is for; needed where the drill has a row spacing.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schemars(range(min = 0.02, max = 2.0))]
    pub row_spacing_m: Option<f64>,
    /// Narrowest spread at the opener it is for; needed where the job says one.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schemars(range(max = 1.0), extend("exclusiveMinimum" = 0.0))]
    pub spread_m: Option<f64>,
    /// Lightest texture it is for; needed where `[[seed_safe]]` says one.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schemars(length(min = 1))]
    pub texture: Option<String>,
    /// True where it is for a dry seedbed as well.
    #[serde(default)]
    pub dry: bool,
    /// Form of the fertiliser; needed where the product has one: the same, or one that harms less.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub form: Option<FertiliserForm>,
    /// Grade of the fertiliser; needed where the product has one, and the same.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub grade: Option<Grade>,
    /// Why this number: a trial of your own, an adviser, the label.
    #[schemars(length(min = 1))]
    pub because: String,
    /// Who signs it.
    #[schemars(length(min = 1))]
    pub by: String,
    /// Day it was signed, YYYY-MM-DD.
    #[schemars(length(min = 10, max = 10))]
    pub on: String,
}

/// Words by class of a layer.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct WordsByClass {
    /// Name of the layer.
    #[schemars(length(min = 1))]
    pub layer: String,
    /// The word for each class.
    pub by_class: BTreeMap<String, String>,
    /// For classes that the table does not name. Without it such a class is an error.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub otherwise: Option<String>,
}

/// What happens above a limit.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum AboveLimit {
    /// The rate is cut to the limit, and the rest goes to the balance.
    #[default]
    Cap,
    /// The rate stays, and asks for a decision.
    Warn,
}

/// The product that is broadcast for what is not placed with the seed.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct BalanceProduct {
    /// Name as the buyer knows it.
    #[schemars(length(min = 1))]
    pub name: String,
    /// Its nutrients; without it those of the placed product.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub grade: Option<Grade>,
    /// Weight of one pack. Without it the order is in kilograms.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schemars(range(max = 5000.0), extend("exclusiveMinimum" = 0.0))]
    pub pack_kg: Option<f64>,
    /// Price of 1000 kg, in any one currency.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schemars(range(min = 0.0, max = 1_000_000.0))]
    pub price_per_t: Option<f64>,
    /// Price of one pack, instead of `price_per_t`.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schemars(range(min = 0.0, max = 1_000_000.0))]
    pub price_per_pack: Option<f64>,
}
