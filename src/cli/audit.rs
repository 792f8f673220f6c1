//! `twinsow audit`: totals worked out anew from delivered files.

use super::exit::Exit;
use super::guard;
use super::screen::Screen;
use super::show::number::{Numbers, grouped};
use super::show::table::{Column, Table};
use crate::audit::{self, Audit, JobFacts, PlanFacts};
use crate::findings::{Fault, Outcome, Place};
use crate::job::Job;
use clap::Args as ClapArgs;
use std::fmt::Write as _;
use std::path::{Path, PathBuf};

/// Works out totals from delivered files alone
///
/// Reads task data (folder, zip file or TASKDATA.XML), shapefiles, GeoPackage, GeoJSON and GeoTIFF, or
/// every such file in a folder: area, range of rates, kilograms and zero rates of each product. With
/// --plan also what differs from the plan, and why; with --job rates beyond its limits, product in a setback, and land left out. A plan inside the folder of a plan, as a spreader's is, is held against its own plan.json.
/// A difference without a cause, or a broken file, is exit code 1.
#[derive(Debug, ClapArgs)]
#[command(after_help = "Examples:
  twinsow audit field-plan --plan field-plan/plan.json
  twinsow audit stick/TASKDATA
  twinsow audit rates.gpkg rates.tif --json")]
pub(super) struct Args {
    /// Files or folders
    #[arg(required = true, value_name = "PATH")]
    paths: Vec<PathBuf>,
    /// The plan to hold them against
    #[arg(long, value_name = "plan.json")]
    plan: Option<PathBuf>,
    /// A job to hold them against: its limits of rates, its setbacks, its land
    #[arg(long, value_name = "JOB.toml")]
    job: Option<PathBuf>,
    /// Prints one JSON object and nothing else
    #[arg(long)]
    json: bool,
}

pub(super) fn run(args: &Args, screen: &mut Screen) -> Exit {
    let made = guard::guarded(|| {
        let plan = args.plan.as_deref().map(PlanFacts::read).transpose()?;
        let job = args
            .job
            .as_deref()
            .map(|path| JobFacts::of(Job::load(path)?));
        let job = job.transpose()?;
        audit::audit_with_inside(&args.paths, plan.as_ref(), job.as_ref(), Path::new(""))
    });
    match made {
        Ok(audit) => {
            if args.json {
                match text(&audit) {
                    Ok(text) => screen.print(&text),
                    Err(fault) => {
                        screen.fault(&fault);
                        return Exit::of_fault(&fault);
                    }
                }
            } else {
                screen.print(&shown(&audit, args.job.is_some()));
            }
            if audit.agrees() {
                Exit::Done
            } else {
                Exit::Decide
            }
        }
        Err(fault) => {
            screen.fault(&fault);
            Exit::of_fault(&fault)
        }
    }
}

/// Audits what was just written in a folder, and gives the content of `audit.json`.
///
/// # Errors
/// A file that cannot be read back or does not say what the plan says: the program's own fault.
pub(super) fn own(folder: &Path) -> Outcome<String> {
    let audit = read_back(folder).map_err(|fault| {
        Fault::machine(
            "audit.own_output",
            fault.place.clone(),
            format!("A file that was just written cannot be read back: {}", fault.found),
            "a disk that gives back what was written to it",
            "Check the disk and plan the job again; nothing was replaced. If it happens again, report it with the job file.",
        )
    })?;
    if let Some(first) = audit.complaints().first() {
        return Err(Fault::program(
            "audit.own_output",
            Place::nowhere(),
            format!("A file that was just written does not say what the plan says: {first}"),
            "files that agree with the plan",
        ));
    }
    text(&audit)
}

fn read_back(folder: &Path) -> Outcome<Audit> {
    let facts = PlanFacts::read(&folder.join("plan.json"))?;
    audit::audit(&[folder.to_path_buf()], Some(&facts), None, folder)
}

fn text(audit: &Audit) -> Outcome<String> {
    let mut text = serde_json::to_string_pretty(audit).map_err(|error| {
        Fault::program(
            "audit.json",
            Place::nowhere(),
            format!("audit.json cannot be made: {error}"),
            "numbers and texts",
        )
    })?;
    text.push('\n');
    Ok(text)
}

fn shown(audit: &Audit, with_job: bool) -> String {
    let numbers = Numbers::of(audit.units);
    let mut text = String::new();
    for file in &audit.files {
        let plan = file
            .plan
            .as_ref()
            .map_or(String::new(), |id| format!(", plan {id}"));
        let _ = writeln!(text, "{}: {}{plan}", file.file, file.format);
        let what = if file.grid.is_some() {
            "cells"
        } else {
            "polygons"
        };
        let _ = writeln!(
            text,
            "  {} {} in {} {what}",
            numbers.area_text(file.area_m2),
            numbers.area_unit(),
            grouped(file.pieces as f64, 0)
        );
        let (lowest, zero) = match numbers.is_us() {
            false => ("lowest kg/ha", "zero ha"),
            true => ("lowest lb/ac", "zero ac"),
        };
        let mut table = Table::new([
            Column::Left("product"),
            Column::Right(numbers.mass_unit()),
            Column::Right(lowest),
            Column::Right("highest"),
            Column::Right("zero in"),
            Column::Right(zero),
        ]);
        for product in &file.products {
            table.row([
                product.name.clone(),
                numbers.weighed_text(product.kg, 1),
                numbers.at_the_gate_text(product.lowest_kg_per_ha),
                numbers.at_the_gate_text(product.highest_kg_per_ha),
                grouped(product.zero_pieces as f64, 0),
                numbers.area_text(product.zero_m2),
            ]);
        }
        if !file.products.is_empty() {
            text.push_str(&table.text());
        }
        for fault in &file.faults {
            let _ = writeln!(text, "  WRONG: {fault}");
        }
        let own = |explained: bool| {
            let all = audit.differences.iter();
            all.filter(move |d| {
                (&d.file, &d.part) == (&file.file, &file.format) && d.explained == explained
            })
        };
        for difference in own(false) {
            let _ = writeln!(text, "  WRONG: {}", difference.text);
        }
        for line in own(true).map(|d| &d.text).chain(&file.notes) {
            let _ = writeln!(text, "  {line}");
        }
        text.push('\n');
    }
    for own in &audit.inside {
        let _ = writeln!(
            text,
            "{} holds a plan of its own, {}: its files were held against that.",
            own.folder, own.plan
        );
    }
    let wrong = audit.complaints().len();
    let _ = match (&audit.plan, wrong) {
        (Some(id), 0) if audit.inside.is_empty() => {
            writeln!(text, "All files say what plan {id} says.")
        }
        (Some(id), 0) => writeln!(
            text,
            "All other files say what plan {id} says, and those inside what their own plans say."
        ),
        (None, 0) if with_job => writeln!(
            text,
            "No file is broken, and none breaks what the job says of its land. Whether they are the files of a plan needs --plan."
        ),
        (None, 0) => writeln!(
            text,
            "No file is broken. Without --plan that is all that can be said."
        ),
        (_, 1) => writeln!(text, "1 thing is wrong; do not sow by these files."),
        (_, wrong) => writeln!(text, "{wrong} things are wrong; do not sow by these files."),
    };
    text
}
