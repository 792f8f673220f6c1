//! Whether coordinates lie where they should: within their CRS's area of use, and near the field.

use super::crs::Crs;
use super::local::Extent;
use super::plane::{Frame, from_meridian};
use super::proj::Area;
use crate::coordinates::LonLat;
use crate::findings::{Fault, Outcome};
use crate::read::{Geometry, Layer, Path, Xy};

/// How far beyond its area of use a CRS may be used with a warning, degrees of a great circle. National
/// data often stay in one UTM zone across the border of the next: Bornholm, in zone 32, is 1.9 degrees out.
pub(super) const TOLERATED_DEGREES: f64 = 2.0;
/// Longitudes farther from the field than this are not put into its plane, degrees: the series holds
/// on one side of the globe only.
pub(super) const PLANE_REACH_DEGREES: f64 = 60.0;
/// Mean radius of the Earth, metres (IUGG), for distances in messages.
const EARTH_M: f64 = 6_371_008.8;

/// All paths of a geometry; points are a path of their own.
pub(super) fn paths<P>(geometry: &Geometry<P>) -> Box<dyn Iterator<Item = &Path<P>> + '_> {
    match geometry {
        Geometry::Empty => Box::new(std::iter::empty()),
        Geometry::Points(points) => Box::new(std::iter::once(points)),
        Geometry::Lines(lines) => Box::new(lines.iter()),
        Geometry::Polygons(polygons) => Box::new(
            polygons
                .iter()
                .flat_map(|p| std::iter::once(&p.exterior).chain(&p.holes)),
        ),
    }
}

/// All points of a layer.
pub(super) fn points(layer: &Layer) -> impl Iterator<Item = Xy> + '_ {
    layer
        .features
        .iter()
        .flat_map(|f| paths(&f.geometry))
        .flatten()
        .copied()
}

/// The points of a layer that lie farthest out in eight directions: real vertices that stand for its
/// hull. Points that are not finite are left out. Empty for an empty layer.
pub(super) fn extremes(layer: &Layer) -> Vec<Xy> {
    const DIRECTIONS: [Xy; 8] = [
        [1.0, 0.0],
        [1.0, 1.0],
        [0.0, 1.0],
        [-1.0, 1.0],
        [-1.0, 0.0],
        [-1.0, -1.0],
        [0.0, -1.0],
        [1.0, -1.0],
    ];
    let mut found: [Option<(f64, Xy)>; 8] = [None; 8];
    for p in points(layer).filter(|p| p[0].is_finite() && p[1].is_finite()) {
        for (best, [dx, dy]) in found.iter_mut().zip(DIRECTIONS) {
            let out = dx * p[0] + dy * p[1];
            if best.is_none_or(|(most, _)| out > most) {
                *best = Some((out, p));
            }
        }
    }
    found.into_iter().flatten().map(|(_, p)| p).collect()
}

impl Area {
    /// How far a place (degrees, on whatever datum: what that moves is too little to matter here) lies outside: 0 within, else degrees of a great circle, roughly.
    pub(super) fn outside(&self, [lon, lat]: [f64; 2]) -> f64 {
        let d_lat = (self.south - lat).max(lat - self.north).max(0.0);
        let width = (self.east - self.west).rem_euclid(360.0);
        let width = if width == 0.0 && self.east > self.west {
            360.0
        } else {
            width
        };
        let from_west = (lon - self.west).rem_euclid(360.0);
        let d_lon = if from_west <= width {
            0.0
        } else {
            (from_west - width).min(360.0 - from_west)
        };
        // Infinite or missing coordinates are as far outside as can be.
        if lon.is_finite() && lat.is_finite() {
            d_lat.max(d_lon * lat.to_radians().cos().abs())
        } else {
            f64::INFINITY
        }
    }

    /// In words: `Netherlands - onshore (longitude 3.20 to 7.22, latitude 50.75 to 53.70)`.
    pub(super) fn in_words(&self) -> String {
        format!(
            "{} ({})",
            self.name.trim_end_matches('.'),
            self.in_degrees()
        )
    }

    /// `longitude 3.20 to 7.22, latitude 50.75 to 53.70`. Across the 180th meridian the first longitude is the greater.
    pub(super) fn in_degrees(&self) -> String {
        let range = |from: f64, to: f64| match (to - from).abs() < 0.005 {
            true => format!("{from:.2}"),
            false => format!("{from:.2} to {to:.2}"),
        };
        format!(
            "longitude {}, latitude {}",
            range(self.west, self.east),
            range(self.south, self.north)
        )
    }

