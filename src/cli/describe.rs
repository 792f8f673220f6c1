//! `twinsow describe`: what files hold.

use super::describe_raster;
use super::exit::Exit;
use super::guard;
use super::screen::Screen;
use super::show::findings;
use super::show::number::{Numbers, hectares};
use super::show::sketch;
use super::show::table::{Column, Table};
use super::survey::{self, Attribute, Ground, MOST_CLASSES, Survey};
use crate::findings::without_zeros;
use crate::frame::Near;
use crate::job::Source;
use crate::read::Raster;
use clap::Args as ClapArgs;
use std::fmt::Write as _;
use std::io::IsTerminal;
use std::path::PathBuf;

/// Classes are listed for attributes with up to this many values.
const LISTED: usize = 12;

/// Says what is in vector files, rasters and files of points
///
/// For each file and layer: format, CRS, features, area, extent, attributes, their numbers and the classes
/// they would make; for a raster its size, its bands and their values. In a terminal
/// also a small map of each layer. A bad file does not stop the others.
#[derive(Debug, ClapArgs)]
#[command(after_help = "Examples:
  twinsow describe boundary.geojson soil.shp
  twinsow describe farm.gpkg
  twinsow describe conductivity.tif samples.csv
  twinsow describe stick/TASKDATA
  twinsow describe soil.shp --crs EPSG:25832")]
pub(super) struct Args {
    /// GeoJSON, shapefile (.shp, or zipped), GeoPackage, GPX, KML, KMZ, GML, CSV, .xlsx, .ods, task data (folder or zipped), GeoTIFF or ESRI ASCII grid
    #[arg(required = true, value_name = "FILE")]
    files: Vec<PathBuf>,
    /// CRS of files that declare none, such as EPSG:25832
    #[arg(long, value_name = "CRS")]
    crs: Option<String>,
    /// Draws a small map of each layer, also where the output is no terminal
    #[arg(long)]
    map: bool,
}

pub(super) fn run(args: &Args, screen: &mut Screen) -> Exit {
    let mut worst = Exit::Done;
    let with_map = args.map || std::io::stdout().is_terminal();
    // Where the first of the files with polygons lies, the others should lie too.
    let mut near: Option<Near> = None;
    for file in &args.files {
        if Raster::is(file) {
            match guard::guarded(|| {
                describe_raster::described(file, args.crs.as_deref(), near.as_ref())
            }) {
                Ok((text, fault)) => {
                    screen.print(&text);
                    if let Some(fault) = fault {
                        screen.fault(&fault);
                        worst = worst.max(Exit::of_fault(&fault));
                    }
                }
                Err(fault) => {
                    screen.fault(&fault);
                    worst = worst.max(Exit::of_fault(&fault));
                }
            }
            continue;
        }
        let tables = match guard::guarded(|| survey::tables(file)) {
            Ok(tables) => tables,
            Err(fault) => {
                screen.fault(&fault);
                worst = worst.max(Exit::of_fault(&fault));
                continue;
            }
        };
        for table in tables {
            let source = Source {
                file: file.clone(),
                table,
                crs: args.crs.clone(),
                ..Source::default()
            };
            match guard::guarded(|| survey::survey_of(&source, near.as_ref())) {
                Ok(survey) => {
                    if near.is_none() && survey.has_polygons() {
                        near = survey.near();
                    }
                    screen.print(&described(&survey, with_map));
                    if let Err(fault) = &survey.ground {
                        screen.fault(fault);
                        worst = worst.max(Exit::of_fault(fault));
                    }
                }
                Err(fault) => {
                    screen.fault(&fault);
                    worst = worst.max(Exit::of_fault(&fault));
                }
            }
        }
    }
    worst
}

fn described(survey: &Survey, with_map: bool) -> String {
    let layer = &survey.layer;
    let table = layer
        .table
        .as_ref()
        .map_or(String::new(), |table| format!(", layer '{table}'"));
    let mut text = format!("{}{table}: {}\n", layer.file.display(), layer.format);
    let kinds: Vec<String> = survey
        .kinds
        .iter()
        .map(|(kind, count)| format!("{count} {kind}"))
        .collect();
    let kinds = if kinds.is_empty() {
        "none".to_owned()
    } else {
        kinds.join(", ")
    };
    let _ = writeln!(text, "  features    {} ({kinds})", layer.features.len());
    let mut all = layer.findings.clone();
    match &survey.ground {
        Ok(ground) => {
            text.push_str(&on_the_ground(ground));
            all.extend(ground.findings.iter().cloned());
        }
        Err(_) => text.push_str("  CRS         not known, so neither place nor area is\n"),
    }
    text.push_str(&attributes(survey));
    if with_map {
        text.push_str(&map(survey).unwrap_or_default());
    }
    if !all.is_empty() {
        text.push_str(&findings::grouped(&all, Numbers::METRIC));
    }
    text.push('\n');
    text
}

