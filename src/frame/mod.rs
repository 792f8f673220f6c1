//! Where things are: from a layer's CRS to WGS 84 (PROJ), and from WGS 84 to the field's own plane.

use crate::findings::{Finding, Outcome};
use crate::read::{DeclaredCrs, Layer, Xy};

/// The field's own metric plane: transverse Mercator on WGS 84, centred on the field, scale 1.
///
/// Plane areas agree with geodesic areas to 1e-6 for fields up to 5 km across.
#[derive(Debug, Clone, PartialEq)]
pub struct Frame {
    lon0: f64,
    lat0: f64,
}

impl Frame {
    /// The plane centred on these places (degrees, WGS 84). Refused beyond 84 degrees of latitude.
    pub fn centred_on(_lon_lat: &[Xy]) -> Outcome<Self> {
        todo!()
    }

    /// The plane with this origin (degrees, WGS 84), for plans that are built by hand.
    pub fn with_origin(lon0: f64, lat0: f64) -> Self {
        Self { lon0, lat0 }
    }

    /// Longitude and latitude of the origin, in degrees.
    pub fn origin(&self) -> [f64; 2] {
        [self.lon0, self.lat0]
    }

    /// Degrees to metres.
    pub fn to_plane(&self, _lon_lat: Xy) -> Xy {
        todo!()
    }

    /// Metres to degrees.
    pub fn to_lon_lat(&self, _xy: Xy) -> Xy {
        todo!()
    }

    /// Degrees to metres, in place, fast for many points.
    pub fn all_to_plane(&self, _points: &mut [Xy]) {
        todo!()
    }

    /// Metres to degrees, in place, fast for many points.
    pub fn all_to_lon_lat(&self, _points: &mut [Xy]) {
        todo!()
    }

    /// The plane's CRS as WKT 1 with ESRI names and as PROJ string, for writers.
    pub fn proj_string(&self) -> String {
        todo!()
    }
}

/// A layer's way to WGS 84.
pub struct Crs {
    /// `EPSG:28992 Amersfoort / RD New`, for messages.
    pub name: String,
    /// Accuracy in metres that PROJ states for the datum shift; `None` when it states none.
    pub accuracy_m: Option<f64>,
    /// Ballpark shifts and other doubts.
    pub findings: Vec<Finding>,
}

impl Crs {
    /// The CRS a layer is in: what the job names, else what the file declares.
    pub fn of(_layer: &Layer, _named_in_job: Option<&str>) -> Outcome<Self> {
        todo!()
    }

    /// From the CRS's own coordinates (x east, y north) to WGS 84 degrees, in place.
    pub fn to_wgs84(&self, _points: &mut [Xy]) -> Outcome<()> {
        todo!()
    }
}

/// Turns all coordinates of a layer into WGS 84 degrees; straight edges are densified so that they
/// lie within 1 mm of the straight edge in the layer's own CRS once they are in the plane.
pub fn to_wgs84(_layer: Layer, _crs: &Crs) -> Outcome<Layer> {
    todo!()
}

/// Turns a WGS 84 layer into plane coordinates.
pub fn to_plane(_layer: Layer, _frame: &Frame) -> Layer {
    todo!()
}

/// EPSG database version inside the binary.
pub fn epsg_version() -> String {
    let _ = DeclaredCrs::None;
    String::new()
}
