//! What the files of a harvest hold, in the plane of the plan.

use super::{Args, at_least, option};
use crate::cli::survey;
use crate::compare::PlanMap;
use crate::findings::Outcome;
use crate::harvest::{self, Columns, Earlier, Readings};
use crate::job::Source;
use crate::read::taskdata;
use crate::units::KG_PER_LB;
use std::path::PathBuf;

/// Yield maps of earlier years, in the plane of the plan.
pub(super) fn earlier(args: &Args, plan: &PlanMap) -> Outcome<Vec<Earlier>> {
    let one = |file: &PathBuf| {
        let source = Source {
            file: file.clone(),
            crs: args.years_crs.clone(),
            ..Source::default()
        };
        let (layer, _) = survey::placed(&source, "--years-crs", plan.frame())?;
        Earlier::of(&layer, &args.year_attribute)
    };
    args.years.iter().map(one).collect()
}

/// The logs of a harvester, in the plane of the plan.
fn of_logs(args: &Args, plan: &PlanMap) -> Outcome<(Readings, Columns)> {
    if let Some(text) = args.columns.first() {
        let allowed = "no --column: the entries of the standard say what task data hold";
        return Err(option("--column", text, allowed));
    }
    let [file] = args.files.as_slice() else {
        return Err(option(
            "FILE",
            &format!("{} names", args.files.len()),
            "one set of task data by itself, or files of points",
        ));
    };
    let width_m = args
        .width
        .map(|width| at_least(width, "--width", 0.1))
        .transpose()?;
    let parts = taskdata::Parts {
        grids: false,
        logs: true,
    };
    let set = taskdata::read_parts(file, parts)?;
    let mut readings = Readings::default();
    let columns = harvest::from_log(&mut readings, &set, plan.frame(), width_m)?;
    Ok((readings, columns))
}

/// All files, in the plane of the plan.
pub(super) fn readings(args: &Args, plan: &PlanMap) -> Outcome<(Readings, Columns)> {
    if args.files.iter().any(|file| taskdata::is_task_data(file)) {
        return of_logs(args, plan);
    }
    let bushel_kg = args
        .bushel_lb
        .map(|lb| at_least(lb, "--bushel-lb", 1.0))
        .transpose()?
        .map(|lb| lb * KG_PER_LB);
    let columns = Columns::parse(&args.columns, bushel_kg)?;
    let width_m = args
        .width
        .map(|width| at_least(width, "--width", 0.1))
        .transpose()?;
    let mut only = std::collections::BTreeMap::new();
    for text in &args.only {
        let (name, value) = text
            .split_once('=')
            .ok_or_else(|| option("--only", text, "COLUMN=VALUE"))?;
        only.insert(name.trim().to_owned(), value.trim().to_owned());
    }
    let mut readings = Readings::default();
    for file in &args.files {
        let source = Source {
            file: file.clone(),
            crs: args.crs.clone(),
            only: only.clone(),
            ..Source::default()
        };
        let (layer, of_crs) = survey::placed(&source, "--crs", plan.frame())?;
        readings.findings.extend(of_crs);
        harvest::read(&mut readings, &layer, &columns, width_m)?;
    }
    Ok((readings, columns))
}
