//! A number for each polygon of a layer, from the raster under it.

use super::classes::short;
use super::field_place::FieldPlace;
use super::under::{Under, under};
use crate::coordinates::PlaneXy;
use crate::findings::{Finding, Outcome};
use crate::frame::{Crs, Frame};
use crate::geometry::point::area2_to_m2;
use crate::geometry::{Overlay, Shape};
use crate::job::{OverlapRule, Values, Zonal, ZonalValue, ZoneLayer};
use crate::land::outlines;
use crate::read::{Layer, Raster, Value};

/// What lies under the polygons of a layer.
#[derive(Debug, Clone, PartialEq)]
pub struct ZonalTable {
    /// The layer's name in the job.
    pub layer: String,
    /// In the order of the file; polygons without land on the field are left out.
    pub rows: Vec<ZonalRow>,
}

/// What lies under one polygon, as far as it is on the field.
#[derive(Debug, Clone, PartialEq)]
pub struct ZonalRow {
    /// The feature's name in messages.
    pub feature: String,
    /// Its land on the field, m2.
    pub area_m2: f64,
    /// Percent of that land whose pixels have a value.
    pub valued_percent: f64,
    /// `None` without a pixel that has a value.
    pub numbers: Option<ZonalNumbers>,
}

/// Numbers of the values under a polygon, in the raster's unit of measure.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ZonalNumbers {
    pub mean: f64,
    pub median: f64,
    pub lowest: f64,
    pub highest: f64,
    /// Where the job asks for it.
    pub share_percent: Option<f64>,
    /// The one that the job asks for, rounded: the polygon's class.
    pub class: f64,
}

/// Gives each polygon (in the field's plane) the number that the job asks for as its class, in
/// [`Values::CLASS_ATTRIBUTE`]. Only land on the field counts, and where polygons overlap, only for the one
/// that the layer's rule prefers. A pixel counts with the exact part of it that is covered.
///
/// # Errors
/// The raster does not reach the polygons; what [`Raster::pixels`] refuses; a place too far from the field.
pub fn zonal_layer(
    raster: &Raster,
    crs: &Crs,
    field: FieldPlace,
    mut polygons: Layer<PlaneXy>,
    layer: &ZoneLayer,
    zonal: &Zonal,
) -> Outcome<(Layer<PlaneXy>, ZonalTable)> {
    let pieces = on_field(
        field.boundary,
        &polygons,
        layer.overlaps.unwrap_or_default(),
        field.frame,
    )?;
    let count = polygons.features.len();
    let pixels = match pieces.is_empty() {
        // Which the overlay says better.
        true => vec![Under::default(); count],
        false => under(
            raster,
            crs,
            field.frame,
            &pieces,
            count,
            zonal.band,
            zonal.no_value,
        )?,
    };
    let mut area2 = vec![0; count];
    for (group, shape) in &pieces {
        area2[*group as usize] += shape.area2();
    }
    let mut rows = Vec::new();
    for ((feature, under), area2) in polygons.features.iter_mut().zip(pixels).zip(area2) {
        let all = under.pixels + under.without;
        let valued_percent = match all > 0.0 {
            true => 100.0 * under.pixels / all,
            false => 0.0,
        };
        let numbers = numbers(under, zonal);
        feature.values = vec![numbers.map_or(Value::Missing, |own| Value::Number(own.class))];
        if area2 > 0 {
            rows.push(ZonalRow {
                feature: feature.name.clone(),
                area_m2: area2_to_m2(area2),
                valued_percent,
                numbers,
            });
        }
    }
    polygons.attributes = vec![Values::CLASS_ATTRIBUTE.to_owned()];
    let table = ZonalTable {
        layer: layer.name.clone(),
        rows,
    };
    polygons.findings.extend(raster.findings.iter().cloned());
    polygons.findings.extend(said(&table, zonal, raster));
    Ok((polygons, table))
}

