//! `twinsow schema`: the JSON Schema of the job file, or of `plan.json`.

use super::Exit;
use super::screen::Screen;
use crate::document::PlanDocument;
use crate::job::Job;

/// Prints the JSON Schema of the job file, or of plan.json
///
/// Both are of draft 2020-12. That of plan.json is for programs that read plans.
#[derive(Debug, clap::Args)]
pub(super) struct Args {
    /// Prints the schema of plan.json
    #[arg(long)]
    plan: bool,
}

pub(super) fn run(args: &Args, screen: &mut Screen) -> Exit {
    let schema = match args.plan {
        true => PlanDocument::schema(),
        false => Job::schema(),
    };
    screen.print(&format!("{schema:#}\n"));
    Exit::Done
}
