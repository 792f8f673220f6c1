//! Rates of cells.

use super::Grid;
use super::cells::Cells;
use std::collections::BTreeMap;

/// Fills a grid: each cell carries the rates of the land it covers most of, not diluted by what lies
/// outside; a product is zero in every cell that one of its setbacks touches; cells of the rim carry
/// the rates of the nearest land.
///
/// `of` names, for each rate of a row, the product (job order) whose setbacks switch it off.
pub(super) fn grid(cells: &Cells, rates: &[Vec<f64>], of: &[usize]) -> Grid {
    let layout = &cells.layout;
    let products = of.len();
    let is_off = |nth: usize, cell: usize| {
        let off = of.get(nth).and_then(|product| cells.off.get(*product));
        off.is_some_and(|off| off[cell])
    };
    let (set_of_row, sets) = rate_sets(rates);
    let mut kg_per_ha = vec![vec![f64::NAN; cells.covered_m2.len()]; products];
    let mut set = |cell: usize, rate_of: &dyn Fn(usize) -> f64| {
        for (product, rates) in kg_per_ha.iter_mut().enumerate() {
            rates[cell] = if is_off(product, cell) {
                0.0
            } else {
                rate_of(product)
            };
        }
    };
    let mut shares: Vec<(u32, f64)> = Vec::new();
    for row in 0..layout.rows {
        for same_cells in cells
            .coverage
            .row(row)
            .chunk_by(|a, b| a.column == b.column)
        {
            shares.clear();
            for span in same_cells {
                let of_set = set_of_row[span.group as usize];
                match shares.iter_mut().find(|(set, _)| *set == of_set) {
                    Some((_, share)) => *share += span.share,
                    None => shares.push((of_set, span.share)),
                }
            }
            // Of two equal shares the lower set counts.
            let most = shares
                .iter()
                .max_by(|a, b| a.1.total_cmp(&b.1).then(b.0.cmp(&a.0)));
            let Some(&(most, _)) = most else { continue };
            if let Some(span) = same_cells.first() {
                let first = row * layout.columns + span.column as usize;
                for cell in first..first + span.length as usize {
                    set(cell, &|product| sets[most as usize][product]);
                }
            }
        }
    }
    let rim: Vec<Vec<f64>> = cells
        .rim
        .iter()
        .map(|&(_, from)| kg_per_ha.iter().map(|rates| rates[from as usize]).collect())
        .collect();
    for (&(cell, _), rates) in cells.rim.iter().zip(rim) {
        for (product, rate) in rates.into_iter().enumerate() {
            let off = is_off(product, cell as usize);
            kg_per_ha[product][cell as usize] = if off { 0.0 } else { rate };
        }
    }
    Grid {
        origin: layout.origin,
        cell: layout.cell,
        columns: layout.columns,
        rows: layout.rows,
        covered_m2: cells.covered_m2.clone(),
        kg_per_ha,
    }
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
