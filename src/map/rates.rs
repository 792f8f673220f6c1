//! Rates of cells.

use super::Grid;
use super::cell_rates::{CellRates, NO_SET, Sets};
use super::cells::Cells;
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
    let mut numbers = vec![NO_SET; cells.layout.columns * cells.layout.rows];
    for &([from, to], row) in &cells.deciding.runs {
        numbers[from as usize..to as usize].fill(set_of_row[row as usize]);
    }
    for (cell, shares) in &cells.deciding.mixed {
        numbers[*cell as usize] = most(shares, set_of_row).unwrap_or(NO_SET);
    }
    numbers
}

/// The set of rates with the largest share of a cell that these rows share; of two equal shares the lower set counts.
fn most(shares: &[(u32, f64)], set_of_row: &[u32]) -> Option<u32> {
    let mut of_sets: Vec<(u32, f64)> = Vec::with_capacity(shares.len());
    for &(row, share) in shares {
        let of_row = set_of_row[row as usize];
        match of_sets.iter_mut().find(|(set, _)| *set == of_row) {
            Some((_, known)) => *known += share,
            None => of_sets.push((of_row, share)),
        }
    }
    let most = of_sets
        .iter()
        .max_by(|a, b| a.1.total_cmp(&b.1).then(b.0.cmp(&a.0)));
    most.map(|(set, _)| *set)
}
