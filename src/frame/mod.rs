//! Where things are: from a layer's CRS to WGS 84 (PROJ), and from WGS 84 to the field's own plane.
//!
//! The order of a job: [`Crs::of`] and [`to_wgs84`] for the boundary, [`Frame::centred_on`] its places,
//! [`to_plane`]; then for every other layer [`Crs::of`], [`must_meet`], [`place`]. At the end
//! [`mixed_datums`] over all of them. Method, sources and tolerances: `docs/methods/frame.md`.

mod area;
mod crs;
mod distinct_points;
mod drawn;
mod edges;
mod fits;
mod ground_area;
mod layer;
mod local;
mod name;
mod operation;
#[cfg(test)]
mod test_against_proj;
#[cfg(test)]
mod test_axes;
mod own;
mod plane;
mod proj;
mod series;

pub use area::must_meet;
pub use crs::{Crs, Footing, epsg_version, mixed_datums};
pub use drawn::DRAWN_M;
pub use fits::{Fit, Fits, Lies, Near, fits, fitted, is_about_crs, with_fits};
pub use ground_area::{ground_m2, zone_m2};
pub use layer::{as_drawn, place, to_plane, to_wgs84};
pub use plane::Frame;
