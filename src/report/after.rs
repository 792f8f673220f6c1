//! The page about a log: what was sown, and what it says for and against the work. Plain values in, bytes out.

use super::engine;
use super::number::Numbers;
use crate::findings::Outcome;
use crate::job::Language;
use serde::Serialize;
use serde_json::json;

/// What stands on the page. All numbers are texts for people, with their units, in the language of the page.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct AfterPage {
    /// Name of the field, short id of the plan, tasks and logs.
    pub field: String,
    /// Short id of the plan.
    pub plan: String,
    /// Logs, and the tasks they are of.
    pub logs: [String; 2],
    /// Hours on the field, hectares an hour, stops.
    pub facts: [String; 3],
    /// What the log shows, in order.
    pub told: Vec<AfterCase>,
    /// Hectares and share of the plan: planned, drilled, twice or more, missed, beyond the plan's land.
    pub land: [[String; 2]; 5],
    /// Products.
    pub products: Vec<AfterProduct>,
    /// What no log shows.
    pub not_shown: String,
    /// The picture.
    pub picture: AfterPicture,
}

/// A fault on the page.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct AfterCase {
    /// Whether somebody has to decide.
    pub asks: bool,
    /// What was found, and what to do next.
    pub found: String,
    /// What to do next.
    pub next: String,
    /// Where: degrees as text; empty where it has no place.
    pub place: String,
    /// Its place in the picture.
    pub pin: Option<[f64; 2]>,
}

/// A product on the page; masses in kg.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct AfterProduct {
    /// Its name.
    pub name: String,
    /// Planned, planned where drilled, sown, loaded, left.
    pub masses: [String; 5],
    /// Share of the drilled land within 5, 10 and 20 % of the plan.
    pub within: [String; 3],
}

/// Field and ways as SVG paths; x to the east and y to the south, m from the north-western corner.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct AfterPicture {
    /// Width and height, m.
    pub size: [f64; 2],
    /// Outlines of the zones.
    pub zones: String,
    /// What was driven in work.
    pub ways: String,
    /// Working width, m.
    pub width: f64,
    /// Half the size of a pin, m.
    pub pin: f64,
}

/// The page; the same values give the same bytes.
///
/// # Errors
/// As [`super::page`].
pub fn after(page: &AfterPage, language: Language) -> Outcome<Vec<u8>> {
    let values = json!({
        "units": Numbers::METRIC.in_language(language).words(),
        "page": page,
    });
    engine::after(values, language)
}
