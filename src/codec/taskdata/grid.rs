//! The records of a type-2 grid: per cell one little-endian 32-bit integer per process data
//! variable; cell after cell from west to east, row after row from south to north.

/// A file whose length does not fit its grid.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct GridSize {
    pub bytes: usize,
    /// Columns x rows x 4 x variables; `None` if that is more than can be counted.
    pub expected: Option<usize>,
}

/// Raw values as bytes. The values are in file order: interleaved by variable inside each cell.
pub fn encode_cells(values: &[i32]) -> Vec<u8> {
    values
        .iter()
        .flat_map(|value| value.to_le_bytes())
        .collect()
}

/// Bytes as raw values in file order: value `p` of the cell in `column` and `row` (0 is south) stands
/// at `(row * columns + column) * variables + p`.
///
/// # Errors
/// The length does not fit.
pub fn decode_cells(
    bytes: &[u8],
    columns: usize,
    rows: usize,
    variables: usize,
) -> Result<Vec<i32>, GridSize> {
    let expected = columns
        .checked_mul(rows)
        .and_then(|cells| cells.checked_mul(variables))
        .and_then(|values| values.checked_mul(4));
    if expected != Some(bytes.len()) {
        return Err(GridSize {
            bytes: bytes.len(),
            expected,
        });
    }
    let (values, _) = bytes.as_chunks::<4>();
    Ok(values
        .iter()
        .map(|value| i32::from_le_bytes(*value))
        .collect())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn values_come_back() {
        let values = [1, -1, i32::MAX, i32::MIN, 18_000, 0];
        let bytes = encode_cells(&values);
        assert_eq!(bytes[16..20], [0x50, 0x46, 0, 0]);
        assert_eq!(decode_cells(&bytes, 3, 1, 2).unwrap(), values);
    }

    #[test]
    fn a_wrong_length_is_refused() {
        let wrong = GridSize {
            bytes: 23,
            expected: Some(24),
        };
        assert_eq!(decode_cells(&[0; 23], 3, 1, 2), Err(wrong));
        let wrong = GridSize {
            bytes: 0,
            expected: None,
        };
        assert_eq!(decode_cells(&[], usize::MAX, 2, 2), Err(wrong));
    }
}
