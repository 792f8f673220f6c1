//! The field's own plane: transverse Mercator about one origin.

use super::drawn::Bend;
use super::local::{Extent, Local};
use super::series::WGS84;
use crate::coordinates::{LonLat, PlaneXy};
use crate::findings::{Fault, Outcome, Place};

/// Largest latitude of a field, degrees. Beyond it a meridian turns so fast that the plane's
/// directions mean little, and no crop is drilled there.
const MOST_LATITUDE: f64 = 84.0;
/// Farthest that a place of one field may lie from the field's centre, metres.
const MOST_REACH_M: f64 = 100_000.0;
/// What the polynomial may differ from the series, metres.
const TOLERANCE_M: f64 = 8e-9;
/// Metres in a degree of latitude, roughly; good for margins only.
const DEGREE_M: f64 = 111_000.0;

/// Transverse Mercator on WGS 84 about an origin, scale 1: the series alone.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Plane {
    pub lon0: f64,
    pub lat0: f64,
    /// Northing of the origin from the equator, metres.
    northing0: f64,
}

impl Plane {
    /// The plane about this origin (degrees).
    pub(super) fn about(lon0: f64, lat0: f64) -> Self {
        Self {
            lon0,
            lat0,
            northing0: WGS84.forward(0.0, lat0.to_radians())[1],
        }
    }

    /// Degrees to metres.
    pub(super) fn to_plane(self, LonLat { lon, lat }: LonLat) -> PlaneXy {
        let d_lon = from_meridian(lon, self.lon0);
        let [x, y] = WGS84.forward(d_lon.to_radians(), lat.to_radians());
        PlaneXy::new(x, y - self.northing0)
    }

    /// Metres to degrees east and north of the origin.
    fn to_offsets(self, PlaneXy { x, y }: PlaneXy) -> [f64; 2] {
        let [d_lon, lat] = WGS84.inverse(x, y + self.northing0);
        [d_lon.to_degrees(), lat.to_degrees() - self.lat0]
    }

    /// Metres to degrees.
    pub(super) fn to_lon_lat(self, xy: PlaneXy) -> LonLat {
        self.beside_origin(self.to_offsets(xy))
    }

    /// The place at this offset from the origin, degrees.
    fn beside_origin(self, [d_lon, d_lat]: [f64; 2]) -> LonLat {
        LonLat::new(meridian(self.lon0, d_lon), self.lat0 + d_lat)
    }
}

/// Degrees from the meridian `lon0` to `lon`, both within -180 and 180, by the shorter way.
#[inline]
pub(super) fn from_meridian(lon: f64, lon0: f64) -> f64 {
    let d = lon - lon0;
    // Near the antimeridian both differences are exact in floating point, and so is their difference.
    if d > 180.0 {
        (lon - 180.0) - (lon0 + 180.0)
    } else if d < -180.0 {
        (lon + 180.0) - (lon0 - 180.0)
    } else {
        d
    }
}

/// Degrees beyond the 180th meridian that still count as on it: a millimetre. A field that ends there has border points on its
/// curve that rounding moves by less, and would lie on both sides of it otherwise.
const ON_180: f64 = 1e-8;

/// The longitude that lies `d` degrees from the meridian `lon0`, within -180 and 180; on the 180th meridian itself with
/// the sign of `lon0`.
#[inline]
pub(super) fn meridian(lon0: f64, d: f64) -> f64 {
    let lon = lon0 + d;
    if lon > 180.0 {
        let beyond = (lon0 - 180.0) + d;
        if beyond <= ON_180 {
            180.0
        } else {
            beyond - 180.0
        }
    } else if lon < -180.0 {
        let beyond = (lon0 + 180.0) + d;
        if beyond >= -ON_180 {
            -180.0
        } else {
            beyond + 180.0
        }
    } else {
        lon
    }
}

/// The field's own metric plane: transverse Mercator on WGS 84, centred on the field, scale 1.
///
/// Plane areas agree with geodesic areas to 1e-6 for fields up to 5 km across (and somewhat beyond:
/// see [`Frame::area_error`]). Formulas and source: `docs/methods/frame.md`.
#[derive(Debug, Clone, PartialEq)]
pub struct Frame {
    plane: Plane,
    /// The places it was made for, in the plane.
    extent: Option<Extent>,
    /// Degrees from the origin to metres, and back, over the extent and a margin.
    forth: Option<Local>,
    back: Option<Local>,
    /// How straight lines of the plane bend in degrees.
    bend: Bend,
}

