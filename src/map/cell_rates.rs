//! The rates of the cells of a grid. A map has few sets of rates and many cells, so each cell names its set.

use std::collections::BTreeMap;
use std::ops::Range;

/// Stands for a cell that carries no rate.
pub const NO_SET: u32 = u32::MAX;

/// Which set of rates each cell of a grid carries.
#[derive(Debug, Clone, PartialEq)]
pub struct CellRates {
    /// How many rates a set has.
    each: usize,
    /// Per cell, columns fastest: the number of its set, or [`NO_SET`].
    numbers: Vec<u32>,
    /// kg/ha. No two are the same to the bit, each is in some cell, and they come in the order of the first
    /// cells that carry them.
    sets: Vec<Vec<f64>>,
}

impl CellRates {
    /// The rates of cells in grid order, kg/ha; `None` for a cell without. Every set has `each` rates.
    pub fn of_cells<'a>(each: usize, cells: impl Iterator<Item = Option<&'a [f64]>>) -> Self {
        let mut sets = Sets::default();
        let numbers = cells.map(|rates| rates.map_or(NO_SET, |rates| sets.number(rates)));
        let numbers = numbers.collect();
        Self {
            each,
            numbers,
            sets: sets.sets,
        }
    }

    /// The same for cells that have numbers of these sets already; sets that no cell carries are left out.
    pub(super) fn of_numbers(each: usize, mut numbers: Vec<u32>, sets: &Sets) -> Self {
        let mut number_of = vec![NO_SET; sets.sets.len()];
        let mut kept = Vec::new();
        let mut last = [NO_SET; 2];
        for number in numbers.iter_mut().filter(|number| **number != NO_SET) {
            // Mostly a cell has the set of the one before.
            if *number != last[0] {
                let new = &mut number_of[*number as usize];
                if *new == NO_SET {
                    *new = kept.len() as u32;
                    kept.push(sets.sets[*number as usize].clone());
                }
                last = [*number, *new];
            }
            *number = last[1];
        }
        Self {
            each,
            numbers,
            sets: kept,
        }
    }

    /// How many rates each cell has, if it has any.
    pub fn each(&self) -> usize {
        self.each
    }

    /// The rates of a cell, kg/ha; `None` where it carries none.
    pub fn at(&self, cell: usize) -> Option<&[f64]> {
        let number = *self.numbers.get(cell)?;
        self.sets.get(number as usize).map(Vec::as_slice)
    }

    /// The rates of all cells in grid order, as [`Self::at`].
    pub fn cells(&self) -> impl Iterator<Item = Option<&[f64]>> {
        (0..self.numbers.len()).map(|cell| self.at(cell))
    }

    /// Cells that follow each other in grid order with the same set: its number, or [`NO_SET`], and their places.
    pub fn runs(&self) -> impl Iterator<Item = (u32, Range<usize>)> {
        let mut end = 0;
        self.numbers.chunk_by(|a, b| a == b).map(move |run| {
            let start = end;
            end += run.len();
            (run[0], start..end)
        })
    }

    /// The different sets of rates, kg/ha.
    pub fn sets(&self) -> &[Vec<f64>] {
        &self.sets
    }

    /// Per cell the number of its set; [`NO_SET`] where it carries no rate.
    pub fn numbers(&self) -> &[u32] {
        &self.numbers
    }
}

/// Sets of rates, each there once.
#[derive(Default)]
pub(super) struct Sets {
    numbers: BTreeMap<Vec<u64>, u32>,
    sets: Vec<Vec<f64>>,
    bits: Vec<u64>,
}

impl Sets {
    /// The number of a set, a new one if it has none yet.
    pub fn number(&mut self, rates: &[f64]) -> u32 {
        self.bits.clear();
        self.bits.extend(rates.iter().map(|rate| rate.to_bits()));
        if let Some(number) = self.numbers.get(&self.bits) {
            return *number;
        }
        let number = self.sets.len() as u32;
        self.numbers.insert(self.bits.clone(), number);
        self.sets.push(rates.to_vec());
        number
    }

    /// The set of this number with one of its rates at 0.
    pub fn without(&mut self, number: u32, nth: usize) -> u32 {
        let mut rates = self.sets[number as usize].clone();
        rates[nth] = 0.0;
        self.number(&rates)
    }
}
