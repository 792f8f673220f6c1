//! Yield as a map: squares with their mean and its doubt.

use super::clean::Cleaned;
use crate::trial::t_quantile;
use serde::Serialize;
use std::collections::BTreeMap;

/// A reading mixes so much travel (J. Knight and B. Pettitt, 2003), m: readings nearer than that are no witnesses of their own.
const MIXED_M: f64 = 30.0;

/// One square.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Cell {
    /// South-west corner in the field's plane, m.
    #[serde(skip)]
    pub corner: [f64; 2],
    /// Mean yield at the basis, kg/ha.
    pub kg_per_ha: f64,
    /// Half of the 95 % interval of that mean, kg/ha; none where a single stretch of 30 m told it.
    pub plus_minus_kg_per_ha: Option<f64>,
    /// Readings that count.
    pub readings: usize,
}

/// Squares with this edge that hold readings, from the south-west, row by row.
pub fn surface(cleaned: &Cleaned, edge_m: f64) -> Vec<Cell> {
    let mut squares: BTreeMap<[i64; 2], Vec<usize>> = BTreeMap::new();
    for at in cleaned.counting() {
        let [x, y] = cleaned.readings[at].xy.map(|v| (v / edge_m).floor() as i64);
        squares.entry([y, x]).or_default().push(at);
    }
    let cell = |([y, x], members): ([i64; 2], Vec<usize>)| {
        let mean = cleaned.mean(members.iter().copied())?;
        let n = members.len() as f64;
        let spread = members
            .iter()
            .map(|&at| (cleaned.kg_per_ha[at] - mean).powi(2))
            .sum::<f64>()
            / (n - 1.0).max(1.0);
        let travel: f64 = members
            .iter()
            .map(|&at| cleaned.readings[at].distance_m.max(0.0))
            .sum();
        let stretches = (travel / MIXED_M).min(n).floor();
        let plus_minus = match stretches >= 2.0 {
            true => t_quantile(0.975, stretches - 1.0).map(|t| t * (spread / stretches).sqrt()),
            false => None,
        };
        Some(Cell {
            corner: [x as f64 * edge_m, y as f64 * edge_m],
            kg_per_ha: mean,
            plus_minus_kg_per_ha: plus_minus,
            readings: members.len(),
        })
    };
    squares.into_iter().filter_map(cell).collect()
}
