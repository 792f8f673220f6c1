//! Values of a grid in order, each with how often it occurs.

use super::breaks::Sample;
use super::spans::Spans;
use crate::read::{Code, Stored, StoredValues};
use rayon::prelude::*;
use std::ops::Range;

/// Values that are looked at in one go.
pub(super) const CHUNK: usize = 1 << 16;

/// Up to so many different values are counted as they come; beyond that all are sorted.
const FEW: usize = 256;

/// Finite values in order, each with how often it occurs; `None` where there are more than [`FEW`].
fn few(values: impl Iterator<Item = f64>) -> Option<Vec<(f64, f64)>> {
    let mut known: Vec<(f64, f64)> = Vec::new();
    // Classes come in runs.
    let mut at = 0;
    for value in values.filter(|value| value.is_finite()) {
        let same = |own: &(f64, f64)| own.0.to_bits() == value.to_bits();
        if !known.get(at).is_some_and(same) {
            at = match known.binary_search_by(|(own, _)| own.total_cmp(&value)) {
                Ok(place) => place,
                Err(_) if known.len() >= FEW => return None,
                Err(place) => {
                    known.insert(place, (value, 0.0));
                    place
                }
            };
        }
        known[at].1 += 1.0;
    }
    Some(known)
}

/// How often each code occurs among the pixels that are meant.
fn counts<C: Code>(codes: &[C], table: &[f64], wanted: &Spans) -> Vec<u64> {
    let part = |rows: Range<usize>| {
        let mut counts = vec![0_u64; table.len()];
        for range in wanted.ranges(rows) {
            let mut rest = codes.get(range).unwrap_or_default();
            while let Some(code) = rest.first() {
                let times = C::alike(rest);
                if let Some(count) = counts.get_mut((*code).into()) {
                    *count += times as u64;
                }
                rest = &rest[times..];
            }
        }
        counts
    };
    // Whole numbers, so it does not matter how the rows are cut up.
    let parts: Vec<Vec<u64>> = blocks(codes.len(), wanted.columns(), 16 * CHUNK)
        .into_par_iter()
        .map(part)
        .collect();
    let mut all = vec![0; table.len()];
    for part in parts {
        all.iter_mut().zip(part).for_each(|(all, own)| *all += own);
    }
    all
}

/// Rows of a grid in blocks of about so many pixels.
pub(super) fn blocks(pixels: usize, columns: usize, at_a_time: usize) -> Vec<Range<usize>> {
    let rows = pixels / columns.max(1);
    let step = (at_a_time / columns.max(1)).max(1);
    let starts = (0..rows).step_by(step);
    starts
        .map(|start| start..(start + step).min(rows))
        .collect()
}

impl Sample {
    /// Counts the finite values of the pixels that are meant.
    pub(super) fn of(values: &Stored, wanted: &Spans) -> Self {
        match &values.values {
            StoredValues::Bytes(codes, table) => {
                Self::of_counts(table, counts(codes, table, wanted))
            }
            StoredValues::Words(codes, table) => {
                Self::of_counts(table, counts(codes, table, wanted))
            }
            _ => Self::of_numbers(values, wanted),
        }
    }

    /// Of a table of values, with how often each occurs.
    fn of_counts(table: &[f64], counts: Vec<u64>) -> Self {
        let pairs = table.iter().copied().zip(counts);
        let mut pairs: Vec<(f64, u64)> = pairs
            .filter(|(value, times)| value.is_finite() && *times > 0)
            .collect();
        pairs.sort_unstable_by(|a, b| a.0.total_cmp(&b.0));
        let mut sample = Self::none();
        for (value, times) in pairs {
            sample.add(value, times as f64);
        }
        sample
    }

    fn none() -> Self {
        Self {
            values: Vec::new(),
            counts: Vec::new(),
        }
    }

