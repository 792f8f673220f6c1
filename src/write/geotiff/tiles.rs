//! Compressed tiles.

use flate2::Compression;
use flate2::write::ZlibEncoder;
use rayon::prelude::*;
use std::io::{self, Write};

/// Columns and rows of a tile.
pub(super) const EDGE: usize = 256;

/// The tiles as float32, from north to south and from west to east, the bands side by side in each
/// cell. Every band has its row 0 in the south, columns fastest. What a tile has beyond the grid is
/// NaN.
pub(super) fn of_bands(columns: usize, rows: usize, bands: &[&[f64]]) -> io::Result<Vec<Vec<u8>>> {
    let lefts = columns.div_ceil(EDGE);
    (0..rows.div_ceil(EDGE) * lefts)
        .into_par_iter()
        .map(|nth| {
            let [top, left] = [nth / lefts * EDGE, nth % lefts * EDGE];
            let mut bytes = Vec::with_capacity(EDGE * EDGE * bands.len() * 4);
            let mut row_of_tile = vec![0; EDGE * bands.len()];
            for from_north in top..(top + EDGE).min(rows) {
                let row = (rows - 1 - from_north) * columns;
                samples(bands, row, left, columns, &mut row_of_tile);
                predicted(&row_of_tile, bands.len(), &mut bytes);
            }
            // Rows beyond the grid are all alike.
            row_of_tile.fill(NOTHING);
            let mut beyond = Vec::with_capacity(row_of_tile.len() * 4);
            predicted(&row_of_tile, bands.len(), &mut beyond);
            for _ in rows.max(top)..top + EDGE {
                bytes.extend_from_slice(&beyond);
            }
            deflated(&bytes)
        })
        .collect()
}

/// Bits of the float32 where there is no cell: NaN.
const NOTHING: u32 = f32::NAN.to_bits();

/// One row of a tile, as the bits of float32: all bands of a cell, then the next cell. `row` is where the row
/// starts in a band.
fn samples(bands: &[&[f64]], row: usize, left: usize, columns: usize, out: &mut [u32]) {
    out.fill(NOTHING);
    let cells = row + left..row + (left + EDGE).min(columns);
    for (nth, band) in bands.iter().enumerate() {
        let values = band.get(cells.clone()).unwrap_or_default();
        let places = out.iter_mut().skip(nth).step_by(bands.len());
        for (place, &value) in places.zip(values) {
            *place = (value as f32).to_bits();
        }
    }
}

/// Adds one row of a tile after the floating-point predictor (Adobe Photoshop TIFF technical note 3,
/// 2005): the bytes of all samples sorted by significance, highest first, then each byte less the one
/// `bands` places before.
fn predicted(samples: &[u32], bands: usize, out: &mut Vec<u8>) {
    let start = out.len();
    for shift in [24, 16, 8, 0] {
        out.extend(samples.iter().map(|bits| (bits >> shift) as u8));
    }
    let row = out.get_mut(start..).unwrap_or_default();
    // From the end, so that each byte still meets the one before it unchanged.
    for at in (bands..row.len()).rev() {
        row[at] = row[at].wrapping_sub(row[at - bands]);
    }
}

fn deflated(bytes: &[u8]) -> io::Result<Vec<u8>> {
    let mut encoder = ZlibEncoder::new(Vec::new(), Compression::default());
    encoder.write_all(bytes)?;
    encoder.finish()
}
