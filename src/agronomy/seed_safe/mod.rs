//! Seed-safe limits: how much fertiliser may lie in the row with the seed, by published tables.
//!
//! A stand-loss risk guide, not a guarantee: the product's label and local advice win. Tables are data
//! ([`built_in`], form in `docs/methods/seed-safe.md`); the South Dakota equation is in [`equation`].
//! A table answers only what it covers: [`Answer::NotCovered`] is a valid outcome, with the reason.

pub mod equation;
mod floor;
mod format;
mod look_up;
mod never;
pub mod strictness;
#[cfg(test)]
mod test_order;
#[cfg(test)]
mod tests;

pub(super) use floor::lowest_kg_per_ha;
pub(super) use never::{Never, PH_MOST, needs_ph, never};

use crate::agronomy::crop_tolerance::Crop;
use crate::agronomy::text;
use crate::findings::{Fault, Outcome, Place};
use crate::job::{FertiliserForm, Nutrient};
use crate::texts::Words;
use serde::Deserialize;
use std::collections::BTreeMap;
use std::path::Path;
use std::sync::LazyLock;

/// A published table of limits.
#[derive(Debug, Clone, PartialEq)]
pub struct Table {
    pub title: String,
    pub publisher: String,
    pub region: String,
    pub source: String,
    /// Conditions the publisher states, for people.
    pub note: String,
    /// Nutrients that are added up: all of them, of every product in the stream.
    pub counts: Vec<Nutrient>,
    pub form: Form,
    pub by: By,
    pub columns_are: ColumnsAre,
    pub columns: Vec<String>,
    /// Crops, where the columns are none.
    pub crops: Vec<String>,
    /// Crops that bear nothing with the seed: their limit is 0.
    pub no_tolerance: Vec<String>,
    /// Factors on the limit for single forms of fertiliser.
    pub form_factors: BTreeMap<FertiliserForm, f64>,
    /// Factor on the limit in dry soil.
    pub dry_factor: Option<f64>,
    /// Column that holds in dry soil, by number.
    pub dry_column: Option<usize>,
    pub narrowest_row_m: f64,
    /// Widest rows it is for, where nothing else says so; 0 where it is for any.
    pub widest_row_m: f64,
    /// True for a warning line: more is too much, and less is not therefore safe.
    pub ceiling_only: bool,
    pub least_spread_m: f64,
    pub rows: Vec<Row>,
    /// The crops of the crop list that it is for, with what of it is for each: see [`Table::standing`].
    pub standings: Vec<(Crop, usize)>,
}

/// A row of a table.
#[derive(Debug, Clone, PartialEq)]
pub struct Row {
    /// Spread of seed and fertiliser at the opener in m; 0 where the table does not use it.
    pub spread_m: f64,
    /// Row spacing in m; 0 where the table does not use it.
    pub row_m: f64,
    /// kg/ha, one per column.
    pub kg_per_ha: Vec<f64>,
}

/// What finds the row.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum By {
    SeedbedUtilisation,
    RowSpacing,
    Nothing,
}

/// What the columns stand for.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum ColumnsAre {
    Texture,
    Crop,
    /// One column holds for all.
    Nothing,
}

/// The form of the fertiliser that a table was made for.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Deserialize)]
#[serde(from = "FormWord")]
pub enum Form {
    Only(FertiliserForm),
    /// Any form that contains no urea.
    WithoutUrea,
    Any,
}

/// The word of a table's file for a form.
#[derive(Deserialize)]
#[serde(rename_all = "snake_case")]
enum FormWord {
    Urea,
    UreaWithInhibitor,
    UreaAmmoniumNitrate,
    MonoammoniumPhosphate,
    DiammoniumPhosphate,
    TripleSuperphosphate,
    AmmoniumSulphate,
    WithoutUrea,
    Any,
}

