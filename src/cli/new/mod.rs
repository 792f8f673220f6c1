//! `twinsow new`: a job file from the user's own files.

mod compose;
pub(super) mod fields;
mod inputs;
mod questions;
pub(super) mod values;
mod zones;

use super::exit::Exit;
use super::frame;
use super::guard;
use super::locale;
use super::screen::Screen;
use super::show::number::hectares;
use super::targets;
use crate::edit::{NewJob, NewLayer, WhichField};
use crate::findings::{Fault, Outcome, Place};
use crate::job::{Job, Language, Source};
use crate::write;
use clap::Args as ClapArgs;
use fields::Fields;
use inputs::Input;
use std::fmt::Write as _;
use std::io::{self, IsTerminal};
use std::path::{Path, PathBuf};
use zones::{Columns, Kind, Zones};

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
  twinsow new long-furrow --boundary farm.gpkg --field \"Long Furrow\" --layer soil.shp --layer conductivity.tif
  twinsow new long-furrow --boundary b.shp --layer soil.shp --class-attribute texture
  twinsow new long-furrow --boundary b.shp --layer samples.csv --value-column P --crs EPSG:25832
  twinsow new all-fields --boundary farm.gpkg --split-by name")]
pub(super) struct Args {
    /// Folder for the job file; made if it is not there
    #[arg(value_name = "DIR")]
    folder: Option<PathBuf>,
    /// File with the polygons of the field, or task data from the terminal
    #[arg(long, value_name = "FILE")]
    boundary: Option<PathBuf>,
    /// Name or id of the field, where the boundary file holds several
    #[arg(long, value_name = "NAME")]
    field: Option<String>,
    /// Each value of this attribute of the boundary is a field of its own
    #[arg(long, value_name = "NAME", conflicts_with = "field")]
    split_by: Option<String>,
    /// The features of the boundary are parts of one field
    #[arg(long, conflicts_with_all = ["field", "split_by"])]
    in_parts: bool,
    /// File with zones: polygons with classes, points with values (samples), or a raster; may be given several times
    #[arg(long = "layer", value_name = "FILE")]
    layers: Vec<PathBuf>,
    /// Attribute with the classes of polygons, where the guess is wrong; may be given several times
    #[arg(long = "class-attribute", value_name = "NAME")]
    class_attributes: Vec<String>,
    /// Column with the values of points, where several have numbers; may be given several times
    #[arg(long = "value-column", value_name = "NAME")]
    value_columns: Vec<String>,
    /// Column of a CSV file with x or longitude, where its name does not say so
    #[arg(long, value_name = "NAME", requires = "y_column")]
    x_column: Option<String>,
    /// Column of a CSV file with y or latitude
    #[arg(long, value_name = "NAME", requires = "x_column")]
    y_column: Option<String>,
    /// Whether a comma in numbers of a CSV file is a decimal one, where that is not plain
    #[arg(long, value_name = "true|false")]
    decimal_comma: Option<bool>,
    /// CRS of files that declare none, such as EPSG:25832
    #[arg(long, value_name = "CRS")]
    crs: Option<String>,
}

impl Args {
    /// The boundary as a source.
    fn boundary_source(&self, file: &Path) -> Source {
        Source {
            file: file.to_path_buf(),
            crs: self.crs.clone(),
            ..Source::default()
        }
    }

    /// A layer; what is said about columns is for files of points.
    fn layer(&self, file: &Path) -> NewLayer {
        let is_table = file.extension().is_some_and(|ending| {
            ["csv", "tsv", "xlsx", "xlsm", "ods"]
                .iter()
                .any(|known| ending.eq_ignore_ascii_case(known))
        });
        let mut source = self.boundary_source(file);
        if is_table {
            source.x_column.clone_from(&self.x_column);
            source.y_column.clone_from(&self.y_column);
            source.decimal_comma = self.decimal_comma;
        }
        NewLayer {
            source,
            column: None,
        }
    }

    fn which(&self) -> WhichField {
        match (&self.field, &self.split_by) {
            (Some(name), _) => WhichField::Named(name.clone()),
            (None, Some(attribute)) => WhichField::Each(attribute.clone()),
            (None, None) if self.in_parts => WhichField::Parts,
            (None, None) => WhichField::Unsaid,
        }
    }
}

pub(super) fn run(args: &Args, screen: &mut Screen) -> Exit {
    frame::run(screen, || start(args))
}

/// Writes the job file; gives what to tell the user.
fn start(args: &Args) -> Outcome<String> {
    let mut args = args.clone();
    if io::stdin().is_terminal() && io::stderr().is_terminal() {
        questions::ask(&mut args, &mut io::stdin().lock(), &mut io::stderr())?;
    }
    let columns = Columns {
        classes: &args.class_attributes,
        values: &args.value_columns,
    };
    written(&asked(&args)?, &columns).map(|(_, told)| told)
}

/// Writes a job file from what the page of `edit` knows; gives its path.
///
/// # Errors
/// As the command.
pub(super) fn made(job: &NewJob) -> Outcome<PathBuf> {
    guard::guarded(|| written(job, &Columns::default())).map(|(file, _)| file)
}

