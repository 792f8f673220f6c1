//! A plan to files: one module per format. No format knows another.

use crate::findings::Outcome;
use crate::plan::Plan;
use std::path::{Path, PathBuf};

/// A file that was written.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Written {
    /// Relative to the output folder.
    pub path: PathBuf,
    pub bytes: u64,
    /// One line on what it is for.
    pub what: String,
}

/// Writes all files of a plan to the folder `out`.
pub fn deliver(_plan: &Plan, _out: &Path, _timestamp: &str) -> Outcome<Vec<Written>> {
    todo!()
}
