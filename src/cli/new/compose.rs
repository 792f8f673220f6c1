//! The text of a new job file.

use super::fields::Fields;
use super::inputs::{Input, listed};
use super::values::{Of, Values};
use super::zones::{Kind, Zones};
use crate::cli::relative;
use crate::cli::show::number::hectares;
use crate::cli::survey::AttributeKind;
use crate::findings::{Fault, Outcome, Place};
use crate::job::Source;
use std::fmt::Write as _;
use std::path::Path;

/// Marks lines whose value is open: only the user knows it.
pub(super) const MARK: &str = "# EDIT";

/// Rates in kg/ha that stand in comments as examples: round figures in the usual range, common practice, no source.
const SEED_RATE: u32 = 160;
const FERTILISER_RATE: u32 = 100;

const DRILL: &str = include_str!("drill.toml");
const SEED: &str = include_str!("seed.toml");
const FERTILISER: &str = include_str!("fertiliser.toml");
const LAND: &str = include_str!("land.toml");
const SETTINGS: &str = include_str!("settings.toml");

/// The job file for these inputs, to lie in `folder`, which exists.
///
/// # Errors
/// A path that is not UTF-8, or that the system cannot resolve.
pub(super) fn job(folder: &Path, boundary: &Input, zones: &[Zones]) -> Outcome<String> {
    let stem = boundary
        .source
        .file
        .file_stem()
        .map(|stem| stem.to_string_lossy().into_owned());
    let customer = match said_of_all(boundary, &["customer"]) {
        Some(customer) => format!("customer = {}", quoted(&customer)),
        None => "# customer = \"\"".to_owned(),
    };
    // What picks the field out of several is its name; of task data it is an id, and the name stands beside it.
    let values: Vec<&str> = boundary.source.only.values().map(String::as_str).collect();
    let picked =
        Some(values.join(", ")).filter(|name| !boundary.is_task_data && !name.trim().is_empty());
    let said = said_of_all(boundary, &["field_name", "name", "field"]);
    let name = said.or(picked).or(stem);
    let name = quoted(&name.unwrap_or_else(|| "field".to_owned()));
    let farm = match said_of_all(boundary, &["farm_name", "farm"]) {
        Some(farm) => format!("farm = {}", quoted(&farm)),
        None => "# farm = \"\"".to_owned(),
    };
    let mut text = format!(
        "# A job of twinsow. Every setting is here; those behind a # are optional, with their default or
# an example. Keys carry their unit of measure. Lines marked EDIT have a \"?\": only you know the value,
# and the job does not plan before it is there. The label, local rules and licensed advice come first.
# 'twinsow plan job.toml' plans it; 'twinsow schema' prints all keys.

name = {name}                 # name of the plan, on the terminal and the sheets
# sowing_date = \"2026-10-05\"    # for rates by date (by_date of a rate); 'plan --sowing-date' changes it
# seedbed = \"not_known\"         # moist, dry, or not_known: two plans to choose from at the field; else 'dry' of each [[seed_safe]]
# transformation_grids = \"grids\"  # folder with NTv2 grids (.gsb) for more exact datum shifts

[field]
name = {name}
{farm}
{customer}
# country = \"united_kingdom\"   # seeds are also held against what its publishers print: australia, canada, ireland, new_zealand, united_states
# entrance = {{ lon = 8.25, lat = 50.5 }}   # where the drill enters: places of the gate check lie near it
{}
",
        several(boundary)
    );
    let _ = writeln!(text, "boundary = {}", source_of(folder, &boundary.source)?);
    match &boundary.split_by {
        Some(attribute) => {
            let _ = writeln!(
                text,
                "split_by = {}           # a field of its own for each value of this attribute\n",
                quoted(attribute)
            );
        }
        None => text.push_str("# split_by = \"field_id\"           # a field of its own for each value of this attribute\n\n"),
    }
    if boundary.obstacles {
        let _ = writeln!(
            text,
            "# Water, buildings, roads and obstacles that the terminal knows in this field: they are not sown.\n[[exclusion]]\nname = \"obstacles\"\nsource = {}\n",
            source_of(
                folder,
                &Source {
                    table: Some("obstacles".to_owned()),
                    ..boundary.source.clone()
                }
            )?
        );
    }
    text.push_str(LAND);
    for zone in zones {
        text.push_str(&layer(folder, zone)?);
    }
    if zones.is_empty() {
        text.push_str(NO_LAYER);
    }
    text.push_str(FROM_VALUES);
    text.push_str(DRILL);
    text.push_str(SEED);
    text.push_str(&rate(SEED_RATE, zones.first()));
    text.push_str(&after_rate("seed"));
    text.push_str(FERTILISER);
    text.push_str(&rate(FERTILISER_RATE, zones.get(1).or(zones.first())));
    text.push_str(&after_rate("fertiliser"));
    text.push_str(SETTINGS);
    Ok(text)
}