/// The job that the command line means.
fn asked(args: &Args) -> Outcome<NewJob> {
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
    Ok(NewJob {
        folder: folder.clone(),
        boundary: args.boundary_source(boundary),
        field: args.which(),
        layers: args.layers.iter().map(|file| args.layer(file)).collect(),
        language: locale::language(),
    })
}

/// Writes the job file; gives its path and what to tell the user.
fn written(job: &NewJob, columns: &Columns) -> Outcome<(PathBuf, String)> {
    let folder = &job.folder;
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
    let boundary = Input::boundary(&job.boundary, &job.field)?;
    let zones = zones::zones(&job.layers, columns, boundary.survey.near().as_ref())?;
    targets::make_folder(folder)?;
    let mut text = compose::job(folder, &boundary, &zones)?;
    if job.language != Language::default() {
        text.push_str(&format!(
            "\n[report]\nlanguage = \"{}\"\n",
            job.language.tag()
        ));
    }
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
    let column = parts.replace("column = \"?\"", "column = \"P\"");
    let band = column.replace("band = \"?\"", "band = 1");
    band.replace("= \"?\"", "= 50")
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
    let file_name = boundary.source.file.display();
    let is_one = boundary.in_parts || boundary.split_by.is_some();
    let fields = Fields::of(&boundary.survey).filter(|_| !is_one);
    let _ = match (&fields, &boundary.split_by) {
        (Some(fields), _) => writeln!(
            told,
            "  {count} features of {file_name}, {} ha together, and one job is for one field: {} which is which.
    {}
    one of them: --field NAME; each a field of its own: {}; parts of one field: --in-parts",
            hectares(area),
            match fields.attributes.as_slice() {
                [alone] => format!("{alone} tells"),
                several => format!("{} together tell", several.join(" and ")),
            },
            inputs::listed(fields),
            fields.to_split_by(&boundary.survey).map_or(
                "first give the file one attribute that differs from field to field, for --split-by".to_owned(),
                |attribute| format!("--split-by {attribute}")
            )
        ),
        (None, Some(attribute)) => writeln!(
            told,
            "  {count} features of {file_name}, {} ha together, a field for each value of {attribute}",
            hectares(area)
        ),
        (None, None) => writeln!(
            told,
            "  field: {} ha in {count} feature(s) of {file_name}",
            hectares(area)
        ),
    };
    if let Some(attribute) = &boundary.split_by {
        told.push_str(&joined(boundary, attribute));
    }
    match &boundary.source.table {
        Some(_) if boundary.obstacles => {
            let _ = writeln!(told, "    its obstacles are exclusions of the job");
        }
        Some(table) if boundary.source.only.is_empty() => {
            let _ = writeln!(told, "    from layer '{table}', the first with polygons");
        }
        _ => {}
    }
    for zone in zones {
        told.push_str(&told_of_zones(zone));
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

/// A warning where values of `split_by` stand for several fields, as other ids or the distance say.
fn joined(boundary: &Input, attribute: &str) -> String {
    const MOST: usize = 5;
    let Some((fields, id)) = Fields::joined_by(&boundary.survey, attribute) else {
        return String::new();
    };
    let several = fields.all.iter().filter(|field| field.features.len() > 1);
    let several: Vec<String> = several
        .map(|field| format!("'{}' ({} features)", field.name(), field.features.len()))
        .collect();
    let more = match several.len() > MOST {
        true => format!(" and {} more", several.len() - MOST),
        false => String::new(),
    };
    let why = match id {
        Some(id) => format!("their {id} differs"),
        None => "they lie kilometres apart".to_owned(),
    };
    format!(
        "  WARNING: {} of the {} values of {attribute} have several features, and {why}: {}{more}.
    Each value becomes one field. If these are fields of their own, take an attribute that differs from field to field.\n",
        several.len(),
        fields.all.len(),
        several.iter().take(MOST).cloned().collect::<Vec<_>>().join(", ")
    )
}

fn told_of_zones(zone: &Zones) -> String {
    let mut told = match &zone.kind {
        Kind::Polygons(..) => zone.attribute().map_or_else(String::new, |attribute| {
            format!(
                "  layer '{}': {} classes, values of the attribute '{}' (another one: --class-attribute)\n",
                zone.name, attribute.distinct, attribute.name
            )
        }),
        Kind::Values(values) => format!(
            "  layer '{}': {} classes from the values of {}\n",
            zone.name,
            values.classes.len(),
            match &values.of {
                values::Of::Raster { .. } => "the raster".to_owned(),
                values::Of::Points {
                    column: Some(column),
                    ..
                } => format!("the column '{column}' of the points (another one: --value-column)"),
                values::Of::Points { columns, .. } => format!(
                    "the points; the column is asked for, one of {} (or --value-column)",
                    columns.join(", ")
                ),
            }
        ),
    };
    if let Some(table) = &zone.source.table {
        let _ = writeln!(told, "    from layer '{table}' of the file");
    }
    told
}
