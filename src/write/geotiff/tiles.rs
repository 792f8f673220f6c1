//! Compressed tiles.

use flate2::Compression;
use flate2::write::ZlibEncoder;
use std::io::{self, Write};

/// Columns and rows of a tile.
pub(super) const EDGE: usize = 256;

/// The tiles as float32, from north to south and from west to east, the bands side by side in each
/// cell. Every band has its row 0 in the south, columns fastest. What a tile has beyond the grid is
/// NaN.
pub(super) fn of_bands(columns: usize, rows: usize, bands: &[&[f64]]) -> io::Result<Vec<Vec<u8>>> {
    let mut tiles = Vec::new();
    for top in (0..rows).step_by(EDGE) {
        for left in (0..columns).step_by(EDGE) {
            let mut bytes = Vec::with_capacity(EDGE * EDGE * bands.len() * 4);
            for from_north in top..top + EDGE {
                let row = rows
                    .checked_sub(from_north + 1)
                    .map(|from_south| from_south * columns);
                predicted(&samples(bands, row, left, columns), bands.len(), &mut bytes);
            }
            tiles.push(deflated(&bytes)?);
        }
    }
    Ok(tiles)
}

/// One row of a tile: all bands of a cell, then the next cell. `row` is where the row starts in a band.
fn samples(bands: &[&[f64]], row: Option<usize>, left: usize, columns: usize) -> Vec<f32> {
    let cell = |column: usize| row.filter(|_| column < columns).map(|row| row + column);
    let value = |cell: Option<usize>, band: &&[f64]| cell.and_then(|cell| band.get(cell).copied());
    (left..left + EDGE)
        .map(cell)
        .flat_map(|cell| {
            bands
                .iter()
                .map(move |band| value(cell, band).unwrap_or(f64::NAN) as f32)
        })
        .collect()
}

/// Adds one row of a tile after the floating-point predictor (Adobe Photoshop TIFF technical note 3,
/// 2005): the bytes of all samples sorted by significance, highest first, then each byte less the one
/// `bands` places before.
fn predicted(samples: &[f32], bands: usize, out: &mut Vec<u8>) {
    let bytes = samples.iter().map(|value| value.to_be_bytes());
    let sorted: Vec<u8> = (0..4)
        .flat_map(|rank| bytes.clone().filter_map(move |b| b.get(rank).copied()))
        .collect();
    let before = std::iter::repeat_n(0, bands).chain(sorted.iter().copied());
    out.extend(
        sorted
            .iter()
            .zip(before)
            .map(|(byte, before)| byte.wrapping_sub(before)),
    );
}

fn deflated(bytes: &[u8]) -> io::Result<Vec<u8>> {
    let mut encoder = ZlibEncoder::new(Vec::new(), Compression::default());
    encoder.write_all(bytes)?;
    encoder.finish()
}
