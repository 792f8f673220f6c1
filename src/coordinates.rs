//! What a pair of numbers means: each space has its own type, so that the compiler refuses a mix-up.
//!
//! | type | space |
//! |---|---|
//! | [`LonLat`] | degrees on WGS 84 |
//! | [`PlaneXy`] | metres in the field's own plane ([`crate::frame::Frame`]) |
//! | [`crate::read::Xy`] | a file's own CRS |
//! | [`crate::geometry::Pt`] | the grid of 2^-20 m in that plane |
//!
//! Only `frame` leads from one to another, and `geometry` between plane metres and grid. Within one module's arithmetic,
//! where all is metres of the plane, a pair is a plain `[f64; 2]`: steps, headings and sums are no places.

use schemars::{JsonSchema, Schema, SchemaGenerator};
use serde::{Deserialize, Deserializer, Serialize, Serializer};
use std::borrow::Cow;

/// A place in degrees on WGS 84. Files have it as `[lon, lat]`.
///
/// Metres are no degrees:
///
/// ```compile_fail,E0308
/// # use twinsow::{coordinates::PlaneXy, frame::Frame};
/// let frame = Frame::about(2.5, 54.8);
/// frame.to_plane(PlaneXy::new(120.0, -35.0));
/// ```
///
/// What has gone into the plane does not go there again:
///
/// ```compile_fail,E0308
/// # use twinsow::{coordinates::LonLat, frame::Frame};
/// let frame = Frame::about(2.5, 54.8);
/// let once = frame.to_plane(LonLat::new(2.501, 54.799));
/// frame.to_plane(once);
/// ```
///
/// There and back:
///
/// ```
/// # use twinsow::{coordinates::LonLat, frame::Frame};
/// let frame = Frame::about(2.5, 54.8);
/// let back = frame.to_lon_lat(frame.to_plane(LonLat::new(2.501, 54.799)));
/// assert!((back.lon - 2.501).abs() < 1e-9 && (back.lat - 54.799).abs() < 1e-9);
/// ```
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub struct LonLat {
    /// Longitude, degrees east.
    pub lon: f64,
    /// Latitude, degrees north.
    pub lat: f64,
}

impl LonLat {
    /// The place at this longitude and latitude, degrees.
    pub const fn new(lon: f64, lat: f64) -> Self {
        Self { lon, lat }
    }

    /// The same from a pair that is known to be degrees: longitude, then latitude.
    pub const fn of_pair([lon, lat]: [f64; 2]) -> Self {
        Self { lon, lat }
    }

    /// Longitude, then latitude, as files have them.
    pub const fn pair(self) -> [f64; 2] {
        [self.lon, self.lat]
    }
}

/// A place in the field's own plane.
///
/// A layer is in the plane once `frame` has put it there; one as its file has it is none:
///
/// ```compile_fail,E0308
/// # use twinsow::{frame::Frame, land, read::Layer};
/// # fn of(layer: Layer, frame: &Frame) {
/// land::outlines(&layer, frame);
/// # }
/// ```
///
/// And degrees are no metres:
///
/// ```compile_fail,E0308
/// # use twinsow::{coordinates::LonLat, frame::Frame};
/// let frame = Frame::about(2.5, 54.8);
/// frame.to_lon_lat(LonLat::new(2.501, 54.799));
/// ```
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub struct PlaneXy {
    /// East of the plane's origin, metres.
    pub x: f64,
    /// North of the plane's origin, metres.
    pub y: f64,
}

impl PlaneXy {
    /// The place so many metres east and north of the plane's origin.
    pub const fn new(x: f64, y: f64) -> Self {
        Self { x, y }
    }

    /// The same from a pair that is known to be metres of the plane: east, then north.
    pub const fn of_pair([x, y]: [f64; 2]) -> Self {
        Self { x, y }
    }

    /// Metres east, then north.
    pub const fn pair(self) -> [f64; 2] {
        [self.x, self.y]
    }
}

impl Serialize for LonLat {
    fn serialize<S: Serializer>(&self, to: S) -> Result<S::Ok, S::Error> {
        self.pair().serialize(to)
    }
}

impl<'de> Deserialize<'de> for LonLat {
    fn deserialize<D: Deserializer<'de>>(from: D) -> Result<Self, D::Error> {
        <[f64; 2]>::deserialize(from).map(Self::of_pair)
    }
}

impl JsonSchema for LonLat {
    fn inline_schema() -> bool {
        true
    }

    fn schema_name() -> Cow<'static, str> {
        <[f64; 2]>::schema_name()
    }

    fn json_schema(generator: &mut SchemaGenerator) -> Schema {
        <[f64; 2]>::json_schema(generator)
    }
}
