//! Compressed tiles of a band.

use flate2::Compression;
use flate2::write::ZlibEncoder;
use std::io::{self, Write};

/// Columns and rows of a tile.
pub(super) const EDGE: usize = 256;

/// The tiles of one band as float32, from north to south and from west to east. `values` has its row
/// 0 in the south, columns fastest. What a tile has beyond the grid is NaN.
pub(super) fn of_band(columns: usize, rows: usize, values: &[f64]) -> io::Result<Vec<Vec<u8>>> {
    let mut tiles = Vec::new();
    for top in (0..rows).step_by(EDGE) {
        for left in (0..columns).step_by(EDGE) {
            let mut bytes = Vec::with_capacity(EDGE * EDGE * 4);
            for from_north in top..top + EDGE {
                let row = rows.checked_sub(from_north + 1).and_then(|from_south| {
                    let start = from_south * columns;
                    values.get(start + left..start + columns.min(left + EDGE))
                });
                predicted(row.unwrap_or(&[]), &mut bytes);
            }
            tiles.push(deflated(&bytes)?);
        }
    }
    Ok(tiles)
}

/// One row of a tile after the floating-point predictor (TIFF technical note 3, Adobe 2005): the
/// bytes of all samples sorted by significance, highest first, then each byte less the one before.
fn predicted(row: &[f64], out: &mut Vec<u8>) {
    let start = out.len();
    out.resize(start + EDGE * 4, 0);
    let Some(bytes) = out.get_mut(start..) else { return };
    let samples = row.iter().copied().chain(std::iter::repeat(f64::NAN)).take(EDGE);
    for (column, value) in samples.enumerate() {
        for (rank, byte) in (value as f32).to_be_bytes().into_iter().enumerate() {
            if let Some(place) = bytes.get_mut(rank * EDGE + column) {
                *place = byte;
            }
        }
    }
    let mut before = 0u8;
    for byte in bytes {
        let value = *byte;
        *byte = value.wrapping_sub(before);
        before = value;
    }
}

fn deflated(bytes: &[u8]) -> io::Result<Vec<u8>> {
    let mut encoder = ZlibEncoder::new(Vec::new(), Compression::default());
    encoder.write_all(bytes)?;
    encoder.finish()
}
