//! Numbers as the reasons print them.

use crate::findings::without_zeros;

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

/// A rate in kg/ha: one decimal, two where rates are small (rape and clover are sown at 3 kg/ha).
pub(super) fn rate(kg_per_ha: f64) -> String {
    number(kg_per_ha, if kg_per_ha.abs() < 20.0 { 2 } else { 1 })
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
