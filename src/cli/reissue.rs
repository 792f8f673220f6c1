//! `twinsow reissue`: at the gate, without the office: another lot, grain weight or catch, and everything that leaves the farm anew.

use super::calibrate;
use super::clock;
use super::edit;
use super::exit::Exit;
use super::guard;
use super::plan as cli_plan;
use super::screen::Screen;
use super::show::number::Numbers;
use super::stick;
use crate::document::{self, ToOrder};
use crate::edit::key::KeyPath;
use crate::edit::many::{self, Change, Done};
use crate::findings::{Fault, Outcome, Place};
use crate::job::{Job, Product};
use crate::read::sha256_of;
use crate::stick::plans_in;
use crate::tally::Tally;
use clap::Args as ClapArgs;
use serde_json::{Value as Json, json};
use std::fmt::Write as _;
use std::path::{Path, PathBuf};

/// Gives a field another lot, grain weight or catch at the gate, and makes map, order and sheets anew
///
/// Changes the job file, plans it into its folder as 'twinsow plan' does, and says what that changes: plan id, kilograms, packs. With --stick also
/// makes the stick anew; the old plan is named as replaced there, and 'twinsow contents' says so. A change that makes no job, or no plan, leaves the
/// job file as it was.
#[derive(Debug, ClapArgs)]
#[command(after_help = "Examples:
  twinsow reissue job.toml --lot barley=B-18 --grain-weight barley=46.5
  twinsow reissue job.toml --caught barley=5.1
  twinsow reissue fields/long/job.toml --lot barley=B-18 --stick stick --plans fields/*/job-plan")]
pub(super) struct Args {
    /// Job file
    #[arg(value_name = "JOB.toml")]
    job: PathBuf,
    /// Another lot of a product
    #[arg(long, value_name = "PRODUCT=LOT")]
    lot: Vec<String>,
    /// Another weight of a thousand seeds, grams
    #[arg(long, value_name = "PRODUCT=G")]
    grain_weight: Vec<String>,
    /// Another germination, percent
    #[arg(long, value_name = "PRODUCT=PERCENT")]
    germination: Vec<String>,
    /// Another bulk density, kg per litre
    #[arg(long, value_name = "PRODUCT=KG/L")]
    density: Vec<String>,
    /// Weighed catch of the calibration test at the highest rate, as for 'twinsow calibrate': corrects what the rotor fills
    #[arg(long, value_name = "PRODUCT=CATCH")]
    caught: Vec<String>,
    /// Another sowing date, YYYY-MM-DD
    #[arg(long, value_name = "DATE")]
    sowing_date: Option<String>,
    /// Also makes this stick anew
    #[arg(long, value_name = "FOLDER")]
    stick: Option<PathBuf>,
    /// With --stick: the plans of the other fields on it
    #[arg(long, value_name = "PLAN", num_args = 1.., requires = "stick")]
    plans: Vec<PathBuf>,
}

pub(super) fn run(args: &Args, screen: &mut Screen) -> Exit {
    match guard::guarded(|| made(args)) {
        Ok((text, exit)) => {
            screen.print(&text);
            exit
        }
        Err(fault) => {
            screen.fault(&fault);
            Exit::of_fault(&fault)
        }
    }
}

/// A change, and what it is in words.
type Named = (Change, String);

fn made(args: &Args) -> Outcome<(String, Exit)> {
    let job = Job::load(&args.job)?;
    let changes = changes(args, &job)?;
    if changes.is_empty() {
        return Err(Fault::input(
            "reissue.nothing",
            Place::file(&args.job),
            "Nothing is to be changed",
            "--lot, --grain-weight, --germination, --density, --caught or --sowing-date",
            "Say what is another; 'twinsow plan' plans the job as it is.",
        ));
    }
    let folder = cli_plan::folder_of(&args.job);
    let mut others = Vec::new();
    for path in &args.plans {
        others.extend(plans_in(path)?);
    }
    others.retain(|path| !is_of(path, &folder));
    if let Some(stick) = &args.stick {
        let field = &job.field;
        stick::keeps_all(stick, &others, [&field.customer, &field.farm, &field.name])?;
    }
    let before: Option<ToOrder> = match folder.join("plan.json").is_file() {
        true => Some(document::read(&folder)?),
        false => None,
    };
    let done = changed(&args.job, &changes)?;
    let plans = match cli_plan::each(&args.job, &folder, &clock::timestamp()) {
        Ok(plans) => plans,
        Err(fault) => {
            back(&done)?;
            return Err(fault);
        }
    };
    let mut text = String::new();
    for (_, words) in &changes {
        let _ = writeln!(text, "{words}");
    }
    for made in &plans {
        let _ = writeln!(
            text,
            "\nPlan {}{} in {}",
            made.plan.id,
            before
                .as_ref()
                .map_or(String::new(), |old| format!(", instead of {},", old.id)),
            made.out.display()
        );
        let numbers = Numbers::of(made.plan.job.report.units);
        text.push_str(&difference(
            before.as_ref().map(|old| &old.tally),
            &made.plan.tally.planned,
            &numbers,
        ));
    }
    let waits = plans.iter().any(|made| made.plan.waits());
    let exit = plans
        .iter()
        .map(|made| cli_plan::exit_of(&made.plan, false));
    let exit = exit.max().unwrap_or(Exit::Done);
    match &args.stick {
        Some(stick) if waits => {
            let _ = writeln!(
                text,
                "\nSomething is to be decided first, so {} still holds the old plan: do not sow by it. See terminal/NOT-READY.txt of the plan.",
                stick.display()
            );
        }
        Some(to) => {
            let own = plans.iter().map(|made| made.out.clone());
            let all: Vec<PathBuf> = own.chain(others).collect();
            text.push('\n');
            text.push_str(&stick::again(&all, to)?);
            text.push_str("The old task may still be on the terminal: README.txt of the stick says which.\n");
        }
        None => text.push_str("\nThe stick still holds the old plan: make it anew with 'twinsow stick', or name it with --stick.\n"),
    }
    text.push_str("The buyer's order, the sheets and the map of the old plan are void. Calibrate the new lot before sowing; its tag and label come first.\n");
    Ok((text, exit))
}

/// Whether a path stands for the plan in a folder.
fn is_of(path: &Path, folder: &Path) -> bool {
    let whole = |path: &Path| path.canonicalize().unwrap_or_else(|_| path.to_path_buf());
    let own = if path.ends_with("plan.json") {
        path.parent().unwrap_or(path)
    } else {
        path
    };
    whole(own).starts_with(whole(folder))
}

/// What is to be changed, in the order of the options.
fn changes(args: &Args, job: &Job) -> Outcome<Vec<Named>> {
    let mut changes = Vec::new();
    let of_product = |product: &Product, key: &str, value: Json, words: String| {
        let change = Change::Product {
            product: product.id.clone(),
            path: KeyPath::of(&[key]),
            value,
        };
        (change, words)
    };
    for text in &args.lot {
        let (product, lot) = of(job, text, "--lot")?;
        let old = product.lot.as_deref().unwrap_or("none named");
        let words = format!("{}: lot {lot}, before: {old}", product.name);
        changes.push(of_product(product, "lot", json!(lot), words));
    }
    let numbers = [
        (
            &args.grain_weight,
            "--grain-weight",
            "thousand_grain_weight_g",
            "g per thousand seeds",
        ),
        (
            &args.germination,
            "--germination",
            "germination_percent",
            "% germination",
        ),
        (
            &args.density,
            "--density",
            "bulk_density_kg_per_l",
            "kg per litre",
        ),
    ];
    for (texts, option, key, unit) in numbers {
        for text in texts {
            let (product, typed) = of(job, text, option)?;
            let number = number(typed).ok_or_else(|| bad(option, text))?;
            let words = format!("{}: {typed} {unit}", product.name);
            changes.push(of_product(product, key, json!(number), words));
        }
    }
    changes.extend(catches(args, job)?);
    if let Some(date) = &args.sowing_date {
        let change = Change::Setting {
            path: KeyPath::of(&["sowing_date"]),
            value: json!(date),
        };
        changes.push((change, format!("Sowing date {date}")));
    }
    Ok(changes)
}

/// What catches change: the share of its volume that a rotor fills.
fn catches(args: &Args, job: &Job) -> Outcome<Vec<Named>> {
    let mut caught = Vec::new();
    for text in &args.caught {
        let (product, typed) = of(job, text, "--caught")?;
        let kg = number(typed).filter(|kg| *kg > 0.0);
        caught.push((product.id.clone(), kg.ok_or_else(|| bad("--caught", text))?));
    }
    let mut changes = Vec::new();
    for (correction, (id, _)) in calibrate::corrections(job, &caught)?.iter().zip(&caught) {
        let hoppers = job.drill.hoppers.iter().enumerate();
        let rotor = hoppers
            .filter(|(_, hopper)| hopper.name == correction.hopper)
            .find_map(|(n, hopper)| {
                let mut rotors = hopper.rotors.iter().enumerate();
                let (m, rotor) =
                    rotors.find(|(_, own)| Some(&own.name) == correction.rotor.as_ref())?;
                Some((n, m, rotor))
            });
        let Some((n, m, rotor)) = rotor else {
            return Err(Fault::input(
                "reissue.no_rotor",
                Place::file(&args.job),
                format!(
                    "Hopper '{}' of '{id}' has no rotor in the job, so a catch corrects nothing there",
                    correction.hopper
                ),
                "rotors under [[drill.hopper.rotor]]",
                "Set the drill by its manual and the catch; the map stays as it is.",
            ));
        };
        let filling = (rotor.filling_percent * correction.factor * 1000.0).round() / 1000.0;
        if let Some(file) = &job.machine_file {
            return Err(Fault::input(
                "reissue.machine_file",
                Place::file(file),
                format!(
                    "The rotor '{}' stands in this machine file, which other jobs may share",
                    rotor.name
                ),
                "rotors in the job file itself",
                format!(
                    "Set filling_percent = {filling} there by hand, and plan the jobs that use it."
                ),
            ));
        }
        let [n, m] = [n, m].map(|nth| nth.to_string());
        let change = Change::Setting {
            path: KeyPath::of(&["drill", "hopper", &n, "rotor", &m, "filling_percent"]),
            value: json!(filling),
        };
        let words = format!(
            "Rotor {} of hopper '{}' fills {filling} % of its volume, before: {} %; the catch was {:.3} of what was expected",
            rotor.name, correction.hopper, rotor.filling_percent, correction.factor
        );
        changes.push((change, words));
    }
    Ok(changes)
}

/// A product of the job and what is said of it.
fn of<'a, 'b>(job: &'a Job, text: &'b str, option: &str) -> Outcome<(&'a Product, &'b str)> {
    let parts = text
        .split_once('=')
        .map(|(id, said)| (id.trim(), said.trim()));
    let Some((id, said)) = parts.filter(|(id, said)| !id.is_empty() && !said.is_empty()) else {
        return Err(bad(option, text));
    };
    let Some(product) = job.products.iter().find(|own| own.id == id) else {
        let ids: Vec<&str> = job.products.iter().map(|own| own.id.as_str()).collect();
        return Err(Fault::input(
            "reissue.product",
            Place::file(&job.file),
            format!("{option} names '{id}', and the job has no such product"),
            format!("one of: {}", ids.join(", ")),
            "Correct the id.",
        ));
    };
    match product.each_lot().is_empty() {
        true => Ok((product, said)),
        false => Err(Fault::input(
            "reissue.several_lots",
            Place::file(&job.file),
            format!("'{id}' has several lots in this field"),
            "a product with one lot",
            "Change its [[product.lots.lot]] in the job file, and plan it.",
        )),
    }
}

fn number(text: &str) -> Option<f64> {
    text.parse::<f64>().ok().filter(|number| number.is_finite())
}

fn bad(option: &str, text: &str) -> Box<Fault> {
    Fault::input(
        "reissue.option",
        Place::nowhere(),
        format!("{option} is given as '{text}'"),
        format!("{option} PRODUCT=VALUE, such as {option} barley=46.5"),
        "Correct the command.",
    )
}

/// Brings the changes to the job file; where one fails, those before it are taken back.
fn changed(file: &Path, changes: &[Named]) -> Outcome<Vec<Done>> {
    let commands = edit::commands();
    let mut done: Vec<Done> = Vec::new();
    for (change, words) in changes {
        let text = (commands.text)(file)?;
        let files = [(file.to_path_buf(), sha256_of(&text))];
        match many::make(change, words, &files, None, &commands) {
            Ok(own) => done.push(own),
            Err(fault) => {
                back(&done)?;
                return Err(fault);
            }
        }
    }
    Ok(done)
}

fn back(done: &[Done]) -> Outcome<()> {
    let commands = edit::commands();
    for own in done.iter().rev() {
        many::take_back(own, None, &commands)?;
    }
    Ok(())
}

/// Kilograms and order of each product, before and now.
fn difference(before: Option<&Tally>, now: &Tally, numbers: &Numbers) -> String {
    let mut text = String::new();
    for own in &now.products {
        let old = before.and_then(|tally| tally.products.iter().find(|old| old.id == own.id));
        let was = |old: Option<f64>| {
            old.map_or(String::new(), |kg| {
                format!(", before: {}", numbers.weighed_of(kg))
            })
        };
        let _ = writeln!(
            text,
            "  {}: {} on the map{}; order {}{}",
            own.name,
            numbers.weighed_of(own.map_kg()),
            was(old.map(|old| old.map_kg())),
            numbers.weighed_of(own.order_kg),
            was(old.map(|old| old.order_kg)),
        );
    }
    text
}
