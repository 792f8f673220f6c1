//! The plots of a trial: drawn, named by the readings, or those of the plan, by what a log says they got.

use super::{Args, by_log, option};
use crate::cli::survey;
use crate::compare::PlanMap;
use crate::findings::{Fault, Outcome, Place};
use crate::harvest::{self, Applied, Cleaned, Columns, LaidPlot, Plots, Readings, Role, Zones};
use crate::job::Source;
use crate::plan::LaidTrial;
use crate::read::Polygon;

/// What one reading of a yield monitor mixes, m (Knight and Pettitt 2003).
const ENDS_M: f64 = 30.0;

/// The plots, and what they got by a log.
pub(super) type FoundPlots = (Option<Plots>, Option<Vec<Applied>>);

pub(super) fn plots(
    args: &Args,
    plan: &PlanMap,
    zones: &Zones,
    cleaned: &Cleaned,
    readings: &Readings,
    columns: &Columns,
    given_ends_m: Option<f64>,
) -> Outcome<FoundPlots> {
    let ends_m = given_ends_m.unwrap_or(ENDS_M);
    if args.no_trial {
        return Ok((None, None));
    }
    match (&args.plots, &args.treatment) {
        (Some(file), Some(treatment)) => {
            let source = Source {
                file: file.clone(),
                crs: args.plots_crs.clone(),
                ..Source::default()
            };
            let (layer, _) = survey::placed(&source, "--plots-crs", plan.frame())?;
            let block = args.block.as_deref();
            let plots = harvest::from_polygons(cleaned, &layer, treatment, block, ends_m)?;
            Ok((Some(plots), None))
        }
        _ if by_columns(args, columns) => {
            let plots = harvest::from_columns(cleaned, readings, ends_m);
            Ok((Some(plots), None))
        }
        _ => {
            let Some(trial) = trial_of(args, plan)? else {
                return match &args.log {
                    None => Ok((None, None)),
                    Some(log) => Err(Fault::input(
                        "harvest.option",
                        Place::file(log),
                        format!(
                            "--log says what the plots of a trial got, and plan {} has no trial",
                            plan.id
                        ),
                        "--log with a plan that has a trial in its map",
                        "Leave --log out, or name the plan with the trial.",
                    )),
                };
            };
            let by_log = match &args.log {
                Some(log) => Some(by_log::read(log, &args.elements, plan, zones, trial)?),
                None => None,
            };
            let ends_m = given_ends_m.unwrap_or(trial.ends_m);
            let laid = trial.plots.iter().enumerate().filter_map(|(nth, plot)| {
                let got = by_log.as_ref().map(|of| &of[nth]);
                let treatment = match got {
                    Some(got) => got.got.clone()?,
                    None => plot.treatment.clone(),
                };
                let exterior = plan.frame().all_to_plane(plot.harvest_lon_lat.clone());
                Some(LaidPlot {
                    treatment,
                    block: plot.block.clone(),
                    rate: got.and_then(|got| got.rate_kg_per_ha),
                    ground: Polygon {
                        exterior,
                        holes: Vec::new(),
                    },
                })
            });
            let plots = harvest::from_plan(cleaned, laid.collect(), ends_m);
            Ok((Some(plots), by_log))
        }
    }
}

/// Whether the readings themselves say their plots. A trial that is asked for by its name, or by a log of it, goes before that.
fn by_columns(args: &Args, columns: &Columns) -> bool {
    args.trial.is_none() && args.log.is_none() && columns.named(Role::Treatment).is_some()
}

/// The trial of the plan whose plots are answered, if they are.
pub(super) fn trial_of_plan<'a>(
    args: &Args,
    plan: &'a PlanMap,
    columns: &Columns,
) -> Outcome<Option<&'a LaidTrial>> {
    match args.no_trial || args.plots.is_some() || by_columns(args, columns) {
        true => Ok(None),
        false => trial_of(args, plan),
    }
}

/// The trial of the plan that is to be answered; `None` where it has none.
fn trial_of<'a>(args: &Args, plan: &'a PlanMap) -> Outcome<Option<&'a LaidTrial>> {
    let names = || plan.trials.iter().map(|trial| trial.name.as_str());
    let allowed = || match plan.trials.is_empty() {
        true => "nothing: the plan has no trial".to_owned(),
        false => format!("one of: {}", names().collect::<Vec<_>>().join(", ")),
    };
    match (&args.trial, plan.trials.as_slice()) {
        (Some(name), trials) => match trials.iter().find(|trial| trial.name == *name) {
            Some(trial) => Ok(Some(trial)),
            None => Err(option("--trial", name, &allowed())),
        },
        (None, []) => Ok(None),
        (None, [trial]) => Ok(Some(trial)),
        (None, _) => Err(Fault::input(
            "harvest.several_trials",
            Place::nowhere(),
            "The plan has several trials",
            format!("--trial with {}", allowed()),
            "Name the one to answer, each is answered by itself; or leave them out with --no-trial.",
        )),
    }
}
