//! A CRS's own longitudes and latitudes, and whether they lie within its area of use.

use super::area::TOLERATED_DEGREES;
use super::operation::choose;
use super::proj::{Area, Kind, Object};
use crate::findings::{Fault, Finding, Outcome, Place, number};
use crate::read::{MOST_LONGITUDE, Xy};

/// A CRS's own longitudes and latitudes, without any datum shift.
pub(super) struct Own {
    /// The CRS without parameters bound to it.
    pub base: Object,
    pub geographic: Object,
    /// From projected coordinates to the geographic CRS; `None` for a geographic CRS.
    pub projection: Option<Object>,
    /// Degrees in a unit of the geographic CRS, and degrees from Greenwich to its prime meridian.
    pub unit: f64,
    meridian: f64,
}

impl Own {
    pub(super) fn of(crs: &Object, place: &Place, name: &str) -> Outcome<Self> {
        let broken = || {
            Fault::input(
                "frame.no_operation",
                place.clone(),
                format!("PROJ cannot take {name} apart ({})", crs.context().said()),
                "a geographic or projected CRS on a geodetic datum",
                "export the layer in WGS 84 or a national grid with a GIS, and name that CRS",
            )
        };
        let base = match crs.kind() {
            Kind::Bound => crs.bound(),
            _ => crs.without_height(),
        };
        let base = base.ok_or_else(broken)?;
        let geographic = base.geographic().ok_or_else(broken)?;
        let projection = if base.kind() == Kind::Geographic {
            None
        } else {
            Some(
                choose(&base, &geographic, None, None)
                    .ok_or_else(broken)?
                    .operation,
            )
        };
        let (unit, meridian) = geographic.degrees().ok_or_else(broken)?;
        Ok(Self {
            base,
            geographic,
            projection,
            unit,
            meridian,
        })
    }

    /// Degrees from Greenwich, between -180 and 180, and degrees north, on the CRS's own datum: plain numbers, since they
    /// are no places on WGS 84. Infinite where there are none.
    pub(super) fn lon_lat(&self, points: &[Xy]) -> Vec<[f64; 2]> {
        let mut points = points.to_vec();
        if let Some(projection) = &self.projection {
            projection.transform(&mut points);
        }
        let to_degrees = |[x, y]: Xy| {
            let lon = x * self.unit + self.meridian;
            // Beyond that they are no degrees.
            if lon.is_nan() || lon.abs() > MOST_LONGITUDE {
                return [f64::INFINITY; 2];
            }
            [(lon + 180.0).rem_euclid(360.0) - 180.0, y * self.unit]
        };
        points.into_iter().map(to_degrees).collect()
    }
}

/// Where coordinates fall when they are read in a CRS: their range in degrees, or one of them that falls nowhere.
fn fall(lon_lat: &[[f64; 2]], [x, y]: [&str; 2], name: &str) -> String {
    let on_earth = |&&[lon, lat]: &&[f64; 2]| lon.is_finite() && lat.abs() <= 90.0;
    let fallen: Vec<[f64; 2]> = lon_lat.iter().filter(on_earth).copied().collect();
    match Area::round(&fallen).filter(|_| fallen.len() == lon_lat.len()) {
        Some(range) => format!(
            "fall at {} when they are read in {name}, outside its area of use (x = {x}, y = {y} for one)",
            range.in_degrees()
        ),
        None => {
            format!("are no place on Earth when they are read in {name} (x = {x}, y = {y} for one)")
        }
    }
}

/// A warning or a fault for coordinates outside the area of use.
pub(super) fn check_area(
    area: &Area,
    own: &Own,
    points: &[Xy],
    lon_lat: &[[f64; 2]],
    name: &str,
    place: &Place,
) -> Outcome<Option<Finding>> {
    let worst = lon_lat
        .iter()
        .zip(points)
        .map(|(&place, &point)| (area.outside(place), place, point))
        .max_by(|a, b| a.0.total_cmp(&b.0));
    let Some((outside, [lon, lat], [x, y])) = worst.filter(|(outside, ..)| *outside > 0.0) else {
        return Ok(None);
    };
    let at = if lon.is_finite() && lat.is_finite() && lat.abs() <= 90.0 {
        format!(", which is longitude {lon:.4}, latitude {lat:.4}")
    } else {
        String::from(", which is no place on Earth")
    };
    let [x, y] = [number(x), number(y)];
    let found = format!("x = {x}, y = {y}{at}, lies outside the area of use of {name}");
    // What the whole layer says, for a fault; a warning is about its edge.
    let all = format!("the coordinates {}", fall(lon_lat, [&x, &y], name));
    let geographic = own.projection.is_none();
    let swapped: Vec<Xy> = points.iter().map(|&[x, y]| [y, x]).collect();
    let inside_swapped = own
        .lon_lat(&swapped)
        .iter()
        .all(|&p| area.outside(p) == 0.0);
    // Swapping can move a projected layer by little; degrees beside the area may be right as they are.
    let doubtful = outside > TOLERATED_DEGREES
        || (!geographic && lon_lat.iter().all(|&p| area.outside(p) > 0.0));
    if inside_swapped && doubtful {
        return Err(Fault::input(
            "frame.axes_swapped",
            place.clone(),
            format!("{all}; with x and y swapped every point lies inside"),
            "coordinates with x (east, longitude) first and y (north, latitude) second",
            "export the layer with its axes in this order, or swap them in a GIS; this program does not swap them by itself",
        ));
    }
    if outside <= TOLERATED_DEGREES {
        return Ok(Some(Finding::warning(
            "frame.outside_area_of_use",
            place.clone(),
            format!(
                "{found}: {}. The plan goes on; check the CRS.",
                area.in_words()
            ),
        )));
    }
    let degrees_range = points
        .iter()
        .all(|p| p[0].abs() <= 180.0 && p[1].abs() <= 90.0);
    let cause = match (geographic, degrees_range) {
        (true, false) => {
            "the numbers look like metres of a projected CRS: name it in the job, as crs = \"EPSG:...\""
        }
        (false, true) => {
            "the numbers look like degrees: if they are longitude and latitude, name crs = \"EPSG:4326\" in the job"
        }
        _ => {
            "the CRS is probably another one: name the right one in the job, as crs = \"EPSG:...\"; if the field does lie there, this CRS is not made for the place: export the layer in WGS 84, or in the grid of that country or zone"
        }
    };
    Err(Fault::input(
        "frame.outside_area_of_use",
        place.clone(),
        all,
        format!(
            "coordinates within the area of use of {name}: {}",
            area.in_words()
        ),
        cause,
    ))
}
