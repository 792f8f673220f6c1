//! `twinsow demo`: the built-in scenario, written and planned.

use super::exit::Exit;
use super::plan;
use super::screen::Screen;
use super::show;
use super::{clock, guard};
use crate::findings::{Fault, Outcome, Place};
use crate::write;
use clap::Args as ClapArgs;
use std::fs;
use std::io::ErrorKind;
use std::path::{Path, PathBuf};

/// The files of the scenario; everything in them is invented.
const FILES: [(&str, &[u8]); 7] = [
    ("job.toml", include_bytes!("../../examples/demo/job.toml")),
    (
        "boundary.geojson",
        include_bytes!("../../examples/demo/boundary.geojson"),
    ),
    (
        "brook.geojson",
        include_bytes!("../../examples/demo/brook.geojson"),
    ),
    (
        "phosphate.geojson",
        include_bytes!("../../examples/demo/phosphate.geojson"),
    ),
    (
        "pond.geojson",
        include_bytes!("../../examples/demo/pond.geojson"),
    ),
    (
        "soil.geojson",
        include_bytes!("../../examples/demo/soil.geojson"),
    ),
    (
        "special-areas.geojson",
        include_bytes!("../../examples/demo/special-areas.geojson"),
    ),
];

/// Writes the built-in scenario and plans it
///
/// The farm, the field and the drill are invented. The folder gets the inputs, the job file and
/// the plan, ready to be changed and planned again.
#[derive(Debug, ClapArgs)]
#[command(after_help = "Examples:
  twinsow demo
  twinsow demo --out try-it")]
pub(super) struct Args {
    /// Folder for the scenario and its plan
    #[arg(long, value_name = "DIR", default_value = "twinsow-demo")]
    out: PathBuf,
    /// Prints all tables, not only what fits a screen
    #[arg(long)]
    details: bool,
}

pub(super) fn run(args: &Args, screen: &mut Screen) -> Exit {
    let job = args.out.join("job.toml");
    let out = args.out.join("job-plan");
    let timestamp = clock::timestamp();
    let made = guard::guarded(|| {
        write_inputs(&args.out)?;
        plan::one(&job, &out, &timestamp)
    });
    match made {
        Ok(made) => {
            screen.print(&show::plan(
                &made.plan,
                &job,
                &out,
                &made.written,
                args.details,
            ));
            screen.print(&format!(
                "\nAll of this is invented. Change {} and plan it again:\n  twinsow plan {}\n",
                job.display(),
                job.display()
            ));
            Exit::of_findings(&made.plan.findings, false)
        }
        Err(fault) => {
            screen.fault(&fault);
            Exit::of_fault(&fault)
        }
    }
}

/// Writes the scenario. A file that is already there must be the same: one that somebody has
/// changed is never written over.
fn write_inputs(folder: &Path) -> Outcome<()> {
    for (name, content) in FILES {
        let path = folder.join(name);
        match fs::read(&path) {
            Ok(found) if found == content => {}
            Ok(_) => {
                return Err(Fault::input(
                    "demo.changed",
                    Place::file(&path),
                    "this file of the demo has been changed, and would be written over",
                    "a new folder, or one with the demo as it was",
                    format!(
                        "plan it with 'twinsow plan {}', or give another folder with --out",
                        folder.join("job.toml").display()
                    ),
                ));
            }
            Err(error) if error.kind() == ErrorKind::NotFound => {}
            Err(error) => return Err(unwritable(&path, &error)),
        }
    }
    super::targets::make_folder(folder)?;
    for (name, content) in FILES {
        let path = folder.join(name);
        write::save(&path, content).map_err(|error| unwritable(&path, &error))?;
    }
    Ok(())
}

fn unwritable(path: &Path, error: &std::io::Error) -> Box<Fault> {
    Fault::machine(
        "demo.unwritable",
        Place::file(path),
        format!("this cannot be written: {error}"),
        "a folder you may write to, with room on the disk",
        "give another folder with --out",
    )
}