const NO_LAYER: &str = "\
# Zone layers: polygons with a class each. Rates refer to them by name and class.
# [[layer]]
# name = \"soil\"
# source = { file = \"soil.geojson\" }
# class_attribute = \"texture\"
# overlaps = \"first\"              # which polygon counts where two overlap: first or last
# class_of_gaps = \"loam\"          # class of land that no polygon covers
";

const FROM_VALUES: &str = "\
# A zone layer may also be a raster (GeoTIFF, ESRI ASCII grid). Then 'values' says how its values become
# classes, instead of class_attribute:
#   [[layer]]
#   name = \"conductivity\"
#   source = { file = \"conductivity.tif\" }
#   [layer.values]
#   method = \"natural_breaks\"        # or quantiles, equal_interval, edges, as_they_are
#   classes = 4                       # planning prints how much each number of classes explains
#   edges = [10, 20]                  # for method = \"edges\": values between the classes
#   class_names = [\"low\", \"high\"]   # from low to high; else \"1\", \"2\" ...
#   named_by = \"mean\"               # without class_names: classes are called by their mean value, for curves
#   smallest_zone_m2 = 500            # smaller zones join a neighbour; without it none do
#   small_zones_join = \"longest_border\"  # or most_alike: the nearest mean value
#   narrowest_zone_m = 12             # narrower parts go to what lies beside them
#   narrowest_zone_widths = 2         # the same in working widths, instead of metres
#   smooth_borders = true             # no stairs along the pixels
#   band = 1
#   no_value = -9999                  # where the file itself does not say what stands for no value
# or a line across the field, for lots and trials; its classes are \"left\" and \"right\", seen along it:
#   [[layer]]
#   name = \"halves\"
#   line = [{ lon = 8.25, lat = 50.5 }, { lon = 8.26, lat = 50.5 }]   # or source = { file = \"line.geojson\" }, divides = true
# or what the ledger of the farm says was placed this season, which comes off the need of the next product:
#   [[layer]]
#   name = \"drilling\"
#   source = { file = \"../ledger/2026.geojson\" }
#   placed_since = \"2026-09-15\"     # the first day of this season
# or points (CSV, GeoPackage ...), with a surface through their values:
#   [[layer]]
#   name = \"phosphate\"
#   source = { file = \"samples.csv\", x_column = \"east\", y_column = \"north\", crs = \"EPSG:25832\", decimal_comma = true }
#   values = { method = \"edges\", edges = [10, 20], surface = \"kriging\", column = \"P\" }
# Surfaces: nearest, inverse_distance (with power), smoothed (with smoothing_m, for dense points), kriging (with
# variogram: spherical, exponential, gaussian), on cells of surface_cell_m. Left out are points below lowest,
# above highest, or more than most_deviations off the median; and of points recorded while driving:
#   track = { delay_points = 8, speed_column = \"km_h\", slowest = 3, fastest = 9, overlap_m = 2 }
# Several layers together, each counting alike:
#   values = { method = \"k_means\", classes = 4, also = [{ source = { file = \"yield.csv\" }, surface = \"smoothed\", smoothing_m = 15, column = \"t_per_ha\" }] }
# Polygons with a number each from the raster under them, for a curve in a rate:
#   source = { file = \"soil.geojson\" }
#   zonal = { source = { file = \"yield.tif\" }, value = \"mean\", decimals = 1 }   # or median, lowest, highest, or
#                                     # share_percent with between = [10, 20], and band, no_value as above

";

fn several(boundary: &Input) -> String {
    let count = boundary.survey.layer.features.len();
    let pick = "# Only some features of a file: { file = \"...\", only = { attribute = \"value\" } }; one layer\n\
        # of several: table = \"...\"; a CRS where the file declares none: crs = \"EPSG:25832\".";
    match count {
        _ if boundary.split_by.is_some() => pick.to_owned(),
        1 => format!(
            "{pick}\n# in_parts = true                # several features of the file are parts of this field"
        ),
        _ if boundary.in_parts => {
            format!("in_parts = true                  # {count} features\n{pick}")
        }
        _ if told_apart(boundary) => format!(
            "# The file has {count} features that its attributes tell apart: fields, or parts of one?{}\n\
             in_parts = \"?\"                  {MARK}: true for parts of one field. For fields take this line out, and name one with 'only', or all with split_by\n{pick}",
            match Fields::of(&boundary.survey) {
                Some(fields) => format!(
                    "\n# Values of {}: {}",
                    comment(&fields.attributes.join(" and ")),
                    comment(&listed(&fields).replace('\u{a0}', " "))
                ),
                None => String::new(),
            }
        ),
        _ => format!(
            "# The file has {count} features that nothing tells apart: they are parts of the field.\nin_parts = true\n{pick}"
        ),
    }
}

