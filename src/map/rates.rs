//! Rates of cells.

use super::Grid;
use super::cell_rates::{CellRates, NO_SET, Sets};
use super::cells::{Cells, same_cells};
use crate::geometry::coverage::Span;
use std::sync::Arc;

/// Fills a grid: each cell carries the rates of the land it covers most of, not diluted by what lies
/// outside; a product is zero in every cell that one of its setbacks touches; cells of the rim carry
/// the rates of the nearest land.
///
/// `of` names, for each rate of a row, the product (job order) whose setbacks switch it off.
pub(super) fn grid(cells: &Cells, rates: &[Vec<f64>], of: &[usize]) -> Grid {
    let layout = &cells.layout;
    let mut sets = Sets::default();
    let set_of_row: Vec<u32> = rates.iter().map(|rates| sets.number(rates)).collect();
    let mut numbers = on_land(cells, &set_of_row);
    // Before the rim takes rates from the land, and in the rim.
    switch_off(&mut numbers, &mut sets, cells, of);
    for &(cell, from) in &cells.rim {
        numbers[cell as usize] = numbers[from as usize];
    }
    switch_off(&mut numbers, &mut sets, cells, of);
    Grid {
        origin: layout.origin,
        cell: layout.cell,
        columns: layout.columns,
        rows: layout.rows,
        covered_m2: Arc::clone(&cells.covered_m2),
        kg_per_ha: CellRates::of_numbers(of.len(), numbers, &sets),
    }
}

/// Zero for each rate in the cells with land where a setback switches its product off.
fn switch_off(numbers: &mut [u32], sets: &mut Sets, cells: &Cells, of: &[usize]) {
    for (nth, product) in of.iter().enumerate() {
        let off = cells.off.get(*product).map_or(&[][..], Vec::as_slice);
        let mut last = [NO_SET; 2];
        for run in off.iter().cloned() {
            let carrying = numbers[run].iter_mut().filter(|set| **set != NO_SET);
            for set in carrying {
                if *set != last[0] {
                    last = [*set, sets.without(*set, nth)];
                }
                *set = last[1];
            }
        }
    }
}

/// Per cell the set of rates that most of its land has.
fn on_land(cells: &Cells, set_of_row: &[u32]) -> Vec<u32> {
    let layout = &cells.layout;
    let mut numbers = vec![NO_SET; layout.columns * layout.rows];
    let mut shares: Vec<(u32, f64)> = Vec::new();
    for (row, numbers) in numbers.chunks_exact_mut(layout.columns.max(1)).enumerate() {
        for spans in same_cells(cells.coverage.row(row)) {
            let Some(set) = most(spans, set_of_row, &mut shares) else {
                continue;
            };
            let from = spans[0].column as usize;
            numbers[from..from + spans[0].length as usize].fill(set);
        }
    }
    numbers
}

/// The set of rates with the largest share of these spans of the same cells; of two equal shares the lower
/// set counts. `shares` is room to count in.
fn most(spans: &[Span], set_of_row: &[u32], shares: &mut Vec<(u32, f64)>) -> Option<u32> {
    let set_of = |span: &Span| set_of_row[span.group as usize];
    // Nearly all land: one row of the rate table, or two with the same rates.
    match spans {
        [only] => return Some(set_of(only)),
        [a, b] if set_of(a) == set_of(b) => return Some(set_of(a)),
        _ => shares.clear(),
    }
    for span in spans {
        let of_set = set_of(span);
        match shares.iter_mut().find(|(set, _)| *set == of_set) {
            Some((_, share)) => *share += span.share,
            None => shares.push((of_set, span.share)),
        }
    }
    let most = shares
        .iter()
        .max_by(|a, b| a.1.total_cmp(&b.1).then(b.0.cmp(&a.0)));
    most.map(|(set, _)| *set)
}
