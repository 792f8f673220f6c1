//! The arguments of `twinsow harvest`, and what they say together.

use crate::cli::numbers;
use crate::findings::{Fault, Outcome, Place};
use crate::harvest::{Columns, Money, Role, Settings, Weighed};
use crate::read::taskdata;
use clap::{Args as ClapArgs, ValueEnum};
use std::path::PathBuf;

/// Reads the harvest back and answers a trial
///
/// Reads the yield points of the harvester, cleans them step by step (nothing is thrown away in silence), scales them to weighed
/// loads, and says what the plots of a trial gave, with its doubt. Writes a page, the answer as JSON, and map layers.
#[derive(Debug, ClapArgs)]
#[command(after_help = "Examples:
  twinsow harvest field-plan yield.gpkg --column yield=Yield:t/ha --yield-at 14.5 --moisture-basis 14.5
  twinsow harvest field-plan log.csv --column flow=mass:lb/s --column moisture=moist --column distance=dist:in --column interval=seconds:s --column time=time --width 9.144 --moisture-basis 15.5
  twinsow harvest field-plan yield.shp --column yield=Yld:bu/ac --bushel-lb 60 --yield-at 13.5 --moisture-basis 13.5 --plots strips.geojson --treatment what --block pair --base flat --price 150,180,210
  twinsow harvest field-plan stick/TASKDATA --yield-at harvested --moisture-basis 14.5 --log drilled/TASKDATA
  twinsow harvest field-plan yield.gpkg --column yield=Yield:t/ha --yield-at 15 --moisture-basis 15 --ledger farm/ledger --harvested-on 2027-08-12 --straw removed")]
pub(in crate::cli) struct Args {
    /// The plan: its folder, or the plan.json in it
    #[arg(value_name = "PLAN")]
    pub plan: PathBuf,
    /// Yield points: CSV, GeoJSON, GeoPackage or shapefile; or task data with the time logs of the harvester
    #[arg(value_name = "FILE", required = true)]
    pub files: Vec<PathBuf>,
    /// Which column holds what, in which unit: yield, flow, moisture, distance, width, speed, time, interval, header, machine, load, treatment, block; task data need none
    #[arg(long = "column", value_name = "ROLE=COLUMN:UNIT")]
    pub columns: Vec<String>,
    /// Moisture that yields are given at, % of the wet weight
    #[arg(long, value_name = "PERCENT")]
    pub moisture_basis: f64,
    /// Moisture that the yield column stands at already, in %; or 'harvested', with a moisture column
    #[arg(long, value_name = "PERCENT")]
    pub yield_at: Option<String>,
    /// Pounds in a bushel of this crop
    #[arg(long, value_name = "LB")]
    pub bushel_lb: Option<f64>,
    /// Width of the header, m, where no column holds it
    #[arg(long, value_name = "M")]
    pub width: Option<f64>,
    /// CRS of the yield points, where the files declare none
    #[arg(long, value_name = "CRS")]
    pub crs: Option<String>,
    /// Only points whose column has this value
    #[arg(long, value_name = "COLUMN=VALUE")]
    pub only: Vec<String>,
    /// Seconds from the cutter bar to the sensor [default: found from the data]
    #[arg(long, value_name = "S")]
    pub delay: Option<f64>,
    /// The most that the crop can give, t/ha
    #[arg(long, value_name = "T_PER_HA")]
    pub most: Option<f64>,
    /// Kilograms by the scale, at the moisture basis: of everything, of a combine, or of a combine's load
    #[arg(long, value_name = "[COMBINE[/LOAD]=]KG")]
    pub weighed: Vec<String>,
    /// Polygons of the plots of a trial
    #[arg(long, value_name = "FILE", requires = "treatment")]
    pub plots: Option<PathBuf>,
    /// CRS of the plots, where their file declares none
    #[arg(long, value_name = "CRS", requires = "plots")]
    pub plots_crs: Option<String>,
    /// Attribute of the plots that says what was tried: a rate or a name
    #[arg(long, value_name = "NAME", requires = "plots")]
    pub treatment: Option<String>,
    /// Attribute of the plots that says their block, replicate or pair
    #[arg(long, value_name = "NAME", requires = "plots")]
    pub block: Option<String>,
    /// Which trial of the plan is answered, by its name, where it has several; its plots are read from the plan
    #[arg(long, value_name = "NAME", conflicts_with = "plots")]
    pub trial: Option<String>,
    /// Leaves the trial unanswered: yields are cleaned and mapped without it
    #[arg(long, conflicts_with_all = ["plots", "trial"])]
    pub no_trial: bool,
    /// Task data with the log of the drill: it decides what each plot of the plan's trial got, not the plan
    #[arg(long, value_name = "TASKDATA", conflicts_with_all = ["plots", "no_trial"])]
    pub log: Option<PathBuf>,
    /// With --log: which product a device element of the log sows, where the log does not say; 'none' if none of the plan
    #[arg(long = "element", value_name = "ELEMENT=PRODUCT", requires = "log")]
    pub elements: Vec<String>,
    /// Metres left out at both ends of a plot [default: 30, for a reading mixes some 30 m of travel, or what the plan says of its trial]
    #[arg(long, value_name = "M")]
    pub ends: Option<f64>,
    /// The treatment that others are held against [default: the lowest rate, or the first by name]
    #[arg(long, value_name = "TREATMENT")]
    pub base: Option<String>,
    /// Price of grain per t: low, expected, high
    #[arg(long, value_name = "LOW,EXPECTED,HIGH", allow_hyphen_values = true)]
    pub price: Option<String>,
    /// What a treatment costs per ha: product, dressing, an extra pass
    #[arg(long, value_name = "TREATMENT=PER_HA")]
    pub cost: Vec<String>,
    /// What a unit of rate costs
    #[arg(long, value_name = "PER_UNIT", default_value_t = 0.0)]
    pub rate_price: f64,
    /// What drying costs per t
    #[arg(long, value_name = "PER_T", default_value_t = 0.0)]
    pub drying: f64,
    /// What the money is called
    #[arg(long, value_name = "NAME", default_value = "EUR")]
    pub currency: String,
    /// Yield map of an earlier year, such as yield.geojson of its harvest: all years together become the layer years.geojson
    #[arg(long = "year", value_name = "FILE")]
    pub years: Vec<PathBuf>,
    /// With --year: attribute that holds the yield
    #[arg(
        long,
        value_name = "NAME",
        default_value = "kg_per_ha",
        requires = "years"
    )]
    pub year_attribute: String,
    /// With --year: CRS of the maps, where their files declare none
    #[arg(long, value_name = "CRS", requires = "years")]
    pub years_crs: Option<String>,
    /// Writes yield and removal by zone into the ledger of the year in this folder, YEAR.csv, and its land, YEAR.geojson
    #[arg(long, value_name = "DIR", requires_all = ["harvested_on", "straw"])]
    pub ledger: Option<PathBuf>,
    /// With --ledger: the day of the harvest, YYYY-MM-DD
    #[arg(long, value_name = "DAY", requires = "ledger")]
    pub harvested_on: Option<String>,
    /// With --ledger: what becomes of the straw
    #[arg(long, value_name = "WHAT", requires = "ledger")]
    pub straw: Option<Straw>,
    /// With --ledger: the crop, where the plan sows several or does not say it
    #[arg(long, value_name = "NAME", requires = "ledger")]
    pub crop: Option<String>,
    /// Folder for the page, the answer and the layers [default: harvest, beside the plan]
    #[arg(long, value_name = "FOLDER")]
    pub out: Option<PathBuf>,
    /// Prints one JSON object and nothing else
    #[arg(long)]
    pub json: bool,
}

