//! Text for people: what a command found, in tables and short sentences.

pub(super) mod findings;
mod lot_steps;
pub(super) mod number;
pub(super) mod calibrate;
pub(super) mod in_short;
mod as_driven;
mod drill;
mod drive;
pub(super) mod order;
mod seed_row;
pub(super) mod cautions;
pub(super) mod chain;
mod rates;
mod refills;
mod response;
pub(super) mod sketch;
pub(super) mod table;
mod tally;
mod terminal;
mod tramline;
mod trial;
#[cfg(test)]
mod tests;
pub(super) mod words;

use super::Exit;
use crate::agronomy::caution::Caution;
use crate::findings::{Finding, Severity};
use crate::plan::Plan;
use crate::texts::Words;
use crate::write::{self, OpenLine, Written};
use number::{Numbers, numbers};
use std::fmt::Write as _;
use std::path::{Path, PathBuf};
use table::{Column, Table};

/// A plan on the screen, in short or with all tables: what is open first.
pub(super) fn plan(
    plan: &Plan,
    job: &Path,
    out: &Path,
    written: &[Written],
    details: bool,
) -> String {
    let told = match details {
        true => all_tables(plan, job, out, written),
        false => in_short::plan(plan, job, out, written),
    };
    decisions(plan) + &told
}

/// What is open, and what somebody has signed for; empty without either.
fn decisions(plan: &Plan) -> String {
    let open = write::open_lines(plan).into_iter().map(|line| match line {
        OpenLine::Words(line) => cautions::fitted("", &line),
        OpenLine::Entry(line) => format!("{line}\n"),
    });
    let signed = write::signed_lines(plan).into_iter();
    let signed = signed.map(|line| cautions::fitted("", &line));
    let parts = [open.collect::<String>(), signed.collect::<String>()];
    let told = parts.iter().filter(|part| !part.is_empty());
    told.map(|part| format!("{part}\n")).collect()
}

/// Field, farm, land and plan; then the job.
fn heading(plan: &Plan, job: &Path, numbers: Numbers) -> String {
    let field = &plan.job.field;
    let of = if field.farm.is_empty() {
        String::new()
    } else {
        format!(", {}", field.farm)
    };
    let mapped = numbers.area_text(plan.tally.planned.mapped_m2);
    let area_unit = numbers.area_unit();
    format!(
        "{}{of}: {mapped} {area_unit}, plan {}\n{} ({})\n\n",
        field.name,
        plan.id,
        plan.job.name,
        job.display()
    )
}

/// Everything about a plan that belongs on a screen.
fn all_tables(plan: &Plan, job: &Path, out: &Path, written: &[Written]) -> String {
    let numbers = numbers(plan);
    let mut text = heading(plan, job, numbers);
    text.push_str(&rates::table(plan));
    text.push_str(&seed_row::table(&plan.rates, numbers));
    text.push_str(&tally::land(&plan.tally.planned, numbers));
    text.push_str(&tally::products(plan));
    text.push_str(&drill::text(plan));
    text.push_str(&drive::text(plan));
    text.push_str(&as_driven::text(plan));
    text.push_str(&trial::text(plan));
    text.push_str(&refills::text(&plan.drive, numbers));
    text.push_str(&response::text(plan));
    text.push_str(&tramline::text(plan));
    text.push_str(&tally::later(&plan.tally, numbers));
    text.push_str(&tally::balances(&plan.tally.planned, numbers));
    text.push_str(&tally::fallbacks(plan));
    text.push_str(&terminal::text(plan));
    text.push_str(&findings::grouped(&plan.findings, numbers));
    text.push_str(&files(out, written));
    text.push_str(&cautions::text(&plan.job));
    text
}

/// One field of many: its totals in a line, and what of its findings asks for a look.
pub(super) fn field(plan: &Plan, out: &Path) -> String {
    let numbers = numbers(plan);
    let mapped = numbers.area_of(plan.tally.planned.mapped_m2);
    let mut text = format!("{}: {mapped}, plan {}", plan.job.field.name, plan.id);
    for product in &plan.tally.planned.products {
        let _ = write!(text, ", {} {}", product.name, numbers.kg(product.map_kg()));
    }
    let _ = writeln!(text, ", in {}", out.display());
    match plan.open().len() {
        0 => {}
        count => {
            let _ = writeln!(
                text,
                "  NOT READY FOR THE TERMINAL: {count} open, see terminal/NOT-READY.txt there"
            );
        }
    }
    let grave: Vec<Finding> = plan
        .findings
        .iter()
        .filter(|finding| finding.severity > Severity::Note)
        .cloned()
        .collect();
    if !grave.is_empty() {
        text.push_str(findings::grouped(&grave, numbers).trim_start());
    }
    text
}

/// The files with what each is for, and the one to open first.
fn files(out: &Path, written: &[Written]) -> String {
    let mut text = format!("\nFiles in {}\n", out.display());
    let mut table = Table::new([
        Column::Left("file"),
        Column::Right("kB"),
        Column::Left("what for"),
    ]);
    for file in written {
        let kilobytes = number::grouped((file.bytes as f64 / 1000.0).max(0.1), 1);
        table.row([words::slashed(&file.path), kilobytes, file.what.clone()]);
    }
    text.push_str(&table.text());
    if let Some(first) = first_to_open(written) {
        let _ = writeln!(text, "\nOpen first: {}", out.join(first).display());
    }
    text
}

/// How many files, the one to open first, and what goes to the terminal.
fn files_in_short(out: &Path, written: &[Written]) -> String {
    let mut text = format!("\nFiles: {} in {}\n", written.len(), out.display());
    if let Some(first) = first_to_open(written) {
        let _ = writeln!(text, "Open first: {}", out.join(first).display());
    }
    let task_data = Path::new("terminal/TASKDATA/TASKDATA.XML");
    if let Some(folder) = written
        .iter()
        .find(|file| file.path == task_data)
        .and_then(|_| task_data.parent())
    {
        let _ = writeln!(text, "For the terminal: {}", out.join(folder).display());
    }
    for file in written
        .iter()
        .filter(|file| file.path.ends_with(task_data) && file.path != task_data)
    {
        if let Some(folder) = file.path.parent() {
            let folder = out.join(folder);
            let _ = writeln!(
                text,
                "For the spreader, on a stick of its own: {}",
                folder.display()
            );
        }
    }
    text
}

/// The report if there is one, else the rate maps for a GIS, else the first file.
fn first_to_open(written: &[Written]) -> Option<PathBuf> {
    let wanted = ["report.html", "gis/rates.gpkg", "gis/rates.geojson"];
    let found = wanted.iter().find_map(|name| {
        written
            .iter()
            .find(|file| words::slashed(&file.path) == *name)
    });
    found.or(written.first()).map(|file| file.path.clone())
}

/// How several jobs ended.
pub(super) fn ends(ends: &[(String, Exit)]) -> String {
    let mut table = Table::new([Column::Left("job"), Column::Right("exit"), Column::Left("")]);
    for (job, exit) in ends {
        table.row([
            job.clone(),
            u8::from(*exit).to_string(),
            exit.words().to_owned(),
        ]);
    }
    let good = ends
        .iter()
        .filter(|(_, exit)| *exit <= Exit::Decide)
        .count();
    format!(
        "\n{good} of {} jobs planned\n{}\n{}",
        ends.len(),
        table.text(),
        cautions::wrapped("", Words::default().text(&Caution::Defer))
    )
}
