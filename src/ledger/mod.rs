//! The ledger of a farm: what each field got and gave over the years, one CSV a year that people can read, with the land beside
//! it. It takes bytes and gives bytes. Method: docs/methods/ledger.md.

mod day;
mod land;
mod row;
mod sums;

pub use day::{of_entry, of_log};
pub use land::{Piece, land};
pub use row::{Column, Row, What, merged, rows};
pub use sums::{Event, FieldSums, Period, sums};
