//! Totals: area, kilograms in steps to the order, hopper fills.

mod balance;
mod count;
mod greater_need;
mod lot_totals;
mod one_order;
mod order;
pub mod farm_order;
mod price;
mod step;
mod words;

pub use balance::{BalanceTally, SpreadTally};
pub use count::{Counted, count};
pub use greater_need::cover_both;
pub use lot_totals::LotTally;
pub use one_order::in_one_order;
pub use order::{OnePackLess, Pack, packs, seeds_of_kg};
pub use price::Price;
pub use step::{Step, StepName};

use crate::job::LandPart;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// The whole tally.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Tally {
    /// Field less exclusions, m2.
    pub mapped_m2: f64,
    /// As the boundary file draws it, before exclusions, m2.
    pub boundary_m2: f64,
    /// Exclusions in it, m2.
    pub excluded_m2: f64,
    /// Mapped land by part, m2.
    pub parts_m2: Vec<(LandPart, f64)>,
    /// Per product, in job order.
    pub products: Vec<ProductTally>,
    /// What is broadcast because it is not placed with the seed, per product that can leave some.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub balances: Vec<BalanceTally>,
}

/// One product's way from the map to the order.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct ProductTally {
    /// Id of the product.
    pub id: String,
    /// Its name.
    pub name: String,
    /// Lot on the label, where the job names one for all of it.
    pub lot: Option<String>,
    /// Land with a rate above zero, m2.
    pub sown_m2: f64,
    /// Lowest rate above zero, kg/ha.
    pub lowest_kg_per_ha: f64,
    /// Highest rate, kg/ha.
    pub highest_kg_per_ha: f64,
    /// The one rate that sows the same total on all land outside the product's setbacks, for the day
    /// the map will not load. In the setbacks the product has to be shut by hand.
    pub flat_kg_per_ha: f64,
    /// From the map total to the order, each step a line.
    pub steps: Vec<Step>,
    /// What leaves the outlets, kg: the map with its corrections, before reserve and residue.
    pub as_driven_kg: f64,
    /// To order, kg.
    pub order_kg: f64,
    /// The same in packs, if the job gives a pack.
    pub packs: Option<u64>,
    /// What one pack less would leave of the reserve, where only the reserve asks for the last pack.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub one_pack_less: Option<OnePackLess>,
    /// Name of its hopper.
    pub hopper: String,
    /// Fills of its hopper, if bulk density is known: litres that leave the outlets over usable litres.
    pub fills: Option<f64>,
    /// What one fill holds, kg.
    pub kg_per_fill: Option<f64>,
    /// Land that one fill sows at the mean rate, ha.
    pub ha_per_fill: Option<f64>,
    /// What the metric grid adds or loses against the polygon map, kg.
    pub metric_grid_kg: f64,
    /// What the grid in degrees adds or loses against it, kg.
    pub degrees_grid_kg: f64,
    /// Seeds that the map sows, where the grain weight is known.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub seeds: Option<f64>,
    /// The lots, each with its own way to its own order; empty for a product of one lot.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub lots: Vec<LotTally>,
}

impl ProductTally {
    /// What the polygon map sows, kg.
    pub fn map_kg(&self) -> f64 {
        step::map_kg(&self.steps)
    }
}
