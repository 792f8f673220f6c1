//! Values of points and rasters on one grid of cells in the field's plane.

use super::field_place::FieldPlace;
use super::fitting::{fitting, said};
use super::ground::{self, Ground};
use super::points::Surface;
use super::raster;
use super::samples::samples;
use crate::coordinates::PlaneXy;
use crate::findings::{Fault, Finding, Outcome};
use crate::frame::Crs;
use crate::job::{SurfaceMethod, Values};
use crate::read::{Layer, OneOf, Raster};

/// Cell where the job names none, metres.
const CELL_M: f64 = 10.0;
/// Most points that are weighed in all, over all cells.
const MOST_WORK: f64 = 2e9;

/// Square cells over a field.
pub struct PlaneCells {
    pub(super) ground: Ground,
    /// Top left corner of the first cell, and the cells' edge, metres.
    corner: [f64; 2],
    cell_m: f64,
}

/// Values on cells; NaN for none.
pub struct CellValues {
    pub(super) what: String,
    pub(super) values: Vec<f64>,
    pub findings: Vec<Finding>,
}

/// A surface on cells, to be looked at.
#[derive(Debug, Clone, PartialEq)]
pub struct SurfaceGrid {
    /// The layer's name in the job, and which of several it is.
    pub name: String,
    /// North-west corner in the field's plane, and the cells' edge, metres.
    pub corner: [f64; 2],
    pub cell_m: f64,
    pub columns: usize,
    /// Row by row from the north; NaN for no value.
    pub values: Vec<f64>,
}

impl PlaneCells {
    /// Values on these cells under a name, for those who want to see them.
    pub fn grid(&self, name: String, values: &CellValues) -> SurfaceGrid {
        SurfaceGrid {
            name,
            corner: self.corner,
            cell_m: self.cell_m,
            columns: self.ground.window.columns as usize,
            values: values.values.clone(),
        }
    }

    /// Lays cells over a field (`boundary`, in its plane).
    ///
    /// # Errors
    /// Too many cells.
    pub fn over(boundary: &Layer<PlaneXy>, job: &Values) -> Outcome<Self> {
        let cell_m = job.surface_cell_m.unwrap_or(CELL_M);
        let laid = ground::on_plane(boundary, cell_m);
        let (ground, corner) = laid.ok_or_else(|| {
            Fault::input(
                "surface.too_many_cells",
                boundary.place(),
                format!("cells of {cell_m} m over the field are too many"),
                "up to 25 million cells over one field",
                "set a larger surface_cell_m",
            )
        })?;
        Ok(Self {
            ground,
            corner,
            cell_m,
        })
    }

    /// The place of a corner between cells, counted from the top left.
    pub(super) fn at(&self, [column, row]: [f64; 2]) -> [f64; 2] {
        [
            self.corner[0] + column * self.cell_m,
            self.corner[1] - row * self.cell_m,
        ]
    }

    fn each(&self, mut value: impl FnMut([f64; 2]) -> f64) -> Vec<f64> {
        let columns = self.ground.window.columns as usize;
        let mut values = vec![f64::NAN; columns * self.ground.window.rows as usize];
        for at in self.ground.near.places() {
            let middle = [(at % columns) as f64 + 0.5, (at / columns) as f64 + 0.5];
            values[at] = value(self.at(middle));
        }
        values
    }

