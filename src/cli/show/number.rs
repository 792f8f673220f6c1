//! Numbers as people read them: the same as in the report.

pub(in crate::cli) use crate::report::number::{grouped, hectares, kilograms, rate};
