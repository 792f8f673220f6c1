//! The plan: everything that is known once a job has been planned.
//!
//! [`plan`](plan()) is [`prepare`](prepare()), which asks [`Inputs`] for files and does all geometry, and then
//! [`rate`](rate()), which puts rates on it. Changing a rate needs only the last.
//!
//! A plan has five parts, each made by one step of [`rate`](rate()), each in the file of its name: land, rates, maps,
//! drive, tally.

mod across_180;
mod asked;
mod balance;
mod cleaning;
mod cutting;
mod derived_layers;
mod divide;
mod drawing;
mod drill;
mod drill_by_lot;
mod drive;
mod rates_off_map;
mod flat;
mod gate;
mod gate_cells;
mod gather;
mod identity;
mod inputs;
mod joining;
mod land;
mod later;
mod maps;
mod mistakes;
mod names;
mod on_terminal;
mod options;
mod place;
mod placed;
mod prepare;
mod progress;
mod rate;
mod rated_land;
mod rates;
mod rates_on_land;
mod several_fields;
mod shut_off;
mod decisions;
mod sown_again;
mod spreader;
mod spreader_job;
mod tally;
mod terminal;
mod two_seedbeds;
mod trial;
mod turned;

pub use self::drive::Drive;
pub use self::land::PlannedLand;
pub use self::tally::Tallied;
pub use decisions::{Case, cases};
pub use divide::left_of_line;
pub use drawing::Drawing;
pub use flat::FlatLimit;
pub use gate::{GateCheck, GatePlace};
pub use gather::{Gathered, for_one_field, gather};
pub use identity::is_id;
pub use inputs::{AtHand, Disk, Inputs, SharedInputs, StreamInputs};
pub use later::{Later, LaterMeter, LaterProduct};
pub use maps::{BalanceMap, Maps};
pub use on_terminal::{KnownField, MeteredBy, OnTerminal};
pub use options::Options;
pub use place::{row_at, rows_at};
pub use prepare::{Prepared, prepare};
pub use progress::{Step, Tell};
pub use rate::rate;
pub use rates::{Combination, Rates};
pub use rates_on_land::{RatesOnLand, rates_on_land};
pub use shut_off::ShutByHand;
pub(crate) use shut_off::YardTest;
pub use spreader::SpreaderPlan;
pub use terminal::{obstacles, one_field};
pub use trial::{FlatInAll, LaidTrial, Sight, TrialCost, TrialPlot, TrialTreatment, Wheelings};
pub use two_seedbeds::{OtherSeedbed, plans, rate_each};

use crate::agronomy;
use crate::drill::Report;
use crate::drive::tramline::{self, Rhythm};
use crate::findings::{Finding, Outcome};
use crate::job::Job;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use std::path::Path;

/// Plans a job from its inputs, once its limits are known to be sound. A job whose seedbed is not known is planned for a dry
/// one, the stricter; [`plans`] gives both plans.
///
/// # Errors
/// Limits and tramlines that cannot be; everything that [`prepare`](prepare()) and [`rate`](rate()) refuse.
pub fn plan(job: &Job, inputs: &impl Inputs, options: &Options) -> Outcome<Plan> {
    let job = &*job.as_one();
    can_be(job)?;
    let prepared = prepare(job, inputs, options)?;
    progress::after(job, 2, options.tell);
    two_seedbeds::alone(&prepared, job, options)
}

/// Holds what a job says by itself against what can be, before any file is read: told before what comes of it.
///
/// # Errors
/// Limits and tramlines that cannot be; numbers of seed that cannot be.
pub fn can_be(job: &Job) -> Outcome<()> {
    agronomy::crops::check(job)?;
    agronomy::check_limits(job)?;
    tramline::rhythm(job)?;
    Ok(())
}

/// A planned field.
pub struct Plan {
    /// Short id of the plan: six characters from the hash of inputs and resolved job. On every output.
    pub id: String,
    /// The resolved job.
    pub job: Job,
    /// The files that it was made from.
    pub inputs: Vec<Input>,
    /// The field: its plane, outlines and guide line, and how the terminal knows it.
    pub land: PlannedLand,
    /// Rates for each combination of facts about the land, kg/ha.
    pub rates: Rates,
    /// Rate map, balance map and outlines for drawings.
    pub maps: Maps,
    /// Bouts, and what they leave on the land; refills.
    pub drive: Drive,
    /// Totals and what to order, kg.
    pub tally: Tallied,
    /// Trials in the map, in job order; empty without.
    pub trials: Vec<LaidTrial>,
    /// What there is to say about the inputs, and what was done about it.
    pub findings: Vec<Finding>,
    /// Of two plans for a moist and a dry seedbed, the other one.
    pub other_seedbed: Option<OtherSeedbed>,
    /// The plans of the spreader, where the job names one.
    pub spreaders: Vec<SpreaderPlan>,
    /// Of a spreader's own plan: the id of the drill's plan that it belongs to.
    pub spreader_of: Option<String>,
    /// Of a spreader's plan: the decisions of the drill's plan that hold it, too.
    pub of_drill: Vec<Case>,
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

impl Input {
    /// A file with its hash, with no role and no CRS yet.
    fn of_file(file: &Path, sha256: String) -> Self {
        Self {
            role: String::new(),
            file: file.display().to_string(),
            sha256,
            crs: String::new(),
            accuracy_m: None,
        }
    }
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
    pub fn tramlines(&self) -> Option<&Rhythm> {
        self.drive.tramlines.as_ref()
    }
}