impl From<FormWord> for Form {
    fn from(word: FormWord) -> Self {
        Self::Only(match word {
            FormWord::Urea => FertiliserForm::Urea,
            FormWord::UreaWithInhibitor => FertiliserForm::UreaWithInhibitor,
            FormWord::UreaAmmoniumNitrate => FertiliserForm::UreaAmmoniumNitrate,
            FormWord::MonoammoniumPhosphate => FertiliserForm::MonoammoniumPhosphate,
            FormWord::DiammoniumPhosphate => FertiliserForm::DiammoniumPhosphate,
            FormWord::TripleSuperphosphate => FertiliserForm::TripleSuperphosphate,
            FormWord::AmmoniumSulphate => FertiliserForm::AmmoniumSulphate,
            FormWord::WithoutUrea => return Self::WithoutUrea,
            FormWord::Any => return Self::Any,
        })
    }
}

impl Form {
    /// The form in words.
    pub fn words(self) -> &'static str {
        match self {
            Self::Only(form) => form.words(),
            Self::WithoutUrea => "fertiliser without urea",
            Self::Any => "any fertiliser",
        }
    }
}

/// What lies in the row, and where.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Situation<'a> {
    /// A word of the crop list, or one of the table's own.
    pub crop: &'a str,
    /// A word for a texture, or the table's own; empty where it is not known.
    pub texture: &'a str,
    pub dry: bool,
    /// Row spacing in m.
    pub row_m: f64,
    /// Width over which seed and fertiliser spread at the opener in m, measured in the field.
    pub spread_m: f64,
    /// Form of the product.
    pub form: FertiliserForm,
    /// How the answer is said; none where only its numbers are wanted, and all words are empty.
    pub words: Option<Words>,
}

impl Situation<'_> {
    /// Words of the answer, where they are wanted.
    fn told(&self, words: impl FnOnce(Words) -> String) -> String {
        self.words.map_or_else(String::new, words)
    }
}

/// What a table says.
#[derive(Debug, Clone, PartialEq)]
pub enum Answer {
    Limit(Limit),
    NotCovered(Uncovered),
}

/// A limit and the cell it is from.
#[derive(Debug, Clone, PartialEq)]
pub struct Limit {
    /// Sum of [`Table::counts`] in kg/ha.
    pub kg_per_ha: f64,
    /// The cell, in words.
    pub cell: String,
    /// True where the case is milder than anything in the table (rows narrower, utilisation higher, soil heavier,
    /// fertiliser less harmful), so that the true limit is higher than this one.
    pub conservative_bound: bool,
}

/// A situation that a table does not cover, and what can be said nevertheless.
#[derive(Debug, Clone, PartialEq)]
pub struct Uncovered {
    /// Why, in words.
    pub why: String,
    /// What the table gives for a milder case, kg/ha: more than this is too much. None where it is not for the crop or
    /// the form at all.
    pub ceiling_kg_per_ha: Option<f64>,
    /// That ceiling made stricter for the case: the same grams per metre of row in wider rows, half in dry soil. None
    /// where no such rule reaches the case.
    pub stricter_kg_per_ha: Option<f64>,
}

/// Share of the seedbed that seed and fertiliser use, in percent: spread / row spacing x 100 (both in m).
/// Source: Manitoba Agriculture, *Guidelines for safely applying fertilizer with seed*: 2 in on 6 in is 33 %.
pub fn seedbed_utilisation_percent(spread_m: f64, row_m: f64) -> f64 {
    spread_m / row_m * 100.0
}

/// Share of a moist seedbed's limit that is offered for a dry one, where a table says nothing about dry soil. Manitoba
/// Agriculture, *Toxicity of seed-placed urea*: halved in warm, drying conditions; University of Minnesota, crop news of
/// April 2013: half or less when dry at planting.
pub const DRY_SHARE: f64 = 0.5;

/// Grams of product in a metre of row: kg/ha x row spacing in m / 10.
pub fn row_load_g_per_m(kg_per_ha: f64, row_m: f64) -> f64 {
    kg_per_ha * row_m / 10.0
}

