//! The polygon map: land united by rates and land part.

use super::MapZone;
use crate::coordinates::LonLat;
use crate::frame::Frame;
use crate::geometry::point::area2_to_m2;
use crate::geometry::{Ring, Shape};
use crate::job::LandPart;
use crate::read::Polygon;
use crate::zones::{Facts, LandUnits};
use rayon::prelude::*;
use std::collections::BTreeMap;
use std::sync::{Arc, Mutex, PoisonError};

/// Land part, bits of the rates, classes that tell lots apart.
type Key<'a> = (LandPart, Vec<u64>, Vec<&'a str>);

/// Polygons that several plans share.
type Shared = Arc<Vec<Polygon<LonLat>>>;

/// Polygons of the last plan by the rows of the rate table whose land they are: another plan that unites
/// the same rows takes them as they are.
#[derive(Default)]
pub(super) struct Known(Mutex<BTreeMap<Vec<usize>, Shared>>);

impl Known {
    /// The polygons of these lists of rows, from the last plan or made anew; kept instead of what was known.
    fn of(&self, units: &LandUnits, rows_of: &[Vec<usize>], frame: &Frame) -> Vec<Shared> {
        // Not locked while it works: the pool may begin another plan on this thread meanwhile.
        let lock = || self.0.lock().unwrap_or_else(PoisonError::into_inner);
        let known = lock().clone();
        // What lies on land of other rows has no say in the border of these.
        let mut new_zone_of_row = vec![None; units.rows.len()];
        for (zone, rows) in rows_of.iter().enumerate() {
            if !known.contains_key(rows) {
                let zone = Some(zone as u32);
                rows.iter().for_each(|&row| new_zone_of_row[row] = zone);
            }
        }
        let mut new: Vec<Vec<Polygon<LonLat>>> = vec![Vec::new(); rows_of.len()];
        if new_zone_of_row.iter().any(Option::is_some) {
            let rows = units.row_of_face.iter();
            let group: Vec<Option<u32>> =
                rows.map(|row| new_zone_of_row[(*row)? as usize]).collect();
            for (zone, polygon) in in_degrees(units.arrangement.dissolve(&group), frame) {
                new[zone as usize].push(polygon);
            }
        }
        let polygons: Vec<Arc<Vec<Polygon<LonLat>>>> = rows_of
            .iter()
            .zip(new)
            .map(|(rows, new)| known.get(rows).map_or_else(|| Arc::new(new), Arc::clone))
            .collect();
        *lock() = rows_of
            .iter()
            .cloned()
            .zip(polygons.iter().cloned())
            .collect();
        polygons
    }
}

/// Unites land with the same rates in the same land part; largest first. Land with different classes in
/// one of the `apart` layers (by number) stays apart also where its rates agree.
pub(super) fn dissolve(
    units: &LandUnits,
    rates: &[Vec<f64>],
    apart: &[usize],
    known: &Known,
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
    let polygons = known.of(units, &rows_of, frame);
    rows_of
        .iter()
        .zip(polygons)
        .enumerate()
        .map(|(zone, (rows, polygons))| MapZone {
            id: zone + 1,
            part: units.rows[rows[0]].0.part,
            kg_per_ha: rates[rows[0]].clone(),
            area_m2: area2_to_m2(area2(rows)),
            combinations: rows.iter().map(|row| row + 1).collect(),
            polygons,
        })
        .collect()
}

/// Shapes in degrees, in the same order.
fn in_degrees(shapes: Vec<(u32, Shape)>, frame: &Frame) -> Vec<(u32, Polygon<LonLat>)> {
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
    pub polygons: Vec<Polygon<LonLat>>,
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

/// A shape in degrees, rings closed, with the points that keep its edges where they are in the plane.
pub fn lon_lat(shape: &Shape, frame: &Frame) -> Polygon<LonLat> {
    let ring = |ring: &Ring| frame.ring_in_degrees(ring.iter().map(|point| point.place()));
    Polygon {
        exterior: ring(&shape.exterior),
        holes: shape.holes.iter().map(ring).collect(),
    }
}
