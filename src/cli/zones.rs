//! `twinsow zones`: the zones alone, to be edited in a GIS and brought back.

use super::exit::Exit;
use super::one_field;
use super::screen::Screen;
use super::show;
use super::show::number::{Numbers, hectares};
use super::show::table::{Column, Table};
use super::{clock, frame, progress, relative, targets};
use crate::findings::{Fault, Outcome, Place};
use crate::job::Values;
use crate::map::{self, ClassZone};
use crate::plan::{self, Disk, Options};
use crate::write::{self, Beside, Written};
use clap::Args as ClapArgs;
use std::fmt::Write as _;
use std::fs;
use std::path::{Path, PathBuf};

/// Writes only the zones of a job
///
/// Reads boundary and layers, makes zones of rasters and points, mends overlaps and gaps, and writes the
/// zones of every layer as they tile the field. Edit them in a GIS and name the file in the job instead
/// of the layer's own.
#[derive(Debug, ClapArgs)]
#[command(after_help = "Examples:
  twinsow zones job.toml
  twinsow zones job.toml --out zones-2027")]
pub(super) struct Args {
    /// Job file
    #[arg(value_name = "JOB.toml")]
    job: PathBuf,
    /// Which field of a job with split_by: the value that tells it apart
    #[arg(long, value_name = "VALUE")]
    field: Option<String>,
    /// Folder for the files, new or empty [default: <job>-zones beside the job file]
    #[arg(long, value_name = "DIR")]
    out: Option<PathBuf>,
}

pub(super) fn run(args: &Args, screen: &mut Screen) -> Exit {
    frame::run(screen, || made(args))
}

fn made(args: &Args) -> Outcome<(String, Exit)> {
    let out = args.out.clone().unwrap_or_else(|| {
        let stem = args.job.file_stem().unwrap_or_default().to_string_lossy();
        let field = args.field.iter().map(String::as_str);
        let field = write::file_stems(field).concat();
        let dash = if field.is_empty() { "" } else { "-" };
        args.job
            .with_file_name(format!("{stem}{dash}{field}-zones"))
    });
    is_free(&out)?;
    targets::outside_results(&out)?;
    let job = one_field::load(&args.job, args.field.as_deref())?;
    if job.layers.is_empty() {
        return Err(Fault::input(
            "zones.no_layer",
            Place::file(&args.job),
            "the job has no [[layer]], so there are no zones",
            "at least one [[layer]]",
            "add one; docs/methods/zones-from-values.md says how to make zones of rasters and points",
        ));
    }
    let options = Options {
        tell: &progress::told,
        ..Options::default()
    };
    let prepared = plan::prepare(&job, &Disk, &options)?;
    let layers: Vec<(&str, Vec<ClassZone>)> = job
        .layers
        .iter()
        .enumerate()
        .map(|(n, layer)| {
            let zones = map::class_zones(&prepared.units, n, &prepared.frame);
            (layer.name.as_str(), zones)
        })
        .collect();
    let about = format!("version {}\nzones", env!("CARGO_PKG_VERSION"));
    let timestamp = clock::timestamp();
    let (written, names) = write::folder::replace(&out, &about, |folder| {
        let beside = Beside {
            frame: &prepared.frame,
            zonal: &prepared.zonal,
            surfaces: &prepared.surfaces,
        };
        write::zones(&layers, &beside, folder, &timestamp)
    })?;
    let mut text = table(&layers);
    if !prepared.findings.is_empty() {
        text.push_str(&show::findings::grouped(
            &prepared.findings,
            Numbers::of(job.report.units),
        ));
    }
    text.push_str(&files(&out, &written));
    let _ = writeln!(
        text,
        "\nEdit {} in a GIS; then, in the job, a layer becomes:",
        out.join("zones.gpkg").display()
    );
    if let (Some((layer, _)), Some(table)) = (layers.first(), names.first()) {
        let inside = out.join("zones.gpkg");
        let from_job = relative::way(&job.folder, &inside).map(|names| names.join("/"));
        let _ = writeln!(
            text,
            "  [[layer]]\n  name = \"{layer}\"\n  source = {{ file = '{}', table = \"{table}\" }}\n  class_attribute = \"{}\"",
            from_job.unwrap_or_else(|| inside.display().to_string()),
            Values::CLASS_ATTRIBUTE
        );
    }
    Ok((text, Exit::of_findings(&prepared.findings, false)))
}

/// Whoever has edited zones must not lose them to the next run.
fn is_free(out: &Path) -> Outcome<()> {
    let taken = fs::read_dir(out).is_ok_and(|mut entries| entries.next().is_some());
    if !taken {
        return Ok(());
    }
    Err(Fault::input(
        "zones.folder_taken",
        Place::file(out),
        "the folder is there and holds something, perhaps zones that somebody has edited",
        "a new or empty folder",
        "name another one with --out, or move this one away",
    ))
}

fn table(layers: &[(&str, Vec<ClassZone>)]) -> String {
    let mut table = Table::new([
        Column::Left("layer"),
        Column::Left("class"),
        Column::Right("ha"),
        Column::Right("pieces"),
    ]);
    for (layer, zones) in layers {
        for zone in zones {
            table.row([
                (*layer).to_owned(),
                zone.class.clone(),
                hectares(zone.area_m2),
                zone.polygons.len().to_string(),
            ]);
        }
    }
    table.text()
}

fn files(out: &Path, written: &[Written]) -> String {
    let mut table = Table::new([
        Column::Left("file"),
        Column::Right("kB"),
        Column::Left("what for"),
    ]);
    for file in written {
        table.row([
            file.path.display().to_string(),
            format!("{:.1}", file.bytes as f64 / 1000.0),
            file.what.clone(),
        ]);
    }
    format!("\nFiles in {}\n{}", out.display(), table.text())
}
