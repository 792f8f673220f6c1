//! `twinsow establishment`: plant counts after emergence, as next season's establishment.

use super::exit::Exit;
use super::frame as command;
use super::ledger;
use super::numbers;
use super::screen::Screen;
use super::sealed::{SEALED, sealed};
use super::show::findings;
use super::show::number::Numbers;
use super::show::table::{Column, Table};
use super::survey;
use super::targets::{self, Known};
use crate::establishment::{self, Asked, Per, Reached};
use crate::findings::{Fault, Outcome, Place};
use crate::job::{Job, Kind, Lookup, Source};
use crate::ledger::{Column as Cell, Row, What};
use crate::plan::{self, Disk, Options, Plan};
use clap::{Args as ClapArgs, ValueEnum};
use std::fmt::Write as _;
use std::path::{Path, PathBuf};

/// Makes next season's establishment from plant counts
///
/// Reads points with plants counted after emergence, holds them against the seeds that the job sows there, and
/// gives the establishment reached in each class of a layer with its spread, in the words of the job file.
#[derive(Debug, ClapArgs)]
#[command(after_help = "Examples:
  twinsow establishment job.toml counts.csv --column plants --per metre
  twinsow establishment job.toml counts.csv --column plants --per m2 --layer soil --next
  twinsow establishment job.toml counts.csv --column plants --per m2 --ledger farm/ledger --counted-on 2026-11-10")]
pub(super) struct Args {
    /// The job that was sown
    #[arg(value_name = "JOB.toml")]
    job: PathBuf,
    /// Points with counts: CSV, GeoJSON, GeoPackage or shapefile
    #[arg(value_name = "COUNTS")]
    counts: PathBuf,
    /// Column or attribute that holds the counts
    #[arg(long, value_name = "NAME")]
    column: String,
    /// What the counts are per: metre of row, or m2
    #[arg(long, value_name = "WHAT")]
    per: PerWhat,
    /// CRS of the counts, where the file declares none
    #[arg(long, value_name = "CRS")]
    crs: Option<String>,
    /// Id of the seed, where the job has several
    #[arg(long, value_name = "ID")]
    product: Option<String>,
    /// Layer whose classes are told apart [default: the one that the establishment or the rate goes by]
    #[arg(long, value_name = "NAME")]
    layer: Option<String>,
    /// What drilling a hectare again costs beside the seed, in the currency of the job's prices
    #[arg(long, value_name = "COST")]
    redrill_per_ha: Option<f64>,
    /// Writes the job with the new establishment beside this one: NAME-next.toml
    #[arg(long)]
    next: bool,
    /// Writes the counts into the ledger of the year in this folder, YEAR.csv
    #[arg(long, value_name = "DIR", requires = "counted_on")]
    ledger: Option<PathBuf>,
    /// With --ledger: the day of the counts, YYYY-MM-DD
    #[arg(long, value_name = "DAY", requires = "ledger")]
    counted_on: Option<String>,
    /// Prints one JSON object and nothing else
    #[arg(long)]
    json: bool,
}

/// What counts are per.
#[derive(Debug, Clone, Copy, ValueEnum)]
enum PerWhat {
    /// Metre of row
    Metre,
    /// Square metre
    M2,
}

pub(super) fn run(args: &Args, screen: &mut Screen) -> Exit {
    command::run(screen, || counted(args))
}

fn counted(args: &Args) -> Outcome<(String, Exit)> {
    let job = Job::load(&args.job)?;
    let product = product(&job, args.product.as_deref())?;
    let layer = layer(&job, product, args.layer.as_deref())?;
    let options = Options::default();
    let prepared = plan::prepare(&job, &Disk, &options)?;
    // No seed rate depends on the moisture of the seedbed.
    let plan = plan::rate(&prepared, &job.as_one(), &options)?;
    // Paths of the command line start where the user is.
    let source = Source {
        file: args.counts.clone(),
        crs: args.crs.clone(),
        ..Source::default()
    };
    let (points, of_crs) = survey::placed(&source, "--crs", &prepared.frame)?;
    let asked = Asked {
        product,
        layer,
        column: &args.column,
        per: match args.per {
            PerWhat::Metre => Per::Metre,
            PerWhat::M2 => Per::SquareMetre,
        },
        redrill_per_ha: args
            .redrill_per_ha
            .map(|cost| {
                let bounds = [0.0, f64::MAX];
                numbers::within("--redrill-per-ha", cost, bounds, "establishment.cost")
            })
            .transpose()?,
    };
    let mut reached = establishment::establishment(&plan, &points, &asked)?;
    let of_reading = points.findings.iter().chain(&of_crs).cloned();
    reached.findings.splice(0..0, of_reading);
    let next = match args.next {
        true => Some(next_job(&job, &args.job, product, &reached)?),
        false => None,
    };
    let in_ledger = match (&args.ledger, &args.counted_on) {
        (Some(folder), Some(day)) => {
            let date = ledger::day(day, "--counted-on")?;
            Some(ledger::Entry {
                folder: folder.clone(),
                rows: rows(&plan, product, &reached, &date),
                sowing_date: job.sowing_date.clone(),
                date,
                pieces: Vec::new(),
            })
        }
        _ => None,
    };
    let day = in_ledger
        .as_ref()
        .map(|entry| entry.check_day(What::Counted, &args.job));
    reached.findings.extend(day.transpose()?.flatten());
    let of_ledger = in_ledger
        .as_ref()
        .map_or(Ok(Vec::new()), ledger::Entry::files)?;
    let own = next.iter().map(|(file, _)| (file, SEALED));
    let all = own.chain(of_ledger.iter().map(|(file, _)| (file, Known::Read)));
    targets::check(all.map(|(file, known)| (file.as_path(), known)))?;
    let all = next.iter().chain(&of_ledger);
    targets::make_folders(all.map(|(file, _)| file.as_path()))?;
    if let Some(next) = &next {
        targets::put(std::slice::from_ref(next))?;
    }
    if let Some(entry) = &in_ledger {
        entry.put()?;
    }
    let text = match args.json {
        true => command::json_lines(&reached)?,
        false => {
            let numbers = Numbers::of(job.report.units);
            let file = next.as_ref().map(|(file, _)| file.as_path());
            let mut text = shown(&reached, file, numbers);
            for (file, _) in of_ledger {
                let _ = writeln!(text, "Wrote {}", file.display());
            }
            text
        }
    };
    Ok((text, Exit::of_findings(&reached.findings, false)))
}