const BUILT_IN: [(&str, &str); 22] = [
    (
        "manitoba_urea_cereals",
        include_str!("manitoba_urea_cereals.toml"),
    ),
    (
        "kansas_n_k2o_wheat",
        include_str!("kansas_n_k2o_wheat.toml"),
    ),
    (
        "manitoba_phosphate",
        include_str!("manitoba_phosphate.toml"),
    ),
    (
        "saskatchewan_phosphate",
        include_str!("saskatchewan_phosphate.toml"),
    ),
    (
        "uk_sands_warning_line",
        include_str!("uk_sands_warning_line.toml"),
    ),
    (
        "atlantic_canada_n_k2o",
        include_str!("atlantic_canada_n_k2o.toml"),
    ),
    (
        "western_canada_n_k2o_1995",
        include_str!("western_canada_n_k2o_1995.toml"),
    ),
    (
        "western_canada_urea_n_1995",
        include_str!("western_canada_urea_n_1995.toml"),
    ),
    (
        "western_canada_double_disc_urea",
        include_str!("western_canada_double_disc_urea.toml"),
    ),
    ("us_mid_atlantic_n", include_str!("us_mid_atlantic_n.toml")),
    (
        "us_mid_atlantic_n_k2o",
        include_str!("us_mid_atlantic_n_k2o.toml"),
    ),
    (
        "manitoba_winter_cereals_n",
        include_str!("manitoba_winter_cereals_n.toml"),
    ),
    (
        "saskatchewan_urea_canola",
        include_str!("saskatchewan_urea_canola.toml"),
    ),
    (
        "north_dakota_n_k2o_row_crops",
        include_str!("north_dakota_n_k2o_row_crops.toml"),
    ),
    (
        "kansas_n_k2o_maize",
        include_str!("kansas_n_k2o_maize.toml"),
    ),
    (
        "alberta_phosphate_canola",
        include_str!("alberta_phosphate_canola.toml"),
    ),
    (
        "manitoba_phosphate_canola",
        include_str!("manitoba_phosphate_canola.toml"),
    ),
    (
        "saskatchewan_phosphate_canola",
        include_str!("saskatchewan_phosphate_canola.toml"),
    ),
    (
        "montana_phosphate_canola_dry",
        include_str!("montana_phosphate_canola_dry.toml"),
    ),
    (
        "manitoba_urea_canola_light",
        include_str!("manitoba_urea_canola_light.toml"),
    ),
    (
        "north_dakota_n_soybean",
        include_str!("north_dakota_n_soybean.toml"),
    ),
    (
        "saskatchewan_phosphate_lentil_chickpea",
        include_str!("saskatchewan_phosphate_lentil_chickpea.toml"),
    ),
];

/// Names of the tables that are compiled in.
pub fn names() -> Vec<&'static str> {
    BUILT_IN.iter().map(|(name, _)| *name).collect()
}

/// All tables that are compiled in, with their names; read once.
pub(super) fn all() -> &'static [(&'static str, Table)] {
    static ALL: LazyLock<Vec<(&'static str, Table)>> = LazyLock::new(|| {
        // A test reads every one of them.
        let read = |(name, text): &(&'static str, &str)| {
            let table = Table::parse(text, Path::new(&format!("{name}.toml")));
            Some((*name, table.ok()?))
        };
        BUILT_IN.iter().filter_map(read).collect()
    });
    &ALL
}

/// A table that is compiled in, by its name.
///
/// # Errors
/// No table of that name.
pub fn built_in(name: &str) -> Outcome<&'static Table> {
    match all().iter().find(|(known, _)| *known == name) {
        Some((_, table)) => Ok(table),
        None => {
            let meant =
                text::nearest(name, names()).map(|near| format!("; did you mean '{near}'?"));
            Err(Fault::input(
                "seed_safe.no_table",
                Place::nowhere(),
                format!("there is no built-in table '{name}'"),
                format!("{}{}", text::list(names()), meant.unwrap_or_default()),
                "Correct the name, or name a file of your own.",
            ))
        }
    }
}
