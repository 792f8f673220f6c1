//! Land units: land parts overlaid with every layer, tiling the field exactly.

mod classes;
mod cuts;
mod faces;
mod gaps;
mod slivers;
#[cfg(test)]
mod tests;
mod together;

use crate::coordinates::PlaneXy;
use crate::findings::{Finding, Outcome};
use crate::frame::Frame;
use crate::geometry::Arrangement;
use crate::geometry::point::area2_to_m2;
use crate::job::{Job, LandPart};
use crate::land::Land;
use crate::read::Layer;
use std::collections::BTreeMap;

/// What all pieces of land with the same facts have in common: a row of the rate table.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Facts {
    /// Headland or interior.
    pub part: LandPart,
    /// Class per zone layer of the job, in job order.
    pub classes: Vec<String>,
    /// Special areas of the job that cover this land, by index, ascending.
    pub special_areas: Vec<usize>,
    /// Setbacks of the job (widened as stated) that cover this land, by index, ascending.
    pub setbacks: Vec<usize>,
}

/// The land cut into pieces of which everything is known.
pub struct LandUnits {
    /// Everything that has a border on the field, in the field's plane.
    pub arrangement: Arrangement,
    /// Per face: the row of `rows` it belongs to; `None` where no land is.
    pub row_of_face: Vec<Option<u32>>,
    /// Facts and twice the area in units^2, exactly, ordered by facts.
    pub rows: Vec<(Facts, i128)>,
    /// Number of connected pieces of land with the same facts.
    pub pieces: usize,
    /// Whether a setback's strip reaches beyond the land, by setback.
    pub setback_at_border: Vec<bool>,
    /// Per zone layer: its classes on the field with their area in m2.
    pub classes: Vec<Vec<(String, f64)>>,
}

impl LandUnits {
    /// Area of a row in m2.
    pub fn area_m2(&self, row: usize) -> f64 {
        area2_to_m2(self.rows[row].1)
    }
}

/// Layers that meet on the land, placed in the field's plane, in job order.
pub struct ZoneLayers<'a> {
    /// Zone layers in the field's plane, in job order.
    pub zones: &'a [Layer<PlaneXy>],
    /// Special areas in the field's plane, in job order.
    pub special_areas: &'a [Layer<PlaneXy>],
}

/// Overlays the land with all layers.
///
/// Rules: where polygons of a layer overlap, the one listed first (or last, as the job says) counts.
/// A gap takes the class it shares the longest border with, or the class the job names; one that
/// runs along the border of the land is first cut where the class beside it changes. A piece
/// smaller than the job's sliver area takes the classes of the neighbour with the longest shared
/// border in the same land part, setbacks and special areas. Last, borders nearer to each other than a file
/// can hold are brought together.
///
/// # Errors
/// A layer without polygons or without the class attribute, or that covers none of the land.
pub fn overlay(
    land: &Land,
    layers: &ZoneLayers,
    job: &Job,
    frame: &Frame,
) -> Outcome<(LandUnits, Vec<Finding>)> {
    let mut findings = Vec::new();
    let mut faces = faces::Faces::of(land, layers, &[], job, frame, &mut findings)?;
    let cuts = cuts::across_gaps(&faces);
    if cuts.iter().any(|cuts| !cuts.is_empty()) {
        findings.clear();
        faces = faces::Faces::of(land, layers, &cuts, job, frame, &mut findings)?;
    }
    gaps::fill(&mut faces, layers.zones, job, frame, &mut findings)?;
    slivers::merge(&mut faces, job, frame, &mut findings);
    let units = together::brought(faces.into_units(job), job, frame, &mut findings);
    Ok((units, findings))
}

/// Land whose faces lie in other rows than those of their facts: the rows (with facts, ascending) that have land, borders
/// brought together, and which rows of all have kept land. `units` says what lies around.
pub fn cut(
    units: &LandUnits,
    arrangement: Arrangement,
    row_of_face: Vec<Option<u32>>,
    facts: Vec<Facts>,
    job: &Job,
    frame: &Frame,
) -> (LandUnits, Vec<bool>, Vec<Finding>) {
    let mut area2 = vec![0_i128; facts.len()];
    for (face, row) in (0..).zip(&row_of_face) {
        if let Some(row) = row {
            area2[*row as usize] += arrangement.area2(face);
        }
    }
    let cut = LandUnits {
        // Counted below, once borders lie where they stay.
        pieces: 0,
        rows: facts.into_iter().zip(area2).collect(),
        setback_at_border: units.setback_at_border.clone(),
        classes: units.classes.clone(),
        arrangement,
        row_of_face,
    };
    let mut findings = Vec::new();
    let (mut cut, kept) = together::with_rows_kept(cut, job, frame, &mut findings);
    if cut.pieces == 0 {
        cut.pieces = cut.arrangement.dissolve(&cut.row_of_face).len();
    }
    (cut, kept, findings)
}

/// Per layer: its classes with their area in m2.
fn areas_of_classes(rows: &[(Facts, i128)], layers: usize) -> Vec<Vec<(String, f64)>> {
    let of_layer = |layer: usize| {
        let mut found: BTreeMap<&str, f64> = BTreeMap::new();
        for (facts, area2) in rows {
            *found.entry(&facts.classes[layer]).or_default() += area2_to_m2(*area2);
        }
        let found = found.into_iter();
        found
            .map(|(class, area)| (class.to_owned(), area))
            .collect()
    };
    (0..layers).map(of_layer).collect()
}

impl faces::Faces {
    fn into_units(self, job: &Job) -> LandUnits {
        let pieces = self.pieces().0;
        // Per face the number of its facts, in the order in which they are found.
        let mut numbers: BTreeMap<Vec<u32>, u32> = BTreeMap::new();
        let mut areas2: Vec<i128> = Vec::new();
        let mut key = Vec::new();
        let mut number_of = |face: u32| {
            if !self.key_of(face, &mut key) {
                return None;
            }
            let known = numbers.get(&key).copied();
            let number = known.unwrap_or(areas2.len() as u32);
            if known.is_none() {
                numbers.insert(key.clone(), number);
                areas2.push(0);
            }
            areas2[number as usize] += self.arrangement.area2(face);
            Some(number)
        };
        let faces = 0..self.arrangement.faces() as u32;
        let number_of_face: Vec<Option<u32>> = faces.map(&mut number_of).collect();
        let mut facts: Vec<(Facts, u32)> = numbers
            .iter()
            .map(|(key, number)| (self.facts(key), *number))
            .collect();
        facts.sort();
        let mut row_of_number = vec![0; facts.len()];
        for (row, (_, number)) in (0..).zip(&facts) {
            row_of_number[*number as usize] = row;
        }
        let row_of = |number: Option<u32>| Some(row_of_number[number? as usize]);
        let row_of_face = number_of_face.into_iter().map(row_of).collect();
        let rows: Vec<(Facts, i128)> = facts
            .into_iter()
            .map(|(facts, number)| (facts, areas2[number as usize]))
            .collect();
        LandUnits {
            classes: areas_of_classes(&rows, job.layers.len()),
            row_of_face,
            rows,
            pieces: pieces.len(),
            setback_at_border: self.setback_at_border,
            arrangement: self.arrangement,
        }
    }
}