/// What becomes of the straw.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub(in crate::cli) enum Straw {
    /// It stays on the field
    Left,
    /// It is baled and leaves the field
    Removed,
}

pub(super) fn option(option: &str, found: &str, allowed: &str) -> Box<Fault> {
    Fault::input(
        "harvest.option",
        Place::nowhere(),
        format!("{option} is given as '{found}'"),
        allowed,
        "Correct the command.",
    )
}

pub(super) fn at_least(value: f64, name: &str, least: f64) -> Outcome<f64> {
    numbers::within(name, value, [least, f64::MAX], "harvest.option")
}

/// A moisture of grain: what is below 100 %.
fn moisture(value: f64, name: &str) -> Outcome<f64> {
    match (0.0..=50.0).contains(&value) {
        true => Ok(value),
        false => Err(option(
            name,
            &value.to_string(),
            "a moisture from 0 to 50 %",
        )),
    }
}

pub(super) fn settings(args: &Args) -> Outcome<Settings> {
    let yield_at_percent = match args.yield_at.as_deref() {
        None | Some("harvested") => None,
        Some(text) => {
            let number = text
                .parse()
                .map_err(|_| option("--yield-at", text, "a moisture in %, or 'harvested'"))?;
            Some(moisture(number, "--yield-at")?)
        }
    };
    Ok(Settings {
        basis_percent: moisture(args.moisture_basis, "--moisture-basis")?,
        yield_at_percent,
        most_kg_per_ha: args
            .most
            .map(|most| at_least(most, "--most", 0.1).map(|most| most * 1_000.0))
            .transpose()?,
        delay_s: args
            .delay
            .map(|delay| at_least(delay, "--delay", 0.0))
            .transpose()?,
    })
}

