//! Outlines that cross each other more often than any map does: told before anything is made of them.

use crate::findings::{Fault, Place};
use crate::frame::Frame;
use crate::geometry::Pt;

/// The fault for outlines that meet at more places than are followed, with one of them.
pub fn crowded(place: Place, frame: &Frame, (most, at): (usize, Pt)) -> Box<Fault> {
    Fault::input(
        "land.crossings",
        place.at(frame.to_lon_lat(at.place())),
        format!(
            "outlines cross each other and themselves at more than {most} places, here for one"
        ),
        format!("up to {most} crossings for outlines of so many points"),
        "look at the layer in a GIS: points in the wrong order do this, or a layer that was taken together many times; repair it, or draw it again",
    )
}
