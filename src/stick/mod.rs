//! The plans of many fields on one stick: one set of task data for each form, made of what the plans have delivered.
//! Page: docs/formats/stick.md.
//!
//! Nothing is planned or rated here. What a plan's folder holds is held against its `plan.json` first, then the elements of
//! all fields are put into one tree and the grids numbered through. The cells stay the same bytes.

mod contents;
mod field;
mod ids;
mod merge;
mod page;
mod parts;
mod record;
mod spreaders;
mod together;

pub use contents::{Here, ProductIn, SetOn, TaskOn, contents};
pub use field::{Field, Gathered, plans_in};
pub use ids::GivenId;
pub use parts::Limits;
pub use record::{FILE as RECORD, OnStick, ProductOnStick, Record, Replaced, known_as};
pub use spreaders::{Machine, OfSpreader, other_machine};
pub use together::{Made, NotInForm, SameName, SameProduct, fill};
