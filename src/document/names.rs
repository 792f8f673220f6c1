//! The names under which delivered files carry a product.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// The names of one product. No two products of a job share one, upper and lower case taken as alike.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
pub struct ProductNames {
    /// Column of the rate table in GeoJSON and GeoPackage, and band of the GeoTIFF.
    pub column: String,
    /// The same where names have ten characters: Shapefiles.
    pub short_column: String,
    /// Column in the Shapefile of all products for terminals, where it is not `short_column`: rates in lb/ac.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub terminal_column: Option<String>,
    /// Front of the name of the Shapefile that holds this product alone, before `_` and the id of the plan.
    pub file: String,
    /// Name in task data.
    pub task_data: String,
    /// Column of the difference map with the wanted rate.
    pub wanted: String,
    /// Column of the difference map with the rate that is sown as driven.
    pub sown: String,
    /// Column of the map of what is left to broadcast, and band of its GeoTIFF.
    pub balance: String,
}