/// The polygons' land on the field, by their number in the layer.
fn on_field(
    boundary: &Layer<PlaneXy>,
    polygons: &Layer<PlaneXy>,
    overlaps: OverlapRule,
    frame: &Frame,
) -> Outcome<Vec<(u32, Shape)>> {
    let mut overlay = Overlay::default();
    let field = outlines(boundary, frame)?;
    let fields = field.polygons.len() as u32;
    for (_, shape) in field.polygons {
        overlay.add(shape);
    }
    let layer = outlines(polygons, frame)?;
    for (_, shape) in layer.polygons {
        overlay.add(shape);
    }
    let arrangement = overlay.arrange();
    let group: Vec<Option<u32>> = (0..arrangement.faces() as u32)
        .map(|face| {
            let covering = overlay.covering(&arrangement, face);
            let own = covering.partition_point(|polygon| *polygon < fields);
            let (on_field, zones) = covering.split_at(own);
            let zone = match overlaps {
                OverlapRule::First => zones.first(),
                OverlapRule::Last => zones.last(),
            };
            let zone = zone.filter(|_| !on_field.is_empty())?;
            let feature = layer.feature_of.get((zone - fields) as usize)?;
            Some(*feature as u32)
        })
        .collect();
    Ok(arrangement.dissolve(&group))
}

/// The numbers of what lies under a polygon.
fn numbers(under: Under, zonal: &Zonal) -> Option<ZonalNumbers> {
    let Under {
        mut parts,
        pixels,
        sum,
        ..
    } = under;
    let mean = (pixels > 0.0).then_some(sum / pixels)?;
    parts.sort_unstable_by(|a, b| a.0.total_cmp(&b.0).then(a.1.total_cmp(&b.1)));
    let (lowest, highest) = (parts.first()?.0, parts.last()?.0);
    let all: f64 = parts.iter().map(|(_, part)| f64::from(*part)).sum();
    let mut below = 0.0;
    let median = parts.iter().find(|(_, part)| {
        below += f64::from(*part);
        below >= all / 2.0
    });
    let median = median.map_or(highest, |(value, _)| *value);
    let share_percent = zonal.between.map(|[low, high]| {
        let counts = parts
            .iter()
            .filter(|(value, _)| (low..=high).contains(value));
        let covered: f64 = counts.map(|(_, part)| f64::from(*part)).sum();
        100.0 * covered / all
    });
    let wanted = match zonal.value {
        ZonalValue::Mean => mean,
        ZonalValue::Median => median,
        ZonalValue::Lowest => lowest,
        ZonalValue::Highest => highest,
        ZonalValue::SharePercent => share_percent?,
    };
    let scale = 10f64.powi(i32::from(zonal.decimals));
    let rounded = (wanted * scale).round() / scale;
    Some(ZonalNumbers {
        mean,
        median,
        lowest,
        highest,
        share_percent,
        // Beyond 2^53 there is nothing to round, and no minus before a zero.
        class: if rounded.is_finite() {
            rounded + 0.0
        } else {
            wanted
        },
    })
}

/// What came out, in a note; land without a value, in a warning.
fn said(table: &ZonalTable, zonal: &Zonal, raster: &Raster) -> Vec<Finding> {
    let classes = || {
        let numbers = table.rows.iter().filter_map(|row| row.numbers);
        numbers.map(|own| own.class)
    };
    let lowest = classes().reduce(f64::min);
    let highest = classes().reduce(f64::max);
    let mut findings = Vec::new();
    if let (Some(lowest), Some(highest)) = (lowest, highest) {
        findings.push(Finding::note(
            "surface.zonal",
            raster.place(),
            format!(
                "{} under the {} polygons of layer '{}' on the field, each pixel counted with the part that a polygon covers: from {} to {}",
                zonal.value.word(),
                table.rows.len(),
                table.layer,
                short(lowest),
                short(highest)
            ),
        ));
    }
    let bare = table.rows.iter().filter(|row| row.valued_percent < HALF);
    let bare: Vec<&ZonalRow> = bare.collect();
    if let Some(first) = bare.first() {
        let area = bare.iter().map(|row| row.area_m2).sum::<f64>();
        findings.push(
            Finding::warning(
                "surface.zonal_bare",
                raster.place(),
                format!(
                    "{} polygons of layer '{}' have a value on less than half of their land (the first is feature {}, with {:.0} %); a number from so little says little, and a polygon without any value counts as a gap",
                    bare.len(),
                    table.layer,
                    first.feature,
                    first.valued_percent
                ),
            )
            .area(area),
        );
    }
    findings
}

/// Percent of a polygon's land that should have a value.
const HALF: f64 = 50.0;
