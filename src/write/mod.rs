//! A plan to files: one module per format. No format knows another.
//!
//! Formats make bytes; [`content`] puts them on the disk, and [`folder`] sees to it that an output
//! folder is replaced as a whole or not at all.

mod archive;
mod ascii_grid;
mod attributes;
mod beside;
mod check;
mod decimal;
mod difference;
mod disk;
mod drawn;
mod drive_layers;
mod terminal_shapefiles;
mod trial_layer;
pub mod folder;
mod forms;
mod geojson;
mod geopackage;
mod geopackage_about;
mod geotiff;
mod holes;
mod json;
mod kml;
mod metadata;
mod names;
mod open_decisions;
mod order;
mod product_names;
mod qml;
mod rings;
mod shapefile;
mod sld;
mod spreader;
mod stamp;
mod steps;
mod style;
mod tables;
mod taskdata;
mod together;
mod zonal;
mod zone_picture;
mod zones;

pub use attributes::CLASSES;
pub use difference::{difference_map, is_difference_map};
pub use disk::{keep_names, save, save_together};
pub use drawn::{DrawnShape, drawn_geojson};
pub use forms::{Form, Forms};
pub use open_decisions::{OpenLine, open_lines, signed_lines};
pub use product_names::{only_rate, product_names};
pub use spreader::{NEVER_TOGETHER, folders_of_spreader, without_folders};
pub use tables::text as table_text;
pub(crate) use tables::{cell, csv};
pub use taskdata::TaskDataSums;
pub use terminal_shapefiles::{area, mass, one_line, rate};
pub use together::{Share, Together};
pub use zones::{Beside, class_zones_geojson, zones};

pub use crate::document::ProductNames;

use crate::findings::Outcome;
use crate::job::Job;
use crate::plan::{GateCheck, Plan};
use shapefile::Field;
use stamp::Stamp;
use std::path::{Path, PathBuf};
use steps::{Steps, Writer};
use taskdata::Variant;

/// A file that was written.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Written {
    /// Relative to the output folder.
    pub path: PathBuf,
    /// Its size.
    pub bytes: u64,
    /// One line on what it is for.
    pub what: String,
}

/// Writes all files of a plan to the folder `out`, which is new, empty, or holds an older plan.
///
/// `timestamp` is the time at which the plan is made, RFC 3339; the same plan and time stamp give the
/// same bytes.
///
/// # Errors
/// The folder holds something else, the time stamp is none, or a format cannot hold the plan (input);
/// the disk is full or may not be written (machine). In each case nothing has changed at `out`.
pub fn deliver(plan: &Plan, out: &Path, timestamp: &str) -> Outcome<Vec<Written>> {
    folder::replace(out, &about(plan), |folder| {
        content(plan, folder, timestamp, &Forms::all())
    })
}

/// The map zones of a plan as GeoJSON text, as in `gis/rates.geojson`.
pub fn map_geojson(plan: &Plan) -> String {
    geojson::text(plan, &plan.maps.rate.zones, &attributes::of(plan))
}

/// One legal file name per text, in order, no two alike where case is ignored.
pub fn file_stems<'a>(texts: impl IntoIterator<Item = &'a str>) -> Vec<String> {
    names::stems(texts)
}

/// Lines for the marker of the output folder.
pub fn about(plan: &Plan) -> String {
    format!("version {}\nplan {}", env!("CARGO_PKG_VERSION"), plan.id)
}

/// Writes the wanted files of a plan into a folder that exists and is empty: what [`deliver`] does inside
/// [`folder::replace`], for callers that have more to put there. The report is left to them.
///
/// While a decision is open, no file that a terminal could load is written for the products that it concerns, and none
/// that holds several products: a note stands in their place.
///
/// # Errors
/// As [`deliver`]; files written so far stay.
pub fn content(
    plan: &Plan,
    folder: &Path,
    timestamp: &str,
    forms: &Forms,
) -> Outcome<Vec<Written>> {
    check::whole(plan)?;
    let stamp = Stamp::parse(timestamp)?;
    let table = attributes::of(plan);
    let ready = Variant::ready(&plan.job);
    // Before anything is done side by side: whoever asks for it next finds it.
    let gate = plan.gate();
    let task_data = match forms.has(Form::TaskData) {
        true => {
            Some(taskdata::of(plan, ready)?.ok_or_else(|| taskdata::too_many_sets(ready.holds))?)
        }
        false => None,
    };
    let task_data = task_data.as_ref();
    let sums = match task_data {
        Some(task_data) => &task_data.sums,
        None => &taskdata::sums(&plan.maps)?,
    };
    let of_drive = match forms.has(Form::Geojson) || forms.has(Form::Geopackage) {
        true => drive_layers::of(plan),
        false => Vec::new(),
    };
    let source = Source {
        plan,
        table: &table,
        layers: &of_drive,
        stamp: &stamp,
        gate,
    };
    let mut steps = Steps::of(folder);
    steps.add(move |writer| {
        let text = json::text(plan, timestamp, sums, (forms, gate))?;
        let what = "everything about this plan, for programs";
        writer.put("plan.json", text.as_bytes(), what)
    });
    if forms.has(Form::Tables) {
        steps.add(move |writer| {
            let what = "what to order, per product and lot";
            writer.put("order.csv", &order::order(plan)?, what)?;
            let what = "the rate table: land, rates and kilograms";
            writer.put("rates.csv", &tables::rates(plan)?, what)
        });
    }
    source.for_gis(forms, &mut steps);

    let held_back = plan.holds_any_back();
    steps.add(move |writer| {
        // Whichever forms are wanted: the report sends its reader there.
        if held_back {
            let what = "what is open, and how to settle it: there are no task data yet";
            writer.put(
                open_decisions::NOTE,
                open_decisions::note(plan).as_bytes(),
                what,
            )?;
        }
        let what = "task data for the terminal: copy the folder TASKDATA to the stick";
        let task_data = task_data.filter(|_| !held_back).into_iter();
        for (at, (name, bytes)) in task_data.flat_map(|of| &of.files).enumerate() {
            let what = if at == 0 { what } else { BINARY };
            writer.put(&format!("terminal/TASKDATA/{name}"), bytes, what)?;
        }
        Ok(())
    });
    if forms.has(Form::Fallback) {
        source.fallbacks(&mut steps);
    }
    let mut written = steps.done()?;
    written.extend(spreader::plans(plan, folder, timestamp, forms)?);
    Ok(written)
}

