//! What the plots of the plan's trial got by the log of the drill.

use crate::cli::compare::element_pairs;
use crate::compare::{self, PlanMap};
use crate::findings::{Finding, Outcome, Place};
use crate::harvest::{self, Applied, Stretch, Zones};
use crate::plan::LaidTrial;
use crate::read::taskdata;
use std::path::Path;

/// Reads the log and holds the plots against it.
///
/// # Errors
/// As [`compare::compare`].
pub(super) fn read(
    log: &Path,
    elements: &[String],
    plan: &PlanMap,
    zones: &Zones,
    trial: &LaidTrial,
) -> Outcome<Vec<Applied>> {
    let set = taskdata::read_parts(
        log,
        taskdata::Parts {
            grids: false,
            logs: true,
        },
    )?;
    let settings = compare::Settings {
        elements: element_pairs(elements)?,
        record: true,
        ..compare::Settings::default()
    };
    let comparison = compare::compare(plan, &set, &settings)?;
    let laid = comparison.laid.iter().map(|laid| Stretch {
        middle: laid.middle(),
        area_m2: laid.land_m2(),
        kg_per_ha: laid.rates(),
    });
    let stretches: Vec<Stretch> = laid.collect();
    let outlines: Vec<_> = trial
        .plots
        .iter()
        .map(|plot| plan.frame().all_to_plane(plot.outline_lon_lat.clone()))
        .collect();
    let tried: Vec<usize> = trial
        .products
        .iter()
        .map(|id| plan.product(id))
        .collect::<Outcome<_>>()?;
    let wanted = |at| {
        let zone = zones.number_at(at)?;
        plan.rates_of_zone(zone).map(<[f64]>::to_vec)
    };
    Ok(harvest::applied(
        trial, &outlines, &tried, &stretches, &wanted,
    ))
}

/// Plots that did not get what the plan has on them.
pub(super) fn findings(plots: &[Applied]) -> Vec<Finding> {
    let told = plots.iter().filter_map(|plot| {
        let share = format!(
            "by the log {:.0} % of its land was drilled, {:.0} % of that as planned",
            plot.drilled_percent, plot.as_planned_percent
        );
        let message = match &plot.got {
            Some(got) if *got == plot.planned => return None,
            Some(got) => format!(
                "Plot {} of block '{}' was to get '{}' and got '{got}' ({share}); it counts as that.",
                plot.id, plot.block, plot.planned
            ),
            None => format!(
                "Plot {} of block '{}' was to get '{}' and got nothing that the trial tries ({share}); it is left out.",
                plot.id, plot.block, plot.planned
            ),
        };
        Some(Finding::warning(
            "harvest.plot_by_log",
            Place::nowhere(),
            message,
        ))
    });
    told.collect()
}