    /// A surface through points (in the field's plane).
    ///
    /// # Errors
    /// No such column, values that are no numbers, fewer than three places with a value; more points
    /// than a method takes.
    pub fn points(
        &self,
        points: &Layer<PlaneXy>,
        what: &str,
        job: &Values,
        method: SurfaceMethod,
    ) -> Outcome<CellValues> {
        let mut findings = points.findings.clone();
        let samples = samples(points, job, what, &mut findings)?;
        if let Some(radius) = job.smoothing_m {
            let land_m2 = self.ground.near.count() as f64 * self.ground.pixel_m2;
            let circle = std::f64::consts::PI * radius * radius;
            let work = samples.points.len() as f64 * circle.min(land_m2) / self.ground.pixel_m2;
            if work > MOST_WORK {
                return Err(Fault::input(
                    "surface.too_much_work",
                    points.place(),
                    format!(
                        "{} points, each within {radius} m of {:.0} cells",
                        samples.points.len(),
                        circle.min(land_m2) / self.ground.pixel_m2
                    ),
                    format!("up to {MOST_WORK:e} pairs of a point and a cell"),
                    "set a smaller smoothing_m, or a larger surface_cell_m",
                ));
            }
        }
        let surface = Surface::of(&samples, job, method, points)?;
        findings.push(surface.said(&samples, points, what));
        Ok(CellValues {
            what: what.to_owned(),
            values: self.each(|place| surface.at(place)),
            findings,
        })
    }

    /// The values of a raster: in each cell the mean of the pixels whose middle lies in it, or the pixel
    /// under the cell's middle where none does.
    ///
    /// # Errors
    /// The raster does not reach the field; what [`Raster::pixels`] refuses.
    pub fn raster(
        &self,
        raster: &Raster,
        crs: &Crs,
        field: FieldPlace,
        what: &str,
        job: &Values,
    ) -> Outcome<CellValues> {
        let (view, factor) = fitting(raster, crs, field, OneOf::Mean)?;
        let mut findings = raster.findings.clone();
        if factor > 1 {
            let why = "it has more than 16 million pixels over the field";
            findings.push(said(raster, factor, why, what, OneOf::Mean));
        }
        let raster = &view;
        let (under, pixels) = raster::pixels(raster, crs, field, job)?;
        let (left, top) = (f64::from(under.window.column), f64::from(under.window.row));
        let (across, down) = (under.window.columns as usize, under.window.rows as usize);
        let columns = self.ground.window.columns as usize;
        let mut sums = vec![(0.0, 0.0); columns * self.ground.window.rows as usize];
        let mut line = Vec::with_capacity(across);
        for row in 0..down {
            line.clear();
            line.extend(
                (0..across)
                    .map(|column| raster.at([left + column as f64 + 0.5, top + row as f64 + 0.5])),
            );
            let places = crs.to_wgs84(&line)?;
            for place in under.near.ranges(row..row + 1).flatten() {
                let value = pixels.at(place);
                let PlaneXy { x, y } = field.frame.to_plane(places[place - row * across]);
                let column = ((x - self.corner[0]) / self.cell_m).floor();
                let row = ((self.corner[1] - y) / self.cell_m).floor();
                let on_grid = column >= 0.0 && row >= 0.0 && column < columns as f64;
                let at = (row * columns as f64 + column) as usize;
                if let Some((sum, count)) = sums.get_mut(at)
                    && on_grid
                    && value.is_finite()
                {
                    *sum += value;
                    *count += 1.0;
                }
            }
        }
        let mut middles = Vec::new();
        let mut values = self.each(|place| {
            middles.push(field.frame.to_lon_lat(PlaneXy::of_pair(place)));
            0.0
        });
        let middles = self.ground.near.places().zip(crs.from_wgs84(middles));
        for (at, [x, y]) in middles {
            values[at] = match sums[at] {
                (sum, count) if count > 0.0 => sum / count,
                _ => {
                    let column = (x - raster.corner[0]) / raster.step[0] - left;
                    let row = (y - raster.corner[1]) / raster.step[1] - top;
                    let inside = |at: f64, all: usize| at >= 0.0 && at < all as f64;
                    // Only of what lies in the window: a place far from it has no number.
                    let on_window = inside(column, across) && inside(row, down);
                    let place = on_window.then(|| row as usize * across + column as usize);
                    let place = place.filter(|place| under.near.contains(*place));
                    place.map_or(f64::NAN, |place| pixels.at(place))
                }
            };
        }
        Ok(CellValues {
            what: what.to_owned(),
            values,
            findings,
        })
    }
}
