//! Geometry for drawings: what the rate map does not hold because files do not need it.

use crate::coordinates::LonLat;
use crate::frame::Frame;
use crate::map::{self, MapZone};
use crate::read::Polygon;
use crate::zones::LandUnits;
use rayon::prelude::*;
use std::sync::Arc;

/// Outlines for drawings, lon/lat in degrees; rings closed.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Drawing {
    /// Per row of the rate table, its land.
    pub rows: Vec<Arc<Vec<Polygon<LonLat>>>>,
    /// Per product (job order), land with the same rate of that product in the same land part.
    pub products: Vec<Vec<MapZone>>,
    /// Headland and interior, as far as there are both.
    pub parts: Vec<MapZone>,
}

impl Drawing {
    /// Outlines of this land; `rates` per row of the rate table, per product, kg/ha.
    pub(super) fn of(units: &LandUnits, rates: &[Vec<f64>], frame: &Frame) -> Self {
        let numbers: Vec<Vec<f64>> = (0..rates.len()).map(|row| vec![row as f64]).collect();
        let of_rows = || {
            let mut rows = vec![Arc::default(); rates.len()];
            for zone in map::united(units, &numbers, frame) {
                // With a number of its own for each row, a zone is the land of one; rows count from 1.
                rows[zone.combinations[0] - 1] = zone.polygons;
            }
            rows
        };
        let products = rates.iter().map(Vec::len).max().unwrap_or(0);
        let of_product = |product: usize| {
            let own = |row: &Vec<f64>| row.get(product).copied().into_iter().collect();
            let own: Vec<Vec<f64>> = rates.iter().map(own).collect();
            map::united(units, &own, frame)
        };
        let of_products = || (0..products).into_par_iter().map(of_product).collect();
        let of_parts = || map::united(units, &vec![Vec::new(); rates.len()], frame);
        let (rows, (products, parts)) = rayon::join(of_rows, || rayon::join(of_products, of_parts));
        Self {
            rows,
            products,
            parts,
        }
    }
}
