//! Rate maps: polygons dissolved by rates and land part, and grids.

use crate::job::LandPart;
use crate::read::Polygon;

/// Both rate maps of a field.
#[derive(Debug, Clone, PartialEq)]
pub struct RateMap {
    /// Land with the same rates and land part, largest first.
    pub zones: Vec<MapZone>,
    /// North-up grid in the field's plane.
    pub metric: Grid,
    /// Grid in degrees for terminals, made for the numbers as they are written.
    pub degrees: Grid,
}

/// Land with one set of rates.
#[derive(Debug, Clone, PartialEq)]
pub struct MapZone {
    /// From 1.
    pub id: usize,
    pub part: LandPart,
    /// Rate per product (job order), kg/ha.
    pub kg_per_ha: Vec<f64>,
    /// In the plane, which agrees with geodesic areas to 1e-6.
    pub area_m2: f64,
    /// Combinations (rows of the rate table, from 1) that this land belongs to.
    pub combinations: Vec<usize>,
    /// Lon/lat in degrees. Rings closed; exteriors counter-clockwise, holes clockwise.
    pub polygons: Vec<Polygon>,
}

/// A north-up grid of rates. Cell (column 0, row 0) is the south-west one; columns run fastest.
#[derive(Debug, Clone, PartialEq)]
pub struct Grid {
    /// Outer south-west corner: x, y in metres of the plane, or longitude, latitude in degrees.
    pub origin: [f64; 2],
    /// Cell width (east) and height (north): metres or degrees.
    pub cell: [f64; 2],
    pub columns: usize,
    pub rows: usize,
    /// Covered area of each cell, m2; exactly 0 where no land is.
    pub covered_m2: Vec<f64>,
    /// Per product, per cell: kg/ha; NaN where the cell carries no rate.
    pub kg_per_ha: Vec<Vec<f64>>,
}
