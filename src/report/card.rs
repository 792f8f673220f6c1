//! A job card: the work for one customer, to sign. Plain values in, bytes out.

use super::engine;
use crate::findings::Outcome;
use crate::job::Language;
use serde_json::{Value, json};

/// The page; the same values give the same bytes.
///
/// # Errors
/// As [`super::page`].
pub fn card(page: Value, language: Language) -> Outcome<Vec<u8>> {
    engine::still(
        "card.html",
        json!({
            "page": page,
        }),
        language,
    )
}