/// What was counted, for the ledger: a row for each class with counts.
fn rows(plan: &Plan, product: usize, reached: &Reached, day: &str) -> Vec<Row> {
    let Some(product) = plan.job.products.get(product) else {
        return Vec::new();
    };
    let counted = reached.classes.iter().filter(|class| class.counts > 0);
    let row = |class: &establishment::Class| {
        let mut row = Row::new(What::Counted, day);
        row.put(Cell::Farm, &plan.job.field.farm);
        row.put(Cell::Customer, &plan.job.field.customer);
        row.put(Cell::Field, &plan.job.field.name);
        row.put(Cell::Plan, &plan.id);
        row.put(Cell::Product, &product.id);
        row.put(Cell::Name, &product.name);
        row.put(Cell::Crop, product.crop.as_deref().unwrap_or_default());
        row.put(Cell::Lot, product.lot.as_deref().unwrap_or_default());
        if let Some(layer) = &reached.layer {
            row.put(Cell::Part, &format!("{layer} {}", class.class));
        }
        let plants = class.plants_per_m2.map(|[mean, ..]| mean);
        row.put_number(Cell::PlantsPerM2, plants, 1);
        let percent = class.establishment_percent;
        row.put_number(Cell::EstablishmentPercent, percent, 1);
        row.put(Cell::By, &format!("{} counts", class.counts));
        row
    };
    counted.map(row).collect()
}

/// The seed that is meant, by its place in the job.
pub(super) fn product(job: &Job, id: Option<&str>) -> Outcome<usize> {
    let seeds: Vec<usize> = (0..job.products.len())
        .filter(|&n| job.products[n].kind == Kind::Seed)
        .collect();
    let found = match id {
        Some(id) => seeds.iter().find(|&&n| job.products[n].id == id),
        None => seeds.first().filter(|_| seeds.len() == 1),
    };
    found.copied().ok_or_else(|| {
        let ids = seeds.iter().map(|&n| job.products[n].id.as_str());
        let ids: Vec<&str> = ids.collect();
        Fault::input(
            "establishment.product",
            Place::file(&job.file),
            match id {
                Some(id) => format!("no seed has the id '{id}'"),
                None => format!("the job has {} kinds of seed", seeds.len()),
            },
            match ids.is_empty() {
                true => "a job that sows seed".to_owned(),
                false => format!("one of: {}", ids.join(", ")),
            },
            "name the seed that was counted with --product",
        )
    })
}

/// The layer that is meant, by its place in the job; `None` for the whole field.
pub(super) fn layer(job: &Job, product: usize, name: Option<&str>) -> Outcome<Option<usize>> {
    let of_layer = |name: &str| job.layers.iter().position(|layer| layer.name == name);
    if let Some(name) = name {
        let names: Vec<&str> = job.layers.iter().map(|layer| layer.name.as_str()).collect();
        return of_layer(name).map(Some).ok_or_else(|| {
            Fault::input(
                "establishment.layer",
                Place::file(&job.file),
                format!("no layer is called '{name}'"),
                format!("one of: {}", names.join(", ")),
                "correct --layer, or leave it out",
            )
        });
    }
    let rate = job.products.get(product).map(|product| &product.rate);
    let lookups = rate.map(|rate| {
        [
            &rate.establishment_percent,
            &rate.plants_per_m2,
            &rate.seeds_per_m2,
            &rate.kg_per_ha,
        ]
    });
    let tables = lookups.into_iter().flatten().flatten();
    let mut layers = tables.filter_map(|lookup| match lookup {
        Lookup::ByClass(table) => of_layer(&table.layer),
        Lookup::Combined(combined) => {
            let tables = combined.tables();
            tables.first().and_then(|(_, table)| of_layer(&table.layer))
        }
        Lookup::Same(_) => None,
    });
    Ok(layers.next())
}

