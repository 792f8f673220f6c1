//! What a job file says about recommendation tables, fertiliser beside the seed, and the balance.

use super::product::{Grade, Nutrient};
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
pub enum Straw {
    Incorporated,
    Removed,
    /// The table makes no difference.
    Any,
}

/// Chemical form of a fertiliser, as far as tables of seed-safe limits tell it apart.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum FertiliserForm {
    Urea,
    UreaWithInhibitor,
    UreaAmmoniumNitrate,
    /// Mono- or diammonium phosphate.
    AmmoniumPhosphate,
    /// Any other form that contains no urea.
    WithoutUrea,
}

/// A limit for the fertiliser that lies with the seed. Exactly one of `table` and `file` is given.
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
    /// Crop, as the table calls it.
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
    /// Texture of the whole field, as the table calls it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schemars(length(min = 1))]
    pub texture: Option<String>,
    /// Texture by class of a layer, instead of `texture`.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub texture_by_class: Option<WordsByClass>,
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
    /// The rate stays, and a warning says so.
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
