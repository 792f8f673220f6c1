//! Land for tests.

use crate::geometry::offset::inset;
use crate::geometry::{Pt, Shape};
use crate::land::Land;

/// A field with these corners, in m, and a headland along its border.
pub fn land(corners: &[[f64; 2]], headland_m: f64) -> Land {
    let whole = Shape {
        exterior: corners
            .iter()
            .map(|&at| Pt::from_metres(at).unwrap())
            .collect(),
        holes: Vec::new(),
    };
    Land {
        interior: inset(std::slice::from_ref(&whole), headland_m),
        land: vec![whole.clone()],
        field: vec![whole],
        exclusions: Vec::new(),
        headland_m,
        setbacks: Vec::new(),
        to_keep: Vec::new(),
        guide: None,
    }
}