fn on_the_ground(ground: &Ground) -> String {
    let accuracy = match ground.accuracy_m {
        Some(metres) if metres > 0.0 => format!(", to WGS 84 within {metres} m"),
        _ => String::new(),
    };
    let mut text = format!("  CRS         {}{accuracy}\n", ground.crs);
    if ground.area_m2 > 0.0 {
        let _ = writeln!(
            text,
            "  area        {} ha as drawn",
            hectares(ground.area_m2)
        );
    }
    if let Some([low, high]) = ground.extent {
        let (west, south, east, north) = (low[0], low[1], high[0], high[1]);
        let _ = writeln!(
            text,
            "  extent      longitude {west:.6} to {east:.6}, latitude {south:.6} to {north:.6}"
        );
    }
    text
}

/// The layer as a small map; its classes are those of the first attribute whose classes are listed.
fn map(survey: &Survey) -> Option<String> {
    let ground = survey.ground.as_ref().ok()?;
    let features = survey.layer.features.len();
    let mut attributes = survey.attributes.iter().enumerate();
    let classes = attributes.find(|(_, attribute)| is_listed(attribute, features));
    let classes = classes.map(|(at, attribute)| {
        let values = attribute.classes.iter().map(|class| class.value.clone());
        (at, values.collect::<Vec<String>>())
    });
    let classes = classes.as_ref();
    let classes = classes.map(|(at, values)| (*at, values.as_slice()));
    sketch::text(&ground.lon_lat, ground.extent?, classes)
}

/// Whether the classes of an attribute are worth a table: few, and not one for each feature.
fn is_listed(attribute: &Attribute, features: usize) -> bool {
    let names_each = attribute.distinct == features && features > LISTED;
    let few = attribute.distinct <= LISTED.min(MOST_CLASSES);
    few && !names_each && !attribute.classes.is_empty()
}

fn attributes(survey: &Survey) -> String {
    let attributes: &[Attribute] = &survey.attributes;
    let features = survey.layer.features.len();
    let area = |m2: f64| {
        if survey.ground.is_ok() {
            hectares(m2)
        } else {
            "-".to_owned()
        }
    };
    if attributes.is_empty() {
        return "  attributes  none\n".to_owned();
    }
    let mut table = Table::new([
        Column::Left("attribute"),
        Column::Left("kind"),
        Column::Right("values"),
        Column::Right("missing"),
        Column::Right("lowest"),
        Column::Right("mean"),
        Column::Right("highest"),
    ]);
    for attribute in attributes {
        let (distinct, missing) = (
            attribute.distinct.to_string(),
            attribute.missing.to_string(),
        );
        table.row([
            attribute.name.clone(),
            attribute.kind.words().to_owned(),
            distinct,
            missing,
            number(attribute.range.map(|[lowest, ..]| lowest)),
            number(attribute.range.map(|[_, mean, _]| mean)),
            number(attribute.range.map(|[.., highest]| highest)),
        ]);
    }
    let mut text = table.text();
    for attribute in attributes {
        if !is_listed(attribute, features) {
            continue;
        }
        let title = format!("'{}'", attribute.name);
        let mut table = Table::new([
            Column::Left(title),
            Column::Right("features".to_owned()),
            Column::Right("ha".to_owned()),
        ]);
        for class in &attribute.classes {
            table.row([
                class.value.clone(),
                class.features.to_string(),
                area(class.area_m2),
            ]);
        }
        text.push_str(&table.text());
    }
    text
}

/// A number in six digits at most, or a stroke.
pub(super) fn number(value: Option<f64>) -> String {
    let Some(value) = value else {
        return "-".to_owned();
    };
    let whole = value.abs().max(1.0).log10().floor();
    let decimals = (5.0 - whole).clamp(0.0, 6.0) as usize;
    let text = format!("{value:.decimals$}");
    without_zeros(&text).to_owned()
}
