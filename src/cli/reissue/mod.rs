//! `twinsow reissue`: at the gate, without the office: another lot, grain weight or catch, and everything that leaves the farm anew.

mod changes;

use super::clock;
use super::edit;
use super::exit::Exit;
use super::frame::{self, Said};
use super::guard;
use super::outputs::Outputs;
use super::plan as cli_plan;
use super::screen::Screen;
use super::seedbeds;
use super::show::number::Numbers;
use super::stick;
use crate::document::{self, ToOrder};
use crate::edit::many::{self, Done};
use crate::findings::{Blame, Fault, Outcome, Place};
use crate::job::{Job, Moisture};
use crate::plan::{self, Disk, Plan};
use crate::read::sha256_of;
use crate::stick::plans_in;
use crate::tally::Tally;
use crate::write::folder::{copy, is_of_plan};
use changes::{Asked, catch_alone, changes, of_before, of_command};
use clap::Args as ClapArgs;
use std::fmt::Write as _;
use std::path::{Path, PathBuf};

/// Gives a field another lot, grain weight or catch at the gate, and makes map, order and sheets anew
///
/// Changes the job file, plans it into its folder as 'twinsow plan' does, and says what that changes: plan id, kilograms, packs. With --stick also
/// makes the stick anew; the old plan is named as replaced there, and 'twinsow contents' says so. The old plan is kept in a folder beside the new
/// one, with its id behind the name. A change that makes no job, or no plan, leaves the job file as it was.
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
    /// Another count of seeds in a pound, for a job that has seeds_per_lb
    #[arg(long, value_name = "PRODUCT=COUNT")]
    seeds_per_lb: Vec<String>,
    /// Another germination, percent
    #[arg(long, value_name = "PRODUCT=PERCENT")]
    germination: Vec<String>,
    /// Another bulk density, kg per litre
    #[arg(long, value_name = "PRODUCT=KG/L")]
    density: Vec<String>,
    /// Weighed catch of the calibration test at the highest rate, as for 'twinsow calibrate': corrects what the rotor fills. Refused beside
    /// what changes rate or density, for nobody could tell which of the two plans the drill was set by
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
    frame::run(screen, || made(args))
}

/// A plan that lay in a folder before.
type Before = (PathBuf, ToOrder);

fn made(args: &Args) -> Outcome<Said> {
    catch_alone(args)?;
    let job = Job::load(&args.job)?;
    let changes = changes(args, &job)?;
    if changes.is_empty() {
        return Err(Fault::input(
            "reissue.nothing",
            Place::nowhere(),
            "Nothing is to be changed",
            "--lot, --grain-weight, --seeds-per-lb, --germination, --density, --caught or --sowing-date",
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
        stick::is_there(stick)?;
        stick::keeps_all(stick, &others, &job)?;
    }
    let before = before(&folder)?;
    let done = changed(&args.job, &changes)?;
    let mut all_kept = Vec::new();
    let plans = guard::guarded(|| {
        cli_plan::each(&args.job, &folder, &clock::timestamp(), |plans| {
            all_kept = kept(plans, &folder, &before)?;
            Ok(())
        })
    });
    let plans = plans.map_err(|fault| {
        let fault = match fault_before(&job, &fault) {
            Some(before) => of_before(before),
            None => {
                let options: Vec<&str> = changes.iter().map(|own| own.option.as_str()).collect();
                of_command(fault, &args.job, &options)
            }
        };
        taken_back(fault, &done)
    })?;
    let mut text = String::new();
    for own in &changes {
        let _ = writeln!(text, "{}", own.words);
    }
    for made in &plans {
        let before = before.iter().find(|(folder, _)| *folder == made.out);
        let before = before.map(|(_, old)| old);
        let _ = writeln!(
            text,
            "\nPlan {}{} in {}",
            made.plan.id,
            before.map_or(String::new(), |old| format!(", instead of {},", old.id)),
            made.out.display()
        );
        let numbers = Numbers::of(made.plan.job.report.units);
        text.push_str(&difference(
            before.map(|old| &old.tally),
            &made.plan.tally.planned,
            &numbers,
        ));
    }
    if !all_kept.is_empty() {
        text.push_str("\nThe old plan is kept. If something is sown by it already, do not sow by the new one, which is for the whole field: first compare the terminal's log with the old plan, and plan the rest.\n");
    }
    for old in &all_kept {
        let (old, job) = (old.display(), args.job.display());
        let _ = writeln!(text, "  twinsow compare {old} LOG --rest {job}");
    }
    let waits = plans.iter().any(|made| made.plan.waits());
    let exit = plans
        .iter()
        .map(|made| cli_plan::exit_of(&made.plan, false));
    let exit = exit.max().unwrap_or(Exit::Done);
    // Why the stick was not made, though job and plan are.
    let mut fault = None;
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
            match guard::guarded(|| stick::again(&all, to)) {
                Ok(shown) => {
                    text.push_str(&shown);
                    text.push_str("The old task may still be on the terminal: README.txt of the stick says which.\n");
                }
                Err(why) => {
                    let _ = writeln!(
                        text,
                        "{} could not be made anew and still holds the old plan: do not sow by it. Job and plan are changed; make it with 'twinsow stick'.",
                        to.display()
                    );
                    fault = Some(why);
                }
            }
        }
        None => text.push_str("\nThe stick still holds the old plan: make it anew with 'twinsow stick', or name it with --stick.\n"),
    }
    let spreads = |tally: &Tally| tally.balances.iter().any(|of| of.spreader.is_some());
    if before.iter().any(|(_, old)| spreads(&old.tally))
        || plans.iter().any(|made| spreads(&made.plan.tally.planned))
    {
        text.push_str("The spreader's map changes with the plan, so its stick is void too: make it anew with 'twinsow stick PLAN... --spreader --to FOLDER'.\n");
    }
    text.push_str("The buyer's order, the sheets and the map of the old plan are void. Calibrate the new lot before sowing; its tag and label come first.\n");
    Ok(Said { text, exit, fault })
}

