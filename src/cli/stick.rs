//! `twinsow stick`: many fields on one stick.

use super::exit::Exit;
use super::screen::Screen;
use super::show::number::Numbers;
use super::show::table::{Column, Table};
use super::{clock, frame, targets};
use crate::agronomy::seedbed::only_one;
use crate::findings::{Fault, Outcome, Place};
use crate::job::{Job, Moisture};
use crate::stick::{self, Gathered, Limits, Machine, Made, OfSpreader, OnStick, RECORD, Record};
use crate::write::{self, folder::MARKER};
use clap::Args as ClapArgs;
use std::fmt::Write as _;
use std::path::{Path, PathBuf};

/// Puts the plans of many fields on one stick
///
/// Takes the folders of plans (or a folder with such in it) and makes one set of task data: customers, farms, fields, products, and a task
/// for each field. The same for each other form, under 'fallback'. Every field keeps its ids when the stick is made again in the
/// same folder. A plan with something to decide, files that are not as planned, and two plans of one field are refused,
/// but for the two of one run for its moist and its dry seedbed.
#[derive(Debug, ClapArgs)]
#[command(after_help = "Examples:
  twinsow stick plans/*-plan --to stick
  twinsow stick plans/farm-plan --to stick          all fields of a job with split_by
  twinsow stick plans/*-plan --to stick --form task-data-3.3
  twinsow stick plans/*-plan --to stick --most-fields 20
  twinsow stick plans/*-plan --spreader --to spreader-stick")]
pub(super) struct Args {
    /// Folders of plans, or folders that hold such
    #[arg(required = true, value_name = "PLAN")]
    plans: Vec<PathBuf>,
    /// Folder for the stick: a new one, an empty one, or that of an earlier stick
    #[arg(long, value_name = "FOLDER")]
    to: PathBuf,
    /// Takes the spreader's plans that belong to these plans, for a stick of the spreader's own
    #[arg(long)]
    spreader: bool,
    /// The form that lies ready, such as task-data-3.3 [default: that of the jobs]
    #[arg(long, value_name = "FORM")]
    form: Option<String>,
    /// Most fields that the terminal holds at once, by its manual; more are split into parts
    #[arg(long, value_name = "N", value_parser = clap::value_parser!(u32).range(1..))]
    most_fields: Option<u32>,
    /// Most megabytes of one set that the terminal holds, by its manual; more are split into parts
    #[arg(long, value_name = "MB", value_parser = clap::value_parser!(u32).range(1..))]
    most_mb: Option<u32>,
    /// Prints the record as JSON and nothing else
    #[arg(long)]
    json: bool,
}

pub(super) fn run(args: &Args, screen: &mut Screen) -> Exit {
    frame::run(screen, || made(args))
}

fn made(args: &Args) -> Outcome<String> {
    let of_spreader = args
        .spreader
        .then(|| OfSpreader::read(&args.plans))
        .transpose()?;
    let gathered = match &of_spreader {
        Some(own) => Gathered::read(&own.folders)?,
        None => Gathered::read(&args.plans)?,
    };
    let without = of_spreader.map_or_else(Vec::new, |own| own.without);
    let form = match &args.form {
        Some(form) => known_form(form)?,
        None => common_form(&gathered)?,
    };
    let limits = Limits {
        fields: args.most_fields.map(|most| most as usize),
        bytes: args.most_mb.map(|most| u64::from(most) * 1_000_000),
    };
    let (made, before) = filled(&args.to, &gathered, &form, limits)?;
    match args.json {
        true => frame::json(&made.record),
        false => Ok(shown(&made, before.as_ref(), &args.to) + &nothing_to_spread(&without)),
    }
}

/// Makes the sets in the folder of the stick; also gives the record that lay there before.
fn filled(
    to: &Path,
    gathered: &Gathered,
    form: &str,
    limits: Limits,
) -> Outcome<(Made, Option<Record>)> {
    targets::outside_results(to)?;
    let about = format!("version {}\nstick", env!("CARGO_PKG_VERSION"));
    let timestamp = clock::timestamp();
    // Looked at in here, where what a stopped run has left is in its place again.
    write::folder::replace(to, &about, |folder| {
        is_a_stick(to)?;
        let before = Record::read(to)?;
        let made = stick::fill(folder, gathered, form, limits, before.as_ref(), &timestamp)?;
        Ok((made, before))
    })
}

/// Refuses to make a stick of the drill anew of these plans and all plans of a job, where that cannot be done or a map that lies on
/// it would be dropped. Nothing is written.
///
/// # Errors
/// A map that would be dropped; a stick of the spreader, or one whose record does not say of which machine; plans that cannot go on it.
pub(super) fn keeps_all(to: &Path, plans: &[PathBuf], job: &Job) -> Outcome<()> {
    is_a_stick(to)?;
    let gathered = Gathered::read(plans)?;
    let fields = &gathered.fields;
    if let Some(first) = fields
        .first()
        .filter(|_| gathered.machine() == Some(Machine::Spreader))
    {
        return Err(stick::other_machine(
            &first.folder,
            Machine::Spreader,
            Machine::Drill,
        ));
    }
    let names = [&job.field.customer, &job.field.farm, &job.field.name];
    let own = stick::known_as(names.map(String::as_str), job.plain_name());
    // Unnamed fields of one job name may be two.
    let is_named = names.iter().any(|name| !name.trim().is_empty());
    if let Some(same) = fields
        .iter()
        .find(|field| is_named && field.known_as() == own)
    {
        return Err(Fault::input(
            "stick.two_plans",
            Place::file(&same.folder),
            format!(
                "This is a plan of '{}' too, the field that is planned anew",
                same.words()
            ),
            "with --plans the plans of the other fields",
            "Leave it out. Nothing was changed.",
        ));
    }
    let Some(before) = Record::read(to)? else {
        return Ok(());
    };
    match before.machine {
        Some(Machine::Drill) => {}
        Some(machine) => return Err(stick::other_machine(to, machine, Machine::Drill)),
        None => return Err(not_told(to)),
    }
    // All maps of the job's own field are made anew; of another field a map is there again, or one that is for either seedbed.
    let is_there = |on: &OnStick| {
        let known_as = on.known_as();
        let of_field = fields.iter().filter(|field| field.known_as() == known_as);
        let maps: Vec<Option<Moisture>> = of_field.map(stick::Field::moisture).collect();
        let wanted = match on.seedbed {
            Some(moisture) => vec![moisture],
            None => Moisture::BOTH.to_vec(),
        };
        known_as == own
            || maps.contains(&None)
            || wanted.iter().all(|own| maps.contains(&Some(*own)))
    };
    let missing: Vec<String> = before
        .fields
        .iter()
        .filter(|on| !is_there(on))
        .map(OnStick::words_with_seedbed)
        .collect();
    match missing.is_empty() {
        true => Ok(()),
        false => Err(Fault::input(
            "stick.would_drop",
            Place::file(to),
            format!(
                "These fields lie on the stick and no plan of them is named: {}",
                missing.join("; ")
            ),
            "the plans of all fields on the stick, for both seedbeds where both lie there",
            "Name them with --plans, or make the stick anew with 'twinsow stick'. Nothing was changed.",
        )),
    }
}

/// Refuses a folder that is to be made anew and holds no stick.
///
/// # Errors
/// No stick is there.
pub(super) fn is_there(to: &Path) -> Outcome<()> {
    is_a_stick(to)?;
    match to.join(RECORD).is_file() {
        true => Ok(()),
        false => Err(Fault::input(
            "stick.not_there",
            Place::nowhere(),
            format!("--stick is '{}', and no stick is there", to.display()),
            "the folder that 'twinsow stick' has made, with stick.json in it",
            "Correct --stick, or make the stick with 'twinsow stick' first. Nothing was changed.",
        )),
    }
}

/// A stick that cannot be made as it was, for its record does not say how.
fn not_told(to: &Path) -> Box<Fault> {
    Fault::input(
        "stick.not_told",
        Place::file(to),
        "An earlier version of the program has made this stick: its record says neither for which machine it is nor what its terminal holds",
        "a stick that this version has made",
        "Make it once with 'twinsow stick', all its plans named, and with --most-fields or --most-mb where it was made so. Nothing was changed.",
    )
}

/// Makes a stick of these plans in the form that their jobs have ready; one that is there keeps the limits that it was made for.
///
/// # Errors
/// As the command.
pub(super) fn make(plans: &[PathBuf], to: &Path) -> Outcome<()> {
    is_a_stick(to)?;
    let gathered = Gathered::read(plans)?;
    let form = common_form(&gathered)?;
    let limits = Record::read(to)?.map(|record| record.limits);
    filled(to, &gathered, &form, limits.unwrap_or_default())?;
    Ok(())
}

/// Makes a stick anew from these plans, in the form that lies ready on it and within the limits that it was made for.
///
/// # Errors
/// As the command.
pub(super) fn again(plans: &[PathBuf], to: &Path) -> Outcome<String> {
    is_a_stick(to)?;
    let gathered = Gathered::read(plans)?;
    let (form, limits) = match Record::read(to)? {
        Some(record) => (known_form(&record.form)?, record.limits),
        None => (common_form(&gathered)?, Limits::default()),
    };
    let (made, before) = filled(to, &gathered, &form, limits)?;
    Ok(shown(&made, before.as_ref(), to))
}

/// Plans that have nothing for the spreader, where those were asked for.
fn nothing_to_spread(without: &[PathBuf]) -> String {
    let lines = without
        .iter()
        .map(|folder| format!("note: {} has nothing for the spreader.\n", folder.display()));
    lines.collect()
}

/// A plan's own folder would be replaced as well, for this program has written it.
fn is_a_stick(folder: &Path) -> Outcome<()> {
    let ours = folder.join(MARKER).exists();
    match ours && !folder.join(RECORD).exists() {
        false => Ok(()),
        true => Err(Fault::input(
            "stick.foreign_folder",
            Place::file(folder),
            "The folder holds a plan, or what is left of one, and no stick",
            "a new or empty folder, or that of an earlier stick",
            "Name another folder with --to; nothing was touched.",
        )),
    }
}

fn known_form(form: &str) -> Outcome<String> {
    match write::when_to_use(form, true) {
        Some(_) => Ok(form.to_owned()),
        None => Err(Fault::input(
            "stick.unknown_form",
            Place::nowhere(),
            format!("--form is '{form}', and no form is called so"),
            "the name of a folder below terminal/fallback of a plan, or task-data-4.3",
            "Correct --form, or leave it out.",
        )),
    }
}

/// The form that all jobs have ready.
fn common_form(gathered: &Gathered) -> Outcome<String> {
    let fields = &gathered.fields;
    let Some(first) = fields.first() else {
        return Err(Fault::program(
            "stick.no_field",
            Place::nowhere(),
            "No field was read",
            "one at least",
        ));
    };
    match fields.iter().find(|field| field.ready != first.ready) {
        None => Ok(first.ready.clone()),
        Some(other) => Err(Fault::input(
            "stick.two_forms",
            Place::file(&other.folder),
            format!(
                "'{}' is planned for a terminal that takes {}, and '{}' for one that takes {}",
                first.words(),
                first.ready,
                other.words(),
                other.ready
            ),
            "plans for one terminal",
            "Make a stick for each terminal, or choose with --form what lies ready.",
        )),
    }
}

fn unit_or(unit: &str, word: &str) -> String {
    match unit {
        "" => word.to_owned(),
        unit => unit.to_owned(),
    }
}

fn shown(made: &Made, before: Option<&Record>, folder: &Path) -> String {
    let record = &made.record;
    // Where all jobs have the same units they stand in the head, else at each number.
    let first = record.fields.first().map(|field| field.units);
    let same = record.fields.iter().all(|field| Some(field.units) == first);
    let head = Numbers::of(first.unwrap_or_default());
    let unit = |of: &'static str| if same { of } else { "" };
    let mut table = Table::new([
        Column::Left("field".to_owned()),
        Column::Left("plan".to_owned()),
        Column::Right(unit_or(unit(head.area_unit()), "area")),
        Column::Left("product".to_owned()),
        Column::Right(unit_or(unit(head.rate_unit()), "rate")),
        Column::Right("mean".to_owned()),
        Column::Right(unit_or(unit(head.mass_unit()), "in all")),
    ]);
    for field in &record.fields {
        let numbers = Numbers::of(field.units);
        let with = |text: String, unit: &str| match same {
            true => text,
            false => format!("{text} {unit}"),
        };
        for (nth, product) in field.products.iter().enumerate() {
            let once = |text: String| if nth == 0 { text } else { String::new() };
            let [low, high, mean] = [
                product.lowest_kg_per_ha,
                product.highest_kg_per_ha,
                product.mean_kg_per_ha,
            ]
            .map(|rate| numbers.tenth_of_rate(rate));
            table.row([
                once(field.words_with_seedbed()),
                once(field.plan.clone()),
                once(with(
                    numbers.area_text(field.mapped_m2),
                    numbers.area_unit(),
                )),
                product.name.clone(),
                with(format!("{low} to {high}"), numbers.rate_unit()),
                with(mean, numbers.rate_unit()),
                with(numbers.mass_text(product.map_kg), numbers.mass_unit()),
            ]);
        }
    }
    let mut text = table.text();
    let _ = match (made.count, made.parts) {
        (1, _) => writeln!(
            text,
            "\n1 field as {} in {}.",
            record.form,
            folder.display()
        ),
        (count, 1) => writeln!(
            text,
            "\n{count} fields as {} in {}.",
            record.form,
            folder.display()
        ),
        (count, parts) => writeln!(
            text,
            "\n{count} fields as {} in {}, in {parts} parts, for the terminal does not hold all at once.",
            record.form,
            folder.display()
        ),
    };
    let _ = match made.parts {
        1 => writeln!(
            text,
            "Copy the folder TASKDATA in it to the root of the stick; README.txt says what to look at on the screen."
        ),
        _ => writeln!(
            text,
            "Copy the folder TASKDATA of one part to the root of the stick; README.txt says what to look at on the screen."
        ),
    };
    if !record.other_forms.is_empty() {
        let _ = writeln!(
            text,
            "Other forms, under fallback: {}.",
            record.other_forms.join(", ")
        );
    }
    if !same {
        text.push_str("note: the screen shows these fields in two units; look at the unit before the number.\n");
        for (units, fields) in record.by_units() {
            let _ = writeln!(text, "  {units}: {}", fields.join(", "));
        }
    }
    for not in &made.not_in_form {
        let _ = writeln!(text, "note: '{}' does not come as {}.", not.field, not.form);
    }
    for same in &made.same_name {
        let _ = writeln!(
            text,
            "note: {} products are called '{}' on the screen, for {}: {}.",
            same.ids.len(),
            same.name,
            same.differs(),
            same.ids.join(", ")
        );
    }
    for (name, shown) in &made.cut {
        let _ = writeln!(
            text,
            "note: the name '{name}' is too long for task data, which take 32 characters; the screen shows '{shown}'."
        );
    }
    for alike in &made.alike {
        let _ = writeln!(
            text,
            "note: {} fields look alike on the screen, as '{}': tell them by the plan ids {}, or give them other names.",
            alike.ids.len(),
            alike.name,
            alike.ids.join(", ")
        );
    }
    for (field, there) in record.without_other_seedbed() {
        let _ = writeln!(text, "note: '{}': {}", field.words(), only_one(there));
    }
    text.push_str(&left_off(record, before));
    text
}

/// Fields that were on the stick before and are not any more.
fn left_off(record: &Record, before: Option<&Record>) -> String {
    let now: std::collections::BTreeSet<_> = record.fields.iter().map(OnStick::known_as).collect();
    let gone = before.iter().flat_map(|before| &before.fields);
    let gone: Vec<String> = gone
        .filter(|field| !now.contains(&field.known_as()))
        .map(OnStick::words)
        .collect();
    match gone.len() {
        0 => String::new(),
        1 => format!(
            "note: '{}' was on it before and is not any more.\n",
            gone.join("")
        ),
        count => format!(
            "note: {count} fields were on it before and are not any more: {}.\n",
            gone.join(", ")
        ),
    }
}
