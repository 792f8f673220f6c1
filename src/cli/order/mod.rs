//! `twinsow order`: one order list over many fields.

mod cover;
mod needs;
mod seeds;
mod table;

use super::exit::Exit;
use super::frame;
use super::screen::Screen;
use super::show;
use super::targets::{self, Known};
use crate::findings::{Fault, Outcome, Place};
use crate::job::Language;
use crate::report;
use crate::tally::farm_order::{self, Line, Wanted};
use clap::Args as ClapArgs;
use serde::Serialize;
use std::collections::BTreeMap;
use std::path::{Path, PathBuf};

/// Makes one order list over many fields
///
/// Takes job files, which are planned but not written, and plans (the folder or its plan.json). A job
/// with split_by stands for all its fields.
/// Products, lots, dressings and packs are never pooled; packs are rounded up once for the whole list.
/// Seed whose label is pending is ordered by seeds, without a grain weight.
#[derive(Debug, ClapArgs)]
#[command(after_help = "Examples:
  twinsow order fields/*/job.toml
  twinsow order plans/long-furrow-plan plans/mill-field-plan/plan.json
  twinsow order fields/*/job.toml --csv order.csv
  twinsow order plans/*-plan --page plans/index.html")]
pub(super) struct Args {
    /// Job files, plan folders, or plan.json files
    #[arg(required = true, value_name = "JOB-OR-PLAN")]
    plans: Vec<PathBuf>,
    /// Also writes the list as CSV
    #[arg(long, value_name = "FILE.csv")]
    csv: Option<PathBuf>,
    /// Also writes a page with the list, and a link to the report of each plan folder
    #[arg(long, value_name = "FILE.html")]
    page: Option<PathBuf>,
    /// Prints one JSON object and nothing else
    #[arg(long)]
    json: bool,
}

/// What is printed as JSON.
#[derive(Serialize)]
struct Output<'a> {
    plans: &'a [needs::Source],
    order: &'a [Line],
}

pub(super) fn run(args: &Args, screen: &mut Screen) -> Exit {
    frame::run(screen, || made(args))
}

/// The list over these jobs as values: `plans` and `order` as `--json` prints them.
///
/// # Errors
/// As the command.
pub(super) fn values(files: &[PathBuf]) -> Outcome<serde_json::Value> {
    let mut sources: Vec<needs::Source> = Vec::new();
    let mut wanted = Vec::new();
    for file in files {
        for (source, of_field) in needs::of(file)? {
            sources.push(source);
            wanted.extend(of_field);
        }
    }
    let order = farm_order::list(&wanted)?;
    Ok(serde_json::json!({ "plans": sources, "order": order }))
}

/// The language of a page over many jobs: the one that all of them have, English where they differ.
fn language_of(sources: &[needs::Source]) -> Language {
    let mut all = sources.iter().map(|source| source.language);
    let first = all.next().unwrap_or_default();
    match all.all(|own| own == first) {
        true => first,
        false => Language::default(),
    }
}

/// What to print. A field that fails stops the list: an order that lacks a field is worse than none.
fn made(args: &Args) -> Outcome<(String, Exit)> {
    check(args)?;
    let mut sources: Vec<needs::Source> = Vec::new();
    let mut of_fields: Vec<(&Path, Vec<Wanted>)> = Vec::new();
    let mut decide = false;
    let mut plans: BTreeMap<String, String> = BTreeMap::new();
    for path in &args.plans {
        for (source, of_field) in needs::of(path)? {
            if let Some(known) = plans.insert(source.plan.clone(), source.file.clone()) {
                return Err(same_plan(path, &source, &known));
            }
            decide |= source.to_decide > 0;
            // Two plans of one field, of which one is sown: the order of the first covers both.
            let other = source.other_plan.as_ref();
            let same = |known: &&mut needs::Source| Some(&known.plan) == other;
            if let Some(first) = sources.iter_mut().find(same) {
                first.to_decide = first.to_decide.max(source.to_decide);
                continue;
            }
            sources.push(source);
            of_fields.push((path.as_path(), of_field));
        }
    }
    let wanted: Vec<Wanted> = of_fields.iter().flat_map(|(_, own)| own.clone()).collect();
    let lines = farm_order::list(&wanted)?;
    // The links of the page are seen from its folder.
    let places = args.csv.iter().chain(&args.page);
    targets::make_folders(places.map(PathBuf::as_path))?;
    let mut files = Vec::new();
    if let Some(file) = &args.csv {
        files.push((file.clone(), table::csv(&lines)?));
    }
    if let Some(file) = &args.page {
        let fields = of_fields.iter().zip(&sources);
        let fields = fields.map(|((path, own), source)| cover::field(path, source, own, file));
        let fields: Vec<_> = fields.collect();
        let page = report::cover(&fields, &lines, language_of(&sources))?;
        files.push((file.clone(), page));
    }
    targets::put(&files)?;
    let exit = if decide { Exit::Decide } else { Exit::Done };
    let text = if args.json {
        frame::json(&Output {
            plans: &sources,
            order: &lines,
        })?
    } else {
        show::order::text(&sources, &lines)
    };
    Ok((text, exit))
}

fn same_plan(path: &Path, source: &needs::Source, known: &str) -> Box<Fault> {
    Fault::input(
        "order.same_plan",
        Place::file(path),
        format!("this is plan {}, which {known} is as well", source.plan),
        "each field once",
        "name it once",
    )
}

/// Looks at where the list goes, before anything is planned.
fn check(args: &Args) -> Outcome<()> {
    let table = Known::Text(table::BEGINS, "");
    targets::check_ending(args.csv.as_deref(), "csv", "order.csv")?;
    targets::check_ending(args.page.as_deref(), "html", "index.html")?;
    let csv = args.csv.iter().map(|file| (file.as_path(), table));
    let page = args.page.iter();
    let page = page.map(|file| (file.as_path(), Known::Page("fields-title")));
    targets::check(csv.chain(page))
}

pub(super) use needs::Source;
