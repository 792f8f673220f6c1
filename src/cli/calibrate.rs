//! `twinsow calibrate`: the calibration test of every metering unit.

use super::exit::Exit;
use super::guard;
use super::one_field;
use super::screen::Screen;
use super::show;
use crate::drill::Report;
use crate::drill::calibrate::{self, Amount, Test};
use crate::drill::flow;
use crate::findings::{Fault, Outcome, Place};
use crate::job::{Job, Product, UnitSystem};
use crate::plan::{self, Disk, Options, Plan};
use crate::units::{KG_PER_LB, M2_PER_FT2, OZ_PER_LB};
use clap::Args as ClapArgs;
use serde::Serialize;
use std::path::PathBuf;

/// Says what the calibration test of each product should catch, and what a catch means
///
/// At both ends of the map's range, for each lot on its own: the weight for a test area or a number of revolutions, the
/// revolutions of the recommended rotor, and from a weighed catch the correction. Nothing is written.
#[derive(Debug, ClapArgs)]
#[command(after_help = "Examples:
  twinsow calibrate job.toml
  twinsow calibrate job.toml --area 1000
  twinsow calibrate job.toml --revolutions 20 --caught barley=7.4
  twinsow calibrate job.toml --caught barley=5.1 --caught-lowest barley=3.2
  twinsow calibrate job.toml --caught barley/2411-A=5.1")]
pub(super) struct Args {
    /// Job file
    #[arg(value_name = "JOB.toml")]
    job: PathBuf,
    /// Which field of a job with split_by: the value that tells it apart
    #[arg(long, value_name = "VALUE")]
    field: Option<String>,
    /// Test area in m2, or in ft2 where the job's pages are in US units [default: a fortieth of a hectare (250 m2), a
    /// twentieth of an acre (2 178 ft2); common practice, no source]
    #[arg(long, value_name = "AREA", conflicts_with = "revolutions", value_parser = positive)]
    area: Option<f64>,
    /// Revolutions of the rotor instead of an area
    #[arg(long, value_name = "N", value_parser = positive)]
    revolutions: Option<f64>,
    /// Step of the scale in grams
    #[arg(long, value_name = "G", default_value = "10", value_parser = positive)]
    scale_g: f64,
    /// Rotor to use for a product instead of the recommended one
    #[arg(long, value_name = "PRODUCT=ROTOR", value_parser = pair)]
    rotor: Vec<(String, String)>,
    /// Weighed catch of the test at the highest rate, in kg, or in lb where the job's pages are in US units
    #[arg(long, value_name = "PRODUCT=CATCH", value_parser = weighed)]
    caught: Vec<(String, f64)>,
    /// Weighed catch of the test at the lowest rate, in the same unit
    #[arg(long, value_name = "PRODUCT=CATCH", value_parser = weighed)]
    caught_lowest: Vec<(String, f64)>,
    /// Prints one JSON object and nothing else; it is metric for any job
    #[arg(long)]
    json: bool,
}

/// The tests of one product.
#[derive(Debug, Serialize)]
pub(super) struct Calibration {
    pub product: String,
    pub name: String,
    pub lot: Option<String>,
    pub hopper: String,
    pub rotor: Option<String>,
    pub kg_per_rev: Option<f64>,
    /// At the lowest rate above zero and at the highest; one if they are the same.
    pub tests: Vec<Test>,
}

#[derive(Serialize)]
struct Output<'a> {
    plan: &'a str,
    calibrations: &'a [Calibration],
}

pub(super) fn run(args: &Args, screen: &mut Screen) -> Exit {
    let made = guard::guarded(|| {
        let job = one_field::load(&args.job, args.field.as_deref())?;
        let plans = plan::plans(&job, &Disk, &Options::rates_only())?;
        let each = plans.into_iter().map(|plan| {
            let calibrations = calibrations(&plan, args)?;
            Ok((plan, calibrations))
        });
        each.collect::<Outcome<Vec<_>>>()
    });
    match made {
        Ok(all) => {
            let told = all.iter().map(|(plan, of)| told(plan, of, args, screen));
            told.max().unwrap_or(Exit::Done)
        }
        Err(fault) => {
            screen.fault(&fault);
            Exit::of_fault(&fault)
        }
    }
}

