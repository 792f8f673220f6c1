//! Rates as the integers of a grid, and what that costs.

use super::broken;
use crate::findings::{Outcome, Place};
use crate::map::Grid;
use crate::units::M2_PER_HA;

/// Steps of the setpoint in one kg/ha: 1 kg/ha is 100 mg/m2.
const STEPS_PER_KG_HA: f64 = 100.0;
/// Kilograms that one step puts on one square metre.
const KG_PER_STEP_M2: f64 = 1e-6;

/// Kilograms per product (job order) that the grid in degrees stands for.
#[derive(Debug, Clone, PartialEq)]
pub struct TaskDataSums {
    /// From the integers as written and the covered area of each cell.
    pub kg_per_product: Vec<f64>,
    /// From the rates before they became integers.
    pub grid_kg_per_product: Vec<f64>,
}

/// The sets of rates as raw values, in the order of the grid's sets.
///
/// # Errors
/// A rate that does not fit the integers of the format.
pub(super) fn raw_sets(grid: &Grid) -> Outcome<Vec<Vec<i32>>> {
    let sets = grid.kg_per_ha.sets().iter().zip(0..);
    let raw_set = |(rates, number): (&Vec<f64>, u32)| -> Outcome<Vec<i32>> {
        let raws: Result<_, String> = rates.iter().map(|&rate| raw(rate)).collect();
        raws.map_err(|found| {
            let mut cells = grid.kg_per_ha.numbers().iter();
            let cell = cells.position(|set| *set == number).unwrap_or_default();
            let (row, column) = (cell / grid.columns.max(1), cell % grid.columns.max(1));
            let place = Place::nowhere().layer("grid in degrees");
            broken(
                place.feature(format!("column {column}, row {row} (from 0)")),
                found,
                RANGE,
            )
        })
    };
    sets.map(raw_set).collect()
}

/// What these raw values stand for. A cell without a rate counts as 0: the format has no value for "none".
pub(super) fn sums(grid: &Grid, raw_sets: &[Vec<i32>]) -> TaskDataSums {
    let products = grid.kg_per_ha.each();
    let mut sums = TaskDataSums {
        kg_per_product: vec![0.0; products],
        grid_kg_per_product: vec![0.0; products],
    };
    let sets = grid.kg_per_ha.sets();
    for (set, cells) in grid.kg_per_ha.runs() {
        let (Some(rates), Some(raws)) = (sets.get(set as usize), raw_sets.get(set as usize)) else {
            continue;
        };
        let covered = grid.covered_m2.get(cells).unwrap_or_default();
        for (kg, raw) in sums.kg_per_product.iter_mut().zip(raws) {
            for covered in covered {
                *kg += f64::from(*raw) * covered * KG_PER_STEP_M2;
            }
        }
        for (kg, rate) in sums.grid_kg_per_product.iter_mut().zip(rates) {
            for covered in covered {
                *kg += rate * covered / M2_PER_HA;
            }
        }
    }
    sums
}

/// Raw values of these products in file order; 0 where a cell carries no rate.
pub(super) fn values(grid: &Grid, raw_sets: &[Vec<i32>], products: &[usize]) -> Vec<i32> {
    let numbers = grid.kg_per_ha.numbers();
    let mut values = Vec::with_capacity(numbers.len() * products.len());
    for &set in numbers {
        let raws = raw_sets.get(set as usize);
        let raw = |&at: &usize| raws.and_then(|raws| raws.get(at)).copied();
        values.extend(products.iter().map(|at| raw(at).unwrap_or(0)));
    }
    values
}

/// The sets of raw values that occur, in ascending order, and the place of each cell's set among them;
/// `None` if there are more than `most`.
pub(super) fn sets(
    values: &[i32],
    products: usize,
    most: usize,
) -> Option<(Vec<Vec<i32>>, Vec<u8>)> {
    let mut sets: Vec<Vec<i32>> = Vec::new();
    for cell in values.chunks_exact(products.max(1)) {
        if let Err(at) = sets.binary_search_by(|set| set.as_slice().cmp(cell)) {
            if sets.len() >= most {
                return None;
            }
            sets.insert(at, cell.to_vec());
        }
    }
    let place = |cell: &[i32]| sets.binary_search_by(|set| set.as_slice().cmp(cell)).ok();
    let places: Option<Vec<u8>> = values
        .chunks_exact(products.max(1))
        .map(|cell| place(cell).and_then(|at| u8::try_from(at).ok()))
        .collect();
    Some((sets, places?))
}

pub(super) const RANGE: &str = "rates from 0 to 21 474 836 kg/ha";

pub(super) fn raw(kg_per_ha: f64) -> Result<i32, String> {
    let found = || format!("A rate of {kg_per_ha} kg/ha does not fit");
    integer(kg_per_ha * STEPS_PER_KG_HA).ok_or_else(found)
}

/// The rate that a raw value stands for.
pub(super) fn kg_per_ha(raw: i32) -> f64 {
    f64::from(raw) / STEPS_PER_KG_HA
}

/// The nearest integer, halves away from zero, if it is one from 0 to 2^31 - 1.
pub(super) fn integer(value: f64) -> Option<i32> {
    let nearest = value.round();
    // `contains` is false for NaN; within these limits the cast is exact.
    (0.0..=f64::from(i32::MAX))
        .contains(&nearest)
        .then_some(nearest as i32)
}
