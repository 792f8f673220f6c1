//! Sums along the rows and columns of a grid: enough to say which cell differs, or how a whole grid was
//! turned, shifted or mixed up, without keeping a copy of it.

use serde::Serialize;

/// A grid by its place and its sums.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct GridSums {
    /// Outer south-west corner, and size of a cell, in the units of the grid.
    pub origin: [f64; 2],
    /// Width and height of a cell, in the units of the grid.
    pub cell: [f64; 2],
    /// Columns of the grid.
    pub columns: usize,
    /// Rows of the grid.
    pub rows: usize,
    /// Per product: sum of each row (south first) and of each column (west first), 0.01 kg/ha.
    pub row_sums: Vec<Vec<i64>>,
    /// The same of each column.
    pub column_sums: Vec<Vec<i64>>,
    /// Whether the corner is in degrees.
    pub degrees: bool,
    /// Of a turned grid the heading along which its rows follow each other, degrees clockwise from north; its west is the left of
    /// that, its south where the heading comes from.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub heading_deg: Option<f64>,
}

impl GridSums {
    /// Adds the sums of one product: hundredths of kg/ha per cell, columns fastest.
    pub fn add(&mut self, hundredths: impl Iterator<Item = i64>) {
        let mut rows = vec![0_i64; self.rows];
        let mut columns = vec![0_i64; self.columns];
        for (at, value) in hundredths.enumerate() {
            if let Some(sum) = rows.get_mut(at / self.columns.max(1)) {
                *sum = sum.saturating_add(value);
            }
            if let Some(sum) = columns.get_mut(at % self.columns.max(1)) {
                *sum = sum.saturating_add(value);
            }
        }
        self.row_sums.push(rows);
        self.column_sums.push(columns);
    }
}

/// A rate in hundredths of kg/ha; no rate counts as zero.
pub(super) fn hundredths(kg_per_ha: f64) -> i64 {
    if kg_per_ha.is_nan() {
        return 0;
    }
    (kg_per_ha * 100.0).round() as i64
}
