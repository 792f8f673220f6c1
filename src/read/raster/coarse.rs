//! A coarser view of a raster: blocks of its pixels made one. So a raster of any size is read in little memory.

use super::{Pixels, Raster, Window};
use crate::findings::Outcome;
use std::sync::Arc;

/// Values that are read at a time.
const AT_A_TIME: u64 = 8_000_000;

/// What a block of pixels becomes.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum OneOf {
    /// The mean of its values: for measurements.
    Mean,
    /// Its most frequent value, the lowest of several: for classes.
    Most,
}

/// The raster that is seen, and how many of its pixels are one along each side.
#[derive(Debug, Clone, PartialEq)]
pub(in crate::read) struct Blocks {
    fine: Arc<Raster>,
    factor: u32,
    becomes: OneOf,
}

impl Raster {
    /// A view of this raster in which `factor` x `factor` pixels are one. Blocks at its right and lower edge
    /// hold the pixels that are there; a block without any value has none.
    pub fn coarser(&self, factor: u32, becomes: OneOf) -> Self {
        let factor = factor.max(1);
        let side = f64::from(factor);
        Self {
            columns: self.columns.div_ceil(factor),
            rows: self.rows.div_ceil(factor),
            step: self.step.map(|step| step * side),
            blocks: Some(Blocks {
                fine: Arc::new(self.clone()),
                factor,
                becomes,
            }),
            ..self.clone()
        }
    }
}

impl Blocks {
    /// The values of a window (in blocks), from strips of the fine raster.
    pub(super) fn pixels(&self, view: &Raster, band: u32, window: Window) -> Outcome<Pixels> {
        let fine = &self.fine;
        let factor = self.factor;
        let column = window.column * factor;
        let columns = (window.columns * factor).min(fine.columns - column);
        let strip = AT_A_TIME / (u64::from(columns) * u64::from(factor)).max(1);
        let strip = u32::try_from(strip).unwrap_or(u32::MAX).max(1);
        let across = window.columns as usize;
        let mut values = Vec::with_capacity(across * window.rows as usize);
        let mut row = window.row;
        let end = window.row + window.rows;
        while row < end {
            let blocks = strip.min(end - row);
            let first = row * factor;
            let part = Window {
                column,
                row: first,
                columns,
                rows: (blocks * factor).min(fine.rows - first),
            };
            let read = fine.pixels(band, part)?;
            let lines: Vec<&[f64]> = read.values.chunks(columns.max(1) as usize).collect();
            for block in lines.chunks(factor as usize) {
                for at in 0..across {
                    let from = at * factor as usize;
                    let to = (from + factor as usize).min(columns as usize);
                    let all = block.iter().flat_map(|line| &line[from.min(to)..to]);
                    values.push(self.one(all.copied().filter(|value| value.is_finite())));
                }
            }
            row += blocks;
        }
        match values.len() == across * window.rows as usize {
            true => Ok(Pixels { window, values }),
            false => Err(view.damaged("it holds too few values")),
        }
    }

    /// NaN of no value at all.
    fn one(&self, values: impl Iterator<Item = f64>) -> f64 {
        match self.becomes {
            OneOf::Mean => {
                let (sum, count) =
                    values.fold((0.0, 0.0), |(sum, count), value| (sum + value, count + 1.0));
                sum / count
            }
            OneOf::Most => {
                // Classes are few: a list is faster than a map.
                let mut seen: Vec<(f64, u32)> = Vec::new();
                for value in values {
                    match seen.iter_mut().find(|(own, _)| *own == value) {
                        Some((_, count)) => *count += 1,
                        None => seen.push((value, 1)),
                    }
                }
                let most = seen.iter().copied().reduce(|best, next| {
                    let more = next.1 > best.1 || next.1 == best.1 && next.0 < best.0;
                    if more { next } else { best }
                });
                most.map_or(f64::NAN, |(value, _)| value)
            }
        }
    }
}
