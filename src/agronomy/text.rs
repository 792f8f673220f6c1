//! Numbers as findings and faults print them.

pub(super) use crate::texts::quantity::{given, number, rate};

use crate::job::UnitSystem;
use crate::units::lb_per_acre_from_kg_per_ha;

/// A rate with its unit, in the units of the job's pages: for findings.
pub(super) fn rate_in(units: UnitSystem, kg_per_ha: f64) -> String {
    match units {
        UnitSystem::Metric => format!("{} kg/ha", rate(kg_per_ha)),
        UnitSystem::UsCustomary => {
            let lb_per_acre = lb_per_acre_from_kg_per_ha(kg_per_ha);
            format!("{} lb/ac", rate(lb_per_acre))
        }
    }
}

/// An area of land, from m2, in the units of the job's pages: two decimals of a hectare or acre, four below 100 m2.
pub(super) fn land(units: UnitSystem, m2: f64) -> String {
    units.area(m2, if m2 < 100.0 { 4 } else { 2 })
}

/// Names in quotes with commas: 'a', 'b'.
pub(super) fn list(names: impl IntoIterator<Item = impl AsRef<str>>) -> String {
    let names: Vec<String> = names
        .into_iter()
        .map(|name| format!("'{}'", name.as_ref()))
        .collect();
    if names.is_empty() {
        "none".to_owned()
    } else {
        names.join(", ")
    }
}

/// The candidate that is spelled most like `word`, if one is close enough to be a slip.
pub(super) fn nearest<'a>(
    word: &str,
    candidates: impl IntoIterator<Item = &'a str>,
) -> Option<&'a str> {
    let lower = word.to_lowercase();
    candidates
        .into_iter()
        .map(|candidate| {
            (
                strsim::normalized_damerau_levenshtein(&lower, &candidate.to_lowercase()),
                candidate,
            )
        })
        .filter(|(likeness, _)| *likeness >= 0.6)
        // The first of equals wins, so that the order of the table decides and not the search.
        .fold(None, |best: Option<(f64, &str)>, next| match best {
            Some(best) if best.0 >= next.0 => Some(best),
            _ => Some(next),
        })
        .map(|(_, candidate)| candidate)
}
