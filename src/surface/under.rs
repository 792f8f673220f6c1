//! The pixels of a raster under pieces of land, each with the exact part of it that a piece covers.

use super::ground::off_field;
use crate::findings::{Fault, Outcome};
use crate::frame::{Crs, Frame};
use crate::geometry::Shape;
use crate::geometry::coverage::{Border, CellGrid, Coverage};
use crate::read::{Raster, Window};

/// Steps of a coordinate within a pixel: a borderline is off by at most half a millionth of one.
const STEPS: f64 = 1_048_576.0;
/// Most pixels under the pieces, with those between them.
const MOST_PIXELS: f64 = 25e6;
/// Parts of pixels up to this are what rounding leaves where a border runs along pixels.
const SLIGHT: f64 = 1e-5;

/// What lies under one group of pieces.
#[derive(Debug, Clone, Default, PartialEq)]
pub(super) struct Under {
    /// Values, and the part of a pixel (0 to 1) that each counts for.
    pub parts: Vec<(f64, f32)>,
    /// Pixels with a value that are covered, and the same weighed with the value.
    pub pixels: f64,
    pub sum: f64,
    /// Pixels without a value, or beyond the raster.
    pub without: f64,
}

/// Sorts the pixels of a raster by the groups of pieces (shapes in the field's plane) that cover them.
///
/// `groups` is the number of groups; the pieces' numbers are below it.
///
/// # Errors
/// No pixel under the pieces; too many pixels; what [`Raster::pixels`] refuses.
pub(super) fn under(
    raster: &Raster,
    crs: &Crs,
    frame: &Frame,
    pieces: &[(u32, Shape)],
    groups: usize,
    band: u32,
    no_value: Option<f64>,
) -> Outcome<Vec<Under>> {
    let rings: Vec<(u32, Vec<Vec<[f64; 2]>>)> = pieces
        .iter()
        .map(|(group, shape)| (*group, on_raster(shape, raster, crs, frame)))
        .collect();
    let Some(laid) = Laid::around(rings.iter().flat_map(|(_, rings)| rings).flatten()) else {
        return Err(Fault::input(
            "surface.too_many_cells",
            raster.place(),
            "too many pixels of the raster lie under the field",
            format!("up to {MOST_PIXELS:e} pixels over one field"),
            "make the raster coarser in your GIS, by averaging; a drill cannot follow such detail",
        ));
    };
    let window = laid.on(raster).ok_or_else(|| off_field(raster))?;
    let pixels = raster.stored(band, window)?;
    let borders = rings
        .iter()
        .flat_map(|(group, rings)| laid.borders(*group, rings));
    let coverage = Coverage::new(laid.grid, borders);
    let mut found = vec![Under::default(); groups];
    let spans = coverage.spans().filter(|(_, span)| span.share > SLIGHT);
    for (row, span) in spans {
        for column in span.column..span.column + span.length {
            let value = laid
                .index(window, column, row)
                .map(|at| pixels.at(at))
                .filter(|value| value.is_finite() && no_value != Some(*value));
            let own = &mut found[span.group as usize];
            match value {
                Some(value) => {
                    own.parts.push((value, span.share as f32));
                    own.pixels += span.share;
                    own.sum += span.share * value;
                }
                None => own.without += span.share,
            }
        }
    }
    Ok(found)
}

/// A shape's rings in columns and rows of the raster, the exterior first.
fn on_raster(shape: &Shape, raster: &Raster, crs: &Crs, frame: &Frame) -> Vec<Vec<[f64; 2]>> {
    shape
        .rings()
        .map(|ring| {
            let points = ring.iter().map(|point| point.place()).collect();
            let points = crs.from_wgs84(frame.all_to_lon_lat(points));
            let pixel = |[x, y]: [f64; 2]| {
                [
                    (x - raster.corner[0]) / raster.step[0],
                    (y - raster.corner[1]) / raster.step[1],
                ]
            };
            points.into_iter().map(pixel).collect()
        })
        .collect()
}

/// A grid of whole pixels around all pieces; it may reach beyond the raster.
struct Laid {
    /// Its first column and row, counted from the raster's.
    first: [f64; 2],
    grid: CellGrid,
}

impl Laid {
    /// `None` where it would have too many cells, or a place is no number.
    fn around<'a>(points: impl Iterator<Item = &'a [f64; 2]>) -> Option<Self> {
        let (mut low, mut high) = ([f64::INFINITY; 2], [f64::NEG_INFINITY; 2]);
        for point in points {
            for axis in 0..2 {
                low[axis] = low[axis].min(point[axis].floor());
                high[axis] = high[axis].max(point[axis].ceil());
            }
        }
        let count = [0, 1].map(|axis| (high[axis] - low[axis]).max(1.0));
        // Without a point the corners are infinite. Beyond 2^31 pixels from the raster's first, a
        // column is no longer a whole number of steps.
        let fits = count[0] * count[1] <= MOST_PIXELS && low.iter().all(|at| at.abs() < 2e9);
        fits.then(|| Self {
            first: low,
            grid: CellGrid {
                origin: [0, 0],
                cell: [STEPS as i64; 2],
                columns: count[0] as usize,
                rows: count[1] as usize,
            },
        })
    }

    /// What of the grid the raster has.
    fn on(&self, raster: &Raster) -> Option<Window> {
        let part = |axis: usize, cells: usize, all: u32| {
            let first = self.first[axis].max(0.0);
            let end = (self.first[axis] + cells as f64).min(f64::from(all));
            (end > first).then_some((first as u32, (end - first) as u32))
        };
        let (column, columns) = part(0, self.grid.columns, raster.columns)?;
        let (row, rows) = part(1, self.grid.rows, raster.rows)?;
        Some(Window {
            column,
            row,
            columns,
            rows,
        })
    }

    /// Where a window holds the value of a cell; `None` beyond it.
    fn index(&self, window: Window, column: u32, row: usize) -> Option<usize> {
        let column = self.first[0] + f64::from(column) - f64::from(window.column);
        let row = self.first[1] + row as f64 - f64::from(window.row);
        let inside = (0.0..f64::from(window.columns)).contains(&column)
            && (0.0..f64::from(window.rows)).contains(&row);
        inside.then(|| row as usize * window.columns as usize + column as usize)
    }

    /// The borders of a piece. Rows mostly run southwards, which turns rings round: what lies left of
    /// them follows from the sense in which the exterior runs here.
    fn borders(&self, group: u32, rings: &[Vec<[f64; 2]>]) -> Vec<Border> {
        let step = |point: &[f64; 2]| {
            [0, 1].map(|axis| ((point[axis] - self.first[axis]) * STEPS).round() as i64)
        };
        let rings: Vec<Vec<[i64; 2]>> = rings
            .iter()
            .map(|ring| ring.iter().map(step).collect())
            .collect();
        let area = |ring: &[[i64; 2]]| -> i128 {
            edges(ring)
                .map(|([ax, ay], [bx, by])| {
                    i128::from(ax) * i128::from(by) - i128::from(bx) * i128::from(ay)
                })
                .sum()
        };
        let leftwards = rings.first().is_none_or(|ring| area(ring) >= 0);
        let sides = match leftwards {
            true => [Some(group), None],
            false => [None, Some(group)],
        };
        rings
            .iter()
            .flat_map(|ring| edges(ring).map(move |(from, to)| (from, to, sides)))
            .collect()
    }
}

fn edges(ring: &[[i64; 2]]) -> impl Iterator<Item = ([i64; 2], [i64; 2])> + '_ {
    let ends = ring.iter().cycle().skip(1);
    ring.iter().zip(ends).map(|(from, to)| (*from, *to))
}