/// Whether every feature has a value of some attribute, and not all the same one.
fn told_apart(boundary: &Input) -> bool {
    let mut attributes = boundary.survey.attributes.iter();
    attributes.any(|attribute| attribute.missing == 0 && attribute.distinct > 1)
}

/// The one text that an attribute of this name has on all features of the boundary.
fn said_of_all(boundary: &Input, names: &[&str]) -> Option<String> {
    let attributes = &boundary.survey.attributes;
    names.iter().find_map(|name| {
        let attribute = attributes
            .iter()
            .find(|own| own.name.eq_ignore_ascii_case(name))?;
        let [class] = attribute.classes.as_slice() else {
            return None;
        };
        let fits = attribute.kind == AttributeKind::Text && attribute.missing == 0;
        let text: String = class.value.chars().filter(|c| !c.is_control()).collect();
        (fits && !text.trim().is_empty()).then(|| text.trim().to_owned())
    })
}

/// TOML text in quotes.
fn quoted(text: &str) -> String {
    toml::Value::String(text.to_owned()).to_string()
}

/// A comment must not end its line early.
fn comment(text: &str) -> String {
    text.chars()
        .map(|c| if c.is_control() { ' ' } else { c })
        .collect()
}

/// A source as the job in this folder names it.
fn source_of(folder: &Path, source: &Source) -> Outcome<String> {
    let whole = |path: &Path| {
        path.canonicalize().map_err(|error| {
            Fault::machine(
                "new.unresolved_path",
                Place::file(path),
                format!("the path cannot be resolved: {error}"),
                "a path the system can follow",
                "move the file to another folder",
            )
        })
    };
    let file = whole(&source.file)?;
    let way = relative::names(&whole(folder)?, &file).map(|names| names.join("/"));
    // No way leads to another drive.
    let path = way.or_else(|| file.to_str().map(str::to_owned));
    let path = path.ok_or_else(|| {
        Fault::input(
            "new.path_not_utf8",
            Place::file(&source.file),
            "the path is not UTF-8, and a job file is",
            "a path in UTF-8",
            "rename the file or its folder",
        )
    })?;
    let mut text = format!("{{ file = {}", quoted(&path));
    for (key, value) in [
        ("table", &source.table),
        ("crs", &source.crs),
        ("x_column", &source.x_column),
        ("y_column", &source.y_column),
    ] {
        if let Some(value) = value {
            let _ = write!(text, ", {key} = {}", quoted(value));
        }
    }
    if let Some(decimal) = source.decimal_comma {
        let _ = write!(text, ", decimal_comma = {decimal}");
    }
    if !source.only.is_empty() {
        let pairs = source.only.iter();
        let pairs: Vec<String> = pairs
            .map(|(attribute, value)| format!("{} = {}", key(attribute), quoted(value)))
            .collect();
        let _ = write!(text, ", only = {{ {} }}", pairs.join(", "));
    }
    text.push_str(" }");
    Ok(text)
}

/// A key of TOML, in quotes where it needs them.
fn key(name: &str) -> String {
    let bare = |c: char| c.is_ascii_alphanumeric() || c == '_' || c == '-';
    match !name.is_empty() && name.chars().all(bare) {
        true => name.to_owned(),
        false => quoted(name),
    }
}

fn layer(folder: &Path, zone: &Zones) -> Outcome<String> {
    let (survey, attribute) = match &zone.kind {
        Kind::Values(values) => return from_values(folder, zone, values),
        Kind::Polygons(survey, nth) => (survey, survey.attributes.get(*nth)),
    };
    let Some(attribute) = attribute else {
        return Ok(String::new());
    };
    let others = survey.layer.attributes.iter();
    let others: Vec<String> = others.map(|name| quoted(name)).collect();
    Ok(format!(
        "# A zone layer: polygons with a class each. Rates refer to it by name and class.
[[layer]]
name = {}
source = {}
class_attribute = {}    # chosen from: {}
# overlaps = \"first\"              # which polygon counts where two overlap: first or last
# class_of_gaps = \"...\"           # class of land that no polygon covers; else that of the neighbour

",
        quoted(&zone.name),
        source_of(folder, &zone.source)?,
        quoted(&attribute.name),
        comment(&others.join(", "))
    ))
}

