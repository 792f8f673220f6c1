//! What a pair of numbers means: each space has its own type, so that the compiler refuses a mix-up.
//!
//! | type | space |
//! |---|---|
//! | [`LonLat`] | degrees on WGS 84 |
//! | [`crate::read::Xy`] | a file's own CRS, and plane metres ([`crate::frame::Frame`]) |
//! | [`crate::geometry::Pt`] | the grid of 2^-20 m in that plane |
//!
//! Only `frame` leads from one to another, and `geometry` between plane metres and grid.

use schemars::{JsonSchema, Schema, SchemaGenerator};
use serde::{Deserialize, Deserializer, Serialize, Serializer};
use std::borrow::Cow;

/// A place in degrees on WGS 84. Files have it as `[lon, lat]`.
///
/// Metres are no degrees:
///
/// ```compile_fail,E0308
/// # use twinsow::frame::Frame;
/// let frame = Frame::about(2.5, 54.8);
/// let metres = [120.0, -35.0];
/// frame.to_plane(metres);
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