/// The job with the establishment that was reached, and its file beside the old one.
fn next_job(
    job: &Job,
    path: &Path,
    product: usize,
    reached: &Reached,
) -> Outcome<(PathBuf, Vec<u8>)> {
    let lookup = reached.lookup().ok_or_else(|| {
        Fault::input(
            "establishment.not_whole",
            Place::file(path),
            "a class has neither a count nor an establishment in the job, so next season's job would not be whole",
            "a count in every class of the layer",
            "count there, or choose another --layer",
        )
    })?;
    let stem = path.file_stem().unwrap_or_default().to_string_lossy();
    let target = path.with_file_name(format!("{stem}-next.toml"));
    let mut next = job.clone();
    // What it says stands in the job by now.
    next.machine_file = None;
    if let Some(own) = next.products.get_mut(product) {
        own.rate.establishment_percent = Some(lookup);
    }
    let text = sealed(&format!(
        "# Written by 'twinsow establishment': {} with the establishment that plants were counted for.\n# Every setting stands here, also those that were left out there. Check seed, lots and dates before use.\n{}",
        path.file_name().unwrap_or_default().to_string_lossy(),
        next.print()?
    ));
    Job::parse(&text, &target)?;
    Ok((target, text.into_bytes()))
}

/// In the units of the job's pages.
fn shown(reached: &Reached, next: Option<&Path>, numbers: Numbers) -> String {
    let of = reached.layer.as_deref().unwrap_or("land");
    let per = numbers.spot_unit();
    let mut table = Table::new([
        Column::Left(of.to_owned()),
        Column::Right("counts".to_owned()),
        Column::Right(format!("plants/{per}")),
        Column::Right("from".to_owned()),
        Column::Right("to".to_owned()),
        Column::Right(format!("seeds/{per} sown")),
        Column::Right("establishment %".to_owned()),
        Column::Right("spread".to_owned()),
        Column::Right("planned %".to_owned()),
    ]);
    let number = |value: Option<f64>, decimals: usize| match value {
        Some(value) => format!("{value:.decimals$}"),
        None => "-".to_owned(),
    };
    let density = |value: Option<f64>| match value {
        Some(per_m2) => numbers.density_text(per_m2),
        None => "-".to_owned(),
    };
    for class in &reached.classes {
        let plants = class.plants_per_m2;
        table.row([
            match class.class.is_empty() {
                true => "whole field".to_owned(),
                false => class.class.clone(),
            },
            class.counts.to_string(),
            density(plants.map(|[mean, ..]| mean)),
            density(plants.map(|[_, lowest, _]| lowest)),
            density(plants.map(|[.., highest]| highest)),
            density(class.seeds_per_m2),
            number(class.establishment_percent, 1),
            number(class.spread_percent, 1),
            number(class.planned_percent, 1),
        ]);
    }
    let mut text = format!(
        "{} counts of '{}', held against the seeds that the job sows there\n{}The spread is the standard deviation of the single counts. One season is one season's weather: count for several years.\n",
        reached.counts,
        reached.product,
        table.text()
    );
    if reached.redrill.lines == 0 {
        text.push_str(
            "No published line is known here below which this crop is to be drilled again.\n",
        );
    }
    if !reached.findings.is_empty() {
        text.push_str(&findings::each(&reached.findings, numbers));
    }
    match next {
        Some(file) => {
            let _ = writeln!(text, "\nNext season's job: {}", file.display());
        }
        None => {
            let _ = writeln!(
                text,
                "\nFor next season's job, under [product.rate] of '{}' (--next writes the whole job):",
                reached.product
            );
            match reached.lookup() {
                Some(lookup) => {
                    let _ = writeln!(text, "  establishment_percent = {}", written(&lookup));
                }
                None => text.push_str("  not whole yet: a class has neither a count nor an establishment in the job\n"),
            }
        }
    }
    text
}

/// What was reached, in one line of TOML.
fn written(lookup: &Lookup) -> String {
    match lookup {
        Lookup::Same(percent) => percent.to_string(),
        // Counts give one number, or one by class.
        Lookup::Combined(_) => String::new(),
        Lookup::ByClass(table) => {
            let text = |text: &str| toml::Value::String(text.to_owned()).to_string();
            let classes = table.by_class.iter();
            let classes: Vec<String> = classes
                .map(|(class, percent)| format!("{} = {percent}", text(class)))
                .collect();
            format!(
                "{{ layer = {}, by_class = {{ {} }} }}",
                text(&table.layer),
                classes.join(", ")
            )
        }
    }
}
