//! The words of the pages: one file for each language.

use crate::findings::{Fault, Outcome, Place};
use crate::job::Language;
use crate::texts::files;
use serde_json::Value;
use std::sync::OnceLock;

/// All texts of a language, by section and key. They are read once. `tests/languages.rs` holds every file to the English one.
pub(super) fn of(language: Language) -> Outcome<Value> {
    static READ: [OnceLock<Outcome<Value>>; Language::ALL.len()] =
        [const { OnceLock::new() }; Language::ALL.len()];
    let place = Language::ALL.iter().position(|known| *known == language);
    match place.and_then(|nth| READ.get(nth)) {
        Some(read) => read.get_or_init(|| parsed(files(language).report)).clone(),
        None => parsed(files(language).report),
    }
}

fn parsed(text: &str) -> Outcome<Value> {
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