impl Frame {
    /// The plane centred on these places (degrees, WGS 84): on the middle of their extent, which is
    /// taken round the circle, so that a field may lie across the antimeridian. The origin is rounded
    /// to 1e-6 degree (0.1 m), so that six decimals write it exactly.
    ///
    /// Refused: no places, places that are not on Earth, places beyond 84 degrees of latitude, places
    /// more than 100 km from their middle.
    pub fn centred_on(lon_lat: &[LonLat]) -> Outcome<Self> {
        Ok(Self::middle_of(lon_lat)?.fitted_to(lon_lat))
    }

    /// The same plane where nothing goes back to degrees; it has no extent. [`Frame::all_to_plane`] gives the
    /// same numbers.
    ///
    /// # Errors
    /// As [`Frame::centred_on`].
    pub fn one_way(lon_lat: &[LonLat]) -> Outcome<Self> {
        Ok(Self::middle_of(lon_lat)?.fitted_forth(lon_lat))
    }

    /// The plane about the middle of the extent of these places.
    fn middle_of(lon_lat: &[LonLat]) -> Outcome<Self> {
        let Some(&LonLat { lon: first, .. }) = lon_lat.first() else {
            return Err(Fault::input(
                "frame.no_places",
                Place::nowhere(),
                "there is no coordinate to centre the field's plane on",
                "a boundary with at least one polygon",
                "check that the boundary file holds the field and is not empty",
            ));
        };
        for &LonLat { lon, lat } in lon_lat {
            if !(lon.abs() <= 180.0 && lat.abs() <= 90.0) {
                return Err(Fault::input(
                    "frame.not_on_earth",
                    Place::nowhere(),
                    format!("longitude {lon}, latitude {lat} is no place on Earth"),
                    "longitudes from -180 to 180 and latitudes from -90 to 90 degrees",
                    "check the CRS of the boundary, and the coordinates named",
                ));
            }
            if lat.abs() > MOST_LATITUDE {
                return Err(Fault::input(
                    "frame.beyond_84_degrees",
                    Place::nowhere().at(LonLat::new(lon, lat)),
                    format!("the field reaches latitude {lat:.6}"),
                    format!("latitudes from -{MOST_LATITUDE} to {MOST_LATITUDE} degrees"),
                    "check the CRS of the boundary, and whether its axes are swapped",
                ));
            }
        }
        // Offsets from any of the places: a field is far smaller than half the globe.
        let Some(offsets) = Extent::of(
            lon_lat
                .iter()
                .map(|place| [from_meridian(place.lon, first), place.lat]),
        ) else {
            return Err(too_wide(lon_lat, first));
        };
        let middle = offsets.at([0.5, 0.5]);
        let exact_to_write = |degrees: f64| (degrees * 1e6).round() / 1e6;
        let mut lon0 = exact_to_write(meridian(first, middle[0]));
        if lon0 == -180.0 {
            lon0 = 180.0;
        }
        let frame = Self::about(lon0, exact_to_write(middle[1]));
        let plane = frame.plane;
        // The series holds only on one side of the globe, so degrees come first.
        let [width, height] = [0, 1].map(|axis| offsets.max[axis] - offsets.min[axis]);
        // No place of a small box can be too far: half of what its diagonal would be at the equator.
        let near = width.hypot(height) * DEGREE_M < MOST_REACH_M;
        let wide = width > 60.0
            || height > 2.0 * MOST_REACH_M / DEGREE_M + 0.1
            || !near
                && lon_lat.iter().any(|&p| {
                    let PlaneXy { x, y } = plane.to_plane(p);
                    x.hypot(y) > MOST_REACH_M
                });
        if wide {
            return Err(too_wide(lon_lat, lon0));
        }
        Ok(frame)
    }

    /// The plane about a known origin (degrees, WGS 84), such as one read back from a plan. All points
    /// go through the series.
    pub fn about(lon0: f64, lat0: f64) -> Self {
        Self {
            plane: Plane::about(lon0, lat0),
            extent: None,
            forth: None,
            back: None,
            bend: Bend::about(lat0, [0.0; 2]),
        }
    }

