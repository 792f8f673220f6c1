//! Compressed tiles.

use flate2::{Compress, Compression, FlushCompress, Status};
use rayon::prelude::*;
use std::cell::RefCell;
use std::io;

/// Most columns and rows of a tile, and what they are multiples of (TIFF 6.0, section 15).
const MOST: usize = 256;
const STEP: usize = 16;

/// Columns or rows of a tile of a grid with so many: alike for all tiles, and as few beyond the grid as can be. A small field
/// in tiles of a large one would be mostly nothing, and packing that most of the work.
pub(super) fn edge(cells: usize) -> usize {
    let tiles = cells.div_ceil(MOST).max(1);
    cells.div_ceil(tiles).max(1).next_multiple_of(STEP)
}

/// What a band has in each cell, row 0 in the south, columns fastest.
pub(super) enum Band<'a> {
    Values(&'a [f64]),
    /// By the number of each cell: the float32 of that set, or NaN where there is none.
    OfSets {
        numbers: &'a [u32],
        values: Vec<f32>,
    },
}

/// The tiles as float32, from north to south and from west to east, the bands side by side in each
/// cell. What a tile has beyond the grid is NaN.
pub(super) fn of_bands(columns: usize, rows: usize, bands: &[Band]) -> io::Result<Vec<Vec<u8>>> {
    let [width, height] = [edge(columns), edge(rows)];
    let lefts = columns.div_ceil(width);
    let tile = |nth: usize, desk: &mut Desk| {
        let [top, left] = [nth / lefts * height, nth % lefts * width];
        desk.tile.clear();
        desk.row.resize(width * bands.len(), 0);
        for from_north in top..(top + height).min(rows) {
            let row = (rows - 1 - from_north) * columns;
            samples(bands, row, left, columns, &mut desk.row);
            desk.add_row(bands.len());
        }
        // Rows beyond the grid are all alike.
        if rows < top + height {
            desk.row.fill(NOTHING);
            let first = desk.tile.len();
            desk.add_row(bands.len());
            let end = desk.tile.len();
            for _ in rows + 1..top + height {
                desk.tile.extend_from_within(first..end);
            }
        }
        desk.deflated()
    };
    (0..rows.div_ceil(height) * lefts)
        .into_par_iter()
        .map(|nth| DESK.with_borrow_mut(|desk| tile(nth, desk)))
        .collect()
}

thread_local! {
    /// Kept from tile to tile and from field to field: what a small field needs of a tile is less work than this room.
    static DESK: RefCell<Desk> = RefCell::new(Desk {
        row: Vec::new(),
        sorted: Vec::new(),
        tile: Vec::new(),
        packed: vec![0; 32 * 1024],
        compress: Compress::new(Compression::default(), true),
    });
}

/// Room for making a tile.
struct Desk {
    /// One row of samples.
    row: Vec<u32>,
    /// Its bytes by significance.
    sorted: Vec<u8>,
    /// The rows so far, after the predictor.
    tile: Vec<u8>,
    /// What comes out in one go. Its size shows in the bytes: matches are not looked for across the end of it.
    packed: Vec<u8>,
    compress: Compress,
}

impl Desk {
    /// Adds the row to the tile after the floating-point predictor (Adobe Photoshop TIFF technical note 3,
    /// 2005): the bytes of all samples sorted by significance, highest first, then each byte less the one
    /// `bands` places before.
    fn add_row(&mut self, bands: usize) {
        let sorted = &mut self.sorted;
        sorted.clear();
        for shift in [24, 16, 8, 0] {
            sorted.extend(self.row.iter().map(|bits| (bits >> shift) as u8));
        }
        let (first, rest) = sorted.split_at(bands.min(sorted.len()));
        self.tile.extend_from_slice(first);
        let pairs = rest.iter().zip(sorted.iter());
        self.tile
            .extend(pairs.map(|(own, before)| own.wrapping_sub(*before)));
    }

    fn deflated(&mut self) -> io::Result<Vec<u8>> {
        self.compress.reset();
        let mut packed = Vec::new();
        loop {
            let [taken, made] = self.counts();
            let left = self.tile.get(taken..).unwrap_or_default();
            let flush = match left.is_empty() {
                true => FlushCompress::Finish,
                false => FlushCompress::None,
            };
            let status = self.compress.compress(left, &mut self.packed, flush)?;
            let new = self.counts()[1] - made;
            packed.extend_from_slice(self.packed.get(..new).unwrap_or_default());
            if status == Status::StreamEnd {
                return Ok(packed);
            }
        }
    }

    /// Bytes taken in and given out since the start of a tile, which is far below what 32 bits count.
    fn counts(&self) -> [usize; 2] {
        [self.compress.total_in(), self.compress.total_out()].map(|count| count as usize)
    }
}

/// Bits of the float32 where there is no cell: NaN.
const NOTHING: u32 = f32::NAN.to_bits();

/// One row of a tile, as the bits of float32: all bands of a cell, then the next cell. `row` is where the row
/// starts in a band.
fn samples(bands: &[Band], row: usize, left: usize, columns: usize, out: &mut [u32]) {
    out.fill(NOTHING);
    let width = out.len() / bands.len().max(1);
    let cells = row + left..row + (left + width).min(columns);
    for (nth, band) in bands.iter().enumerate() {
        let places = out.iter_mut().skip(nth).step_by(bands.len());
        match band {
            Band::Values(values) => {
                let values = values.get(cells.clone()).unwrap_or_default();
                for (place, &value) in places.zip(values) {
                    *place = (value as f32).to_bits();
                }
            }
            Band::OfSets { numbers, values } => {
                let numbers = numbers.get(cells.clone()).unwrap_or_default();
                for (place, &number) in places.zip(numbers) {
                    let value = values.get(number as usize).copied();
                    *place = value.map_or(NOTHING, f32::to_bits);
                }
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::edge;

    #[test]
    fn tiles_are_as_wide_as_the_grid_needs() {
        for (cells, wanted) in [
            (1, 16),
            (16, 16),
            (76, 80),
            (256, 256),
            (257, 144),
            (300, 160),
            (900, 240),
        ] {
            assert_eq!(edge(cells), wanted, "{cells}");
        }
        for cells in 1..3000_usize {
            let tiles = cells.div_ceil(edge(cells));
            assert_eq!(tiles, cells.div_ceil(256), "{cells}");
        }
    }
}
