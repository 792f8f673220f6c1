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
    /// Language of report, sheets, reasons and the page of `edit`; what it does not have yet stands there in English, which the page says.
    pub language: Language,
}

/// A language that the pages have texts in.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum Language {
    /// English
    #[default]
    En,
    /// Deutsch
    De,
    /// Français
    Fr,
    /// Español
    Es,
    /// Polski
    Pl,
    /// Українська
    Uk,
}

impl Language {
    /// All of them.
    pub const ALL: [Self; 6] = [Self::En, Self::De, Self::Fr, Self::Es, Self::Pl, Self::Uk];
}
