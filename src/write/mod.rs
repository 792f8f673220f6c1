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
mod geotiff;
mod holes;
mod json;
mod kml;
mod names;
mod open_decisions;
mod order;
mod product_names;
mod rings;
mod shapefile;
mod spreader;
mod stamp;
mod tables;
mod taskdata;
mod together;
mod zonal;
mod zone_picture;
mod zones;

pub use attributes::CLASSES;
pub use difference::difference_map;
pub use disk::save;
pub use drawn::{DrawnShape, drawn_geojson};
pub use forms::{Form, Forms};
pub use open_decisions::{OpenLine, open_lines, signed_lines};
pub use product_names::{only_rate, product_names};
pub use spreader::{NEVER_TOGETHER, folders_of_spreader};
pub use tables::text as table_text;
pub(crate) use tables::{cell, csv};
pub use taskdata::TaskDataSums;
pub use terminal_shapefiles::{area, mass, one_line, rate};
pub use together::{Share, Together};
pub use zones::{Beside, class_zones_geojson, zones};

pub use crate::document::ProductNames;

use crate::findings::Outcome;
use crate::job::Job;
use crate::plan::{GateCheck, Maps, Plan};
use shapefile::Field;
use stamp::Stamp;
use std::fs;
use std::path::{Path, PathBuf};
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
    let task_data = match forms.has(Form::TaskData) {
        true => {
            Some(taskdata::of(plan, ready)?.ok_or_else(|| taskdata::too_many_sets(ready.holds))?)
        }
        false => None,
    };
    let mut writer = Writer {
        folder,
        written: Vec::new(),
    };
    let sums = match &task_data {
        Some(task_data) => &task_data.sums,
        None => &taskdata::sums(&plan.maps)?,
    };
    let gate = plan.gate();
    let text = json::text(plan, timestamp, sums, (forms, gate))?;
    writer.put(
        "plan.json",
        text.as_bytes(),
        "everything about this plan, for programs",
    )?;
    if forms.has(Form::Tables) {
        writer.put(
            "order.csv",
            &order::order(plan)?,
            "what to order, per product and lot",
        )?;
        writer.put(
            "rates.csv",
            &tables::rates(plan)?,
            "the rate table: land, rates and kilograms",
        )?;
    }
    writer.for_gis(plan, &table, &stamp, forms, gate)?;

    let held_back = plan.holds_any_back();
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
    let task_data = task_data.iter().filter(|_| !held_back);
    for (at, (name, bytes)) in task_data.flat_map(|of| &of.files).enumerate() {
        let what = if at == 0 { what } else { BINARY };
        writer.put(&format!("terminal/TASKDATA/{name}"), bytes, what)?;
    }
    if forms.has(Form::Fallback) {
        writer.fallbacks(plan, gate, &stamp)?;
    }
    writer
        .written
        .extend(spreader::plans(plan, folder, timestamp, forms)?);
    Ok(writer.written)
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
    let mut writer = Writer {
        folder,
        written: Vec::new(),
    };
    writer.put(path, bytes, what)?;
    Ok(Written {
        path: PathBuf::from(path),
        bytes: bytes.len() as u64,
        what: what.to_string(),
    })
}

fn zipped_shapefile(maps: &Maps, table: &attributes::Table, stamp: &Stamp) -> Outcome<Vec<u8>> {
    let names = attributes::short_names(&table.columns);
    let fields: Vec<Field> = names
        .into_iter()
        .zip(&table.columns)
        .map(|(name, column)| Field {
            name,
            kind: column.kind,
        })
        .collect();
    let zones = maps.rate.zones.iter().zip(&table.rows);
    let rows: Vec<_> = zones
        .map(|(zone, row)| (zone.polygons.as_slice(), row.clone()))
        .collect();
    let files = shapefile::files(&fields, &rows, stamp)?;
    let named = files.map(|(extension, bytes)| (format!("rates.{extension}"), bytes));
    archive::zip(&named)
}

/// Puts files below a folder and keeps the list.
struct Writer<'a> {
    folder: &'a Path,
    written: Vec<Written>,
}

