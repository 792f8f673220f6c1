//! Two rate maps for a seed drill with a divided hopper, from a field boundary and zone layers.
//!
//! The modules below stand in the order in which data flows. A module imports only from modules
//! above it in this list, and `tests/layers.rs` holds it to that. Only `read`, `document`, `write`,
//! `report`, `audit`, `stick`, `compare`, `edit` and `cli` touch files; only `cli` prints, reads the clock or the environment.
//!
//! A program that calls this one needs [`job`], [`plan`], [`write`](mod@write), [`audit`], [`document`], [`report`],
//! [`findings`] and [`coordinates`]. Their items are documented, but for variants that are words of the job file (its page, docs/job-file.md, says what each
//! means) and keys of `plan.json` that stand at [`document::PlanDocument`]. The other modules are steps on the way, open to the tests and benches
//! beside the source; those marked `allow(missing_docs)` leave some fields to their names.
//!
//! Axes and units, everywhere unless a name says otherwise: x is east and y is north; plane
//! coordinates are metres in the field's own plane ([`frame::Frame`]); lon/lat are degrees on
//! WGS 84; areas are square metres; rates are kilograms per hectare.
//!
//! A job file is planned, written, and its files are read back and held against the plan:
//!
//! ```
//! use std::path::Path;
//! use twinsow::audit::{PlanFacts, audit};
//! use twinsow::job::Job;
//! use twinsow::plan::{Disk, Options, plan};
//! use twinsow::write;
//!
//! # fn main() -> Result<(), Box<twinsow::findings::Fault>> {
//! let job = Job::load(Path::new("examples/demo/job.toml"))?;
//! let plan = plan(&job, &Disk, &Options::default())?;
//! for product in &plan.tally.planned.products {
//!     println!("{}: order {:.0} kg", product.name, product.order_kg);
//! }
//! # let folder = tempfile::tempdir().expect("a folder");
//! # let out = &folder.path().join("job-plan");
//! write::deliver(&plan, out, "2026-03-01T12:00:00Z")?;
//! let facts = PlanFacts::read(&out.join("plan.json"))?;
//! assert!(audit(&[out.clone()], Some(&facts), None, out)?.agrees());
//! # Ok(())
//! # }
//! ```

pub mod units;
pub mod coordinates;
pub mod findings;
pub mod geometry;
#[allow(missing_docs)]
pub mod codec;
pub mod job;
pub mod texts;
#[allow(missing_docs)]
pub mod read;
pub mod frame;
pub mod land;
#[allow(missing_docs)]
pub mod surface;
pub mod zones;
#[allow(missing_docs)]
pub mod agronomy;
#[allow(missing_docs)]
pub mod drill;
#[allow(missing_docs)]
pub mod map;
#[allow(missing_docs)]
pub mod drive;
#[allow(missing_docs)]
pub mod tally;
pub mod trial;
pub mod week;
pub mod plan;
pub(crate) mod establishment;
pub mod document;
pub mod write;
pub mod ledger;
pub mod report;
pub mod audit;
pub mod stick;
#[allow(missing_docs)]
pub mod compare;
pub mod harvest;
pub mod edit;
pub mod cli;