/// The name of the form of task data that a job has ready, as its folder would be called.
pub fn form_that_is_ready(job: &Job) -> String {
    Variant::ready(job).folder()
}

/// The names of the other forms that a plan of this job may come in: folders below `terminal/fallback`.
pub fn forms_beside(job: &Job) -> Vec<String> {
    let others = Variant::others(job).into_iter();
    others.map(Variant::folder).collect()
}

/// When to use a form of task data, in one line; `None` for a name that no form has. `several`: whether the maps have more than
/// one product.
pub fn when_to_use(form: &str, several: bool) -> Option<&'static str> {
    Variant::named(form).map(|form| form.when(several))
}

/// What a grid beside the main file of task data is for.
const BINARY: &str = "a grid that belongs to TASKDATA.XML";

/// Writes one more file into the folder that [`content`] fills.
///
/// # Errors
/// The disk.
pub fn extra(folder: &Path, path: &str, bytes: &[u8], what: &str) -> Outcome<Written> {
    let mut writer = Writer::of(folder);
    writer.put(path, bytes, what)?;
    Ok(Written {
        path: PathBuf::from(path),
        bytes: bytes.len() as u64,
        what: what.to_string(),
    })
}

fn zipped_shapefile(plan: &Plan, table: &attributes::Table, stamp: &Stamp) -> Outcome<Vec<u8>> {
    let names = attributes::short_names(&table.columns);
    let mut rates = table.columns.iter().zip(&names);
    let short_column = rates.find(|(column, _)| column.is_rate());
    let short_column = short_column.map(|(_, name)| name.clone());
    let fields: Vec<Field> = names
        .into_iter()
        .zip(&table.columns)
        .map(|(name, column)| Field {
            name,
            kind: column.kind,
        })
        .collect();
    let zones = plan.maps.rate.zones.iter().zip(&table.rows);
    let rows: Vec<_> = zones
        .map(|(zone, row)| (zone.polygons.as_slice(), row.clone()))
        .collect();
    let files = shapefile::files(&fields, &rows, stamp)?;
    let named = files.map(|(extension, bytes)| (format!("rates.{extension}"), bytes));
    let mut named = Vec::from(named);
    if let Some((style, column)) = style::of_products(plan).first().zip(short_column) {
        let text = qml::zones(style, &column, Some(shapefile::DECIMALS));
        named.push(("rates.qml".to_owned(), text.into_bytes()));
    }
    archive::zip(&named)
}

/// What the files of a plan are made of.
#[derive(Clone, Copy)]
struct Source<'a> {
    plan: &'a Plan,
    table: &'a attributes::Table,
    layers: &'a [drive_layers::Layer],
    stamp: &'a Stamp,
    gate: &'a GateCheck,
}

