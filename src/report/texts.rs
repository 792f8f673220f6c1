//! The words of the report: one file per language.

use crate::findings::{Fault, Outcome, Place};
use crate::job::Language;
use serde_json::Value;

/// All texts of a language, by section and key.
pub(super) fn of(language: Language) -> Outcome<Value> {
    let text = match language {
        Language::En => include_str!("texts/en.toml"),
    };
    toml::from_str(text).map_err(|error| {
        Fault::program(
            "report.texts",
            Place::nowhere(),
            format!("the texts of the report cannot be read: {error}"),
            "a TOML file of texts",
        )
    })
}

/// What rules are called, by their ids.
///
/// # Errors
/// Texts that cannot be read.
pub fn rule_names(language: Language) -> Outcome<Value> {
    Ok(of(language)?["rules"].take())
}
