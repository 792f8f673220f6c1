//! Fertiliser beside the seed: every row of the rate table against the limits.

use super::number::Numbers;
use super::table::{Column, Table};
use crate::agronomy::{SeedSafeCheck, Verdict};
use crate::plan::Rates;
use std::fmt::Write as _;

/// Rows of the rate table with what lies beside the seed; rows with the same outcome share a line.
pub(super) fn table(rates: &Rates, numbers: Numbers) -> String {
    let mut lines: Vec<(Vec<String>, &SeedSafeCheck)> = Vec::new();
    for (n, row) in rates.rows.iter().enumerate() {
        let number = (n + 1).to_string();
        for check in row.rates.iter().flat_map(|rate| &rate.seed_safe) {
            match lines.iter_mut().find(|(_, known)| *known == check) {
                // Two fertilisers of one stream carry the same check.
                Some((rows, _)) if rows.last() == Some(&number) => {}
                Some((rows, _)) => rows.push(number.clone()),
                None => lines.push((vec![number.clone()], check)),
            }
        }
    }
    if lines.is_empty() {
        return String::new();
    }
    let mut table = Table::new([
        Column::Left("rows"),
        Column::Left("counted"),
        Column::Right("wanted"),
        Column::Right("limit"),
        Column::Right("placed"),
        Column::Right("to spare"),
        Column::Right("g per m of row"),
        Column::Left(""),
    ]);
    let mut cells: Vec<(&str, &str, &str)> = Vec::new();
    for (rows, check) in &lines {
        let number =
            |value: Option<f64>| value.map_or("-".to_owned(), |rate| numbers.rate_text(rate));
        let verdict = match check.verdict {
            Verdict::Within => "within",
            Verdict::Capped => "capped",
            Verdict::Above => "ABOVE, as the job says",
            Verdict::NotCovered => "NOT COVERED: none",
            Verdict::NotUsed => "not used",
        };
        let cell = (
            check.cell.as_str(),
            check.source.as_str(),
            check.note.as_str(),
        );
        let place = match cells.iter().position(|known| *known == cell) {
            Some(place) => place,
            None => {
                cells.push(cell);
                cells.len() - 1
            }
        };
        table.row([
            rows.join(", "),
            check.counts.clone(),
            numbers.rate_text(check.wanted_kg_per_ha),
            number(check.limit_kg_per_ha),
            numbers.rate_text(check.placed_kg_per_ha),
            number(check.margin_kg_per_ha),
            format!("{:.2}", check.row_load_g_per_m),
            format!("{verdict} ({})", place + 1),
        ]);
    }
    let mut text = format!(
        "\nFertiliser with the seed, {}\n{}",
        numbers.rate_unit(),
        table.text()
    );
    for (n, (cell, source, note)) in cells.iter().enumerate() {
        let note = match note.is_empty() {
            true => String::new(),
            false => format!(". Note: {note}"),
        };
        let _ = writeln!(text, "  ({}) {cell}. Source: {source}{note}", n + 1);
    }
    text.push_str("  A guide to the risk for the stand, not a guarantee; the label comes first.\n");
    text
}
