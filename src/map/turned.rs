//! A grid turned to the heading of the bouts: columns as wide as a section, side by side within the bouts.

use super::layout::{Axes, Layout, TurnedPlane, cell_m};
use super::surroundings::Surroundings;
use super::{Cells, Grid, GridCells, rates};
use crate::frame::Frame;
use crate::geometry::Pt;
use crate::job::Job;
use crate::zones::LandUnits;

/// Straight bouts side by side, and the pixels wanted along them.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Along {
    /// Clockwise from north in the field's plane.
    pub heading_deg: f64,
    /// A place on the rim of a bout, x and y in metres of the plane.
    pub on_rim: [f64; 2],
    /// Widest and longest that a pixel may be, m: whole parts of these are taken where the job asks for smaller cells.
    pub across_m: f64,
    pub along_m: f64,
}

/// A grid of rates whose rows follow each other along a heading.
#[derive(Debug, Clone, PartialEq)]
pub struct TurnedGrid {
    /// Clockwise from north in the field's plane.
    pub heading_deg: f64,
    /// Row 0 lies where the heading comes from, column 0 on its left; columns run fastest. The origin is the outer corner of that cell
    /// in metres of the plane, the cell is across and along the heading.
    pub grid: Grid,
}

/// A turned grid before rates.
pub struct TurnedLayout {
    layout: Layout,
    plane: TurnedPlane,
    heading_deg: f64,
}

impl TurnedLayout {
    /// The pixels that hold the land and its rim, their columns in step with the rims of the bouts.
    pub fn of(cells: &GridCells, along: &Along, job: &Job) -> Self {
        let plane = TurnedPlane::to(along.heading_deg);
        let cell = [along.across_m, along.along_m].map(|most| most / (most / cell_m(job)).ceil());
        let (low, high) = extent(&cells.around, plane);
        let in_step = [plane.of(along.on_rim)[0], 0.0];
        let first = [0, 1].map(|axis| ((low[axis] - in_step[axis]) / cell[axis]).floor());
        let end = [0, 1].map(|axis| ((high[axis] - in_step[axis]) / cell[axis]).ceil());
        let [columns, rows] = [0, 1].map(|axis| (end[axis] - first[axis]).max(1.0) as usize);
        Self {
            layout: Layout {
                origin: [0, 1].map(|axis| in_step[axis] + first[axis] * cell[axis]),
                cell,
                columns,
                rows,
                axes: Axes::Turned(plane),
            },
            plane,
            heading_deg: along.heading_deg,
        }
    }

    /// How many pixels it has.
    pub fn cells(&self) -> u64 {
        self.layout.columns as u64 * self.layout.rows as u64
    }

    /// The rates (kg/ha per row of the rate table) of the land in its pixels, by the same rules as in the other grids.
    pub fn grid(
        self,
        units: &LandUnits,
        cells: &GridCells,
        rates: &[Vec<f64>],
        job: &Job,
        frame: &Frame,
    ) -> TurnedGrid {
        let products: Vec<usize> = (0..job.products.len()).collect();
        let own = Cells::of(self.layout, units, &cells.around, job, frame);
        let grid = rates::grid(&own, rates, &products);
        TurnedGrid {
            heading_deg: self.heading_deg,
            grid: Grid {
                origin: self.plane.back(grid.origin),
                ..grid
            },
        }
    }
}

/// Lowest and highest place of the land with its rim, to the right of the heading and along it, m.
fn extent(around: &Surroundings, plane: TurnedPlane) -> ([f64; 2], [f64; 2]) {
    let in_rim = |face: u32| {
        let kind = around.kind_of_face.get(face as usize).copied().flatten();
        kind.is_some_and(|kind| around.kinds[kind as usize].rim)
    };
    let edges = around.arrangement.edges();
    let at_rim = edges.filter(|(_, [left, right])| in_rim(*left) != in_rim(*right));
    let places = at_rim.flat_map(|(ends, _)| ends.map(|end: Pt| plane.of(end.metres())));
    let nowhere = ([f64::INFINITY; 2], [f64::NEG_INFINITY; 2]);
    let (low, high) = places.fold(nowhere, |(low, high), at| {
        (
            [0, 1].map(|axis| low[axis].min(at[axis])),
            [0, 1].map(|axis| high[axis].max(at[axis])),
        )
    });
    match low[0] <= high[0] {
        true => (low, high),
        false => ([0.0; 2], [0.0; 2]),
    }
}
