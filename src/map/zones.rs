//! The polygon map: land united by rates and land part.

use super::MapZone;
use crate::frame::Frame;
use crate::geometry::point::area2_to_m2;
use crate::geometry::{Ring, Shape};
use crate::job::LandPart;
use crate::read::Polygon;
use crate::zones::{Facts, LandUnits};
use rayon::prelude::*;
use std::collections::BTreeMap;

/// Land part, bits of the rates, classes that tell lots apart.
type Key<'a> = (LandPart, Vec<u64>, Vec<&'a str>);

/// Unites land with the same rates in the same land part; largest first. Land with different classes in
/// one of the `apart` layers (by number) stays apart also where its rates agree.
pub(super) fn dissolve(
    units: &LandUnits,
    rates: &[Vec<f64>],
    apart: &[usize],
    frame: &Frame,
) -> Vec<MapZone> {
    let mut rows_of: BTreeMap<Key, Vec<usize>> = BTreeMap::new();
    for (row, (facts, _)) in units.rows.iter().enumerate() {
        let bits = rates[row].iter().map(|rate| rate.to_bits()).collect();
        let classes = apart.iter().filter_map(|&layer| facts.classes.get(layer));
        let classes = classes.map(String::as_str).collect();
        rows_of
            .entry((facts.part, bits, classes))
            .or_default()
            .push(row);
    }
    let area2 = |rows: &[usize]| rows.iter().map(|&row| units.rows[row].1).sum::<i128>();
    let mut rows_of: Vec<Vec<usize>> = rows_of.into_values().collect();
    rows_of.sort_by_key(|rows| (-area2(rows), rows[0]));
    let mut zone_of_row = vec![0; units.rows.len()];
    for (zone, rows) in rows_of.iter().enumerate() {
        rows.iter().for_each(|&row| zone_of_row[row] = zone as u32);
    }
    let group: Vec<Option<u32>> = units
        .row_of_face
        .iter()
        .map(|row| row.map(|row| zone_of_row[row as usize]))
        .collect();
    let mut zones: Vec<MapZone> = rows_of
        .iter()
        .enumerate()
        .map(|(zone, rows)| MapZone {
            id: zone + 1,
            part: units.rows[rows[0]].0.part,
            kg_per_ha: rates[rows[0]].clone(),
            area_m2: area2_to_m2(area2(rows)),
            combinations: rows.iter().map(|row| row + 1).collect(),
            polygons: Vec::new(),
        })
        .collect();
    for (zone, polygon) in in_degrees(units.arrangement.dissolve(&group), frame) {
        zones[zone as usize].polygons.push(polygon);
    }
    zones
}

/// Shapes in degrees, in the same order.
fn in_degrees(shapes: Vec<(u32, Shape)>, frame: &Frame) -> Vec<(u32, Polygon)> {
    let shapes = shapes.into_par_iter().with_min_len(64);
    shapes
        .map(|(group, shape)| (group, lon_lat(&shape, frame)))
        .collect()
}

/// Land of one class of a layer.
#[derive(Debug, Clone, PartialEq)]
pub struct ClassZone {
    pub class: String,
    pub area_m2: f64,
    /// Longitude and latitude; one polygon for each connected piece.
    pub polygons: Vec<Polygon>,
}

/// The land by the classes of one layer (by its place in the job), in the order of their names: together
/// they are the field.
pub fn class_zones(units: &LandUnits, layer: usize, frame: &Frame) -> Vec<ClassZone> {
    let class_of = |facts: &Facts| facts.classes.get(layer).cloned().unwrap_or_default();
    let mut area2: BTreeMap<String, i128> = BTreeMap::new();
    for (facts, own) in &units.rows {
        *area2.entry(class_of(facts)).or_default() += own;
    }
    let classes: Vec<&String> = area2.keys().collect();
    let number = |row: u32| classes.binary_search(&&class_of(&units.rows[row as usize].0));
    let group: Vec<Option<u32>> = units
        .row_of_face
        .iter()
        .map(|row| number((*row)?).ok().map(|class| class as u32))
        .collect();
    let mut zones: Vec<ClassZone> = area2
        .iter()
        .map(|(class, area2)| ClassZone {
            class: class.clone(),
            area_m2: area2_to_m2(*area2),
            polygons: Vec::new(),
        })
        .collect();
    for (class, shape) in units.arrangement.dissolve(&group) {
        zones[class as usize].polygons.push(lon_lat(&shape, frame));
    }
    zones
}

/// A shape in degrees, rings closed.
pub fn lon_lat(shape: &Shape, frame: &Frame) -> Polygon {
    let ring = |ring: &Ring| {
        let mut path: Vec<[f64; 2]> = ring.iter().map(|point| point.metres()).collect();
        frame.all_to_lon_lat(&mut path);
        path.extend(path.first().copied());
        path
    };
    Polygon {
        exterior: ring(&shape.exterior),
        holes: shape.holes.iter().map(ring).collect(),
    }
}
