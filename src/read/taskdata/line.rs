//! Guidance lines of task data: of guidance groups (version 4), or directly under the partfield (version 3).

use super::outline::points;
use super::{Reader, number, text};
use crate::codec::taskdata::Element;
use crate::coordinates::LonLat;
use crate::read::Path as Line;

/// A guidance line.
#[derive(Debug, Clone, PartialEq)]
pub struct Guidance {
    pub name: String,
    /// What it is: `AB`, `A+`, `curve`, `spiral` or `line`.
    pub kind: &'static str,
    /// At least two points.
    pub line: Line<LonLat>,
    /// Distance to the next line beside it, where the set says it, m.
    pub swath_m: Option<f64>,
}

/// Length that a line given by one point and a heading gets, m.
const LENGTH_M: f64 = 100.0;

pub(super) fn guidance(partfield: &Element, owner: &str, reader: &mut Reader) -> Vec<Guidance> {
    let mut lines = Vec::new();
    for child in &partfield.children {
        match child.tag.as_ref() {
            "LSG" if number::<u8>(child, "A") == Some(5) => {
                lines.extend(one(child, &text(child, "B"), None, owner, reader));
            }
            "GGP" => {
                for pattern in child.children.iter().filter(|c| c.tag == "GPN") {
                    let name = match text(pattern, "B") {
                        name if name.is_empty() => text(child, "B"),
                        name => name,
                    };
                    for line in pattern.children.iter().filter(|c| c.tag == "LSG") {
                        lines.extend(one(line, &name, Some(pattern), owner, reader));
                    }
                }
            }
            _ => {}
        }
    }
    lines
}

fn one(
    line: &Element,
    name: &str,
    pattern: Option<&Element>,
    owner: &str,
    reader: &mut Reader,
) -> Option<Guidance> {
    let mut drawn = points(line, owner, reader);
    let kind = match pattern.and_then(|pattern| number::<u8>(pattern, "C")) {
        Some(1) => "AB",
        Some(2) => "A+",
        Some(3) => "curve",
        Some(4) => "pivot",
        Some(5) => "spiral",
        _ => "line",
    };
    let heading = pattern.and_then(|pattern| number::<f64>(pattern, "G"));
    if let (&[from], "AB" | "A+", Some(heading)) = (drawn.as_slice(), kind, heading) {
        drawn.push(ahead(from, heading, LENGTH_M));
    }
    if kind == "pivot" {
        reader.warn(
            owner,
            format!("The guidance line '{name}' is a pivot, that is a circle; only lines are read, and it was left out."),
        );
        return None;
    }
    if drawn.len() < 2 {
        reader.warn(
            owner,
            format!(
                "The guidance line '{name}' ({kind}) is no line with two points and was left out."
            ),
        );
        return None;
    }
    let swath_m = number::<f64>(line, "C").map(|mm| mm / 1000.0);
    Some(Guidance {
        name: name.to_string(),
        kind,
        line: drawn,
        swath_m: swath_m.filter(|m| *m > 0.0),
    })
}

/// A point this far away on a heading (degrees, clockwise from north), by the radii of curvature of the WGS 84
/// ellipsoid at the start: good to a millimetre over 100 m.
fn ahead(LonLat { lon, lat }: LonLat, heading_deg: f64, metres: f64) -> LonLat {
    const A: f64 = 6_378_137.0;
    const E2: f64 = 0.006_694_379_990_14;
    let (sine, cosine) = lat.to_radians().sin_cos();
    let w = (1.0 - E2 * sine * sine).sqrt();
    let (meridian, normal) = (A * (1.0 - E2) / w.powi(3), A / w);
    let (east, north) = heading_deg.to_radians().sin_cos();
    LonLat::new(
        lon + (metres * east / (normal * cosine)).to_degrees(),
        lat + (metres * north / meridian).to_degrees(),
    )
}

#[cfg(test)]
mod tests {
    use super::*;
    use geographiclib_rs::{Geodesic, InverseGeodesic};

    #[test]
    fn a_point_ahead_lies_where_the_geodesic_ends() {
        // Oracle: GeographicLib's algorithm (C. F. F. Karney, J. Geodesy 87, 2013).
        for (lat, heading) in [(50.0, 30.0), (-33.0, 250.0), (68.0, 91.0)] {
            let [lon2, lat2] = ahead(LonLat::new(8.0, lat), heading, 100.0).pair();
            let (metres, azimuth, _, _): (f64, f64, f64, f64) =
                Geodesic::wgs84().inverse(lat, 8.0, lat2, lon2);
            assert!((metres - 100.0).abs() < 2e-3, "{metres}");
            assert!(
                (azimuth.rem_euclid(360.0) - heading).abs() < 2e-3,
                "{azimuth}"
            );
        }
    }
}
