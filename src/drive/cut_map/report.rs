//! What cutting the map to the bouts changes, product by product.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// The cut map beside the wanted rates, and what the drill lays by either.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[schemars(rename = "CutMapReport")]
pub struct Report {
    /// Pieces along bouts and rings that lay land.
    pub pieces: usize,
    /// Least length of a piece in the interior, m.
    pub least_m: f64,
    /// Pieces shorter than that, because their bout is.
    pub shorter: usize,
    /// Land that no bout drives, m2: it lies in no piece and keeps its wanted rates.
    pub undriven_m2: f64,
    /// The products of the air stream, in job order.
    pub products: Vec<ProductReport>,
}

/// One product, on the land.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[schemars(rename = "CutMapProduct")]
pub struct ProductReport {
    /// Id of the product.
    pub id: String,
    /// Wanted, by borders as the zones have them, kg.
    pub wanted_kg: f64,
    /// On the cut map, kg.
    pub cut_kg: f64,
    /// Where the cut map has less than is wanted: kg less.
    pub lost_kg: f64,
    /// Where it has more: kg more.
    pub gained_kg: f64,
    /// Land on which the cut map is within 5 % of the wanted rate, percent of the land with one.
    pub cut_within_5_percent: f64,
    /// As driven by a map with the zones' borders: what leaves the outlets, kg.
    pub free_driven_kg: f64,
    /// The same: land sown within 5 % of the wanted rate, percent.
    pub free_driven_within_5_percent: f64,
    /// As driven by the cut map: what leaves the outlets, kg.
    pub cut_driven_kg: f64,
    /// The same: land sown within 5 % of the wanted rate, percent.
    pub cut_driven_within_5_percent: f64,
    /// As driven by the cut map: land sown within 5 % of the cut map, percent.
    pub cut_driven_within_5_percent_of_map: f64,
}
