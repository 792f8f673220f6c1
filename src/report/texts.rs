//! The words of the pages: one file for each language.

use crate::findings::{Fault, Outcome, Place};
use crate::job::Language;
use crate::texts::files;
use serde_json::Value;
use std::sync::OnceLock;

/// The texts of a language.
struct Texts {
    /// All of them, as templates take them.
    all: minijinja::Value,
    /// What rules are called, by their ids.
    rules: Value,
}

/// All texts of a language, by section and key, as templates take them. They are read once: for a small field each reading would be
/// a good part of the work on its page. `tests/languages.rs` holds every file to the English one.
pub(super) fn of(language: Language) -> Outcome<minijinja::Value> {
    Ok(read(language)?.all.clone())
}

fn read(language: Language) -> Outcome<&'static Texts> {
    static READ: [OnceLock<Outcome<Texts>>; Language::ALL.len()] =
        [const { OnceLock::new() }; Language::ALL.len()];
    let read = READ[language as usize].get_or_init(|| parsed(files(language).report));
    read.as_ref().map_err(Clone::clone)
}

fn parsed(text: &str) -> Outcome<Texts> {
    let texts: Value = toml::from_str(text).map_err(|error| unreadable(&error))?;
    let rules = texts["rules"].clone();
    let all = serde_json::from_value(texts).map_err(|error| unreadable(&error))?;
    Ok(Texts { all, rules })
}

fn unreadable(error: &dyn std::fmt::Display) -> Box<Fault> {
    Fault::program(
        "report.texts",
        Place::nowhere(),
        format!("the texts of the report cannot be read: {error}"),
        "a TOML file of texts",
    )
}

/// What rules are called, by their ids.
///
/// # Errors
/// Texts that cannot be read.
pub fn rule_names(language: Language) -> Outcome<Value> {
    Ok(read(language)?.rules.clone())
}
