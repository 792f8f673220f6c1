//! What a job file says about the field report.

use crate::units::UnitSystem;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// The field report.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields, default)]
pub struct ReportSettings {
    /// Units on the page, on the screen, in reasons and beside the terminal's files; numbers in other files stay metric.
    pub units: UnitSystem,
    /// Language of the page, of reasons and of cautions; findings stay English.
    pub language: Language,
}

/// A language that the report has texts in.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
#[allow(missing_docs)] // Words of the job file.
pub enum Language {
    #[default]
    En,
}

impl Language {
    /// All of them.
    pub const ALL: [Self; 1] = [Self::En];
}
