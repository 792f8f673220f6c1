//! The plan: everything that is known once a job has been planned.

use crate::agronomy::Rate;
use crate::findings::Finding;
use crate::frame::Frame;
use crate::job::Job;
use crate::map::RateMap;
use crate::read::Polygon;
use crate::tally::Tally;
use crate::zones::Facts;
use serde::Serialize;

/// A planned field.
pub struct Plan {
    /// Short id of the plan: six characters from the hash of inputs and resolved job. On every output.
    pub id: String,
    pub job: Job,
    pub inputs: Vec<Input>,
    pub frame: Frame,
    /// Boundary less nothing: as read, repaired, lon/lat.
    pub boundary: Vec<Polygon>,
    /// Exclusions with their buffers, lon/lat.
    pub exclusions: Vec<Polygon>,
    /// Rows of the rate table: land with the same facts, its area and its rates.
    pub combinations: Vec<Combination>,
    pub map: RateMap,
    /// Per product: rate for a lost position and outside the field, kg/ha.
    pub position_lost_kg_per_ha: Vec<f64>,
    pub out_of_field_kg_per_ha: Vec<f64>,
    pub tally: Tally,
    pub findings: Vec<Finding>,
}

/// A row of the rate table.
#[derive(Debug, Clone, PartialEq)]
pub struct Combination {
    pub facts: Facts,
    pub area_m2: f64,
    /// Per product, in job order.
    pub rates: Vec<Rate>,
}

/// An input file, for provenance.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Input {
    pub role: String,
    pub file: String,
    pub sha256: String,
    /// CRS it was read in, and the accuracy of the way to WGS 84 that PROJ states, in metres.
    pub crs: String,
    pub accuracy_m: Option<f64>,
}

/// Plans a job.
pub fn run(_job: &Job) -> crate::findings::Outcome<Plan> {
    todo!()
}
