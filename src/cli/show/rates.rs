//! The rate table.

use super::number::{grouped, hectares, kilograms, rate};
use super::table::{Column, Table};
use super::words;
use crate::agronomy;
use crate::plan::{Combination, Plan};
use crate::units::M2_PER_HA;
use std::fmt::Write as _;

/// Rows that are shown one by one; of a longer table, those with most land.
const MOST_ROWS: usize = 40;

/// Land by its facts with the rate and the kilograms of every product.
pub(super) fn table(plan: &Plan) -> String {
    let job = &plan.job;
    let rows = &plan.rates.rows;
    let shown = largest(rows, MOST_ROWS);
    let any = |of: fn(&Combination) -> bool| rows.iter().any(of);
    let special = any(|row| !row.facts.special_areas.is_empty());
    let setback = any(|row| !row.facts.setbacks.is_empty());

    let mut columns = vec![
        Column::Right("row".to_owned()),
        Column::Left("land part".to_owned()),
    ];
    columns.extend(
        job.layers
            .iter()
            .map(|layer| Column::Left(layer.name.clone())),
    );
    if special {
        columns.push(Column::Left("special area".to_owned()));
    }
    if setback {
        columns.push(Column::Left("setback".to_owned()));
    }
    columns.push(Column::Right("ha".to_owned()));
    for (nth, product) in job.products.iter().enumerate() {
        columns.push(Column::Right(format!("{} kg/ha", product.id)));
        columns.push(Column::Right("kg".to_owned()));
        if shares(rows, nth) {
            columns.push(Column::Right("% of full rate".to_owned()));
        }
        if plants(rows, nth) {
            columns.push(Column::Right("plants/m2".to_owned()));
        }
        if agronomy::has_balance(job, product) {
            columns.push(Column::Right("to broadcast kg/ha".to_owned()));
        }
    }
    let mut table = Table::new(columns);
    for &n in &shown {
        let Some(row) = rows.get(n) else { continue };
        let mut cells = vec![(n + 1).to_string(), row.facts.part.word().to_owned()];
        cells.extend(row.facts.classes.iter().cloned());
        if special {
            cells.push(words::special_areas(&plan.job, &row.facts).join(", "));
        }
        if setback {
            cells.push(words::setbacks(&plan.job, &row.facts).join(", "));
        }
        cells.push(hectares(row.area_m2));
        for (nth, wanted) in row.rates.iter().enumerate() {
            cells.push(rate(wanted.kg_per_ha));
            cells.push(kilograms(wanted.kg_per_ha * row.area_m2 / M2_PER_HA));
            if shares(rows, nth) {
                let share = wanted.share.as_ref();
                cells.push(share.map_or(String::new(), |of| grouped(of.sown_percent, 0)));
            }
            if plants(rows, nth) {
                let stand = wanted.stand.as_ref().and_then(|stand| stand.plants_per_m2);
                cells.push(stand.map_or(String::new(), |plants| grouped(plants, 0)));
            }
            cells.extend(wanted.balance.as_ref().map(|left| rate(left.kg_per_ha)));
        }
        table.row(cells);
    }
    let mut text = format!("Rates\n{}", table.text());
    if shown.len() < rows.len() {
        let hidden = rows.iter().enumerate().filter(|(n, _)| !shown.contains(n));
        let area: f64 = hidden.map(|(_, row)| row.area_m2).sum();
        let count = rows.len() - shown.len();
        let _ = writeln!(
            text,
            "  and {count} more rows with {} ha: see rates.csv",
            hectares(area)
        );
    }
    text
}

/// Whether any land has a share of a full rate of product `nth`.
fn shares(rows: &[Combination], nth: usize) -> bool {
    let mut rates = rows.iter().filter_map(|row| row.rates.get(nth));
    rates.any(|rate| rate.share.is_some())
}

/// Whether the plants to expect of product `nth` are known on any land.
fn plants(rows: &[Combination], nth: usize) -> bool {
    let stands = rows.iter().filter_map(|row| row.rates.get(nth));
    let mut stands = stands.filter_map(|rate| rate.stand.as_ref());
    stands.any(|stand| stand.plants_per_m2.is_some())
}

/// The rows with most land, by number, in the order of the table.
fn largest(rows: &[Combination], most: usize) -> Vec<usize> {
    let mut numbers: Vec<usize> = (0..rows.len()).collect();
    if rows.len() > most {
        numbers.sort_by(|&a, &b| rows[b].area_m2.total_cmp(&rows[a].area_m2).then(a.cmp(&b)));
        numbers.truncate(most);
        numbers.sort_unstable();
    }
    numbers
}
