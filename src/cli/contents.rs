//! `twinsow contents`: what is on a stick.

use super::exit::Exit;
use super::frame;
use super::screen::Screen;
use super::show::number::{Numbers, grouped};
use super::show::table::{Column, Table};
use crate::findings::Outcome;
use crate::stick::{self, Here, SetOn, TaskOn};
use clap::Args as ClapArgs;
use std::collections::BTreeMap;
use std::fmt::Write as _;
use std::path::PathBuf;

/// Says what is on a stick, or in a folder that came from a terminal
///
/// Of every set of task data: its fields, products, rates (lowest, mean and highest, with their unit), kilograms and plan ids, and what is
/// damaged. With --plans also whether the plans here are newer. Anything damaged or outdated is exit code 1.
#[derive(Debug, ClapArgs)]
#[command(after_help = "Examples:
  twinsow contents stick
  twinsow contents stick/TASKDATA --plans plans/*-plan
  twinsow contents from-terminal.zip --json")]
pub(super) struct Args {
    /// A stick, a folder with task data, or a zip file with it
    #[arg(value_name = "PATH")]
    path: PathBuf,
    /// Folders of plans, or folders that hold such, to hold it against
    #[arg(long, value_name = "PLAN", num_args = 1..)]
    plans: Vec<PathBuf>,
    /// Prints one JSON object and nothing else
    #[arg(long)]
    json: bool,
}

pub(super) fn run(args: &Args, screen: &mut Screen) -> Exit {
    frame::run(screen, || made(args))
}

fn made(args: &Args) -> Outcome<(String, Exit)> {
    let mut plans = Vec::new();
    for path in &args.plans {
        plans.extend(stick::plans_in(path)?);
    }
    let sets = stick::contents(&args.path, &plans)?;
    let asks = |set: &SetOn| !set.damage.is_empty() || set.tasks.iter().any(outdated);
    let exit = match sets.iter().any(asks) {
        true => Exit::Decide,
        false => Exit::Done,
    };
    let text = match args.json {
        true => frame::json(&BTreeMap::from([("sets", &sets)]))?,
        false => shown(&sets, !args.plans.is_empty()),
    };
    Ok((text, exit))
}

fn outdated(task: &TaskOn) -> bool {
    matches!(
        task.here,
        Here::Newer { .. } | Here::Replaced { .. } | Here::Other { .. }
    )
}

fn shown(sets: &[SetOn], with_plans: bool) -> String {
    let mut text = String::new();
    for set in sets {
        let origin = match set.from_machine {
            true => "from a machine",
            false => "from an office",
        };
        let _ = match set.version.is_empty() {
            true => writeln!(text, "{}: task data that cannot be read", set.folder),
            false => writeln!(
                text,
                "{}: task data {}, {}, {origin}",
                set.folder, set.version, set.form
            ),
        };
        if !set.tasks.is_empty() {
            let is_replaced = |task: &TaskOn| matches!(task.here, Here::Replaced { .. });
            text.push_str(&tasks(set, with_plans || set.tasks.iter().any(is_replaced)));
        }
        if !set.fields_without_task.is_empty() {
            let _ = writeln!(
                text,
                "  Fields without a task: {}.",
                set.fields_without_task.join(", ")
            );
        }
        for damage in &set.damage {
            let _ = writeln!(text, "  DAMAGED: {damage}");
        }
        text.push('\n');
    }
    let damaged = sets.iter().filter(|set| !set.damage.is_empty()).count();
    let outdated = sets
        .iter()
        .flat_map(|set| &set.tasks)
        .filter(|task| outdated(task))
        .count();
    if damaged > 0 {
        text.push_str("Something is damaged: do not sow by it. Copy the folder again, or make the stick again.\n");
    }
    if outdated > 0 {
        text.push_str("Some plans here are not those on it: make the stick again with 'twinsow stick', or sow by what is on it; never by one that was replaced.\n");
    }
    text
}

fn tasks(set: &SetOn, with_plans: bool) -> String {
    let mut columns = vec![
        Column::Left("field"),
        Column::Left("task"),
        Column::Left("plan"),
        Column::Right("area"),
        Column::Left("product"),
        Column::Right("lowest"),
        Column::Right("mean"),
        Column::Right("highest"),
        Column::Left("unit"),
        Column::Right("in all"),
        Column::Right("log records"),
    ];
    if with_plans {
        columns.push(Column::Left("plan here"));
    }
    let mut table = Table::new(columns);
    for task in &set.tasks {
        let numbers = Numbers::of(task.units);
        let number = |own: &stick::ProductIn, value: Option<f64>| match value {
            None => "-".to_owned(),
            Some(rate) if own.is_mass => numbers.at_the_gate_text(rate),
            Some(value) => grouped(value, 2),
        };
        let field = match task.farm.is_empty() || task.farm == task.field {
            true => task.field.clone(),
            false => format!("{} ({})", task.field, task.farm),
        };
        let rows = task.products.len().max(1);
        for nth in 0..rows {
            let product = task.products.get(nth);
            let once = |text: String| if nth == 0 { text } else { String::new() };
            let of =
                |pick: &dyn Fn(&stick::ProductIn) -> String| product.map_or("-".to_owned(), pick);
            let mut cells = vec![
                once(field.clone()),
                once(task.id.clone()),
                once(task.plan.clone().unwrap_or_else(|| "-".to_owned())),
                once(numbers.area_of(task.area_m2)),
                of(&|own| own.name.clone()),
                of(&|own| number(own, own.lowest)),
                of(&|own| number(own, own.mean)),
                of(&|own| number(own, own.highest)),
                of(&|own| match own.is_mass {
                    true => numbers.rate_unit().to_owned(),
                    false => own.unit.clone(),
                }),
                of(&|own| own.kg.map_or("-".to_owned(), |kg| numbers.weighed_of(kg))),
                once(task.log_records.to_string()),
            ];
            if with_plans {
                cells.push(once(here(&task.here)));
            }
            table.row(cells);
        }
    }
    table.text()
}

fn here(here: &Here) -> String {
    match here {
        Here::Unknown => "none of this field".to_owned(),
        Here::Same => "the same".to_owned(),
        Here::Newer { plan, made_at } => format!("NEWER: {plan} of {made_at}"),
        Here::Replaced { plan, made_at } => format!("REPLACED by {plan} on {made_at}"),
        Here::Older { plan, made_at } => format!("older: {plan} of {made_at}"),
        Here::Other { plan, made_at } => format!("another: {plan} of {made_at}"),
    }
}
