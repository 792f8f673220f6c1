//! The zones of a job alone, to be edited in a GIS and brought back.

use super::attributes::{Kind, Value};
use super::names::distinct;
use super::shapefile::{self, Field};
use super::stamp::Stamp;
use super::{Writer, Written, archive, ascii_grid, geojson, geopackage, zonal, zone_picture};
use crate::findings::Outcome;
use crate::frame::Frame;
use crate::job::Values;
use crate::map::ClassZone;
use crate::surface::{SurfaceGrid, ZonalTable};
use crate::units::M2_PER_HA;
use std::collections::BTreeSet;
use std::path::Path;

/// What zones came from, to be looked at.
pub struct Beside<'a> {
    /// The field's own plane.
    pub frame: &'a Frame,
    /// Numbers under the polygons of layers with `zonal`.
    pub zonal: &'a [ZonalTable],
    /// Surfaces through points.
    pub surfaces: &'a [SurfaceGrid],
}

/// Where a layer's zones went: table and file names start with this.
pub type Names = Vec<String>;

/// Zones with their classes as GeoJSON, as [`zones`] writes them.
pub fn class_zones_geojson(zones: &[ClassZone]) -> String {
    let rows: Vec<_> = zones
        .iter()
        .map(|zone| {
            let values = vec![
                Value::Text(zone.class.clone()),
                Value::Number(zone.area_m2 / M2_PER_HA),
            ];
            (zone.polygons.as_slice(), values)
        })
        .collect();
    geojson::collection(&[Values::CLASS_ATTRIBUTE, "area_ha"], &rows)
}

/// Writes the zones of each layer (name, zones) into a folder that exists and is empty: one GeoPackage
/// with a table per layer, and per layer a GeoJSON, a Shapefile and a picture (SVG). Each zone has its class and its area.
/// Beside them stand the numbers of rasters under polygons and the surfaces through points, where `beside` has any.
/// Gives the files, and the name each layer has in them.
///
/// # Errors
/// The time stamp is none; the disk.
pub fn zones(
    layers: &[(&str, Vec<ClassZone>)],
    beside: &Beside,
    folder: &Path,
    timestamp: &str,
) -> Outcome<(Vec<Written>, Names)> {
    let stamp = Stamp::parse(timestamp)?;
    let mut writer = Writer::of(folder);
    // Names of tables may not be those that the format has for itself; a prefix of ours cannot be.
    let mut taken = BTreeSet::new();
    let names: Names = layers
        .iter()
        .map(|(name, _)| distinct(&format!("zones_{name}"), "", "_", 40, &mut taken))
        .collect();
    let columns = [Values::CLASS_ATTRIBUTE, "area_ha"];
    let kinds = [Kind::Text, Kind::Number];
    let row = |zone: &ClassZone| {
        vec![
            Value::Text(zone.class.clone()),
            Value::Number(zone.area_m2 / M2_PER_HA),
        ]
    };

    let path = writer.path("zones.gpkg")?;
    geopackage::file(&path, |database| {
        let typed: Vec<(&str, Kind)> = columns.into_iter().zip(kinds).collect();
        for ((name, zones), table) in layers.iter().zip(&names) {
            let about = format!("Zones of layer '{name}'");
            let rows = zones.iter();
            let rows = rows
                .map(|zone| (zone.polygons.as_slice(), row(zone)))
                .collect();
            geopackage::features(database, table, &about, &typed, rows, &stamp)?;
        }
        Ok(())
    })?;
    writer.note(
        "zones.gpkg",
        "zones of all layers, a table each: edit this one",
    )?;
    for ((layer, zones), name) in layers.iter().zip(&names) {
        let picture = zone_picture::svg(layer, zones);
        writer.put(
            &format!("{name}.svg"),
            picture.as_bytes(),
            "a picture of it",
        )?;
        let rows: Vec<_> = zones
            .iter()
            .map(|zone| (zone.polygons.as_slice(), row(zone)))
            .collect();
        let text = geojson::collection(&columns, &rows);
        writer.put(
            &format!("{name}.geojson"),
            text.as_bytes(),
            "the same for web maps and most programs",
        )?;
        let fields: Vec<Field> = columns
            .into_iter()
            .zip(kinds)
            .map(|(name, kind)| Field {
                name: name.to_owned(),
                kind,
            })
            .collect();
        let files = shapefile::files(&fields, &rows, &stamp)?;
        let named = files.map(|(extension, bytes)| (format!("{name}.{extension}"), bytes));
        writer.put(
            &format!("{name}.shp.zip"),
            &archive::zip(&named)?,
            "the same for older GIS programs",
        )?;
    }
    if !beside.zonal.is_empty() {
        writer.put(
            "zonal.csv",
            &zonal::table(beside.zonal)?,
            "numbers of the rasters under the polygons",
        )?;
    }
    for surface in beside.surfaces {
        let name = distinct(
            &format!("surface_{}", surface.name),
            "",
            "_",
            40,
            &mut taken,
        );
        let text = ascii_grid::text(surface);
        writer.put(
            &format!("{name}.asc"),
            text.as_bytes(),
            "the surface through the points, a value per cell",
        )?;
        let crs = format!("{}\n", beside.frame.wkt1());
        writer.put(&format!("{name}.prj"), crs.as_bytes(), "its CRS")?;
    }
    Ok((writer.written, names))
}