    /// The smallest area that holds these places (degrees), taken round the circle.
    pub(super) fn round(places: &[[f64; 2]]) -> Option<Self> {
        let first = places.first()?[0];
        let box_ = Extent::of(
            places
                .iter()
                .map(|&[lon, lat]| [from_meridian(lon, first), lat]),
        )?;
        let turned = |lon: f64| (lon + 180.0).rem_euclid(360.0) - 180.0;
        let whole = box_.max[0] - box_.min[0] > 350.0;
        Some(Self {
            west: if whole {
                -180.0
            } else {
                turned(first + box_.min[0])
            },
            south: box_.min[1].max(-90.0),
            east: if whole {
                180.0
            } else {
                turned(first + box_.max[0])
            },
            north: box_.max[1].min(90.0),
            name: String::new(),
        })
    }
}

/// How far a layer's box is from the field's, metres; infinite beyond the plane's reach.
fn gap_m(lon_lat: &[LonLat], frame: &Frame, field: &Extent) -> f64 {
    let origin = frame.origin();
    let in_field = |&p: &LonLat| {
        Extent::of([frame.fast_to_plane(p).pair()]).is_some_and(|p| p.gap(field) == 0.0)
    };
    // The rule for nearly every layer, and no need to look further.
    let in_reach = |p: &&LonLat| from_meridian(p.lon, origin.lon).abs() < PLANE_REACH_DEGREES;
    if lon_lat.iter().filter(in_reach).any(in_field) {
        return 0.0;
    }
    let near = lon_lat
        .iter()
        .filter(in_reach)
        .map(|&p| frame.to_plane(p).pair());
    match Extent::of(near) {
        // A layer of half the globe holds places beyond reach; what is within decides.
        Some(box_) => box_.gap(field),
        None => lon_lat
            .iter()
            .map(|&p| great_circle_m(p, origin))
            .fold(f64::INFINITY, f64::min),
    }
}

fn great_circle_m(a: LonLat, b: LonLat) -> f64 {
    let half = |d: f64| (d.to_radians() / 2.0).sin().powi(2);
    let h = half(b.lat - a.lat)
        + a.lat.to_radians().cos() * b.lat.to_radians().cos() * half(b.lon - a.lon);
    2.0 * EARTH_M * h.clamp(0.0, 1.0).sqrt().asin()
}

/// Points of a layer that [`must_meet`] looks at before it looks at all.
const LOOKED_AT_FIRST: usize = 256;

/// Checks that a layer (in its own CRS) comes near the field. Whether it covers the field is for
/// others to find; this is about layers that lie somewhere else altogether.
///
/// Refused: a layer whose box misses the box of the field. The fault says how far away it is and which
/// CRS it was read in, and whether it would meet the field with its axes swapped. Nothing is mended.
pub fn must_meet(layer: &Layer, crs: &Crs, frame: &Frame) -> Outcome<()> {
    let Some(field) = frame.extent() else {
        return Ok(());
    };
    // The rule for nearly every layer: one of its first points lies on the field, and no need to look further.
    let first: Vec<Xy> = points(layer).take(LOOKED_AT_FIRST).collect();
    let meets = |points: &[Xy]| {
        crs.to_wgs84(points)
            .is_ok_and(|places| gap_m(&places, frame, &field) == 0.0)
    };
    if first.is_empty() || meets(&first) {
        return Ok(());
    }
    let all: Vec<Xy> = points(layer).collect();
    let lon_lat = crs.to_wgs84(&all)?;
    let gap = gap_m(&lon_lat, frame, &field);
    if gap == 0.0 {
        return Ok(());
    }
    let far = if gap < 10_000.0 {
        format!("{gap:.0} m")
    } else {
        format!("{:.0} km", gap / 1000.0)
    };
    let swapped: Vec<Xy> = all.iter().map(|&[x, y]| [y, x]).collect();
    let meets_swapped = meets(&swapped);
    let [first, ..] = lon_lat[..] else {
        return Ok(());
    };
    if meets_swapped {
        return Err(Fault::input(
            "frame.axes_swapped",
            layer.place().at(first),
            format!(
                "the layer lies {far} from the field when read as x, y in {}; with x and y swapped it meets the field",
                crs.name
            ),
            "coordinates with x (east, longitude) first and y (north, latitude) second",
            "export the layer with its axes in this order, or swap them in a GIS; this program does not swap them by itself",
        ));
    }
    let pairs: Vec<[f64; 2]> = lon_lat.iter().map(|place| place.pair()).collect();
    Err(Fault::input(
        "frame.misses_field",
        layer.place().at(first),
        format!(
            "the layer lies {far} from the field: its coordinates fall at {} when they are read in {}",
            Area::round(&pairs).map_or_else(String::new, |range| range.in_degrees()),
            crs.name
        ),
        format!(
            "layers that meet the field's boundary, at {}",
            field_range(frame)
        ),
        "check that the file belongs to this field and that its CRS is right; the job may name another as crs = \"EPSG:...\"",
    ))
}

/// Where the field lies, in degrees.
fn field_range(frame: &Frame) -> String {
    let LonLat { lon, lat } = frame.origin();
    format!("longitude {lon:.2}, latitude {lat:.2}")
}
