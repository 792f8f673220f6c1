//! The week's list as a page that prints. Plain values in, bytes out.

use super::engine;
use crate::findings::Outcome;
use crate::job::Language;
use serde::Serialize;
use serde_json::json;

/// What stands on the page. All numbers are texts for people, with their units.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct WeekPage {
    /// From which day on.
    pub from: String,
    /// A sheet for each drill.
    pub drills: Vec<WeekDrill>,
    /// What the lists go by, a sentence each.
    pub rules: Vec<String>,
}

/// The sheet of a drill.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct WeekDrill {
    /// Name of the drill.
    pub name: String,
    /// Names and values, such as hours.
    pub facts: Vec<[String; 2]>,
    /// Fields in their order.
    pub rows: Vec<WeekRow>,
    /// Day, product, mass, packs, fills.
    pub tender: Vec<[String; 5]>,
    /// What is in the hoppers at the end, a sentence each.
    pub left: Vec<String>,
    /// What to mind about single fields.
    pub notes: Vec<String>,
    /// Clean-out and leftovers: cautions.
    pub cautions: Vec<String>,
}

/// A field on the sheet.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct WeekRow {
    /// Its turn, from 1.
    pub number: usize,
    /// Day, when it begins, when it ends.
    pub times: [String; 3],
    /// Field.
    pub field: String,
    /// Customer and farm, where the job names them.
    pub owner: String,
    /// Short id of the plan.
    pub plan: String,
    /// Area, way to it.
    pub measures: [String; 2],
    /// Products with their masses.
    pub takes: Vec<String>,
    /// How many fills.
    pub fills: String,
    /// What is to be done before it, and what is late.
    pub before: Vec<String>,
}

/// The page; the same values give the same bytes.
///
/// # Errors
/// As [`super::page`].
pub fn week(page: &WeekPage) -> Outcome<Vec<u8>> {
    engine::still(
        "week.html",
        json!({
            "page": page,
        }),
        Language::En,
    )
}