impl Writer<'_> {
    /// The files for GIS programs.
    fn for_gis(
        &mut self,
        plan: &Plan,
        table: &attributes::Table,
        stamp: &Stamp,
        forms: &Forms,
        gate: &GateCheck,
    ) -> Outcome<()> {
        let geojson = forms.has(Form::Geojson);
        if geojson {
            self.geojson(plan, table, gate)?;
        }
        if geojson || forms.has(Form::Geopackage) {
            let layers = drive_layers::of(plan);
            if forms.has(Form::Geopackage) {
                self.geopackage(plan, table, &layers, stamp)?;
            }
            for layer in layers.iter().filter(|_| geojson) {
                let text = geojson::layer_text(Some(plan), layer);
                let path = format!("gis/{}.geojson", layer.name.replace('_', "-"));
                self.put(&path, text.as_bytes(), layer.what)?;
            }
        }
        if forms.has(Form::Geotiff) {
            let bytes = geotiff::bytes(plan)?;
            self.put(
                "gis/rates.tif",
                &bytes,
                "metric grid: a band per product and covered m2",
            )?;
            if let Some(bytes) = geotiff::balance(plan)? {
                self.put(
                    "gis/balance.tif",
                    &bytes,
                    "the same for what is left to broadcast",
                )?;
            }
        }
        if forms.has(Form::Kml) {
            self.put(
                "gis/rates.kml",
                kml::text(plan, table).as_bytes(),
                "both maps with their colours, to look at on a phone",
            )?;
        }
        if forms.has(Form::Shapefile) && !plan.holds_any_back() {
            let bytes = zipped_shapefile(&plan.maps, table, stamp)?;
            self.put(
                "gis/rates.shp.zip",
                &bytes,
                "map zones for older GIS programs",
            )?;
        }
        Ok(())
    }

    /// The maps as GeoJSON.
    fn geojson(&mut self, plan: &Plan, table: &attributes::Table, gate: &GateCheck) -> Outcome<()> {
        let text = geojson::text(plan, &plan.maps.rate.zones, table);
        self.put(
            "gis/rates.geojson",
            text.as_bytes(),
            "map zones for web maps and most programs",
        )?;
        if let Some(map) = &plan.maps.balance {
            let text = geojson::text(plan, &map.zones, &attributes::of_balance(plan, map));
            self.put(
                "gis/balance.geojson",
                text.as_bytes(),
                "map of what is left to broadcast",
            )?;
        }
        if let Some(text) = beside::gate_check(plan, &gate.places) {
            self.put(
                "gis/gate-check.geojson",
                text.as_bytes(),
                "places to compare with the screen before sowing",
            )?;
        }
        if let Some(text) = beside::shut_by_hand(plan) {
            self.put(
                "gis/shut-by-hand.geojson",
                text.as_bytes(),
                "land where the operator shuts a product by hand",
            )?;
        }
        Ok(())
    }

    fn geopackage(
        &mut self,
        plan: &Plan,
        table: &attributes::Table,
        layers: &[drive_layers::Layer],
        stamp: &Stamp,
    ) -> Outcome<()> {
        let path = self.path("gis/rates.gpkg")?;
        geopackage::write(plan, table, layers, stamp, &path)?;
        self.note(
            "gis/rates.gpkg",
            match layers.is_empty() {
                true => "map zones, balance to broadcast, boundary and exclusions: open this in a GIS",
                false => {
                    "map zones, balance to broadcast, boundary, exclusions and the drive: open this in a GIS"
                }
            },
        )
    }

    /// Other forms of task data, and Shapefiles for terminals that take none.
    fn fallbacks(&mut self, plan: &Plan, gate: &GateCheck, stamp: &Stamp) -> Outcome<()> {
        let mut forms = Vec::new();
        let several = plan.job.products.len() > 1;
        let others = Variant::others(&plan.job).into_iter();
        for form in others.filter(|_| !plan.holds_any_back()) {
            // Too many sets of rates for zone numbers: that form is left out.
            let Some(other) = taskdata::of(plan, form)? else {
                continue;
            };
            forms.push(form);
            for (at, (name, bytes)) in other.files.iter().enumerate() {
                let what = if at == 0 { form.when(several) } else { BINARY };
                let path = format!("terminal/fallback/{}/TASKDATA/{name}", form.folder());
                self.put(&path, bytes, what)?;
            }
        }
        for file in terminal_shapefiles::files(plan, &forms, gate, stamp)? {
            self.put(
                &format!("terminal/fallback/{}", file.path),
                &file.bytes,
                &file.what,
            )?;
        }
        Ok(())
    }

    fn put(&mut self, path: &str, bytes: &[u8], what: &str) -> Outcome<()> {
        disk::put(&self.path(path)?, bytes)?;
        self.note(path, what)
    }

    /// Where a file goes; the folder it lies in is made.
    fn path(&self, path: &str) -> Outcome<PathBuf> {
        let path = self.folder.join(path);
        if let Some(parent) = path.parent() {
            disk::folder(parent)?;
        }
        Ok(path)
    }

    fn note(&mut self, path: &str, what: &str) -> Outcome<()> {
        let full = self.folder.join(path);
        let found = fs::metadata(&full).map_err(|error| disk::fault(&full, "read", &error))?;
        let path = PathBuf::from(path);
        self.written.push(Written {
            path,
            bytes: found.len(),
            what: what.to_string(),
        });
        Ok(())
    }
}
