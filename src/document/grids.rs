//! Grids in `plan.json`.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use std::borrow::Cow;

/// The grids of a plan.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Grids<'a> {
    /// Of the rates, in metres of the field's plane.
    pub metric: GridOfPlan<'a>,
    /// Of the rates, in degrees, as terminals take it.
    pub degrees: GridOfPlan<'a>,
    /// Of what is left to broadcast, on the cells of the metric one; null without such.
    pub balance: Option<GridOfPlan<'a>>,
    /// Of the rates, along the bouts; only of a map that is cut to straight bouts.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub turned: Option<TurnedGridOfPlan<'a>>,
}

/// A grid whose rows follow each other along a heading.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct TurnedGridOfPlan<'a> {
    /// Degrees clockwise from north in the field's plane.
    pub heading_deg: f64,
    /// Per product: kilograms on its cells.
    pub kg: Vec<f64>,
    /// For west read left of the heading, for south where the heading comes from. The origin is the outer corner there, in metres of the
    /// plane; a cell is so wide across the heading and so long along it.
    pub cells: GridOfPlan<'a>,
}

/// A grid without its cells. The sums of rows and columns tell which cell of a file differs, or how a whole file was
/// turned.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct GridOfPlan<'a> {
    /// File with the cells, below the folder of the plan.
    pub file: Cow<'a, str>,
    /// What origin and cell are in, in words.
    pub unit: Cow<'a, str>,
    /// Outer south-west corner: x and y in metres, or longitude and latitude in degrees.
    pub origin: [f64; 2],
    /// Width and height of a cell, in the same unit.
    pub cell: [f64; 2],
    /// Cells from west to east.
    pub columns: usize,
    /// Cells from south to north.
    pub rows: usize,
    /// Land in all cells, m2.
    pub covered_m2: f64,
    /// Per product, per row from the south: sum of its rates as the file has them, in steps of 0.01 kg/ha.
    pub row_sums: Vec<Vec<i64>>,
    /// The same per column from the west.
    pub column_sums: Vec<Vec<i64>>,
}
