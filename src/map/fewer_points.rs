//! Polygons for terminals: land united by rates, with few points. Method: docs/methods/simplify.md.

use super::lon_lat;
use crate::coordinates::LonLat;
use crate::frame::Frame;
use crate::geometry::point::area2_to_m2;
use crate::geometry::simplify::simplify;
use crate::geometry::{Shape, UNITS_PER_M};
use crate::job::Job;
use crate::read::Polygon;
use crate::zones::LandUnits;
use rayon::prelude::*;
use std::collections::BTreeMap;

/// Farthest that the outer border may move outward, metres: with what reading, drawing and rounding move, it stays
/// within a millimetre.
const OUTWARD_M: f64 = 0.000_5;

/// A polygon map for terminals.
#[derive(Debug, Clone, PartialEq)]
pub struct TerminalMap {
    /// Products in it, by their place in the job; the rates of a zone are in this order.
    pub products: Vec<usize>,
    /// Land with the same rates, largest first; headland and interior are not told apart.
    pub zones: Vec<TerminalZone>,
    /// Points of all rings, before and after.
    pub points_before: usize,
    pub points: usize,
}

/// Land with one set of rates.
#[derive(Debug, Clone, PartialEq)]
pub struct TerminalZone {
    /// kg/ha, in the order of the map's products.
    pub kg_per_ha: Vec<f64>,
    /// Area before and after, m2.
    pub area_before_m2: f64,
    pub area_m2: f64,
    /// Lon/lat in degrees; rings closed.
    pub polygons: Vec<Polygon<LonLat>>,
}

impl TerminalMap {
    /// Kilograms that fewer points add, per product of the map.
    pub fn drift_kg(&self) -> Vec<f64> {
        let drift = |at: usize| {
            let of = |zone: &TerminalZone| {
                let rate = zone.kg_per_ha[at];
                rate * (zone.area_m2 - zone.area_before_m2) / 10_000.0
            };
            self.zones.iter().map(of).sum()
        };
        (0..self.products.len()).map(drift).collect()
    }

    /// Number of polygons.
    pub fn polygons(&self) -> usize {
        self.zones.iter().map(|zone| zone.polygons.len()).sum()
    }
}

/// The map of all products, and one for each where there are several.
pub(super) fn maps(
    units: &LandUnits,
    rates: &[Vec<f64>],
    job: &Job,
    frame: &Frame,
) -> Vec<TerminalMap> {
    let count = job.products.len();
    let mut sets = vec![(0..count).collect::<Vec<usize>>()];
    if count > 1 {
        sets.extend((0..count).map(|product| vec![product]));
    }
    let map = |products| one(units, rates, products, job.terminal.simplify_m, frame);
    sets.into_par_iter().map(map).collect()
}

fn one(
    units: &LandUnits,
    rates: &[Vec<f64>],
    products: Vec<usize>,
    tolerance_m: f64,
    frame: &Frame,
) -> TerminalMap {
    let own = |row: &Vec<f64>| -> Vec<f64> { products.iter().map(|at| row[*at]).collect() };
    let rates: Vec<Vec<f64>> = rates.iter().map(own).collect();
    let bits = |rates: &[f64]| {
        rates
            .iter()
            .map(|rate| rate.to_bits())
            .collect::<Vec<u64>>()
    };
    let mut groups: BTreeMap<Vec<u64>, u32> = BTreeMap::new();
    for row in &rates {
        groups.entry(bits(row)).or_insert(0);
    }
    groups
        .values_mut()
        .zip(0..)
        .for_each(|(group, at)| *group = at);
    let of_row: Vec<u32> = rates.iter().map(|row| groups[&bits(row)]).collect();
    let of_face: Vec<Option<u32>> = units
        .row_of_face
        .iter()
        .map(|row| row.map(|row| of_row[row as usize]))
        .collect();
    let rates_of: Vec<Vec<f64>> = groups
        .keys()
        .map(|bits| bits.iter().map(|bits| f64::from_bits(*bits)).collect())
        .collect();
    let before = units.arrangement.dissolve(&of_face);
    let after = if tolerance_m > 0.0 {
        // What the files draw is straight in degrees; a longer edge would not be where the plane has it.
        simplify(&before, frame.longest_straight_m(), |left, right| {
            may_move(&rates_of, left, right, tolerance_m)
        })
    } else {
        before.clone()
    };
    let mut zones: Vec<TerminalZone> = rates_of
        .into_iter()
        .map(|kg_per_ha| TerminalZone {
            kg_per_ha,
            area_before_m2: 0.0,
            area_m2: 0.0,
            polygons: Vec::new(),
        })
        .collect();
    for ((group, was), (_, is)) in before.iter().zip(&after) {
        let zone = &mut zones[*group as usize];
        zone.area_before_m2 += area2_to_m2(was.area2());
        zone.area_m2 += area2_to_m2(is.area2());
        zone.polygons.push(lon_lat(is, frame));
    }
    zones.retain(|zone| !zone.polygons.is_empty());
    zones.sort_by(|a, b| b.area_before_m2.total_cmp(&a.area_before_m2));
    let points = |shapes: &[(u32, Shape)]| {
        let rings = shapes.iter().flat_map(|(_, shape)| shape.rings());
        rings.map(Vec::len).sum()
    };
    TerminalMap {
        products,
        zones,
        points_before: points(&before),
        points: points(&after),
    }
}

/// How far a border may move into its left and its right side, metres: never into land where a product is
/// off that the other side has, and outward by no more than edges are exact.
fn may_move(
    rates: &[Vec<f64>],
    left: Option<u32>,
    right: Option<u32>,
    tolerance_m: f64,
) -> [f64; 2] {
    let of = |side: Option<u32>| side.and_then(|side| rates.get(side as usize));
    match (of(left), of(right)) {
        (Some(left), Some(right)) => {
            let into = |off: &[f64], on: &[f64]| {
                let gains = off.iter().zip(on).any(|(off, on)| *off == 0.0 && *on > 0.0);
                // A grid step of the plane keeps what lies on a straight line from counting as a bend.
                if gains {
                    1.0 / UNITS_PER_M
                } else {
                    tolerance_m
                }
            };
            [into(left, right), into(right, left)]
        }
        (Some(_), None) => [tolerance_m, OUTWARD_M],
        _ => [OUTWARD_M, tolerance_m],
    }
}
