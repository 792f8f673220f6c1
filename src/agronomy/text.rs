//! Numbers as the reasons print them.

use crate::findings::without_zeros;
use crate::job::UnitSystem;
use crate::units::lb_per_acre_from_kg_per_ha;

/// A number with at most `decimals` decimals and no zeros at the end: 230.8, 48, 0.5.
pub(super) fn number(value: f64, decimals: usize) -> String {
    let text = format!("{value:.decimals$}");
    let text = without_zeros(&text);
    if text == "-0" {
        "0".to_owned()
    } else {
        text.to_owned()
    }
}

/// A rate: one decimal, two where rates are small (rape and clover are sown at 3 kg/ha).
pub(super) fn rate(kg_per_ha: f64) -> String {
    number(kg_per_ha, if kg_per_ha.abs() < 20.0 { 2 } else { 1 })
}

/// The same with its unit, in the units of the job's pages: for findings. Reasons show how a rate was worked out, and stay metric.
pub(super) fn rate_in(units: UnitSystem, kg_per_ha: f64) -> String {
    match units {
        UnitSystem::Metric => format!("{} kg/ha", rate(kg_per_ha)),
        UnitSystem::UsCustomary => {
            let lb_per_acre = lb_per_acre_from_kg_per_ha(kg_per_ha);
            format!("{} lb/ac", rate(lb_per_acre))
        }
    }
}

/// A number from the job as the user wrote it, as far as a float remembers.
pub(super) fn given(value: f64) -> String {
    number(value, 6)
}

/// An area in hectares from m2: two decimals, four below 100 m2.
pub(super) fn hectares(m2: f64) -> String {
    let decimals = if m2 < 100.0 { 4 } else { 2 };
    format!("{:.decimals$} ha", crate::units::ha_from_m2(m2))
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
