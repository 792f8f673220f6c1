//! The plan: everything that is known once a job has been planned.
//!
//! [`gather`](gather()) reads; [`prepare`](prepare()) does all geometry; [`rate`](rate()) puts rates on it. The last
//! two are pure, and changing a rate needs only the last.
//!
//! A plan has five parts, each made by one step of [`rate`](rate()), each in the file of its name: land, rates, maps,
//! drive, tally.

mod balance;
mod cleaning;
mod cutting;
mod derived_layers;
mod divide;
mod drawing;
mod drill;
mod drill_by_lot;
mod drive;
mod extras;
mod fallback;
mod flat;
mod gate;
mod gate_cells;
mod gather;
mod identity;
mod joining;
mod land;
mod later;
mod library;
mod loaded_source;
mod maps;
mod mistakes;
mod names;
mod on_terminal;
mod place;
mod prepare;
mod progress;
mod rate;
mod rated_land;
mod rates;
mod run;
mod shared_inputs;
mod shut_off;
mod signed;
mod tally;
mod terminal;

pub use self::drive::Drive;
pub use self::land::PlannedLand;
pub use self::tally::Tallied;
pub use drawing::Drawing;
pub use extras::Extras;
pub use flat::FlatLimit;
pub use gate::{GateCheck, GatePlace};
pub use gather::{Inputs, for_one_field, gather, gather_told};
pub use later::{Later, LaterMeter, LaterProduct};
pub use library::Library;
pub use maps::{BalanceMap, Maps};
pub use on_terminal::{KnownField, MeteredBy, OnTerminal};
pub use place::{row_at, rows_at};
pub use prepare::{Prepared, prepare, prepare_told};
pub use progress::{Step, Tell};
pub use rate::{rate, rate_with};
pub use rates::{Combination, Rates};
pub use run::{run, run_field, run_field_with, run_told, run_with};
pub use shared_inputs::SharedInputs;
pub use shut_off::ShutByHand;
pub use signed::{Case, cases};
pub use terminal::{obstacles, one_field};

use crate::drill::Report;
use crate::drive::tramline::{self, Rhythm};
use crate::findings::Finding;
use crate::job::Job;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// A planned field.
pub struct Plan {
    /// Short id of the plan: six characters from the hash of inputs and resolved job. On every output.
    pub id: String,
    /// The resolved job.
    pub job: Job,
    /// The files that it was made from.
    pub inputs: Vec<Input>,
    pub land: PlannedLand,
    pub rates: Rates,
    pub maps: Maps,
    pub drive: Drive,
    pub tally: Tallied,
    /// What there is to say about the inputs, and what was done about it.
    pub findings: Vec<Finding>,
}

/// An input file, for provenance.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Input {
    /// What the job reads it as.
    pub role: String,
    /// Path, as the job names it.
    pub file: String,
    /// SHA-256 of its bytes, hexadecimal.
    pub sha256: String,
    /// CRS it was read in.
    pub crs: String,
    /// Accuracy of the way to WGS 84 that PROJ states, m; none where it states none.
    pub accuracy_m: Option<f64>,
}

impl Plan {
    /// What the drill makes of the rates: rotors, flows, speeds.
    pub fn drill(&self) -> Report {
        drill::report(&self.rates, &self.job)
    }

    /// What the drill makes of one lot of product `nth` alone.
    pub fn drill_of_lot(&self, nth: usize, lot: &str) -> Report {
        drill_by_lot::report(&self.rates.rows, &self.job, nth, lot)
    }

    /// The tramlines; `None` where the job asks for none.
    pub fn tramlines(&self) -> Option<Rhythm> {
        // A rhythm that cannot be closed has stopped the plan.
        tramline::rhythm(&self.job).ok().flatten()
    }
}
