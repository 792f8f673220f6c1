//! From decoded shapes to geometries, with one finding for each kind of thing left out.

use super::{Geometry, Path, Polygon, Xy};
use crate::codec::wkb::Shape;
use crate::findings::{Fault, Finding, Outcome, Place, number};

/// How many features something happened to, and the first of them.
#[derive(Debug, Default)]
struct Seen {
    count: usize,
    first: Option<String>,
}

impl Seen {
    fn at(&mut self, feature: &str) {
        self.count += 1;
        if self.first.is_none() {
            self.first = Some(feature.to_string());
        }
    }

    /// `3 features`, or nothing if there is none.
    fn finding(
        &self,
        place: &Place,
        make: fn(&'static str, Place, String) -> Finding,
        code: &'static str,
        what: &str,
    ) -> Option<Finding> {
        let first = self.first.as_ref()?;
        let features = match self.count {
            1 => "1 feature".to_string(),
            count => format!("{count} features, this one first"),
        };
        Some(make(
            code,
            place.clone().feature(first),
            format!("{what} ({features})."),
        ))
    }
}

/// Builds geometries and remembers what was noticed on the way.
#[derive(Debug)]
pub(super) struct Gather {
    place: Place,
    heights: Seen,
    measures: Seen,
    empty: Seen,
    empty_parts: Seen,
    reversed: Seen,
    doubtful: Seen,
}

impl Gather {
    /// For the layer at this place.
    pub(super) fn new(place: Place) -> Self {
        Self {
            place,
            heights: Seen::default(),
            measures: Seen::default(),
            empty: Seen::default(),
            empty_parts: Seen::default(),
            reversed: Seen::default(),
            doubtful: Seen::default(),
        }
    }

    /// Where the layer is, for messages.
    pub(super) fn place(&self) -> &Place {
        &self.place
    }

    /// Where a feature is, for messages.
    pub(super) fn at(&self, feature: &str) -> Place {
        self.place.clone().feature(feature)
    }

    /// This feature had heights or measures, and they were dropped.
    pub(super) fn dropped(&mut self, feature: &str, heights: bool, measures: bool) {
        if heights {
            self.heights.at(feature);
        }
        if measures {
            self.measures.at(feature);
        }
    }

    /// The rings of this feature are wound the other way round.
    pub(super) fn reversed(&mut self, feature: &str) {
        self.reversed.at(feature);
    }

    /// A ring of this feature was taken as a hole against its winding.
    pub(super) fn doubtful(&mut self, feature: &str) {
        self.doubtful.at(feature);
    }

    /// The geometry of a feature: empty parts left out, every coordinate checked to be a number.
    pub(super) fn geometry(&mut self, feature: &str, shape: Shape) -> Outcome<Geometry> {
        let (geometry, left_out) = match shape {
            Shape::Empty => (Geometry::Empty, 0),
            Shape::Points(points) => (Geometry::Points(points), 0),
            Shape::Lines(lines) => {
                let all = lines.len();
                let lines: Vec<Path> = lines.into_iter().filter(|line| !line.is_empty()).collect();
                let left_out = all - lines.len();
                (Geometry::Lines(lines), left_out)
            }
            Shape::Polygons(polygons) => self.polygons(feature, polygons)?,
        };
        let geometry = match geometry {
            Geometry::Points(points) if points.is_empty() => Geometry::Empty,
            Geometry::Lines(lines) if lines.is_empty() => Geometry::Empty,
            Geometry::Polygons(polygons) if polygons.is_empty() => Geometry::Empty,
            other => other,
        };
        if geometry == Geometry::Empty {
            self.empty.at(feature);
        } else if left_out > 0 {
            self.empty_parts.at(feature);
        }
        self.finite(feature, &geometry)?;
        Ok(geometry)
    }

    fn polygons(&self, feature: &str, shapes: Vec<Vec<Path>>) -> Outcome<(Geometry, usize)> {
        let mut left_out = 0;
        let mut polygons = Vec::with_capacity(shapes.len());
        for rings in shapes {
            let mut rings = rings.into_iter();
            let exterior = rings.next().unwrap_or_default();
            let (holes, empty): (Vec<Path>, Vec<Path>) = rings.partition(|ring| !ring.is_empty());
            left_out += empty.len();
            if !exterior.is_empty() {
                polygons.push(Polygon { exterior, holes });
            } else if holes.is_empty() {
                left_out += 1;
            } else {
                return Err(Fault::input(
                    "read.no_exterior",
                    self.at(feature),
                    format!("A polygon has {} holes but no exterior ring", holes.len()),
                    "polygons whose first ring is the exterior",
                    "Correct the polygon in a GIS.",
                ));
            }
        }
        Ok((Geometry::Polygons(polygons), left_out))
    }

    fn finite(&self, feature: &str, geometry: &Geometry) -> Outcome<()> {
        match points(geometry).find(|[x, y]| !(x.is_finite() && y.is_finite())) {
            None => Ok(()),
            Some([x, y]) => Err(Fault::input(
                "read.not_finite",
                self.at(feature),
                format!("A point has the coordinates {}, {}", number(*x), number(*y)),
                "finite numbers",
                "Correct the geometry in a GIS, or leave the feature out with `only`.",
            )),
        }
    }

    /// What was noticed, one finding for each kind.
    pub(super) fn findings(&self) -> Vec<Finding> {
        let note =
            |seen: &Seen, code, what: &str| seen.finding(&self.place, Finding::note, code, what);
        let warning =
            |seen: &Seen, code, what: &str| seen.finding(&self.place, Finding::warning, code, what);
        [
            note(&self.heights, "read.heights_dropped", "Heights (Z) are not used and were dropped"),
            note(&self.measures, "read.measures_dropped", "Measures (M) are not used and were dropped"),
            warning(&self.empty, "read.empty_geometry", "There is no geometry; the feature covers no land"),
            note(&self.empty_parts, "read.empty_part", "Parts or rings without points were left out"),
            note(
                &self.reversed,
                "read.winding",
                "The rings are wound against the format; a ring inside another one was taken as its hole",
            ),
            warning(
                &self.doubtful,
                "read.winding",
                "A ring inside another one is wound like it; it was taken as a hole, though it could be meant as a second polygon on top",
            ),
        ]
        .into_iter()
        .flatten()
        .collect()
    }
}

/// All points of a geometry, in order.
pub(super) fn points(geometry: &Geometry) -> Box<dyn Iterator<Item = &Xy> + '_> {
    match geometry {
        Geometry::Empty => Box::new(std::iter::empty()),
        Geometry::Points(points) => Box::new(points.iter()),
        Geometry::Lines(lines) => Box::new(lines.iter().flatten()),
        Geometry::Polygons(polygons) => Box::new(polygons.iter().flat_map(|polygon| {
            polygon
                .exterior
                .iter()
                .chain(polygon.holes.iter().flatten())
        })),
    }
}
