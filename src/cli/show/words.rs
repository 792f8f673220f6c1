//! Words for facts.

use crate::job::Job;
use crate::zones::Facts;
use std::path::Path;

/// Names of the special areas that cover this land.
pub(in crate::cli) fn special_areas<'a>(job: &'a Job, facts: &Facts) -> Vec<&'a str> {
    let areas = facts
        .special_areas
        .iter()
        .filter_map(|&n| job.special_areas.get(n));
    areas.map(|area| area.name.as_str()).collect()
}

/// Names of the setbacks that cover this land.
pub(in crate::cli) fn setbacks<'a>(job: &'a Job, facts: &Facts) -> Vec<&'a str> {
    let setbacks = facts.setbacks.iter().filter_map(|&n| job.setbacks.get(n));
    setbacks.map(|setback| setback.name.as_str()).collect()
}

/// A relative path with `/` on every system.
pub(in crate::cli) fn slashed(path: &Path) -> String {
    let parts: Vec<_> = path
        .components()
        .map(|part| part.as_os_str().to_string_lossy())
        .collect();
    parts.join("/")
}