    /// Fits the polynomial to metres over the places and a margin for headlands, rims and grids around them.
    fn fitted_forth(mut self, lon_lat: &[LonLat]) -> Self {
        let plane = self.plane;
        let degrees = Extent::of(
            lon_lat
                .iter()
                .map(|at| [from_meridian(at.lon, plane.lon0), at.lat - plane.lat0]),
        );
        let shrink = plane.lat0.to_radians().cos();
        if let Some(box_) = degrees {
            let size = [box_.max[0] - box_.min[0], box_.max[1] - box_.min[1]];
            let box_ = box_.grown([0.1 * size[0] + 0.003 / shrink, 0.1 * size[1] + 0.003]);
            self.forth = Local::fit(box_, [TOLERANCE_M; 2], |[d_lon, d_lat]| {
                let [x, y] = WGS84.forward(d_lon.to_radians(), (plane.lat0 + d_lat).to_radians());
                [x, y - plane.northing0]
            });
        }
        self
    }

    /// Fits both polynomials.
    fn fitted_to(self, lon_lat: &[LonLat]) -> Self {
        let mut fitted = self.fitted_forth(lon_lat);
        let plane = fitted.plane;
        let shrink = plane.lat0.to_radians().cos();
        fitted.extent = Extent::of(lon_lat.iter().map(|&p| plane.to_plane(p).pair()));
        if let Some(box_) = fitted.extent {
            let reach = [0, 1].map(|axis: usize| box_.min[axis].abs().max(box_.max[axis].abs()));
            fitted.bend = Bend::about(plane.lat0, reach);
            let size = [box_.max[0] - box_.min[0], box_.max[1] - box_.min[1]];
            let box_ = box_.grown([0.1 * size[0] + 300.0, 0.1 * size[1] + 300.0]);
            let tolerance = TOLERANCE_M / (1.01 * DEGREE_M);
            fitted.back = Local::fit(box_, [tolerance / shrink, tolerance], |xy| {
                plane.to_offsets(PlaneXy::of_pair(xy))
            });
        }
        fitted
    }

    /// The origin.
    pub fn origin(&self) -> LonLat {
        LonLat::new(self.plane.lon0, self.plane.lat0)
    }

    /// Scale on the central meridian, for writers: 1.
    pub fn scale(&self) -> f64 {
        1.0
    }

    /// False easting and false northing in metres, for writers: none.
    pub fn false_origin_m(&self) -> [f64; 2] {
        [0.0, 0.0]
    }

    /// The box round the places the plane was centred on, in the plane: smallest and largest x, y.
    /// `None` for a plane made by [`Frame::about`].
    pub fn extent_m(&self) -> Option<[PlaneXy; 2]> {
        self.extent.map(|e| [e.min, e.max].map(PlaneXy::of_pair))
    }

    pub(super) fn bend(&self) -> Bend {
        self.bend
    }

    pub(super) fn extent(&self) -> Option<Extent> {
        self.extent
    }

    /// Whether both polynomials met their tolerance.
    #[cfg(test)]
    pub(super) fn is_fitted(&self) -> bool {
        self.forth.is_some() && self.back.is_some()
    }

    /// By how much a plane area can exceed the area on the ellipsoid, at most, as a share: the square
    /// of the point scale at the extent's farthest x, less 1. Scale 1 + x^2 / (2 R^2) with the smallest
    /// radius of curvature of WGS 84 (6 335 439 m, in the meridian at the equator).
    pub fn area_error(&self) -> f64 {
        self.extent.map_or(0.0, |e| {
            let x = e.min[0].abs().max(e.max[0].abs()) / 6_335_439.0;
            x * x
        })
    }

    /// Degrees to metres, by the series.
    pub fn to_plane(&self, lon_lat: LonLat) -> PlaneXy {
        self.plane.to_plane(lon_lat)
    }

    /// Metres to degrees, by the series. Longitudes lie within -180 and 180.
    pub fn to_lon_lat(&self, xy: PlaneXy) -> LonLat {
        self.plane.to_lon_lat(xy)
    }

    /// Degrees to metres, fast for many points: within the extent the plane was made for (and
    /// a margin) by a polynomial that was checked to lie within 1e-8 m of the series, elsewhere by the
    /// series. A point gets the same result whatever stands beside it.
    pub fn fast_to_plane(&self, place: LonLat) -> PlaneXy {
        let from_origin = [
            from_meridian(place.lon, self.plane.lon0),
            place.lat - self.plane.lat0,
        ];
        self.forth
            .as_ref()
            .and_then(|local| local.at(from_origin))
            .map(PlaneXy::of_pair)
            .unwrap_or_else(|| self.plane.to_plane(place))
    }