/// What is said of treatments says nothing without plots.
pub(super) fn check_treatments(args: &Args, has_plots: bool) -> Outcome<()> {
    let said = args.base.iter().map(|text| ("--base", text));
    let mut said = said.chain(args.cost.iter().map(|text| ("--cost", text)));
    match said.next().filter(|_| !has_plots) {
        Some((name, text)) => Err(option(
            name,
            text,
            "a harvest that answers a trial: of the plan, by --plots, or by --column treatment=...",
        )),
        None => Ok(()),
    }
}

/// Whether the moisture of the yields is known.
pub(super) fn check_moisture(args: &Args, columns: &Columns, settings: &Settings) -> Outcome<()> {
    let has = |role| columns.named(role).is_some();
    let known = has(Role::Moisture) || (has(Role::Yield) && settings.yield_at_percent.is_some());
    let said = has(Role::Flow) || args.yield_at.is_some();
    if args.files.iter().any(|file| taskdata::is_task_data(file)) {
        return check_moisture_of_logs(args, [has(Role::Flow), has(Role::Moisture)], settings);
    }
    match (known, said) {
        (true, true) => Ok(()),
        (_, false) => Err(option(
            "--yield-at",
            "",
            "the moisture that the yield column stands at, in %; or 'harvested', with --column moisture=...",
        )),
        (false, true) => Err(option(
            "--column",
            &args.columns.join(" "),
            "a column of moistures too, for the yields stand as harvested",
        )),
    }
}

/// The same for logs, which take no --column.
fn check_moisture_of_logs(
    args: &Args,
    [has_flow, has_moisture]: [bool; 2],
    settings: &Settings,
) -> Outcome<()> {
    let given = args.yield_at.as_deref().unwrap_or_default();
    let place = match args.files.first() {
        Some(file) => Place::file(file),
        None => Place::nowhere(),
    };
    match (has_flow, has_moisture) {
        (true, true) => Ok(()),
        (true, false) => Err(Fault::input(
            "harvest.log_moisture",
            place,
            "The logs hold a flow of grain as harvested, and no moisture of it",
            "logs with the moisture of the grain (entry 99)",
            "Export the readings as points with their moistures, and name the columns with --column.",
        )),
        (false, true) if !given.is_empty() => Ok(()),
        (false, true) => Err(option(
            "--yield-at",
            given,
            "'harvested', for the logs hold the moisture; or the moisture that their yields stand at already, in %",
        )),
        (false, false) if settings.yield_at_percent.is_some() => Ok(()),
        (false, false) => Err(option(
            "--yield-at",
            given,
            "the moisture that the yields of the logs stand at, in %, for the logs hold no moisture",
        )),
    }
}

fn list<const N: usize>(text: &str, name: &str, allowed: &str) -> Outcome<[f64; N]> {
    let found: Option<Vec<f64>> = text
        .split(',')
        .map(|part| part.trim().parse().ok().filter(|v: &f64| v.is_finite()))
        .collect();
    found
        .and_then(|found| found.try_into().ok())
        .ok_or_else(|| option(name, text, allowed))
}

pub(super) fn money(args: &Args) -> Outcome<Money> {
    const PRICES: &str = "three prices above 0, low, expected and high, such as 150,180,210";
    let per_t: Option<[f64; 3]> = args
        .price
        .as_deref()
        .map(|text| list(text, "--price", PRICES))
        .transpose()?;
    if let Some([low, expected, high]) = per_t
        && !(0.0 < low && low <= expected && expected <= high && low > args.drying)
    {
        return Err(option(
            "--price",
            args.price.as_deref().unwrap_or_default(),
            PRICES,
        ));
    }
    let cost = |text: &String| {
        let allowed = "TREATMENT=PER_HA, such as map=12.50";
        let (name, number) = text
            .rsplit_once('=')
            .ok_or_else(|| option("--cost", text, allowed))?;
        let [number] = list(number, "--cost", allowed)?;
        Ok((name.trim().to_owned(), number))
    };
    Ok(Money {
        per_t,
        per_ha: args.cost.iter().map(cost).collect::<Outcome<_>>()?,
        per_unit: at_least(args.rate_price, "--rate-price", 0.0)?,
        drying_per_t: at_least(args.drying, "--drying", 0.0)?,
    })
}

pub(super) fn weight(text: &str) -> Outcome<Weighed> {
    let allowed = "KG, COMBINE=KG or COMBINE/LOAD=KG, kilograms above 0";
    let (name, kg) = text.rsplit_once('=').unwrap_or(("", text));
    let [kg] = list(kg, "--weighed", allowed)?;
    if kg <= 0.0 {
        return Err(option("--weighed", text, allowed));
    }
    let part = |text: &str| Some(text.trim().to_owned()).filter(|text| !text.is_empty());
    let (machine, load) = match name.split_once('/') {
        Some((machine, load)) => (part(machine), part(load)),
        None => (part(name), None),
    };
    Ok(Weighed { machine, load, kg })
}
