//! Where the bouts run, and the rings driven by all sections and rules that are compared: worked out once.

use super::bands::Bands;
use super::borders::Borders;
use super::curve::{self, Line};
use super::frame;
use super::ring_drives::{self, RingDrive};
use super::rings::Rings;
use super::strips::{heading_deg, strips};
use crate::job::Job;
use crate::land::Land;

/// The ways of a job's bouts.
pub struct Ways {
    /// Heading of the interior bouts in the field's plane, clockwise from north.
    pub(super) heading_deg: f64,
    /// Edges of the interior, turned to it.
    pub(super) edges: Bands,
    /// Where each straight strip begins across it, m.
    pub(super) strips: Vec<f64>,
    /// Borders of the interior where bouts run along a curve.
    pub(super) interior: Borders,
    /// The strips along a curve; empty for straight ones.
    pub(super) curves: Vec<Vec<Line>>,
    pub(super) rings: Rings,
    /// The rings driven by every set of sections to compare and by every rule.
    pub(super) ring_drives: Vec<RingDrive>,
}

/// The strips along a curve, before anything is driven along them.
pub struct Curves {
    interior: Borders,
    strips: Vec<Vec<Line>>,
}

impl Curves {
    /// None where the job asks for no drive, or its guide is no curve.
    pub fn of(land: &Land, job: &Job) -> Self {
        let interior = match land.is_curved() && job.drive.is_some() {
            true => Borders::of(&land.interior, &[]),
            false => Borders::of(&[], &[]),
        };
        let strips = match job.drive.is_some() {
            true => curve::strips(land, &interior, job.drill.working_width_m),
            false => Vec::new(),
        };
        Self { interior, strips }
    }

    /// Corners of all their lines, but for the ends.
    pub fn bends(&self) -> usize {
        let lines = self.strips.iter().flatten();
        lines.map(|line| line.len().saturating_sub(2)).sum()
    }
}

impl Ways {
    /// `None` where the job asks for no drive. `starts_at` moves the start of each ring to its corner nearest to a
    /// place; plane metres.
    pub fn of(
        land: &Land,
        job: &Job,
        curves: Curves,
        starts_at: impl Fn(&[[f64; 2]]) -> usize,
    ) -> Option<Self> {
        let heading_deg = heading_deg(land, job)?;
        let edges = frame::edges(&land.interior, heading_deg);
        let mut ways = Self {
            strips: strips(&edges, land, job, heading_deg),
            curves: curves.strips,
            rings: Rings::of(land, job, starts_at),
            heading_deg,
            edges: Bands::of(edges),
            interior: curves.interior,
            ring_drives: Vec::new(),
        };
        ways.ring_drives = ring_drives::to_compare(&ways, land, job);
        Some(ways)
    }
}