    fn of_numbers(values: &Stored, wanted: &Spans) -> Self {
        let part = |rows: Range<usize>| {
            let places = wanted.ranges(rows).flatten();
            few(places.map(|place| values.at(place)))
        };
        // Counts are whole numbers, so it does not matter how the rows are cut up.
        let parts = blocks(values.len(), wanted.columns(), CHUNK).into_par_iter();
        let parts = parts.map(part).collect::<Option<Vec<_>>>();
        let mut sample = Self::none();
        match parts {
            Some(parts) => {
                let mut all = parts.concat();
                all.sort_unstable_by(|a, b| a.0.total_cmp(&b.0));
                all.into_iter()
                    .for_each(|(value, times)| sample.add(value, times));
            }
            None => {
                let all = wanted.places().map(|place| values.at(place));
                let mut all: Vec<f64> = all.filter(|value| value.is_finite()).collect();
                all.sort_unstable_by(f64::total_cmp);
                all.into_iter().for_each(|value| sample.add(value, 1.0));
            }
        }
        sample
    }

    /// Adds a value that is not below the last one.
    fn add(&mut self, value: f64, times: f64) {
        match (self.values.last(), self.counts.last_mut()) {
            (Some(last), Some(count)) if *last == value => *count += times,
            _ => {
                self.values.push(value);
                self.counts.push(times);
            }
        }
    }
}

#[cfg(test)]
const WINDOW: crate::read::Window = crate::read::Window {
    column: 0,
    row: 0,
    columns: 1,
    rows: 1,
};

/// All of these values.
#[cfg(test)]
pub(super) fn sample(values: &[f64]) -> Sample {
    of(values, |_| true)
}

#[cfg(test)]
fn of(values: &[f64], wanted: impl Fn(usize) -> bool) -> Sample {
    let stored = Stored::doubles(WINDOW, values.to_vec());
    Sample::of(&stored, &Spans::of(1, values.len(), wanted))
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Few and many different values are counted in two ways.
    #[test]
    fn values_are_counted_in_order() {
        for different in [1, 7, FEW, FEW + 1, 5 * FEW] {
            let values: Vec<f64> = (0..3 * CHUNK)
                .map(|at| match at % 11 {
                    0 => f64::NAN,
                    _ => (at * 7 % different) as f64 - 3.0,
                })
                .collect();
            let found = of(&values, |at| at % 5 != 0);
            let mut right = std::collections::BTreeMap::new();
            for (at, value) in values.iter().enumerate() {
                if at % 5 != 0 && !value.is_nan() {
                    *right.entry(*value as i64).or_insert(0.0) += 1.0;
                }
            }
            let keys: Vec<f64> = right.keys().map(|key| *key as f64).collect();
            assert_eq!(found.values, keys);
            assert_eq!(found.counts, right.into_values().collect::<Vec<f64>>());
        }
        assert_eq!(sample(&[0.0, -0.0]).counts, [2.0]);
    }

    /// Codes are counted as the values that they stand for.
    #[test]
    fn codes_count_as_their_values() {
        let codes: Vec<u8> = (0..3 * CHUNK).map(|at| (at / 7 % 13) as u8).collect();
        let mut table: Vec<f64> = (0..=u8::MAX).map(|code| 5.0 - f64::from(code)).collect();
        (table[4], table[11]) = (f64::NAN, table[3]);
        let values: Vec<f64> = codes.iter().map(|code| table[usize::from(*code)]).collect();
        let wanted = Spans::of(128, codes.len(), |at| at % 5 != 0);
        let right = of(&values, |at| at % 5 != 0);
        let words = codes.iter().map(|code| u16::from(*code)).collect();
        for stored in [
            StoredValues::Bytes(codes, table.clone()),
            StoredValues::Words(words, table),
        ] {
            let stored = Stored {
                window: WINDOW,
                values: stored,
            };
            assert_eq!(Sample::of(&stored, &wanted), right);
        }
    }
}
