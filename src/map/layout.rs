//! Where the cells of a grid lie: metric in the field's plane, or in degrees for terminals.

use super::surroundings::Surroundings;
use crate::coordinates::{LonLat, PlaneXy};
use crate::findings::{Fault, Outcome, Place};
use crate::frame::Frame;
use crate::geometry::Pt;
use crate::geometry::coverage::CellGrid;
use crate::geometry::point::UNITS_PER_M;
use crate::job::Job;
use crate::land::Land;
use crate::units::nearest_whole;

/// Bits that the coverage of cells has beyond the grid of points, or per cell of degrees.
const FINE_BITS: u32 = 16;
const DEGREE_BITS: u32 = 36;

/// WGS 84: semi-major axis in metres and first eccentricity squared (NIMA TR8350.2, table 3.1 and
/// 3.2).
const SEMI_MAJOR_M: f64 = 6_378_137.0;
const ECCENTRICITY2: f64 = 0.006_694_379_990_14;

/// A grid's place, and how places in the plane become its integer coordinates.
#[derive(Debug, Clone, PartialEq)]
pub struct Layout {
    /// Outer south-west corner, metres or degrees.
    pub origin: [f64; 2],
    /// Cell width and height, metres or degrees.
    pub cell: [f64; 2],
    pub columns: usize,
    pub rows: usize,
    pub(super) axes: Axes,
}

/// Which way columns and rows run.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) enum Axes {
    /// East and north in the field's plane.
    Plane,
    /// In the plane turned clockwise from north: rows along this heading, columns to the right of it; the origin is that of the plane.
    Turned(TurnedPlane),
    /// East and north in degrees.
    Degrees,
}

/// The plane turned to a heading: to the right of it, and along.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct TurnedPlane {
    sine: f64,
    cosine: f64,
}

impl TurnedPlane {
    /// For a heading in degrees, clockwise from north.
    pub(super) fn to(heading_deg: f64) -> Self {
        let (sine, cosine) = heading_deg.to_radians().sin_cos();
        Self { sine, cosine }
    }

    /// East and north as right and along.
    pub(super) fn of(&self, [x, y]: [f64; 2]) -> [f64; 2] {
        [
            x * self.cosine - y * self.sine,
            x * self.sine + y * self.cosine,
        ]
    }

    /// Right and along as east and north.
    pub(super) fn back(&self, [right, along]: [f64; 2]) -> [f64; 2] {
        [
            right * self.cosine + along * self.sine,
            along * self.cosine - right * self.sine,
        ]
    }
}

impl Layout {
    /// The cells for the coverage kernel.
    pub(super) fn cell_grid(&self) -> CellGrid {
        let (origin, cell) = match self.axes {
            Axes::Degrees => ([0, 0], [1 << DEGREE_BITS; 2]),
            Axes::Plane => {
                let units = |v: f64| ((v * UNITS_PER_M).round() as i64) << FINE_BITS;
                (self.origin.map(units), self.cell.map(units))
            }
            Axes::Turned(_) => (self.origin.map(fine), self.cell.map(fine)),
        };
        CellGrid {
            origin,
            cell,
            columns: self.columns,
            rows: self.rows,
        }
    }

    /// Appends places of the plane in the coordinates of [`Self::cell_grid`].
    pub(super) fn place(&self, points: &[Pt], frame: &Frame, placed: &mut Vec<[i64; 2]>) {
        match self.axes {
            Axes::Degrees => {}
            Axes::Plane => {
                placed.extend(points.iter().map(|p| [p.x << FINE_BITS, p.y << FINE_BITS]));
                return;
            }
            Axes::Turned(plane) => {
                placed.extend(points.iter().map(|p| plane.of(p.metres()).map(fine)));
                return;
            }
        }
        let scale = (1u64 << DEGREE_BITS) as f64;
        let line = frame.line_in_degrees(points.iter().map(|point| point.place()));
        let line = line.iter().map(|&LonLat { lon, lat }| {
            let east = east_of(lon, self.origin[0]);
            let north = lat - self.origin[1];
            [
                nearest_whole(east / self.cell[0] * scale),
                nearest_whole(north / self.cell[1] * scale),
            ]
        });
        match self.begins_at_180() {
            false => placed.extend(line),
            true => not_west_of_it(line, placed),
        }
    }

    /// Whether the grid begins at the 180th meridian, where what lies around a field goes on to the west of it.
    fn begins_at_180(&self) -> bool {
        self.axes == Axes::Degrees && self.origin[0] <= -180.0
    }

