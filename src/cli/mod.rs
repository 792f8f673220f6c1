//! The command line: one file per command. The only place that prints or reads clock and environment.

mod audit;
mod batch;
mod calibrate;
mod card;
mod clock;
mod compare;
mod completions;
mod contents;
mod counting;
mod demo;
mod describe;
mod describe_raster;
mod edit;
mod establishment;
mod exit;
mod explain;
mod frame;
mod guard;
mod harvest;
mod ledger;
mod load;
mod locale;
mod man;
mod new;
mod numbers;
mod one_field;
mod order;
mod ordered;
mod outputs;
mod plan;
mod progress;
mod reissue;
mod relative;
mod schema;
mod screen;
mod sealed;
mod seedbeds;
mod show;
mod stick;
mod stream;
mod summary;
mod survey;
mod targets;
mod together;
mod week;
mod zones;

pub use edit::commands as edit_commands;
pub use exit::Exit;
pub use guard::guarded;
pub use plan::{Made, one as plan_one};

use crate::findings::Fault;
use clap::error::ErrorKind;
use clap::{CommandFactory, FromArgMatches, Parser, Subcommand};
use screen::Screen;
use std::process::ExitCode;

/// Two rate maps for a seed drill with a divided hopper.
///
/// From a field boundary and zone layers to task data, GIS files, totals and the order.
#[derive(Debug, Parser)]
#[command(
    name = "twinsow",
    version,
    max_term_width = 100,
    arg_required_else_help = true,
    after_help = "Start here:\n  twinsow demo\n  twinsow new my-field --boundary boundary.geojson --layer soil.geojson\n  twinsow plan my-field/job.toml",
    after_long_help = AFTER_LONG_HELP
)]
struct Args {
    #[command(subcommand)]
    command: Command,
}

const AFTER_LONG_HELP: &str = "\
Start here:
  twinsow demo
  twinsow new my-field --boundary boundary.geojson --layer soil.geojson
  twinsow plan my-field/job.toml

Exit codes:
  0  done
  1  done, with findings that need a decision (with --strict also warnings)
  2  the input is at fault
  3  the machine is at fault (disk, permission), or the program itself
  Of several jobs, the worst counts.

Colours are off where NO_COLOR is set. SOURCE_DATE_EPOCH sets the time written into files.";

/// What each command does is said at its arguments.
#[derive(Debug, Subcommand)]
enum Command {
    Plan(plan::Args),
    Edit(edit::Args),
    Explain(explain::Args),
    Demo(demo::Args),
    New(new::Args),
    Describe(describe::Args),
    Zones(zones::Args),
    Calibrate(calibrate::Args),
    Order(order::Args),
    Reissue(reissue::Args),
    Week(week::Args),
    Stick(stick::Args),
    Contents(contents::Args),
    Audit(audit::Args),
    Compare(Box<compare::Args>),
    Card(card::Args),
    Counting(counting::Args),
    Establishment(establishment::Args),
    Harvest(Box<harvest::Args>),
    Ledger(ledger::Args),
    Stream(stream::Args),
    Completions(completions::Args),
    Man(man::Args),
    Schema(schema::Args),
}

/// Runs the program with the arguments of the process.
pub fn main() -> ExitCode {
    guard::keep_quiet();
    let mut screen = Screen::default();
    let command = numbers::below_zero(Args::command());
    let given = command.try_get_matches();
    let exit = match given.and_then(|given| Args::from_arg_matches(&given)) {
        Ok(args) => match guarded(|| Ok(run(&args.command, &mut screen))) {
            Ok(exit) => exit,
            Err(fault) => {
                screen.fault(&fault);
                Exit::of_fault(&fault)
            }
        },
        Err(help_or_error) => {
            let is_unknown = help_or_error.kind() == ErrorKind::UnknownArgument;
            match cut_off().filter(|_| is_unknown) {
                Some(fault) => screen.fault(&fault),
                // Help on a pipe that was closed is no error.
                None => drop(help_or_error.print()),
            }
            match help_or_error.use_stderr() {
                true => Exit::Input,
                false => Exit::Done,
            }
        }
    };
    screen.exit(exit).into()
}

/// What to say of a number in the arguments of the process that nobody expects.
fn cut_off() -> Option<Box<Fault>> {
    let arguments = std::env::args_os().map(|own| own.to_string_lossy().into_owned());
    numbers::cut_off(&arguments.collect::<Vec<_>>())
}

fn run(command: &Command, screen: &mut Screen) -> Exit {
    match command {
        Command::Plan(args) => plan::run(args, screen),
        Command::Edit(args) => edit::run(args, screen),
        Command::Explain(args) => explain::run(args, screen),
        Command::Demo(args) => demo::run(args, screen),
        Command::New(args) => new::run(args, screen),
        Command::Describe(args) => describe::run(args, screen),
        Command::Zones(args) => zones::run(args, screen),
        Command::Calibrate(args) => calibrate::run(args, screen),
        Command::Order(args) => order::run(args, screen),
        Command::Reissue(args) => reissue::run(args, screen),
        Command::Week(args) => week::run(args, screen),
        Command::Stick(args) => stick::run(args, screen),
        Command::Contents(args) => contents::run(args, screen),
        Command::Audit(args) => audit::run(args, screen),
        Command::Compare(args) => compare::run(args, screen),
        Command::Harvest(args) => harvest::run(args, screen),
        Command::Card(args) => card::run(args, screen),
        Command::Counting(args) => counting::run(args, screen),
        Command::Ledger(args) => ledger::run(args, screen),
        Command::Establishment(args) => establishment::run(args, screen),
        Command::Stream(args) => stream::run(args, screen),
        Command::Completions(args) => completions::run(args, screen),
        Command::Man(args) => man::run(args, screen),
        Command::Schema(args) => schema::run(args, screen),
    }
}

/// Plans on so many threads; without a number on one per processor.
fn use_threads(threads: Option<u16>) {
    if let Some(threads) = threads {
        // Fails only if threads were started before, and the first command to run is this one.
        let _ = rayon::ThreadPoolBuilder::new()
            .num_threads(usize::from(threads))
            .build_global();
    }
}