/// A zone layer whose classes come from values.
fn from_values(folder: &Path, zone: &Zones, values: &Values) -> Outcome<String> {
    let mut text = format!(
        "# A zone layer from values: how they become classes stands in [layer.values]. Rates refer to it by name and class.
[[layer]]
name = {}
source = {}
[layer.values]
",
        quoted(&zone.name),
        source_of(folder, &zone.source)?
    );
    match &values.of {
        Of::Points {
            columns,
            column,
            dense,
        } => {
            let known: Vec<String> = columns.iter().map(|name| quoted(name)).collect();
            let known = comment(&known.join(", "));
            let _ = match column {
                Some(column) => writeln!(
                    text,
                    "column = {}    # the values, chosen from: {known}",
                    quoted(column)
                ),
                None => writeln!(
                    text,
                    "column = \"?\"                    {MARK}: the column with the values, one of {known}"
                ),
            };
            text.push_str(match dense {
                true => "surface = \"smoothed\"             # points recorded while driving; nearest, inverse_distance or kriging for others\nsmoothing_m = 15                 # the values within this distance are averaged\n",
                false => "surface = \"inverse_distance\"     # or kriging (from some thirty points on), nearest, smoothed: values between the points\n",
            });
        }
        Of::Raster { bands: 1 } => {}
        Of::Raster { bands } => {
            let _ = writeln!(
                text,
                "band = \"?\"                      {MARK}: which of the {bands} bands, from 1"
            );
        }
    }
    if values.as_they_are {
        text.push_str("method = \"as_they_are\"           # its whole numbers are the classes\n\n");
        return Ok(text);
    }
    let names: Vec<String> = values.classes.iter().map(|name| quoted(name)).collect();
    let _ = writeln!(
        text,
        "method = \"natural_breaks\"        # or edges, at the limits of your local index table: edges = [10, 20]; quantiles, equal_interval
classes = {}                      # 3 to 5 are common practice; planning prints how much each number of classes explains
class_names = [{}]   # from low to high
",
        names.len(),
        names.join(", ")
    );
    Ok(text)
}

/// `[product.rate]`, open for every class of the layer, or for the whole field.
fn rate(kg_per_ha: u32, zone: Option<&Zones>) -> String {
    let Some(zone) = zone else {
        return format!(
            "[product.rate]\nkg_per_ha = \"?\"                   {MARK}: kg/ha everywhere, such as {kg_per_ha}\n"
        );
    };
    let mut text = format!(
        "# One rate per class of layer '{}'.
[product.rate.kg_per_ha]
layer = {}
# otherwise = {kg_per_ha}                   # for classes not listed; without it such a class is an error

[product.rate.kg_per_ha.by_class]             # kg/ha
",
        comment(&zone.name),
        quoted(&zone.name)
    );
    for (class, land) in classes(zone) {
        let key = quoted(&class);
        let _ = writeln!(text, "{key} = \"?\"     {MARK}: kg/ha{land}");
    }
    text
}

/// Each class, and what is known of its land.
fn classes(zone: &Zones) -> Vec<(String, String)> {
    match &zone.kind {
        Kind::Polygons(..) => {
            let classes = zone.attribute().into_iter().flat_map(|of| &of.classes);
            let land = |m2: f64| hectares(m2).replace('\u{a0}', " ");
            classes
                .map(|class| {
                    let has = format!("; the layer has {} ha of it", land(class.area_m2));
                    (class.value.clone(), has)
                })
                .collect()
        }
        Kind::Values(values) => {
            let classes = values.classes.iter();
            classes
                .map(|class| (class.clone(), String::new()))
                .collect()
        }
    }
}

fn after_rate(id: &str) -> String {
    format!(
        "
# Percent of the rate, in this order; by class: percent = {{ layer = \"...\", by_class = {{ ... }} }}
# [[product.adjust]]
# because = \"cloddy headland\"
# percent = 110
# land_part = \"headland\"          # headland or interior; without it both

# Limits of the rate of '{id}'; a rate of 0 stays 0.
# [product.limits]
# min_kg_per_ha = 40
# max_kg_per_ha = 250
# label_max_kg_per_ha = 300        # what the label allows: nothing exceeds it
#   label_max_seeds_per_ha = 4000000   # the same in seeds, as the tag of dressed seed may say it
# step_kg_per_ha = 1
"
    )
}
