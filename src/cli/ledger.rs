//! `twinsow ledger`: what came to each field and what went; and the way of other commands to the files of a ledger.

use super::exit::Exit;
use super::frame;
use super::screen::Screen;
use super::show::table::{Column, Table};
use super::targets::{self, Known};
use crate::findings::{Fault, Finding, Outcome, Place};
use crate::job::day_number;
use crate::ledger::{self, Event, FieldSums, Period, Piece, Row, What};
use crate::write;
use clap::Args as ClapArgs;
use serde::Serialize;
use std::fs;
use std::path::{Path, PathBuf};

/// Says what came to each field and what went
///
/// Reads the ledger of a farm: what was sown, placed, counted and harvested, and what was entered by hand (manure, removed straw, soil
/// tests). Sums N, P2O5, K2O and S between two soil tests, in kg/ha, which its files are in: + came to the field, - left it; the balance is a
/// surplus or a lack. It informs; no plan takes it off from year to year.
#[derive(Debug, ClapArgs)]
#[command(after_help = "Examples:
  twinsow ledger farm/ledger
  twinsow ledger farm/ledger --field 'Long Shoal'
  twinsow ledger farm/ledger --json")]
pub(super) struct Args {
    /// Folder of the ledger, with YEAR.csv
    #[arg(value_name = "DIR")]
    folder: PathBuf,
    /// Only the field of this name
    #[arg(long, value_name = "NAME")]
    field: Option<String>,
    /// Prints one JSON object and nothing else
    #[arg(long)]
    json: bool,
}

/// What is printed as JSON.
#[derive(Serialize)]
struct Output {
    fields: Vec<FieldSums>,
    notes: Vec<String>,
}

pub(super) fn run(args: &Args, screen: &mut Screen) -> Exit {
    frame::run(screen, || told(args))
}

fn told(args: &Args) -> Outcome<String> {
    let mut files = Vec::new();
    for file in years(&args.folder)? {
        let bytes = old(&file)?.unwrap_or_default();
        let rows = ledger::rows(&bytes, &file)?;
        files.push((file, rows));
    }
    let mut fields = ledger::sums(&files)?;
    if let Some(name) = &args.field {
        let names: Vec<String> = fields.iter().map(|own| own.field.clone()).collect();
        fields.retain(|own| own.field == *name);
        if fields.is_empty() {
            return Err(Fault::input(
                "ledger.field",
                Place::file(&args.folder),
                format!("the ledger has no field '{name}'"),
                format!("one of: {}", names.join(", ")),
                "correct --field, or leave it out",
            ));
        }
    }
    let notes = of_other_years(&files);
    Ok(match args.json {
        true => frame::json_lines(&Output { fields, notes })?,
        false => {
            let notes = notes.iter().map(|note| format!("note: {note}\n"));
            fields.iter().map(shown).chain(notes).collect()
        }
    })
}

/// Rows whose date is of another year than their file: a slip of the pen puts what happened between other soil tests.
fn of_other_years(files: &[(PathBuf, Vec<(usize, Row)>)]) -> Vec<String> {
    let mut notes = Vec::new();
    for (file, rows) in files {
        let year = file.file_stem().unwrap_or_default().to_string_lossy();
        for (line, row) in rows {
            let date = row.text(ledger::Column::Date).trim();
            if !date.starts_with(&*year) {
                notes.push(format!(
                    "{}, line {line} has the date {date}, of another year than its file: look whether it is right.",
                    file.display()
                ));
            }
        }
    }
    notes
}

/// The files of the years in a folder, in their order.
fn years(folder: &Path) -> Outcome<Vec<PathBuf>> {
    let bad = |found: String| {
        Fault::input(
            "ledger.folder",
            Place::file(folder),
            found,
            "a folder with a CSV for each year, such as 2027.csv, as 'twinsow compare --ledger' writes it",
            "name the folder of the ledger",
        )
    };
    let entries =
        fs::read_dir(folder).map_err(|error| bad(format!("it cannot be read: {error}")))?;
    let mut files = Vec::new();
    for entry in entries {
        let path = entry
            .map_err(|error| bad(format!("it cannot be read: {error}")))?
            .path();
        let stem = path.file_stem().unwrap_or_default().to_string_lossy();
        let is_csv = path
            .extension()
            .is_some_and(|own| own.eq_ignore_ascii_case("csv"));
        if is_csv && is_year(&stem) {
            files.push(path);
        }
    }
    files.sort();
    match files.is_empty() {
        true => Err(bad("it has no CSV of a year".to_owned())),
        false => Ok(files),
    }
}

fn is_year(text: &str) -> bool {
    text.len() == 4 && text.bytes().all(|own| own.is_ascii_digit())
}

fn shown(field: &FieldSums) -> String {
    let names = [&field.field, &field.farm, &field.customer];
    let named = names.into_iter().filter(|own| !own.is_empty());
    let named: Vec<&str> = named.map(String::as_str).collect();
    let mut text = format!("{}\n", named.join(", "));
    let mut table = Table::new([
        Column::Left("day"),
        Column::Left("what"),
        Column::Left("of"),
        Column::Right("N kg/ha"),
        Column::Right("P2O5"),
        Column::Right("K2O"),
        Column::Right("S"),
        Column::Right("yield t/ha"),
        Column::Left("note"),
    ]);
    for event in &field.events {
        let Event {
            date,
            what,
            of,
            kg_per_ha,
            yield_t_per_ha,
            note,
        } = event;
        let amounts = kg_per_ha.map(|own| match own {
            Some(kg) => signed(kg),
            None if event.moves_nutrients() => "?".to_owned(),
            None => String::new(),
        });
        let mut cells = vec![date.clone(), (*what).to_owned(), of.clone()];
        cells.extend(amounts);
        cells.push(yield_t_per_ha.map_or(String::new(), |own| format!("{own:.2}")));
        cells.push(note.clone());
        table.row(cells);
    }
    text.push_str(&table.text());
    text.push_str("+ came to the field, - left it, ? nobody knows\n");
    for period in &field.periods {
        text.push_str(&sum(period));
    }
    text.push('\n');
    text
}

