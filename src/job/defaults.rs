//! Defaults that depend on other settings.

use super::types::Job;

/// Narrowest cell by default, in metres.
const LEAST_CELL_M: f64 = 5.0;

/// Fills what the file leaves out and other settings decide: one section over the whole width, a
/// cell of one working width (at least 5 m), a rim of one working width; the drill's spread at the opener.
pub(super) fn dependent_defaults(job: &mut Job) {
    let width = job.drill.working_width_m;
    if job.drill.sections_m.is_empty() {
        job.drill.sections_m = vec![width];
    }
    for limit in &mut job.seed_safe {
        limit.spread_m = limit.spread_m.or(job.drill.opener_spread_m);
    }
    job.grid.cell_m.get_or_insert(width.max(LEAST_CELL_M));
    job.grid.rim_m.get_or_insert(width);
}