    /// Metres to degrees, fast for many points; the counterpart of [`Frame::fast_to_plane`].
    pub fn fast_to_lon_lat(&self, xy: PlaneXy) -> LonLat {
        match self.back.as_ref().and_then(|local| local.at(xy.pair())) {
            Some(offset) => self.plane.beside_origin(offset),
            None => self.plane.to_lon_lat(xy),
        }
    }

    /// All of these by [`Frame::fast_to_plane`]; the list keeps its room.
    pub fn all_to_plane(&self, places: Vec<LonLat>) -> Vec<PlaneXy> {
        let placed = places.into_iter().map(|place| self.fast_to_plane(place));
        placed.collect()
    }

    /// All of these by [`Frame::fast_to_lon_lat`]; the list keeps its room.
    pub fn all_to_lon_lat(&self, points: Vec<PlaneXy>) -> Vec<LonLat> {
        let placed = points.into_iter().map(|xy| self.fast_to_lon_lat(xy));
        placed.collect()
    }

    /// The plane's CRS as PROJ string, for writers.
    pub fn proj_string(&self) -> String {
        let LonLat {
            lon: lon0,
            lat: lat0,
        } = self.origin();
        format!(
            "+proj=tmerc +lat_0={lat0} +lon_0={lon0} +k=1 +x_0=0 +y_0=0 +datum=WGS84 +units=m +no_defs"
        )
    }

    /// The plane's CRS as WKT 1 with the names that .prj files use, on one line, for writers.
    pub fn wkt1(&self) -> String {
        let LonLat {
            lon: lon0,
            lat: lat0,
        } = self.origin();
        format!(
            "PROJCS[\"Field plane, transverse Mercator at {lon0} {lat0}\",\
             GEOGCS[\"GCS_WGS_1984\",DATUM[\"D_WGS_1984\",SPHEROID[\"WGS_1984\",6378137.0,298.257223563]],\
             PRIMEM[\"Greenwich\",0.0],UNIT[\"Degree\",0.0174532925199433]],\
             PROJECTION[\"Transverse_Mercator\"],PARAMETER[\"False_Easting\",0.0],\
             PARAMETER[\"False_Northing\",0.0],PARAMETER[\"Central_Meridian\",{lon0:?}],\
             PARAMETER[\"Scale_Factor\",1.0],PARAMETER[\"Latitude_Of_Origin\",{lat0:?}],UNIT[\"Meter\",1.0]]"
        )
    }
}

/// Names the two places that lie farthest apart in longitude or latitude.
fn too_wide(lon_lat: &[LonLat], lon0: f64) -> Box<Fault> {
    let key = |p: &LonLat, axis: usize| {
        if axis == 0 {
            from_meridian(p.lon, lon0)
        } else {
            p.lat
        }
    };
    let ends = |axis: usize| {
        let low = lon_lat
            .iter()
            .copied()
            .min_by(|a, b| key(a, axis).total_cmp(&key(b, axis)));
        let high = lon_lat
            .iter()
            .copied()
            .max_by(|a, b| key(a, axis).total_cmp(&key(b, axis)));
        let ends = [low.unwrap_or_default(), high.unwrap_or_default()];
        ends.into_iter().flat_map(LonLat::pair).collect::<Vec<_>>()
    };
    let width = |e: &[f64]| match *e {
        [lon_a, lat_a, lon_b, lat_b] => {
            from_meridian(lon_a, lon_b).abs().max((lat_a - lat_b).abs())
        }
        _ => 0.0,
    };
    let (by_lon, by_lat) = (ends(0), ends(1));
    let far = if width(&by_lon) > width(&by_lat) {
        by_lon
    } else {
        by_lat
    };
    let named = match *far {
        [lon_a, lat_a, lon_b, lat_b] => {
            format!("from {lon_a:.6}, {lat_a:.6} to {lon_b:.6}, {lat_b:.6} (longitude, latitude)")
        }
        _ => String::from("too far"),
    };
    Fault::input(
        "frame.too_wide",
        Place::nowhere(),
        format!("the field reaches {named}"),
        format!("a field within {} km of its centre", MOST_REACH_M / 1000.0),
        "remove stray points (a vertex at 0, 0 is a common one), or plan fields that lie far apart as jobs of their own",
    )
}
