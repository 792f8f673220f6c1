//! What an action makes necessary: a property of the action, so that only what it touches is worked out again.

use super::key::KeyPath;
use serde::Serialize;

/// How far back work begins.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Stage {
    /// The geometry holds; rates, and what comes of them, do not.
    Rates,
    /// Files are read and the land is made anew.
    Land,
}

/// Keys that no geometry depends on, from the top of the job, entries of lists left out. A key below one of them is none
/// either. What is not here is taken to move the land. `tests/edit_stages.rs` holds each of them to it.
pub const RATES_ONLY: [&[&str]; 21] = [
    &["product", "rate", "kg_per_ha"],
    &["product", "rate", "lb_per_acre"],
    &["product", "rate", "seeds_per_m2"],
    &["product", "rate", "seeds_per_ft2"],
    &["product", "rate", "plants_per_m2"],
    &["product", "rate", "plants_per_ft2"],
    &["product", "rate", "establishment_percent"],
    &["product", "rate", "need_kg_per_ha"],
    &["product", "rate", "need_lb_per_acre"],
    &["product", "rate", "placed_percent"],
    &["product", "adjust", "percent"],
    &["product", "limits"],
    &["product", "thousand_grain_weight_g"],
    &["product", "germination_percent"],
    &["product", "pack_kg"],
    &["product", "price_per_t"],
    &["product", "lot"],
    &["special_area", "percent"],
    &["order", "reserve_percent"],
    &["field", "entrance"],
    &["accepted"],
];

impl Stage {
    /// What a change of this key makes necessary.
    pub(super) fn of_path(path: &KeyPath) -> Self {
        let keys = path.keys();
        match RATES_ONLY.iter().any(|known| keys.starts_with(known)) {
            true => Self::Rates,
            false => Self::Land,
        }
    }
}