/// What came and went in a period; nothing for one in which nothing happened.
fn sum(period: &Period) -> String {
    let is_still = period
        .came
        .iter()
        .chain(&period.went)
        .all(|own| *own == 0.0);
    if is_still && period.not_known.iter().all(|own| *own == 0) {
        return String::new();
    }
    let when = match (&period.from, &period.to) {
        (None, None) => "No soil test is in the ledger. In all".to_owned(),
        (None, Some(to)) => format!("Before the soil test of {to}"),
        (Some(from), None) => format!("Since the soil test of {from}"),
        (Some(from), Some(to)) => format!("Between the soil tests of {from} and {to}"),
    };
    let mut table = Table::new([
        Column::Left("kg/ha"),
        Column::Right("came"),
        Column::Right("went"),
        Column::Right("balance"),
        Column::Left(""),
    ]);
    for (nth, name) in ["N", "P2O5", "K2O", "S"].into_iter().enumerate() {
        let balance = period.balance[nth];
        let word = match (balance, period.not_known[nth]) {
            (Some(kg), _) if shown_as_none(kg) => "even".to_owned(),
            (Some(kg), _) if kg > 0.0 => "surplus: more came than went".to_owned(),
            (Some(_), _) => "lack: more went than came".to_owned(),
            (None, 1) => "not known: of 1 entry nobody knows it, and it is in no sum".to_owned(),
            (None, more) => {
                format!("not known: of {more} entries nobody knows it, and they are in no sum")
            }
        };
        table.row([
            name.to_owned(),
            signed(period.came[nth]),
            signed(period.went[nth]),
            balance.map_or("?".to_owned(), signed),
            word,
        ]);
    }
    format!("\n{when}:\n{}", table.text())
}

/// Whether an amount is 0 as it is shown.
fn shown_as_none(kg: f64) -> bool {
    kg.abs() < 0.05
}

/// An amount with its sign: + came, - left.
fn signed(kg: f64) -> String {
    match shown_as_none(kg) {
        true => "0.0".to_owned(),
        false => format!("{kg:+.1}"),
    }
}

/// What a command has to tell the ledger of a year.
pub(super) struct Entry {
    pub folder: PathBuf,
    /// Its day, whose year names the files.
    pub date: String,
    /// When the job was to be sown, where it says so.
    pub sowing_date: Option<String>,
    pub rows: Vec<Row>,
    pub pieces: Vec<Piece>,
}

impl Entry {
    /// Holds its day against the sowing date of the job. `source`: the file that the day, or the sowing date, is of.
    ///
    /// # Errors
    /// As [`ledger::of_entry`].
    pub fn check_day(&self, what: What, source: &Path) -> Outcome<Option<Finding>> {
        let sown = self.sowing_date.as_deref();
        ledger::of_entry(what, sown, &self.date, &Place::file(source))
    }

    /// The files of that ledger with rows and land in them: the ledger that is there is read, and nothing is changed.
    ///
    /// # Errors
    /// A ledger that is not in its form or cannot be read; a place where no file can be.
    pub fn files(&self) -> Outcome<Vec<(PathBuf, Vec<u8>)>> {
        let year = self.date.get(..4).unwrap_or("0000");
        let table = self.folder.join(format!("{year}.csv"));
        let land = self.folder.join(format!("{year}.geojson"));
        targets::check([&table, &land].map(|file| (file.as_path(), Known::Read)))?;
        let rows = ledger::merged(old(&table)?.as_deref(), self.rows.clone(), &table)?;
        let mut files = vec![(table, rows)];
        if !self.pieces.is_empty() {
            let pieces = ledger::land(old(&land)?.as_deref(), &self.pieces, &land)?;
            files.push((land, pieces));
        }
        Ok(files)
    }

    /// Writes them, both on the disk before one changes, one run at a time: what another run has brought meanwhile stays.
    ///
    /// # Errors
    /// As [`Self::files`]; another run at the same moment; the disk.
    pub fn put(&self) -> Outcome<()> {
        write::folder::locked(&self.folder, || targets::put(&self.files()?))
    }
}

/// A day that an option names.
pub(super) fn day(text: &str, option: &str) -> Outcome<String> {
    match day_number(text) {
        Some(_) => Ok(text.to_owned()),
        None => Err(Fault::input(
            "ledger.day",
            Place::nowhere(),
            format!("{option} is given as '{text}'"),
            "a day, YYYY-MM-DD, such as 2027-08-12",
            "Correct the command.",
        )),
    }
}

/// What is there already.
fn old(file: &Path) -> Outcome<Option<Vec<u8>>> {
    match fs::read(file) {
        Ok(bytes) => Ok(Some(bytes)),
        Err(_) if file.is_dir() => Err(Fault::input(
            "ledger.folder",
            Place::file(file),
            "This is a folder",
            "the CSV of a year, as 'twinsow compare --ledger' writes it",
            "Move the folder away, or name another ledger.",
        )),
        Err(error) if error.kind() == std::io::ErrorKind::NotFound => Ok(None),
        Err(error) => Err(Fault::machine(
            "ledger.unreadable",
            Place::file(file),
            format!("The ledger cannot be read: {error}"),
            "a file that you may read",
            "Look at its permissions, or name another folder.",
        )),
    }
}
