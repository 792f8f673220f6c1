//! The page of a field record. Plain values in, bytes out.

use super::engine;
use crate::findings::Outcome;
use crate::job::Language;
use serde_json::{Value, json};

/// The page; the same values give the same bytes.
///
/// # Errors
/// As [`super::page`].
pub fn field_record(page: Value, language: Language) -> Outcome<Vec<u8>> {
    engine::still(
        "field-record.html",
        json!({
            "page": page,
        }),
        language,
    )
}
