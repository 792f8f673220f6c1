//! Rates of cells.

use super::Grid;
use super::cells::{Cells, same_cells};
use crate::geometry::coverage::Span;
use std::collections::BTreeMap;
use std::ops::Range;
use std::sync::Arc;

/// Fills a grid: each cell carries the rates of the land it covers most of, not diluted by what lies
/// outside; a product is zero in every cell that one of its setbacks touches; cells of the rim carry
/// the rates of the nearest land.
///
/// `of` names, for each rate of a row, the product (job order) whose setbacks switch it off.
pub(super) fn grid(cells: &Cells, rates: &[Vec<f64>], of: &[usize]) -> Grid {
    let layout = &cells.layout;
    let (set_of_row, sets) = rate_sets(rates);
    let runs = with_one_set(cells, &set_of_row);
    let values = |(nth, product): (usize, &usize)| {
        let mut values = Vec::with_capacity(layout.columns * layout.rows);
        for run in &runs {
            fill_to(&mut values, run.cells.start, f64::NAN);
            fill_to(&mut values, run.cells.end, sets[run.set as usize][nth]);
        }
        fill_to(&mut values, layout.columns * layout.rows, f64::NAN);
        let off = cells.off.get(*product).map_or(&[][..], Vec::as_slice);
        // Before the rim takes rates from the land, and in the rim.
        switch_off(&mut values, off);
        for &(cell, from) in &cells.rim {
            values[cell as usize] = values[from as usize];
        }
        switch_off(&mut values, off);
        values
    };
    Grid {
        origin: layout.origin,
        cell: layout.cell,
        columns: layout.columns,
        rows: layout.rows,
        covered_m2: Arc::clone(&cells.covered_m2),
        kg_per_ha: of.iter().enumerate().map(values).collect(),
    }
}

/// Appends a value until there are `end`; quickly also where that is once.
#[inline]
fn fill_to(values: &mut Vec<f64>, end: usize, value: f64) {
    match end - values.len() {
        0 => {}
        1 => values.push(value),
        _ => values.resize(end, value),
    }
}

/// Zero for all cells of these runs that carry a rate.
fn switch_off(values: &mut [f64], off: &[Range<usize>]) {
    for run in off.iter().cloned() {
        let carrying = values[run].iter_mut().filter(|value| !value.is_nan());
        carrying.for_each(|value| *value = 0.0);
    }
}

/// Cells that follow each other in grid order and carry one set of rates.
struct Run {
    cells: Range<usize>,
    set: u32,
}

/// The cells with land in grid order, each with the set of rates that most of its land has.
fn with_one_set(cells: &Cells, set_of_row: &[u32]) -> Vec<Run> {
    let mut runs: Vec<Run> = Vec::new();
    let mut shares: Vec<(u32, f64)> = Vec::new();
    for row in 0..cells.layout.rows {
        for spans in same_cells(cells.coverage.row(row)) {
            let Some(set) = most(spans, set_of_row, &mut shares) else {
                continue;
            };
            let first = row * cells.layout.columns + spans[0].column as usize;
            let end = first + spans[0].length as usize;
            match runs.last_mut() {
                Some(run) if run.set == set && run.cells.end == first => run.cells.end = end,
                _ => runs.push(Run {
                    cells: first..end,
                    set,
                }),
            }
        }
    }
    runs
}

/// The set of rates with the largest share of these spans of the same cells; of two equal shares the lower
/// set counts. `shares` is room to count in.
fn most(spans: &[Span], set_of_row: &[u32], shares: &mut Vec<(u32, f64)>) -> Option<u32> {
    if let [only] = spans {
        return Some(set_of_row[only.group as usize]);
    }
    shares.clear();
    for span in spans {
        let of_set = set_of_row[span.group as usize];
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

/// Different sets of rates, and per row of the rate table the number of its set.
fn rate_sets(rates: &[Vec<f64>]) -> (Vec<u32>, Vec<&[f64]>) {
    let mut numbers: BTreeMap<Vec<u64>, u32> = BTreeMap::new();
    let mut sets: Vec<&[f64]> = Vec::new();
    let of_row = rates
        .iter()
        .map(|rates| {
            *numbers
                .entry(rates.iter().map(|rate| rate.to_bits()).collect())
                .or_insert_with(|| {
                    sets.push(rates);
                    (sets.len() - 1) as u32
                })
        })
        .collect();
    (of_row, sets)
}
