//! Published sources, each listed once and named by its number.

use serde_json::{Value, json};

/// The list so far.
#[derive(Default)]
pub(super) struct Sources {
    known: Vec<String>,
}

impl Sources {
    /// The number of a source, from 1.
    pub(super) fn number(&mut self, source: &str) -> usize {
        let place = self.known.iter().position(|known| known == source);
        place.unwrap_or_else(|| {
            self.known.push(source.to_owned());
            self.known.len() - 1
        }) + 1
    }

    pub(super) fn list(&self) -> Value {
        json!(self.known)
    }
}
