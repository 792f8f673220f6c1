//! The land of a plan, as files and pages show it.

use super::{OnTerminal, Prepared};
use crate::coordinates::{LonLat, PlaneXy};
use crate::frame::Frame;
use crate::geometry::Shape;
use crate::map::lon_lat;
use crate::read::{Path, Polygon};

/// The land: outlines in degrees, the plane in which everything was measured, and what the terminal knows of it.
pub struct PlannedLand {
    /// The field's own plane, metres, and the way to degrees and back.
    pub frame: Frame,
    /// Boundary less nothing: as read, repaired, lon/lat; a polygon per part of the field.
    pub boundary: Vec<Polygon<LonLat>>,
    /// Exclusions with their buffers, lon/lat.
    pub exclusions: Vec<Polygon<LonLat>>,
    /// The guide line of the job, from A to B, lon/lat.
    pub guide: Option<Path<LonLat>>,
    /// Field and machine as the terminal knows them.
    pub on_terminal: OnTerminal,
}

impl PlannedLand {
    /// The land of a prepared job.
    pub(super) fn of(prepared: &Prepared) -> Self {
        let Prepared { frame, land, .. } = prepared;
        let outline = |shapes: &[Shape]| shapes.iter().map(|shape| lon_lat(shape, frame)).collect();
        let excluded: Vec<Shape> = land.exclusions.iter().flatten().cloned().collect();
        Self {
            frame: frame.clone(),
            boundary: outline(&land.field),
            exclusions: outline(&excluded),
            guide: land.guide.as_deref().map(|line| match line {
                // A straight line is A and B and nothing between: that is how terminals tell it from a curve.
                [a, b] => [a, b]
                    .map(|end| frame.to_lon_lat(PlaneXy::of_pair(*end)))
                    .to_vec(),
                curve => frame.line_in_degrees(curve.iter().map(|at| PlaneXy::of_pair(*at))),
            }),
            on_terminal: prepared.on_terminal.clone(),
        }
    }
}
