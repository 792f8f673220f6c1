//! `twinsow new`: a job file from the user's own files.

mod compose;
mod inputs;
mod questions;

use super::exit::Exit;
use super::guard;
use super::screen::Screen;
use super::show::number::hectares;
use crate::edit::NewJob;
use crate::findings::{Fault, Outcome, Place};
use crate::job::Job;
use crate::write;
use clap::Args as ClapArgs;
use inputs::{Input, Zones};
use std::fmt::Write as _;
use std::fs;
use std::io::{self, IsTerminal};
use std::path::{Path, PathBuf};

/// Starts a job file from your own boundary and layers
///
/// Writes DIR/job.toml with every setting explained. Your files stay where they are; the job file
/// names them. What only you know is "?" and marked EDIT: a job with one does not plan. In a terminal it
/// asks for what is not given; with folder and boundary given it asks nothing.
#[derive(Debug, Default, Clone, ClapArgs)]
#[command(after_help = "Examples:
  twinsow new
  twinsow new long-furrow --boundary boundary.geojson
  twinsow new long-furrow --boundary stick/TASKDATA --field \"Long Furrow\"
  twinsow new long-furrow --boundary farm.gpkg --layer soil.shp --layer phosphate.geojson
  twinsow new long-furrow --boundary b.shp --layer soil.shp --class-attribute texture")]
pub(super) struct Args {
    /// Folder for the job file; made if it is not there
    #[arg(value_name = "DIR")]
    folder: Option<PathBuf>,
    /// File with the polygons of the field, or task data from the terminal
    #[arg(long, value_name = "FILE")]
    boundary: Option<PathBuf>,
    /// Name or id of the field, where task data hold several
    #[arg(long, value_name = "NAME")]
    field: Option<String>,
    /// File with polygons of zones; may be given several times
    #[arg(long = "layer", value_name = "FILE")]
    layers: Vec<PathBuf>,
    /// Attribute with the classes, where the guess is wrong; may be given several times
    #[arg(long = "class-attribute", value_name = "NAME")]
    class_attributes: Vec<String>,
    /// CRS of files that declare none, such as EPSG:25832
    #[arg(long, value_name = "CRS")]
    crs: Option<String>,
}

pub(super) fn run(args: &Args, screen: &mut Screen) -> Exit {
    match guard::guarded(|| start(args)) {
        Ok(text) => {
            screen.print(&text);
            Exit::Done
        }
        Err(fault) => {
            screen.fault(&fault);
            Exit::of_fault(&fault)
        }
    }
}

/// Writes the job file; gives what to tell the user.
fn start(args: &Args) -> Outcome<String> {
    let mut args = args.clone();
    if io::stdin().is_terminal() && io::stderr().is_terminal() {
        questions::ask(&mut args, &mut io::stdin().lock(), &mut io::stderr())?;
    }
    written(&args).map(|(_, told)| told)
}

/// Writes a job file from what the page of `edit` knows; gives its path.
///
/// # Errors
/// As the command.
pub(super) fn made(job: &NewJob) -> Outcome<PathBuf> {
    let args = Args {
        folder: Some(job.folder.clone()),
        boundary: Some(job.boundary.clone()),
        field: job.field.clone(),
        layers: job.layers.clone(),
        class_attributes: job.class_attributes.clone(),
        crs: job.crs.clone(),
    };
    guard::guarded(|| written(&args)).map(|(file, _)| file)
}