/// How much more than expected a weighed catch is: the rotor it went through, and what its kilograms per turn are to be multiplied by.
pub(super) struct Correction {
    pub hopper: String,
    pub rotor: Option<String>,
    pub factor: f64,
}

/// What catches of the tests at the highest rate say about a job, in the order in which they are given.
///
/// # Errors
/// As the command; a catch of a product that is not sown or has several lots.
pub(super) fn corrections(job: &Job, caught: &[(String, f64)]) -> Outcome<Vec<Correction>> {
    let args = Args {
        job: job.file.clone(),
        field: None,
        area: None,
        revolutions: None,
        scale_g: 10.0,
        rotor: Vec::new(),
        caught: caught.to_vec(),
        caught_lowest: Vec::new(),
        json: false,
    };
    let plan = plan::plan(job, &Disk, &Options::rates_only())?;
    let all = calibrations(&plan, &args)?;
    let of = |(id, _): &(String, f64)| {
        let mut own = all.iter().filter(|own| own.product == *id);
        let only = own.next().filter(|_| own.next().is_none());
        let found = only.and_then(|own| {
            let caught = own
                .tests
                .iter()
                .rev()
                .find_map(|test| test.caught.as_ref())?;
            Some(Correction {
                hopper: own.hopper.clone(),
                rotor: own.rotor.clone(),
                factor: caught.correction,
            })
        });
        found.ok_or_else(|| {
            Fault::input(
                "calibrate.which_catch",
                Place::file(&job.file),
                format!("'{id}' is not sown, or has several lots with a test each"),
                "a catch of a product with one lot that is sown",
                "Enter what its test says in the job file.",
            )
        })
    };
    caught.iter().map(of).collect()
}

/// Prints the tests of one plan.
fn told(plan: &Plan, calibrations: &[Calibration], args: &Args, screen: &mut Screen) -> Exit {
    if !args.json {
        screen.print(&show::calibrate::text(plan, calibrations, args.scale_g));
        return Exit::Done;
    }
    let output = Output {
        plan: &plan.id,
        calibrations,
    };
    match serde_json::to_string(&output) {
        Ok(line) => {
            screen.print(&format!("{line}\n"));
            Exit::Done
        }
        Err(_) => Exit::Machine,
    }
}

fn calibrations(plan: &Plan, args: &Args) -> Outcome<Vec<Calibration>> {
    let ids = args.rotor.iter().map(|(id, _)| id);
    let caught = args.caught.iter().chain(&args.caught_lowest);
    for id in ids.chain(caught.map(|(id, _)| id)) {
        known(&plan.job, id)?;
    }
    let mut all = Vec::new();
    for (nth, (product, tally)) in plan
        .job
        .products
        .iter()
        .zip(&plan.tally.planned.products)
        .enumerate()
    {
        // A surface unit of which the job knows nothing is calibrated by its own manual.
        if product.surface_applied && width_m(&plan.job, product).is_none() {
            continue;
        }
        if tally.lots.is_empty() {
            let (low, high) = (tally.lowest_kg_per_ha, tally.highest_kg_per_ha);
            let drill = plan.drill();
            all.extend(calibration(plan, args, product, &drill, low, high)?);
        }
        for lot in &tally.lots {
            let mut each = product.each_lot().iter();
            let Some(known) = each.find(|known| known.lot == lot.lot) else {
                continue;
            };
            let drill = plan.drill_of_lot(nth, &lot.lot);
            all.extend(calibration(
                plan,
                args,
                &product.as_lot(known),
                &drill,
                lot.lowest_kg_per_ha,
                lot.highest_kg_per_ha,
            )?);
        }
    }
    Ok(all)
}

/// Width that the meter of a product serves; `None` for a surface unit whose width is not given.
fn width_m(job: &Job, product: &Product) -> Option<f64> {
    if !product.surface_applied {
        return Some(job.drill.working_width_m);
    }
    let mut hoppers = job.drill.hoppers.iter();
    hoppers
        .find(|hopper| hopper.name == product.hopper)?
        .spreads_width_m
}

