//! `twinsow compare`: a terminal's log against the plan.

mod args;
mod rest;
mod told;

pub(super) use args::{Args, element_pairs};

use super::clock;
use super::exit::Exit;
use super::frame;
use super::ledger;
use super::screen::Screen;
use super::sealed::{SEALED, sealed};
use super::targets::{self, Known};
use crate::compare::{self, Compared, Differences, FieldRecord, PlanMap};
use crate::findings::{Fault, Outcome, Place};
use crate::ledger::What;
use crate::read::taskdata;
use crate::write;
use rest::{goes_on, rest_of};
use std::path::{Path, PathBuf};
use told::shown;

/// What earlier results are known by.
const MAP: Known<'_> = Known::Seen(&is_map);
const PAGE: Known<'_> = Known::Page("told-title");
/// Page, table and JSON of the record.
const RECORD: [Known<'_>; 3] = [
    Known::Page("what-title"),
    Known::Text(
        "plan,tasks,customer,farm,field,longitude,latitude,from,to,hours,drilled_ha,product,",
        ",signed_by,signed_on",
    ),
    Known::Text("{\n  \"format\": \"twinsow-field-record\",", ""),
];
const DRILLED: Known<'_> = Known::Text(
    "{\"type\":\"FeatureCollection\",\"plan\":",
    "\"properties\":{\"name\":\"drilled already\"},",
);

/// Whether a file is an earlier difference map, of the form that its name says.
fn is_map(file: &Path) -> bool {
    let ending = file.extension().unwrap_or_default();
    match ending.eq_ignore_ascii_case("gpkg") {
        true => write::is_difference_map(file),
        false => Known::Text(
            "{\"type\":\"FeatureCollection\",\"plan\":",
            "\"drilled_percent\":",
        )
        .is_own(file),
    }
}

pub(super) fn run(args: &Args, screen: &mut Screen) -> Exit {
    frame::run(screen, || {
        let (figures, written) = compared(args)?;
        let exit = match figures.asks() {
            true => Exit::Decide,
            false => Exit::Done,
        };
        let text = match args.json {
            true => frame::json_lines(&figures)?,
            false => shown(&figures, &written),
        };
        Ok((text, exit))
    })
}

/// The figures, and the files that were written.
fn compared(args: &Args) -> Outcome<(Compared, Vec<PathBuf>)> {
    let settings = args.settings()?;
    if let Some(file) = &args.map {
        check_map(file)?;
    }
    let names = args.record.as_deref();
    let names = names.map(|name| targets::named(name, [".html", ".csv", ".json"]));
    let names = names.transpose()?;
    let plan = PlanMap::read(&args.plan)?;
    let rest = args.rest.as_deref().map(|job| rest_of(job, &plan));
    let rest = rest.transpose()?;
    let mut all: Vec<(PathBuf, Known<'_>)> = Vec::new();
    all.extend(args.map.iter().map(|file| (file.clone(), MAP)));
    all.extend(args.page.iter().map(|file| (file.clone(), PAGE)));
    all.extend(
        names
            .iter()
            .flat_map(|own| own.clone().into_iter().zip(RECORD)),
    );
    all.extend(
        rest.iter()
            .flat_map(|own| [(own.drilled.clone(), DRILLED), (own.job.clone(), SEALED)]),
    );
    let check = |all: &[(PathBuf, Known<'_>)]| {
        targets::check(all.iter().map(|(file, known)| (file.as_path(), *known)))
    };
    check(&all)?;
    let set = taskdata::read_parts(
        &args.task_data,
        taskdata::Parts {
            grids: false,
            logs: true,
        },
    )?;
    let comparison = compare::compare(&plan, &set, &settings)?;
    if rest.is_some() && comparison.also_by_other {
        return Err(Fault::input(
            "compare.rest_of_two",
            Place::file(&args.task_data),
            "The field was sown by two plans, for a moist and for a dry seedbed, so the land that is left is not known from one of them",
            "--rest for a field that was sown by one plan",
            "Draw what is drilled as an exclusion of the job; nothing was written.",
        ));
    }
    let record = match names {
        Some(names) => record(names, args, &plan, &comparison)?,
        None => Vec::new(),
    };
    let in_ledger = args.ledger.as_ref().map(|folder| ledger::Entry {
        folder: folder.clone(),
        date: comparison.figures.first_day.clone(),
        sowing_date: plan.sowing_date.clone(),
        rows: compare::ledger_rows(&plan, &comparison.figures),
        pieces: comparison.pieces,
    });
    // With the ledger, whose year only the log says. From here on nothing but the disk can fail.
    if let Some(entry) = &in_ledger {
        entry.check_day(What::Placed, &args.task_data)?;
        let files = entry.files()?.into_iter();
        all.extend(files.map(|(file, _)| (file, Known::Read)));
    }
    check(&all)?;
    let all: Vec<PathBuf> = all.into_iter().map(|(file, _)| file).collect();
    targets::make_folders(all.iter().map(PathBuf::as_path))?;
    if let Some(file) = &args.map {
        put_map(file, &comparison.differences)?;
    }
    if let (Some(file), Some(page)) = (&args.page, comparison.page) {
        targets::put(&[(file.clone(), page)])?;
    }
    targets::put(&record)?;
    if let Some(rest) = rest {
        let job = sealed(&(rest.text + &goes_on(&comparison.figures, comparison.back_m)));
        // The job last: it names the other.
        targets::put(&[
            (rest.drilled, comparison.drilled.into_bytes()),
            (rest.job, job.into_bytes()),
        ])?;
    }
    // The ledger last: what it says stands in the others.
    if let Some(entry) = in_ledger {
        entry.put()?;
    }
    Ok((comparison.figures, all))
}

/// The field record as a page, a table and JSON.
fn record(
    [page, table, json]: [PathBuf; 3],
    args: &Args,
    plan: &PlanMap,
    comparison: &compare::Comparison,
) -> Outcome<Vec<(PathBuf, Vec<u8>)>> {
    let noted = args.noted(clock::timestamp().chars().take(10).collect())?;
    let record = FieldRecord::of(&args.plan, plan, comparison, &noted)?;
    let text = frame::json_lines(&record)?;
    Ok(vec![
        (page, record.page(plan.language)?),
        (table, record.csv()?),
        (json, text.into_bytes()),
    ])
}

/// The form of the map goes by its name.
fn check_map(file: &Path) -> Outcome<()> {
    let ending = file.extension().unwrap_or_default();
    let known = ["gpkg", "geojson", "json"];
    match known.iter().any(|own| ending.eq_ignore_ascii_case(own)) {
        true => Ok(()),
        false => Err(Fault::input(
            "compare.option",
            Place::file(file),
            "The difference map is in no form of this name",
            "--map with a name that ends in .gpkg, .geojson or .json",
            "Correct the command; nothing was written.",
        )),
    }
}

fn put_map(file: &Path, map: &Differences) -> Outcome<()> {
    let ending = file.extension().unwrap_or_default();
    if !ending.eq_ignore_ascii_case("gpkg") {
        return targets::put(&[(file.to_path_buf(), map.geojson().into_bytes())]);
    }
    let squares = map.squares.iter();
    let rows = squares.map(|square| (&square.polygon, square.values.as_slice()));
    let now = clock::timestamp();
    write::difference_map(&map.plan, &map.columns, rows, file, &now)
}