/// Writes the job file; gives its path and what to tell the user.
fn written(args: &Args) -> Outcome<(PathBuf, String)> {
    let (Some(folder), Some(boundary)) = (&args.folder, &args.boundary) else {
        return Err(Fault::input(
            "new.not_given",
            Place::nowhere(),
            match args.folder {
                None => "no folder for the job is given",
                Some(_) => "no boundary is given",
            },
            "twinsow new DIR --boundary FILE, or 'twinsow new' alone in a terminal, which asks",
            "give the folder and the file with the field's polygons",
        ));
    };
    let file = folder.join("job.toml");
    if file.symlink_metadata().is_ok() {
        return Err(Fault::input(
            "new.exists",
            Place::file(&file),
            "there is a job file already",
            "a folder without job.toml",
            "give another folder, or move the job file away; nothing was changed",
        ));
    }
    let boundary = Input::boundary(boundary, args.field.as_deref(), args.crs.as_deref())?;
    let zones = inputs::zones(&args.layers, &args.class_attributes, args.crs.as_deref())?;
    fs::create_dir_all(folder).map_err(|error| unwritable(folder, &error))?;
    let text = compose::job(folder, &boundary, &zones)?;
    Job::parse(&with_examples(&text), &file)?;
    write::save(&file, text.as_bytes()).map_err(|error| unwritable(&file, &error))?;
    let told = told(&file, &text, &boundary, &zones);
    Ok((file, told))
}

/// What comes of a fertiliser in the air stream when the job says nothing more.
const BESIDE_THE_SEED: &str = "\
The fertiliser would lie beside the seed, and the job names no limit for it yet: the plan then lays none of it and asks
for a decision. One of these settles it, and the job file has each as a comment:
  a limit         [[seed_safe]] with crop, spread_m and texture; row_spacing_m in [drill]; grade and form of the fertiliser
  your own        [[own_seed_limit]]: a number that you sign, where no table covers your case
  none of it      [[accepted]]: all of it is broadcast; the plan writes the entry, ready to be signed
  only one seed   take the second [[product]] out
";

/// The text with a value in every open place: what is in it besides has to be sound.
fn with_examples(text: &str) -> String {
    // All open numbers, widths, litres and rates, may be 50.
    let crop = text.replace("crop = \"?\"", "crop = \"wheat\"");
    let parts = crop.replace("in_parts = \"?\"", "in_parts = true");
    parts.replace("= \"?\"", "= 50")
}

fn unwritable(path: &Path, error: &std::io::Error) -> Box<Fault> {
    Fault::machine(
        "new.unwritable",
        Place::file(path),
        format!("this cannot be written: {error}"),
        "a folder you may write to, with room on the disk",
        "give another folder",
    )
}

fn told(file: &Path, text: &str, boundary: &Input, zones: &[Zones]) -> String {
    let mut told = format!("Wrote {}\n", file.display());
    let area = boundary
        .survey
        .ground
        .as_ref()
        .map_or(0.0, |ground| ground.area_m2);
    let count = boundary.survey.layer.features.len();
    let _ = writeln!(
        told,
        "  field: {} ha in {count} feature(s) of {}",
        hectares(area),
        boundary.path.display()
    );
    match &boundary.table {
        Some(_) if boundary.obstacles => {
            let _ = writeln!(told, "    its obstacles are exclusions of the job");
        }
        Some(table) if boundary.only.is_empty() => {
            let _ = writeln!(told, "    from layer '{table}', the first with polygons");
        }
        _ => {}
    }
    for zone in zones {
        let Some(attribute) = zone.attribute() else {
            continue;
        };
        let _ = writeln!(
            told,
            "  layer '{}': {} classes, values of the attribute '{}' (another one: --class-attribute)",
            zone.name, attribute.distinct, attribute.name
        );
        if let Some(table) = &zone.input.table {
            let _ = writeln!(
                told,
                "    from layer '{table}' of the file, the first with polygons"
            );
        }
    }
    let lines: Vec<String> = text
        .lines()
        .enumerate()
        .filter(|(_, line)| line.contains(compose::MARK))
        .map(|(n, _)| (n + 1).to_string())
        .collect();
    let _ = writeln!(
        told,
        "\nWhat only you know is \"?\" in it, and it does not plan before all are filled in, marked {}:",
        compose::MARK
    );
    let _ = writeln!(told, "  lines {}", lines.join(", "));
    told.push_str(BESIDE_THE_SEED);
    let _ = writeln!(
        told,
        "Then look at the drill:\n  twinsow plan {}",
        file.display()
    );
    told
}
