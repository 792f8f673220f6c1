//! Land units: land parts overlaid with every layer, tiling the field exactly.

use crate::job::LandPart;

/// What all pieces of land with the same facts have in common: a row of the rate table.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Facts {
    pub part: LandPart,
    /// Class per zone layer of the job, in job order.
    pub classes: Vec<String>,
    /// Special areas of the job that cover this land, by index, ascending.
    pub special_areas: Vec<usize>,
    /// Setbacks of the job (widened as stated) that cover this land, by index, ascending.
    pub setbacks: Vec<usize>,
}