/// The tests of one product, or of one of its lots; none where it is not sown.
fn calibration(
    plan: &Plan,
    args: &Args,
    product: &Product,
    drill: &Report,
    low: f64,
    high: f64,
) -> Outcome<Option<Calibration>> {
    if high <= 0.0 {
        return Ok(None);
    }
    let units = plan.job.report.units;
    // A weighed catch is of one lot: 'barley/2411' means lot 2411 of barley, 'barley' any.
    let key = product.lot.as_ref();
    let key = key.map(|lot| format!("{}/{lot}", product.id));
    let is_meant = |id: &String| *id == product.id || Some(id) == key.as_ref();
    let named = args.rotor.iter().rev().find(|(id, _)| is_meant(id));
    let rotor = match named {
        Some((_, name)) => Some(rotor(&plan.job, &product.hopper, name)?),
        None => {
            let meter = drill.metering.iter().find(|m| m.product == product.id);
            let best = meter.and_then(|meter| meter.best());
            best.map(|fit| (fit.name.clone(), fit.kg_per_rev))
        }
    };
    let rotor = match (rotor, named, product.bulk_density_kg_per_l) {
        (Some((name, cm3_share)), Some(_), Some(kg_per_l)) => Some((name, cm3_share * kg_per_l)),
        (rotor, None, _) => rotor,
        _ => None,
    };
    let kg_per_rev = rotor.as_ref().map(|(_, kg)| *kg);
    let amount = match (args.revolutions, args.area) {
        (Some(count), _) => Amount::Revolutions(count),
        (None, area) => Amount::Area(match area {
            Some(area) => typed(units, area, M2_PER_FT2),
            None => calibrate::usual_area_m2(units),
        }),
    };
    let of = |caught: &[(String, f64)]| {
        let mut weighed = caught.iter().rev();
        let found = weighed.find(|(id, _)| is_meant(id));
        found.map(|(_, mass)| typed(units, *mass, KG_PER_LB))
    };
    let mut ends = vec![(low, of(&args.caught_lowest)), (high, of(&args.caught))];
    if low == high {
        // One end: either option means it.
        ends = vec![(high, of(&args.caught).or(of(&args.caught_lowest)))];
    }
    let tests: Option<Vec<Test>> = ends
        .into_iter()
        .map(|(rate, caught)| {
            let test = calibrate::test(rate, kg_per_rev, amount, args.scale_g / 1000.0, caught);
            let width_m = width_m(&plan.job, product).unwrap_or(plan.job.drill.working_width_m);
            test.map(|test| test.with_wheel(width_m, plan.job.drill.wheel_round_m))
        })
        .collect();
    let Some(tests) = tests else {
        return Err(Fault::input(
            "calibrate.no_rotor",
            Place::file(&plan.job.file),
            format!(
                "revolutions are asked for, but hopper '{}' of '{}' has no rotor",
                product.hopper, product.id
            ),
            "revolutions where the rotors of the hopper are given",
            "add [[drill.hopper.rotor]] from the manual, or give --area instead",
        ));
    };
    for (test, caught) in tests
        .iter()
        .filter_map(|test| Some((test, test.caught.as_ref()?)))
    {
        believed(plan, product, test.catch_kg, caught.kg, caught.correction)?;
    }
    Ok(Some(Calibration {
        product: product.id.clone(),
        name: product.name.clone(),
        lot: product.lot.clone(),
        hopper: product.hopper.clone(),
        rotor: rotor.map(|(name, _)| name),
        kg_per_rev,
        tests,
    }))
}

/// What was typed in the unit of the job's pages, in the metric one; `each` is the US unit in the metric one.
fn typed(units: UnitSystem, value: f64, each: f64) -> f64 {
    match units {
        UnitSystem::Metric => value,
        UnitSystem::UsCustomary => value * each,
    }
}

/// A catch that is this many times the expected one, or this part of it, was not weighed in the unit that was meant. Our own choice,
/// no source.
const NOT_WEIGHED: f64 = 10.0;

