//! `twinsow week`: in which order the fields are sown, and what the tender brings. Method: docs/methods/week.md.

mod csv;
mod gather;
mod page;
mod rows;
mod told;

use super::exit::Exit;
use super::explain::lon_lat;
use super::frame;
use super::numbers;
use super::screen::Screen;
use super::targets::{self, Known};
use crate::findings::{Fault, Outcome, Place};
use crate::job::day_number;
use crate::report;
use crate::week::{self, Rules};
use clap::Args as ClapArgs;
use gather::Drill;
use rows::OfDrill;
use std::collections::BTreeMap;
use std::path::PathBuf;

/// Makes the week's list: in which order the fields are sown, day by day, with fills and clean-outs
///
/// Takes plans (the folder, or one with folders of plans in it). Each drill has a list of its own. No field is begun before its sowing date.
/// What counts is the time on the road and for cleaning out, and land that is sown later than its date; what is left in the hoppers goes on to
/// the next field that takes the same lot. Up to nine fields the list is the best there is, beyond that a good one.
#[derive(Debug, ClapArgs)]
#[command(after_help = "Examples:
  twinsow week plans/*-plan --from 2026-03-20 --hours-a-day 10 --yard 2.4941,54.7992
  twinsow week plans/*-plan --from 2026-03-20 --yard 2.4941,54.7992 --page week.html --csv week.csv
  twinsow week plans/*-plan --from 2026-03-20 --yard 2.4941,54.7992 --fill-min 12 --clean-out-min 90")]
pub(super) struct Args {
    /// Folders of plans, or folders that hold such
    #[arg(required = true, value_name = "PLAN")]
    plans: Vec<PathBuf>,
    /// First day, YYYY-MM-DD
    #[arg(long, value_name = "DATE")]
    from: String,
    /// Where the drill stands before and after: longitude and latitude in degrees on WGS 84
    #[arg(long, value_name = "LON,LAT", allow_hyphen_values = true)]
    yard: String,
    /// Hours of work in a day
    #[arg(long, value_name = "H", default_value = "10")]
    hours_a_day: f64,
    /// When the day's work begins, for the times on the list
    #[arg(long, value_name = "HH:MM", default_value = "07:00")]
    day_begins: String,
    /// Speed on the road, km/h
    #[arg(long, value_name = "KM/H", default_value = "20")]
    road_speed: f64,
    /// Way on the road for each kilometre of the straight line
    #[arg(long, value_name = "KM", default_value = "1.3")]
    road_per_km: f64,
    /// Minutes that the drill stands for a fill [default: 0, for the field efficiency of the jobs has the time for fills in it]
    #[arg(
        long,
        value_name = "MIN",
        default_value = "0",
        hide_default_value = true
    )]
    fill_min: f64,
    /// Minutes to clean out hoppers for another product, lot or dressing
    #[arg(long, value_name = "MIN", default_value = "60")]
    clean_out_min: f64,
    /// Hours of the drill that 10 ha one day late weigh as much as
    #[arg(long, value_name = "H", default_value = "1")]
    late_h: f64,
    /// Hectares an hour, for plans that give no hours because their job has no field_efficiency_percent under [drive]
    #[arg(long, value_name = "HA/H")]
    ha_per_h: Option<f64>,
    /// Also writes the list as CSV, a row for each field and product
    #[arg(long, value_name = "FILE.csv")]
    csv: Option<PathBuf>,
    /// Also writes the list as a page that prints
    #[arg(long, value_name = "FILE.html")]
    page: Option<PathBuf>,
    /// Prints one JSON object and nothing else
    #[arg(long)]
    json: bool,
}

pub(super) fn run(args: &Args, screen: &mut Screen) -> Exit {
    frame::run(screen, || made(args))
}

fn made(args: &Args) -> Outcome<(String, Exit)> {
    let rules = rules(args)?;
    let begins_h = time_of_day(&args.day_begins)?;
    check(args)?;
    let ha_per_h = args
        .ha_per_h
        .map(|value| above_zero("--ha-per-h", value, 1000.0))
        .transpose()?;
    let drills = gather::drills(&args.plans, ha_per_h)?;
    let lists: Vec<OfDrill> = drills
        .iter()
        .map(|drill| {
            let list = week::list(&drill.fields, &rules);
            rows::of(drill, list, &rules, begins_h)
        })
        .collect();
    let mut files = Vec::new();
    if let Some(file) = &args.csv {
        files.push((file.clone(), csv::table(&lists)?));
    }
    if let Some(file) = &args.page {
        files.push((file.clone(), report::week(&page::of(&lists, args))?));
    }
    targets::make_folders(files.iter().map(|(file, _)| file.as_path()))?;
    targets::put(&files)?;
    let open = drills.iter().flat_map(|drill: &Drill| &drill.about);
    let exit = match open.map(|own| own.to_decide).sum::<usize>() {
        0 => Exit::Done,
        _ => Exit::Decide,
    };
    let text = match args.json {
        true => frame::json(&BTreeMap::from([("drills", &lists)]))?,
        false => told::text(&lists),
    };
    Ok((text, exit))
}

fn rules(args: &Args) -> Outcome<Rules> {
    let from = day_number(&args.from).ok_or_else(|| {
        wrong(
            format!("--from is '{}'", args.from),
            "a day as YYYY-MM-DD, such as 2026-03-20",
        )
    })?;
    Ok(Rules {
        from,
        hours_a_day: above_zero("--hours-a-day", args.hours_a_day, 24.0)?,
        yard: lon_lat("--yard", &args.yard)?,
        road_km_per_h: above_zero("--road-speed", args.road_speed, 100.0)?,
        way_per_line: above_zero("--road-per-km", args.road_per_km, 100.0)?,
        fill_h: not_below("--fill-min", args.fill_min, 600.0)? / 60.0,
        clean_out_h: not_below("--clean-out-min", args.clean_out_min, 1440.0)? / 60.0,
        late_h_per_ha_day: not_below("--late-h", args.late_h, 1000.0)? / 10.0,
    })
}

/// Hours since midnight.
fn time_of_day(text: &str) -> Outcome<f64> {
    let parts = text.split_once(':').and_then(|(hours, minutes)| {
        let hours: u8 = hours.parse().ok().filter(|value| *value < 24)?;
        let minutes: u8 = minutes.parse().ok().filter(|value| *value < 60)?;
        Some(f64::from(hours) + f64::from(minutes) / 60.0)
    });
    parts.ok_or_else(|| {
        let found = format!("--day-begins is '{text}'");
        wrong(found, "a time as HH:MM, from 00:00 to 23:59")
    })
}

fn above_zero(option: &str, value: f64, most: f64) -> Outcome<f64> {
    match value > 0.0 && value <= most {
        true => Ok(value),
        false => Err(wrong(
            format!("{option} is {value}"),
            &format!("a number above 0, up to {most}"),
        )),
    }
}

fn not_below(option: &str, value: f64, most: f64) -> Outcome<f64> {
    numbers::within(option, value, [0.0, most], "week.option")
}

fn wrong(found: String, allowed: &str) -> Box<Fault> {
    Fault::input(
        "week.option",
        Place::nowhere(),
        found,
        allowed,
        "Correct that option.",
    )
}

/// Looks at where the list goes, before anything is read.
fn check(args: &Args) -> Outcome<()> {
    targets::check_ending(args.csv.as_deref(), "csv", "week.csv")?;
    targets::check_ending(args.page.as_deref(), "html", "week.html")?;
    let table = Known::Text(csv::BEGINS, "");
    let csv = args.csv.iter().map(|file| (file.as_path(), table));
    let page = args.page.iter();
    let page = page.map(|file| (file.as_path(), Known::Page("drill-1")));
    targets::check(csv.chain(page))
}
