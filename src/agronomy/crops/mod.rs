//! Crops and what publishers say is usual for them: the table is `published.toml`, each number with its source.
//!
//! A number of a job that no publisher would print is a slip of the pen or of the unit; [`check`] asks about it or
//! refuses it. A crop or a value without a source has no range. The words for
//! crops are in [`super::crop_list`].

mod check;
mod given;
mod published;
mod slips;
#[cfg(test)]
mod tests;

pub use check::check;
pub use published::{Published, Quantity, Range, Source, Usual, published};
