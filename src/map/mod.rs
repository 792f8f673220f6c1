//! Rate maps: polygons dissolved by rates and land part, and grids.

mod cell_rates;
mod cells;
mod colour;
mod layout;
mod outline;
mod rates;
mod surroundings;
mod fewer_points;
mod turned;
mod zones;

pub use cell_rates::{CellRates, NO_SET};
pub use cells::Cells;
pub use colour::Scale;
pub use fewer_points::{TerminalMap, TerminalZone};
pub use layout::{Layout, east_of};
pub use outline::{Outline, Points};
pub use surroundings::around_m;
pub use turned::{Along, TurnedGrid, TurnedLayout};
pub use zones::{ClassZone, class_zones, lon_lat};

use crate::coordinates::LonLat;
use crate::findings::Outcome;
use crate::frame::Frame;
use crate::job::{Job, LandPart};
use crate::land::Land;
use crate::read::Polygon;
use crate::zones::LandUnits;
use std::sync::Arc;

/// Both rate maps of a field.
#[derive(Debug, Clone, PartialEq)]
pub struct RateMap {
    /// Land with the same rates, land part and lots, largest first.
    pub zones: Vec<MapZone>,
    /// North-up grid in the field's plane.
    pub metric: Grid,
    /// Grid in degrees for terminals, made for the numbers as they are written.
    pub degrees: Grid,
    /// Polygons for terminals ([`terminal_maps`]); empty where nothing asks for them.
    pub terminal: Vec<TerminalMap>,
    /// Grid along the bouts, of a map that is cut to them ([`TurnedLayout::grid`]); `None` where there is no such, or nothing asks for it.
    pub turned: Option<TurnedGrid>,
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
    pub polygons: Arc<Vec<Polygon<LonLat>>>,
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
    pub covered_m2: Arc<Vec<f64>>,
    /// Per cell, per product (job order): kg/ha.
    pub kg_per_ha: CellRates,
}

/// The cells of both grids: all geometry of the grids, no rates yet. And the polygons of the last map that
/// was made on them, for the next.
pub struct GridCells {
    pub metric: Cells,
    pub degrees: Cells,
    known: zones::Known,
    around: surroundings::Surroundings,
}

/// Lays both grids over the land.
///
/// # Errors
/// More cells than the job allows.
pub fn cells(units: &LandUnits, land: &Land, job: &Job, frame: &Frame) -> Outcome<GridCells> {
    let around = surroundings::Surroundings::of(land, job);
    let metric = layout::metric(&around, job)?;
    let degrees = layout::degrees(&around, land, job, frame)?;
    Ok(cells_of([metric, degrees], around, units, job, frame))
}

fn cells_of(
    [metric, degrees]: [Layout; 2],
    around: surroundings::Surroundings,
    units: &LandUnits,
    job: &Job,
    frame: &Frame,
) -> GridCells {
    let of = |layout| Cells::of(layout, units, &around, job, frame);
    let (metric, degrees) = rayon::join(|| of(metric), || of(degrees));
    GridCells {
        metric,
        degrees,
        known: zones::Known::default(),
        around,
    }
}

impl GridCells {
    /// How many cells the larger of both grids has.
    pub fn larger(&self) -> usize {
        let cells = |of: &Cells| of.layout.columns * of.layout.rows;
        cells(&self.metric).max(cells(&self.degrees))
    }

    /// The cells of the same grids over other pieces of the same land.
    pub fn over(&self, units: &LandUnits, frame: &Frame) -> Self {
        let (metric, degrees) = rayon::join(
            || self.metric.over(units, frame),
            || self.degrees.over(units, frame),
        );
        Self {
            metric,
            degrees,
            known: zones::Known::default(),
            around: self.around.clone(),
        }
    }
}

/// Lays the metric grid alone over the land: what [`cells`] does for it.
///
/// # Errors
/// More cells than the job allows.
pub fn metric_cells(units: &LandUnits, land: &Land, job: &Job, frame: &Frame) -> Outcome<Cells> {
    let around = surroundings::Surroundings::of(land, job);
    let layout = layout::metric(&around, job)?;
    Ok(Cells::of(layout, units, &around, job, frame))
}

/// The rate maps for these rates: per row of the rate table, per product (job order), kg/ha. Those for
/// terminals are left to [`terminal_maps`].
pub fn rate_map(
    units: &LandUnits,
    cells: &GridCells,
    rates: &[Vec<f64>],
    job: &Job,
    frame: &Frame,
) -> RateMap {
    let products: Vec<usize> = (0..job.products.len()).collect();
    let grid = |cells| rates::grid(cells, rates, &products);
    let (zones, (metric, degrees)) = rayon::join(
        || zones::dissolve(units, rates, &lot_layers(job), &cells.known, frame),
        || rayon::join(|| grid(&cells.metric), || grid(&cells.degrees)),
    );
    RateMap {
        zones,
        metric,
        degrees,
        terminal: Vec::new(),
        turned: None,
    }
}

/// The polygon maps for terminals: of all products, and, where there are several, of each.
pub fn terminal_maps(
    units: &LandUnits,
    rates: &[Vec<f64>],
    job: &Job,
    frame: &Frame,
) -> Vec<TerminalMap> {
    fewer_points::maps(units, rates, job, frame)
}

/// The metric grid of any list of rates, kg/ha per row of the rate table; `of` names the product (job order)
/// that each rate belongs to and is switched off with.
pub fn metric_grid(cells: &GridCells, rates: &[Vec<f64>], of: &[usize]) -> Grid {
    rates::grid(&cells.metric, rates, of)
}

/// The grid in degrees of a rate map alone.
pub fn degrees_grid(cells: &GridCells, rates: &[Vec<f64>], job: &Job) -> Grid {
    let products: Vec<usize> = (0..job.products.len()).collect();
    rates::grid(&cells.degrees, rates, &products)
}

/// Land united by rates and land part: per row of the rate table any list of rates, kg/ha.
pub fn united(units: &LandUnits, rates: &[Vec<f64>], frame: &Frame) -> Vec<MapZone> {
    zones::dissolve(units, rates, &[], &zones::Known::default(), frame)
}

/// The layers that tell lots apart, by number.
fn lot_layers(job: &Job) -> Vec<usize> {
    let lots = || job.products.iter().filter_map(|of| of.lots.as_ref());
    let layers = job.layers.iter().enumerate();
    let apart = layers.filter(|(_, layer)| lots().any(|lots| lots.layer == layer.name));
    apart.map(|(at, _)| at).collect()
}

impl Grid {
    /// Kilograms of each product on the covered land of the cells.
    pub fn kg(&self) -> Vec<f64> {
        let mut kg = vec![0.0; self.kg_per_ha.each()];
        // Covered land without a rate has no kilograms that could be told; the check before writing names it.
        let unknown = vec![f64::NAN; kg.len()];
        let sets = self.kg_per_ha.sets();
        for (set, cells) in self.kg_per_ha.runs() {
            let covered_m2 = self.covered_m2.get(cells).unwrap_or_default();
            let rates = match sets.get(set as usize) {
                Some(rates) => rates,
                None if covered_m2.iter().all(|&covered_m2| covered_m2 == 0.0) => continue,
                None => &unknown,
            };
            for (kg, rate) in kg.iter_mut().zip(rates) {
                for covered_m2 in covered_m2 {
                    *kg += covered_m2 * rate / 10_000.0;
                }
            }
        }
        kg
    }
}
