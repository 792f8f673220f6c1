//! `twinsow explain`: why a rate is what it is, for one place.

use super::exit::Exit;
use super::one_field;
use super::screen::Screen;
use super::{frame, show};
use crate::coordinates::LonLat;
use crate::findings::{Fault, Outcome, Place};
use crate::plan::{self, Disk, Options, Plan};
use clap::Args as ClapArgs;
use std::path::PathBuf;

/// Says why the rates of a place are what they are
///
/// Prints every step on the way to each rate, with its numbers and its source, for one row of the
/// rate table or the land at a place. Writes nothing; plan.json holds the same steps.
#[derive(Debug, ClapArgs)]
#[command(after_help = "Examples:
  twinsow explain job.toml
  twinsow explain job.toml --unit 3
  twinsow explain job.toml --at 2.4941,54.7992")]
pub(super) struct Args {
    /// Job file
    #[arg(value_name = "JOB.toml")]
    job: PathBuf,
    /// Which field of a job with split_by: the value that tells it apart
    #[arg(long, value_name = "VALUE")]
    field: Option<String>,
    /// Row of the rate table, as 'plan' prints it [default: the row with most land]
    #[arg(long, value_name = "N", conflicts_with = "at")]
    unit: Option<usize>,
    /// Place: longitude and latitude in degrees on WGS 84
    #[arg(long, value_name = "LON,LAT", allow_hyphen_values = true)]
    at: Option<String>,
}

pub(super) fn run(args: &Args, screen: &mut Screen) -> Exit {
    frame::run(screen, || explained(args))
}

fn explained(args: &Args) -> Outcome<String> {
    let at = args.at.as_deref();
    let at = at.map(|text| lon_lat("--at", text)).transpose()?;
    let job = one_field::load(&args.job, args.field.as_deref())?;
    // Where a place lies is looked up on the drawing.
    let options = Options {
        drawing: true,
        ..Options::rates_only()
    };
    let plans = plan::plans(&job, &Disk, &options)?;
    let has = |plan: &Plan, unit: usize| (1..=plan.rates.rows.len()).contains(&unit);
    let any_has = |unit: usize| plans.iter().any(|plan| has(plan, unit));
    let texts = plans.iter().map(|plan| {
        let text = match args.unit {
            Some(unit) if !has(plan, unit) && any_has(unit) => without_row(plan, unit),
            _ => of_plan(plan, args, at)?,
        };
        Ok(match plan.job.moisture().filter(|_| plans.len() > 1) {
            Some(moisture) => format!(
                "In a {} seedbed (plan {}):\n{text}\n",
                moisture.word(),
                plan.id
            ),
            None => text,
        })
    });
    texts.collect()
}

/// What is said where only the other of two plans has the row.
fn without_row(plan: &Plan, unit: usize) -> String {
    format!(
        "The rate table of this plan has no row {unit}, only 1 to {}.\nRows of two plans are not the same land: compare them at one place with --at LON,LAT.\n",
        plan.rates.rows.len()
    )
}

/// The row that is asked for.
fn of_plan(plan: &Plan, args: &Args, at: Option<LonLat>) -> Outcome<String> {
    let rows = plan.rates.rows.len();
    let row = match (args.unit, at) {
        (Some(unit), _) => Some(unit)
            .filter(|unit| (1..=rows).contains(unit))
            .ok_or_else(|| no_row(unit, rows))?,
        (None, Some(place)) => 1 + plan::row_at(plan, place).ok_or_else(|| no_land(place))?,
        (None, None) => {
            let areas = plan.rates.rows.iter().enumerate();
            let most = areas.max_by(|a, b| a.1.area_m2.total_cmp(&b.1.area_m2).then(b.0.cmp(&a.0)));
            1 + most.map_or(0, |(row, _)| row)
        }
    };
    show::chain::row(plan, row).ok_or_else(|| no_row(row, rows))
}

/// A place as it is typed after an option.
pub(super) fn lon_lat(option: &str, text: &str) -> Outcome<LonLat> {
    let numbers: Vec<f64> = text
        .split(',')
        .filter_map(|part| part.trim().parse().ok())
        .filter(|number: &f64| number.is_finite())
        .collect();
    match numbers.as_slice() {
        [lon, lat] if text.split(',').count() == 2 && lon.abs() <= 180.0 && lat.abs() <= 90.0 => {
            Ok(LonLat::new(*lon, *lat))
        }
        _ => Err(Fault::input(
            "explain.place",
            Place::nowhere(),
            format!("{option} is '{text}'"),
            format!("longitude and latitude in degrees, such as {option} 2.4941,54.7992"),
            "write the longitude first, a comma, then the latitude, both with a point",
        )),
    }
}

fn no_row(unit: usize, rows: usize) -> Box<Fault> {
    Fault::input(
        "explain.no_row",
        Place::nowhere(),
        format!("the rate table has no row {unit}"),
        format!("1 to {rows}"),
        "'twinsow plan' prints the rows; or name a place with --at LON,LAT",
    )
}

fn no_land(place: LonLat) -> Box<Fault> {
    Fault::input(
        "explain.no_land",
        Place::nowhere().at(place),
        "this place is not on the land of the job",
        "a place inside the boundary and outside all exclusions",
        "check that the longitude stands first",
    )
}
