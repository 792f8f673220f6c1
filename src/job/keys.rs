//! Which key was meant.

use std::collections::BTreeSet;

/// Units of measure that people put at the end of a key.
const UNIT_ENDINGS: [&str; 24] = [
    "_m",
    "_cm",
    "_mm",
    "_km",
    "_ft",
    "_in",
    "_m2",
    "_ha",
    "_g",
    "_mg",
    "_kg",
    "_t",
    "_lb",
    "_l",
    "_litres",
    "_m3",
    "_percent",
    "_pct",
    "_kmh",
    "_km_h",
    "_km_per_h",
    "_mph",
    "_kg_per_ha",
    "_kg_ha",
];

/// How a table is named in messages: `[drill]`, `[[product]] number 2`, `the top of the file`.
pub(super) fn table_label(path: &[String]) -> String {
    let is_number = |step: &String| step.parse::<usize>().is_ok();
    let names: Vec<&str> = path
        .iter()
        .filter(|step| !is_number(step))
        .map(String::as_str)
        .collect();
    if names.is_empty() {
        return "the top part of the file".to_owned();
    }
    let numbers: Vec<usize> = path.iter().filter_map(|step| step.parse().ok()).collect();
    let name = names.join(".");
    let label = match path.last().is_some_and(is_number) {
        true => format!("[[{name}]]"),
        false => format!("[{name}]"),
    };
    match numbers.as_slice() {
        [] => label,
        [number] if names.len() == 1 => format!("{label} number {}", number + 1),
        [number, ..] => format!("{label} of [[{}]] number {}", names[0], number + 1),
    }
}

/// The known word that a misspelt one most likely means.
pub(super) fn meant<'a>(found: &str, known: &[&'a str]) -> Option<&'a str> {
    let found = found.to_lowercase().replace(['-', ' '], "_");
    let stem = without_unit(&found);
    if let Some(same) = known.iter().find(|key| without_unit(key) == stem) {
        return Some(same);
    }
    let scored = known.iter().map(|key| {
        let whole = strsim::normalized_damerau_levenshtein(&found, key);
        let stems = strsim::normalized_damerau_levenshtein(stem, without_unit(key));
        (whole.max(stems), *key)
    });
    let best = scored.reduce(|best, next| if next.0 > best.0 { next } else { best });
    best.filter(|(score, _)| *score >= 0.6).map(|(_, key)| key)
}

fn without_unit(key: &str) -> &str {
    let endings = UNIT_ENDINGS
        .iter()
        .filter(|ending| key.ends_with(**ending) && key.len() > ending.len());
    match endings.map(|ending| ending.len()).max() {
        Some(length) => &key[..key.len() - length],
        None => key,
    }
}

/// What to do about an unknown key: the nearest known one, or the table it belongs to.
pub(super) fn advice(
    found: &str,
    known: &[&str],
    path: &[String],
    all: &[(String, String)],
) -> String {
    let tables = all.iter().filter(|(_, key)| key == found);
    // One key may stand in several tables.
    let tables: BTreeSet<String> = tables.map(|(table, _)| table_of(table)).collect();
    if !tables.is_empty() {
        let tables: Vec<String> = tables.into_iter().take(4).collect();
        return format!(
            "'{found}' belongs to {}: move it there",
            tables.join(" or ")
        );
    }
    if let Some(key) = meant(found, known) {
        let unit = match without_unit(key) == without_unit(&found.to_lowercase()) && key != found {
            true => " Keys carry their unit of measure; check that the value is in it.",
            false => "",
        };
        return format!("did you mean '{key}'?{unit}");
    }
    let elsewhere: Vec<&str> = all.iter().map(|(_, key)| key.as_str()).collect();
    if let Some(key) = meant(found, &elsewhere)
        && let Some((table, _)) = all.iter().find(|(_, other)| other == key)
        && !table.is_empty()
    {
        return format!("did you mean '{key}' of [{table}]?");
    }
    let place = table_label(path);
    format!("remove it from {place}, or put # before it; 'twinsow schema' prints every key")
}

fn table_of(table: &str) -> String {
    match table.is_empty() {
        true => "the top of the file".to_owned(),
        false => format!("[{table}]"),
    }
}