    /// Area of a whole cell of a row, m2. For degrees: between its parallels and meridians on the
    /// ellipsoid, by the radii of curvature at its middle (exact to 1e-12 for cells of metres).
    pub(super) fn cell_m2(&self, row: usize) -> f64 {
        if self.axes != Axes::Degrees {
            return self.cell[0] * self.cell[1];
        }
        let lat = (self.origin[1] + (row as f64 + 0.5) * self.cell[1]).to_radians();
        let w2 = 1.0 - ECCENTRICITY2 * lat.sin() * lat.sin();
        let along_parallel = SEMI_MAJOR_M / w2.sqrt() * lat.cos();
        let along_meridian = SEMI_MAJOR_M * (1.0 - ECCENTRICITY2) / (w2 * w2.sqrt());
        along_parallel * along_meridian * self.cell[0].to_radians() * self.cell[1].to_radians()
    }

    /// Width and height of a cell in metres, near enough to compare distances.
    pub(super) fn cell_in_metres(&self) -> [f64; 2] {
        if self.axes != Axes::Degrees {
            return self.cell;
        }
        metres_per_degree(self.origin[1]).map_with(self.cell)
    }
}

/// Degrees from a longitude to another, to the east; below 0 to the west of it, the shorter way round.
pub fn east_of(lon: f64, origin: f64) -> f64 {
    match lon - origin {
        east if east < -180.0 => east + 360.0,
        west if west > 180.0 => west - 360.0,
        near => near,
    }
}

/// Appends a line, with what lies west of a grid's west border moved onto that: it bounds the same cells.
fn not_west_of_it(line: impl Iterator<Item = [i64; 2]>, placed: &mut Vec<[i64; 2]>) {
    let mut before: Option<[i64; 2]> = None;
    for [x, y] in line {
        if let Some([from, low]) = before.filter(|[from, _]| (*from < 0) != (x < 0)) {
            let share = from as f64 / (from - x) as f64;
            placed.push([0, low + nearest_whole((y - low) as f64 * share)]);
        }
        placed.push([x.max(0), y]);
        before = Some([x, y]);
    }
}

/// Metres in the coordinates of the coverage kernel, for a grid whose cells lie between the points of the plane.
fn fine(metres: f64) -> i64 {
    nearest_whole(metres * UNITS_PER_M * f64::from(1_u32 << FINE_BITS))
}

/// Metres per degree of longitude and latitude.
struct PerDegree([f64; 2]);

impl PerDegree {
    fn map_with(&self, degrees: [f64; 2]) -> [f64; 2] {
        [self.0[0] * degrees[0], self.0[1] * degrees[1]]
    }
}

fn metres_per_degree(lat: f64) -> PerDegree {
    let lat = lat.to_radians();
    let w2 = 1.0 - ECCENTRICITY2 * lat.sin() * lat.sin();
    let east = SEMI_MAJOR_M / w2.sqrt() * lat.cos();
    let north = SEMI_MAJOR_M * (1.0 - ECCENTRICITY2) / (w2 * w2.sqrt());
    PerDegree([east.to_radians(), north.to_radians()])
}

/// Edge of a cell in metres: what the job says, else one working width, at least 5 m.
pub(super) fn cell_m(job: &Job) -> f64 {
    job.grid
        .cell_m
        .unwrap_or(job.drill.working_width_m.max(5.0))
}

/// The metric grid: whole cells from the plane's origin.
pub(super) fn metric(around: &Surroundings, job: &Job) -> Outcome<Layout> {
    // On the grid of points, so that no cell border is rounded.
    let cell = (cell_m(job) * UNITS_PER_M).round().max(1.0) as i64;
    let first = [around.low.x, around.low.y].map(|v| v.div_euclid(cell));
    let last = [around.high.x, around.high.y].map(|v| v.div_euclid(cell));
    let counts = [last[0] - first[0] + 1, last[1] - first[1] + 1].map(|v| v as usize);
    let metres = |units: i64| units as f64 / UNITS_PER_M;
    guarded(
        Layout {
            origin: first.map(|v| metres(v * cell)),
            cell: [metres(cell); 2],
            columns: counts[0],
            rows: counts[1],
            axes: Axes::Plane,
        },
        job,
    )
}

