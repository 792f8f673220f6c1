//! Rings and shapes: what goes into an arrangement and what comes out of it.

use super::point::{Pt, area2_to_m2, ring_area2};

/// A ring on the grid; the last point does not repeat the first.
pub type Ring = Vec<Pt>;

/// An area as simple, disjoint rings: exteriors counter-clockwise, holes clockwise.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Shape {
    /// The ring around it.
    pub exterior: Ring,
    /// Rings around what is left out of it.
    pub holes: Vec<Ring>,
}

impl Shape {
    /// All rings, the exterior first.
    pub fn rings(&self) -> impl Iterator<Item = &Ring> {
        std::iter::once(&self.exterior).chain(&self.holes)
    }

    /// Twice the area, exactly, in units^2.
    pub fn area2(&self) -> i128 {
        self.rings().map(|ring| ring_area2(ring)).sum()
    }

    /// Area in m2.
    pub fn area_m2(&self) -> f64 {
        area2_to_m2(self.area2())
    }
}