/// A catch that a drill can have delivered.
fn believed(
    plan: &Plan,
    product: &Product,
    expected_kg: f64,
    kg: f64,
    correction: f64,
) -> Outcome<()> {
    let near = |factor: f64| (1.0 / NOT_WEIGHED..NOT_WEIGHED).contains(&factor);
    if near(correction) {
        return Ok(());
    }
    let number = crate::findings::number;
    // As it was typed: masses in the unit of the job's pages, and the small unit of a scale.
    let units = plan.job.report.units;
    let (unit, small, smaller) = match units {
        UnitSystem::Metric => ("kg", "g", 1_000.0),
        UnitSystem::UsCustomary => ("lb", "oz", OZ_PER_LB),
    };
    let shown = |kg: f64| kg / typed(units, 1.0, KG_PER_LB);
    let next = match near(correction / smaller) {
        true => format!(
            "if {} {small} were weighed, write {}={}",
            number(shown(kg)),
            product.id,
            number(shown(kg) / smaller)
        ),
        false => "weigh again, and compare the area or the revolutions that were run".to_owned(),
    };
    Err(Fault::input(
        "calibrate.catch",
        Place::file(&plan.job.file).feature(format!("product '{}'", product.id)),
        format!(
            "a catch of {} {unit}, where the test should give {} {unit}",
            number(shown(kg)),
            number((shown(expected_kg) * 1000.0).round() / 1000.0)
        ),
        format!("{unit}, within {NOT_WEIGHED} times of what is expected"),
        next,
    ))
}

fn known(job: &Job, id: &str) -> Outcome<()> {
    let mut ids: Vec<String> = Vec::new();
    for product in &job.products {
        ids.push(product.id.clone());
        let own = product.lot.iter();
        let lots = own.chain(product.each_lot().iter().map(|lot| &lot.lot));
        ids.extend(lots.map(|lot| format!("{}/{lot}", product.id)));
    }
    if ids.iter().any(|known| known == id) {
        return Ok(());
    }
    Err(Fault::input(
        "calibrate.no_product",
        Place::file(&job.file),
        format!("no product has the id '{id}'"),
        ids.join(", "),
        "use the id of a product of this job, or id/lot for one of its lots",
    ))
}

/// Name and litres of filled cells per revolution.
fn rotor(job: &Job, hopper: &str, name: &str) -> Outcome<(String, f64)> {
    let hoppers = job.drill.hoppers.iter();
    let rotors: Vec<_> = hoppers
        .filter(|known| known.name == hopper)
        .flat_map(|hopper| &hopper.rotors)
        .collect();
    if let Some(rotor) = rotors.iter().find(|rotor| rotor.name == name) {
        return Ok((rotor.name.clone(), flow::kg_per_rev(rotor, 1.0)));
    }
    let names: Vec<&str> = rotors.iter().map(|rotor| rotor.name.as_str()).collect();
    let allowed = if names.is_empty() {
        "a hopper with rotors".to_owned()
    } else {
        names.join(", ")
    };
    Err(Fault::input(
        "calibrate.no_such_rotor",
        Place::file(&job.file),
        format!("hopper '{hopper}' has no rotor '{name}'"),
        allowed,
        "use the name of a rotor of this hopper",
    ))
}

fn positive(text: &str) -> Result<f64, String> {
    match text.parse::<f64>() {
        Ok(number) if number > 0.0 && number.is_finite() => Ok(number),
        _ => Err("a number above 0, decimals with a point".to_owned()),
    }
}

fn pair(text: &str) -> Result<(String, String), String> {
    match text.split_once('=') {
        Some((id, value)) if !id.trim().is_empty() && !value.trim().is_empty() => {
            Ok((id.trim().to_owned(), value.trim().to_owned()))
        }
        _ => Err("the id of a product, '=', and a value, such as barley=7.4".to_owned()),
    }
}

fn weighed(text: &str) -> Result<(String, f64), String> {
    let (id, kg) = pair(text)?;
    Ok((id, positive(&kg)?))
}