/// The plans that lie in the folder: one, or below it one for each seedbed.
fn before(folder: &Path) -> Outcome<Vec<Before>> {
    let both = Moisture::BOTH.map(|moisture| folder.join(moisture.word()));
    let all = std::iter::once(folder.to_path_buf()).chain(both);
    let there = all.filter(|own| own.join("plan.json").is_file());
    there
        .map(|own| Ok((own.clone(), document::read(&own)?)))
        .collect()
}

/// Keeps the plans that others take the place of, each in a folder beside them, for a terminal's log may still come back of one. A plan that is
/// kept there already stays as it is.
fn kept(plans: &[Plan], folder: &Path, before: &[Before]) -> Outcome<Vec<PathBuf>> {
    let mut all = Vec::new();
    for plan in plans {
        let out = seedbeds::folder(plan, folder);
        let old = before.iter().find(|(own, _)| *own == out);
        let Some((_, old)) = old.filter(|(_, old)| old.id != plan.id) else {
            continue;
        };
        let mut name = folder.file_name().unwrap_or_default().to_os_string();
        name.push(format!("-{}", old.id));
        let to = folder.with_file_name(name);
        if !is_of_plan(&to, &old.id) {
            copy(&out, &to)?;
        }
        all.push(to);
    }
    Ok(all)
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

/// Brings the changes to the job file; where one fails, those before it are taken back.
fn changed(file: &Path, changes: &[Asked]) -> Outcome<Vec<Done>> {
    let commands = edit::commands();
    let mut done: Vec<Done> = Vec::new();
    for own in changes {
        let text = (commands.text)(file)?;
        let files = [(file.to_path_buf(), sha256_of(&text))];
        match many::make(&own.change, &own.words, &files, None, &commands) {
            Ok(own) => done.push(own),
            Err(fault) => {
                let fault = of_command(fault, file, &[&own.option]);
                return Err(taken_back(fault, &done));
            }
        }
    }
    Ok(done)
}

/// Why the job as it was makes no plan either, where a change of it makes none: then the command is not to blame, and the places
/// are those of the file as it is put back.
fn fault_before(job: &Job, now: &Fault) -> Option<Box<Fault>> {
    if now.blame != Blame::Input {
        return None;
    }
    let planned = guard::guarded(|| plan::plans(job, &Disk, &Outputs::all().options()));
    planned.err().filter(|before| before.blame == Blame::Input)
}

/// A fault after which the job file is as it was; where that fails too, it says so.
fn taken_back(mut fault: Box<Fault>, done: &[Done]) -> Box<Fault> {
    if let Err(other) = back(done) {
        fault.found = format!(
            "{}; and the job file could not be put back as it was: {other}",
            fault.found
        );
        fault.next =
            "Look at the job file before anything else: it still holds the change.".to_owned();
    }
    fault
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
