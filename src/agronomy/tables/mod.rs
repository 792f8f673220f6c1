//! Published recommendation tables as data: soil index from laboratory values, nutrient need from crop,
//! index, yield and straw.
//!
//! A table is a TOML file in the form of `docs/methods/recommendation-tables.md`. Ours are compiled in
//! ([`built_in`]); a user's own go through the same [`Recommendations::parse`]. Amounts are kept in kg/ha,
//! whatever unit the file prints.

mod format;
mod need;
#[cfg(test)]
mod tests;

pub use need::Need;

use crate::findings::{Fault, Outcome, Place};
use crate::job::Nutrient;
pub use crate::job::Straw;
use std::path::Path;
use std::sync::OnceLock;

/// A table of recommendations with its origin.
#[derive(Debug, Clone, PartialEq)]
pub struct Recommendations {
    pub title: String,
    pub publisher: String,
    pub edition: String,
    pub region: String,
    pub indices: Vec<Index>,
    pub crops: Vec<Crop>,
}

/// How laboratory values become classes.
#[derive(Debug, Clone, PartialEq)]
pub struct Index {
    pub name: String,
    /// What the laboratory measured, such as "Olsen P".
    pub quantity: String,
    /// Unit of the laboratory's values.
    pub unit: String,
    pub source: String,
    pub between: Between,
    /// Who says so.
    pub between_source: String,
    /// Classes with their lowest value, ascending.
    pub classes: Vec<(String, f64)>,
}

/// What becomes of a value between the whole numbers at which classes begin and end.
#[derive(Debug, Clone, Copy, PartialEq, Eq, serde::Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Between {
    /// It is rounded to the nearest whole number first, halves up: 9.6 is 10.
    Nearest,
    /// A class lasts until the next begins: 9.6 is below 10.
    Lower,
}

/// What a crop needs.
#[derive(Debug, Clone, PartialEq)]
pub struct Crop {
    pub name: String,
    pub straw: Straw,
    /// Yield for which the amounts hold, in t/ha.
    pub yield_t_per_ha: Option<f64>,
    pub source: String,
    /// Amounts of each nutrient the table speaks of.
    pub amounts: Vec<(Nutrient, Amounts)>,
}

/// The amounts of one nutrient by class of an index.
#[derive(Debug, Clone, PartialEq)]
pub struct Amounts {
    /// Place of the index in [`Recommendations::indices`].
    pub index: usize,
    /// kg/ha, one per class of the index.
    pub kg_per_ha: Vec<f64>,
    /// kg of nutrient that a tonne of yield carries away, if the table says.
    pub offtake_kg_per_t: Option<f64>,
}

/// The tables that are compiled in: file name and text.
const BUILT_IN: [(&str, &str); 2] = [
    (
        "uk_rb209_arable_2023.toml",
        include_str!("uk_rb209_arable_2023.toml"),
    ),
    (
        "us_north_dakota_barley_2023.toml",
        include_str!("us_north_dakota_barley_2023.toml"),
    ),
];

/// Names of the tables that are compiled in, without their file ending.
pub fn names() -> Vec<&'static str> {
    BUILT_IN
        .iter()
        .map(|(file, _)| file.trim_end_matches(".toml"))
        .collect()
}

/// All tables that are compiled in, with their names; read once.
///
/// # Errors
/// None: a test reads every one of them.
pub(super) fn all() -> Outcome<&'static [(&'static str, Recommendations)]> {
    static ALL: OnceLock<Outcome<Vec<(&'static str, Recommendations)>>> = OnceLock::new();
    let read = || {
        let read = |(file, text): &(&'static str, &str)| {
            let table = Recommendations::parse(text, Path::new(file))?;
            Ok((file.trim_end_matches(".toml"), table))
        };
        BUILT_IN.iter().map(read).collect()
    };
    let all = ALL.get_or_init(read).as_ref();
    all.map(Vec::as_slice).map_err(Clone::clone)
}

/// A table that is compiled in, by its name.
///
/// # Errors
/// No table of that name.
pub fn built_in(name: &str) -> Outcome<&'static Recommendations> {
    match all()?.iter().find(|(known, _)| *known == name) {
        Some((_, table)) => Ok(table),
        None => {
            let meant =
                super::text::nearest(name, names()).map(|near| format!("; did you mean '{near}'?"));
            Err(Fault::input(
                "tables.no_table",
                Place::nowhere(),
                format!("there is no built-in table '{name}'"),
                format!(
                    "{}{}",
                    super::text::list(names()),
                    meant.unwrap_or_default()
                ),
                "Correct the name, or name a file of your own.",
            ))
        }
    }
}
