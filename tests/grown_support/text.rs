//! Shapes as GeoJSON, as programs export them: in the boundary's CRS or in degrees, with so many decimals.

use super::cut::{Point, Ring, Rings};
use super::places::Site;
use crate::exact_support::draw::Dice;
use std::path::PathBuf;
use twinsow::frame::Crs;
use twinsow::read::{DeclaredCrs, Feature, Geometry, Layer};

/// What a file holds, in metres around the field's middle.
pub enum Shapes {
    Classes(Vec<(usize, Vec<Rings>)>),
    Line(Ring),
}

impl Shapes {
    pub fn plain(parts: &[Rings]) -> Self {
        Self::Classes(vec![(0, parts.to_vec())])
    }
}

/// How numbers are written.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Digits {
    /// In degrees on WGS 84, whatever the boundary's CRS.
    in_degrees: bool,
    /// `None`: all that the number has.
    decimals: Option<usize>,
}

impl Digits {
    /// The boundary is in its CRS; some are exported in degrees.
    pub fn of_boundary(site: &Site, dice: &mut Dice) -> Self {
        let in_degrees = site.in_its_own_degrees() || dice.below(8) == 0;
        let decimals = match in_degrees {
            true => [Some(7), Some(8), Some(9), Some(12), None],
            false => [Some(2), Some(3), Some(3), Some(4), None],
        };
        Self {
            in_degrees,
            decimals: decimals[dice.below(5) as usize],
        }
    }

    /// A layer made from the boundary: half in the boundary's CRS, half exported in degrees.
    pub fn of_layer(boundary: Self, dice: &mut Dice) -> Self {
        let in_degrees = boundary.in_degrees || dice.below(2) == 0;
        let decimals = match in_degrees {
            true => [Some(8), Some(9), Some(10), Some(11), Some(12), None],
            false => [Some(2), Some(3), Some(4), Some(6), Some(9), None],
        };
        Self {
            in_degrees,
            decimals: decimals[dice.below(6) as usize],
        }
    }
}

/// The site with its way to degrees.
pub struct Paper<'a> {
    site: &'a Site,
    crs: Crs,
}

impl<'a> Paper<'a> {
    pub fn new(site: &'a Site, field: &[Rings]) -> Self {
        let points = field.iter().flatten().flatten();
        let points = points.map(|&xy| site.moved(xy)).collect();
        let layer = Layer {
            file: PathBuf::from("boundary"),
            format: "made",
            table: None,
            crs: DeclaredCrs::Text(site.crs.clone()),
            attributes: Vec::new(),
            features: vec![Feature {
                name: "1".to_owned(),
                geometry: Geometry::Points(points),
                values: Vec::new(),
            }],
            findings: Vec::new(),
        };
        let crs = Crs::of(&layer, None).unwrap_or_else(|fault| panic!("{site:?}: {fault}"));
        Self { site, crs }
    }

    /// `file` and `crs` of a source in a job.
    pub fn source(&self, name: &str, digits: Digits) -> String {
        match digits.in_degrees {
            true => format!("file = \"{name}.geojson\""),
            false => format!("file = \"{name}.geojson\", crs = \"{}\"", self.site.crs),
        }
    }

    pub fn text(&self, shapes: &Shapes, digits: Digits) -> String {
        let features: Vec<String> = match shapes {
            Shapes::Line(line) => {
                let points = self.points(line, digits);
                vec![feature("LineString", &format!("[{points}]"), "")]
            }
            Shapes::Classes(classes) => {
                let of_class = |(class, parts): &(usize, Vec<Rings>)| {
                    let soil = char::from(b'a' + *class as u8);
                    let polygon = |rings: &Rings| {
                        let rings: Vec<String> =
                            rings.iter().map(|ring| self.closed(ring, digits)).collect();
                        format!("[{}]", rings.join(","))
                    };
                    let polygons: Vec<String> = parts.iter().map(polygon).collect();
                    let all = format!("[{}]", polygons.join(",\n"));
                    feature("MultiPolygon", &all, &format!("\"soil\":\"{soil}\""))
                };
                classes.iter().map(of_class).collect()
            }
        };
        format!(
            "{{\"type\":\"FeatureCollection\",\"features\":[\n{}\n]}}\n",
            features.join(",\n")
        )
    }

    fn closed(&self, ring: &Ring, digits: Digits) -> String {
        let mut ring = ring.clone();
        ring.push(ring[0]);
        format!("[{}]", self.points(&ring, digits))
    }

    fn points(&self, path: &[Point], digits: Digits) -> String {
        let moved = path.iter().map(|&xy| self.site.moved(xy));
        let mut points: Vec<Point> = moved.collect();
        if digits.in_degrees {
            let made = self.crs.to_wgs84(&points);
            let places = made.unwrap_or_else(|fault| panic!("{:?}: {fault}", self.site));
            points = places.iter().map(|place| place.pair()).collect();
        }
        let number = |number: f64| match digits.decimals {
            Some(decimals) => format!("{number:.decimals$}"),
            None => number.to_string(),
        };
        let words = points
            .iter()
            .map(|[x, y]| format!("[{},{}]", number(*x), number(*y)));
        words.collect::<Vec<String>>().join(",")
    }
}

fn feature(kind: &str, coordinates: &str, properties: &str) -> String {
    format!(
        "{{\"type\":\"Feature\",\"properties\":{{{properties}}},\"geometry\":{{\"type\":\"{kind}\",\"coordinates\":{coordinates}}}}}"
    )
}