impl<'a> Source<'a> {
    /// The files for GIS programs.
    fn for_gis(self, forms: &Forms, steps: &mut Steps<'a>) {
        let Self {
            plan,
            table,
            layers,
            stamp,
            ..
        } = self;
        let geojson = forms.has(Form::Geojson);
        if geojson {
            steps.add(move |writer| {
                let text = geojson::text(plan, &plan.maps.rate.zones, table);
                let what = "map zones for web maps and most programs";
                writer.put("gis/rates.geojson", text.as_bytes(), what)
            });
            steps.add(move |writer| self.beside_the_map(writer));
        }
        if forms.has(Form::Geopackage) {
            steps.add(move |writer| {
                let path = writer.path("gis/rates.gpkg")?;
                geopackage::write(plan, table, layers, stamp, &path)?;
                let what = match layers.is_empty() {
                    true => "map zones, balance to broadcast, boundary and exclusions: open this in a GIS",
                    false => {
                        "map zones, balance to broadcast, boundary, exclusions and the drive: open this in a GIS"
                    }
                };
                writer.note("gis/rates.gpkg", what)
            });
        }
        if geojson {
            steps.add(move |writer| {
                for layer in layers {
                    let text = geojson::layer_text(Some(plan), layer);
                    let path = format!("gis/{}.geojson", layer.name.replace('_', "-"));
                    writer.put(&path, text.as_bytes(), layer.what)?;
                }
                Ok(())
            });
        }
        if forms.has(Form::Geotiff) {
            steps.add(move |writer| {
                let what = "metric grid: a band per product and covered m2";
                writer.put("gis/rates.tif", &geotiff::bytes(plan, stamp)?, what)
            });
            let products = plan.job.products.iter().zip(product_names(&plan.job));
            for (nth, (product, names)) in products.enumerate() {
                steps.add(move |writer| {
                    let front = format!("gis/rates-{}", names.file);
                    let what = format!("the same of {} alone", product.name);
                    let bytes = geotiff::of_product(plan, nth, &names.column, stamp)?;
                    writer.put(&format!("{front}.tif"), &bytes, &what)?;
                    let style = qml::cells(&style::of_cells(plan, nth));
                    let what = "its colours, which a GIS finds by the name";
                    writer.put(&format!("{front}.qml"), style.as_bytes(), what)
                });
            }
            steps.add(move |writer| {
                let what = "the grid along the bouts, turned to their heading";
                match geotiff::turned(plan, stamp)? {
                    Some(bytes) => writer.put("gis/rates-turned.tif", &bytes, what),
                    None => Ok(()),
                }
            });
            steps.add(move |writer| {
                let what = "the same for what is left to broadcast";
                match geotiff::balance(plan, stamp)? {
                    Some(bytes) => writer.put("gis/balance.tif", &bytes, what),
                    None => Ok(()),
                }
            });
        }
        if forms.has(Form::Geopackage) || forms.has(Form::Geotiff) {
            steps.add(move |writer| {
                let text = metadata::text(plan, stamp);
                let what = "metadata of the maps (ISO 19115): what, where, when, made of what";
                writer.put("gis/metadata.xml", text.as_bytes(), what)
            });
        }
        if forms.has(Form::Kml) {
            steps.add(move |writer| {
                let what = "both maps with their colours, to look at on a phone";
                writer.put("gis/rates.kml", kml::text(plan, table).as_bytes(), what)
            });
        }
        if forms.has(Form::Shapefile) && !plan.holds_any_back() {
            steps.add(move |writer| {
                let bytes = zipped_shapefile(plan, table, stamp)?;
                let what = "map zones for older GIS programs";
                writer.put("gis/rates.shp.zip", &bytes, what)
            });
        }
    }

    /// GeoJSON of the balance, of the gate check and of land to shut by hand.
    fn beside_the_map(self, writer: &mut Writer) -> Outcome<()> {
        let plan = self.plan;
        if let Some(map) = &plan.maps.balance {
            let text = geojson::text(plan, &map.zones, &attributes::of_balance(plan, map));
            let what = "map of what is left to broadcast";
            writer.put("gis/balance.geojson", text.as_bytes(), what)?;
        }
        if let Some(text) = beside::gate_check(plan, &self.gate.places) {
            let what = "places to compare with the screen before sowing";
            writer.put("gis/gate-check.geojson", text.as_bytes(), what)?;
        }
        if let Some(text) = beside::shut_by_hand(plan) {
            let what = "land where the operator shuts a product by hand";
            writer.put("gis/shut-by-hand.geojson", text.as_bytes(), what)?;
        }
        Ok(())
    }

    /// Other forms of task data, and Shapefiles for terminals that take none.
    fn fallbacks(self, steps: &mut Steps<'a>) {
        let Self {
            plan, stamp, gate, ..
        } = self;
        let several = plan.job.products.len() > 1;
        let others = Variant::others(&plan.job).into_iter();
        for form in others.filter(|_| !plan.holds_any_back()) {
            steps.add(move |writer| {
                // Too many sets of rates for zone numbers: that form is left out.
                let Some(other) = taskdata::of(plan, form)? else {
                    return Ok(());
                };
                writer.form = Some(form);
                for (at, (name, bytes)) in other.files.iter().enumerate() {
                    let what = if at == 0 { form.when(several) } else { BINARY };
                    let path = format!("terminal/fallback/{}/TASKDATA/{name}", form.folder());
                    writer.put(&path, bytes, what)?;
                }
                Ok(())
            });
        }
        steps.add_last(move |writer, forms| {
            let page = terminal_shapefiles::page(plan, forms, gate);
            let what = "which of the terminal files to use when, gate check and yard test";
            writer.put("terminal/fallback/README.txt", page.as_bytes(), what)
        });
        for map in terminal_shapefiles::ready(plan) {
            steps.add(move |writer| {
                for file in terminal_shapefiles::files(plan, map, stamp)? {
                    let path = format!("terminal/fallback/{}", file.path);
                    writer.put(&path, &file.bytes, &file.what)?;
                }
                Ok(())
            });
        }
    }
}