/// The grid in degrees. Its numbers are those that a file can hold: the corner with 9 decimals, the
/// cell with 12.
///
/// A grid of a field that ends at the 180th meridian begins there, and not on its other side: from there on its longitudes would
/// count on beyond 180, where no receiver is.
pub(super) fn degrees(
    around: &Surroundings,
    land: &Land,
    job: &Job,
    frame: &Frame,
) -> Outcome<Layout> {
    let [low, high] = [around.low.metres(), around.high.metres()];
    let middle = frame.to_lon_lat(PlaneXy::new(
        (low[0] + high[0]) / 2.0,
        (low[1] + high[1]) / 2.0,
    ));
    let PerDegree([east, north]) = metres_per_degree(middle.lat);
    let cell = [cell_m(job) / east, cell_m(job) / north].map(|v| rounded(v, 12));
    let border = border(low, high, frame.longest_straight_m());
    let lon = border
        .iter()
        .map(|&xy| from_middle(frame.to_lon_lat(PlaneXy::of_pair(xy)).lon, middle.lon));
    let lat = border
        .iter()
        .map(|&xy| frame.to_lon_lat(PlaneXy::of_pair(xy)).lat);
    let [west, mut east] = [
        lon.clone().fold(f64::INFINITY, f64::min),
        lon.fold(f64::NEG_INFINITY, f64::max),
    ];
    let [south, north] = [
        lat.clone().fold(f64::INFINITY, f64::min),
        lat.fold(f64::NEG_INFINITY, f64::max),
    ];
    let mut origin_lon = west - 1e-8;
    if origin_lon < -180.0 && !is_across_180(land, frame) {
        origin_lon = -180.0;
    } else if origin_lon < -180.0 {
        origin_lon += 360.0;
        east += 360.0;
    }
    let origin = [rounded(origin_lon, 9), rounded(south - 1e-8, 9)];
    let columns = ((east - origin[0] + 1e-8) / cell[0]).ceil() as usize;
    let rows = ((north - origin[1] + 1e-8) / cell[1]).ceil() as usize;
    guarded(
        Layout {
            origin,
            cell,
            columns,
            rows,
            axes: Axes::Degrees,
        },
        job,
    )
}

/// Whether land lies on both sides of the 180th meridian.
fn is_across_180(land: &Land, frame: &Frame) -> bool {
    let points = || land.land.iter().flat_map(|shape| &shape.exterior);
    let lon = |point: &Pt| frame.to_lon_lat(point.place()).lon;
    points().any(|point| lon(point) > 90.0) && points().any(|point| lon(point) < -90.0)
}

/// Places along the border of a box, no farther apart than edges are straight, so that the grid holds its bent
/// image.
fn border(low: [f64; 2], high: [f64; 2], apart_m: f64) -> Vec<[f64; 2]> {
    let along = |a: f64, b: f64| {
        let steps = ((b - a) / apart_m).ceil().max(1.0);
        (0..=steps as u32).map(move |n| a + (b - a) * f64::from(n) / steps)
    };
    let horizontal = along(low[0], high[0]).flat_map(|x| [[x, low[1]], [x, high[1]]]);
    let vertical = along(low[1], high[1]).flat_map(|y| [[low[0], y], [high[0], y]]);
    horizontal.chain(vertical).collect()
}

/// A longitude within half a turn of the middle; may pass 180.
fn from_middle(lon: f64, middle: f64) -> f64 {
    match lon - middle {
        d if d < -180.0 => lon + 360.0,
        d if d > 180.0 => lon - 360.0,
        _ => lon,
    }
}

/// The number that a text with so many decimals holds.
fn rounded(value: f64, decimals: usize) -> f64 {
    format!("{value:.decimals$}").parse().unwrap_or(value)
}

fn guarded(layout: Layout, job: &Job) -> Outcome<Layout> {
    let cells = layout.columns as u64 * layout.rows as u64;
    if cells <= job.grid.most_cells {
        return Ok(layout);
    }
    let cell = cell_m(job);
    let larger = cell * (cells as f64 / job.grid.most_cells as f64).sqrt();
    Err(Fault::input(
        "map.too_many_cells",
        Place::file(&job.file),
        format!(
            "cells of {cell} m make a grid of {} x {} = {cells} cells",
            layout.columns, layout.rows
        ),
        format!("at most {} cells", job.grid.most_cells),
        format!(
            "set cell_m under [grid] to {:.0} or more, or raise most_cells if your terminal takes it",
            larger.ceil()
        ),
    ))
}
