//! From placed layers to outlines on the grid: rings closed, repeated points and spikes gone.

use crate::coordinates::PlaneXy;
use crate::findings::{Fault, Finding, Outcome};
use crate::frame::Frame;
use crate::geometry::{Pt, Ring, Shape, crowded};
use crate::read::{Geometry, Layer};

/// The geometry of a layer on the grid; polygons may still cross themselves and each other.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Outlines {
    /// The feature's name and one of its polygons.
    pub polygons: Vec<(String, Shape)>,
    /// Per polygon: the number of its feature in the layer. Names need not differ.
    pub feature_of: Vec<usize>,
    /// Lines of the layer.
    pub lines: Vec<Vec<Pt>>,
    /// Points of the layer.
    pub points: Vec<Pt>,
    /// Area of the polygons as the file draws them, m2: holes taken off, overlaps counted twice.
    pub raw_m2: f64,
    /// What was mended.
    pub findings: Vec<Finding>,
}

impl Outlines {
    /// Where they meet more often than any map does: at how many places at least, and one of them.
    pub fn crowd(&self) -> Option<(usize, Pt)> {
        let rings = self.polygons.iter().flat_map(|(_, shape)| shape.rings());
        let rings = rings.map(Vec::as_slice);
        crowded(rings.chain(self.lines.iter().map(Vec::as_slice)))
    }
}

/// What was mended in a layer.
#[derive(Default)]
struct Mends {
    unclosed: usize,
    repeated: usize,
    spikes: usize,
    flat: usize,
    place: Option<(String, PlaneXy)>,
}

/// Puts a layer (in plane metres) onto the grid.
///
/// # Errors
/// A place too far from the field's centre for the plane; outlines that meet far too often.
pub fn outlines(layer: &Layer<PlaneXy>, frame: &Frame) -> Outcome<Outlines> {
    let outlines = uncounted_outlines(layer, frame)?;
    match outlines.crowd() {
        Some(crowd) => Err(super::crowded(layer.place(), frame, crowd)),
        None => Ok(outlines),
    }
}

/// The same, however often the outlines meet: for layers that are put into one arrangement, which counts.
///
/// # Errors
/// A place too far from the field's centre for the plane.
pub fn uncounted_outlines(layer: &Layer<PlaneXy>, frame: &Frame) -> Outcome<Outlines> {
    let mut out = Outlines::default();
    let mut mends = Mends::default();
    for (nth_feature, feature) in layer.features.iter().enumerate() {
        let grid = |xy: &PlaneXy| {
            Pt::from_metres(xy.pair()).ok_or_else(|| {
                Fault::input(
                    "land.too_far",
                    layer.place().feature(&feature.name),
                    format!(
                        "a point lies {:.0} km from the middle of the field",
                        xy.x.hypot(xy.y) / 1000.0
                    ),
                    "points within 1000 km of the middle of the field",
                    "check the CRS, or cut the layer to the surroundings of the field",
                )
            })
        };
        match &feature.geometry {
            Geometry::Empty => {}
            Geometry::Points(points) => {
                for point in points {
                    out.points.push(grid(point)?);
                }
            }
            Geometry::Lines(lines) => {
                for line in lines {
                    out.lines
                        .push(line.iter().map(grid).collect::<Outcome<_>>()?);
                }
            }
            Geometry::Polygons(polygons) => {
                for polygon in polygons {
                    let mut rings = Vec::new();
                    for (nth, path) in std::iter::once(&polygon.exterior)
                        .chain(&polygon.holes)
                        .enumerate()
                    {
                        let area = path_area(path).abs();
                        out.raw_m2 += if nth == 0 { area } else { -area };
                        let mut points: Ring = Vec::with_capacity(path.len());
                        for place in path {
                            points.push(grid(place)?);
                        }
                        let place = path.first().copied().unwrap_or_default();
                        rings.push(mends.ring(points, (&feature.name, place)));
                    }
                    let mut rings = rings.into_iter();
                    let exterior = rings.next().unwrap_or_default();
                    if exterior.is_empty() {
                        continue;
                    }
                    out.feature_of.push(nth_feature);
                    let holes = rings.filter(|ring| !ring.is_empty()).collect();
                    out.polygons
                        .push((feature.name.clone(), Shape { exterior, holes }));
                }
            }
        }
    }
    out.findings.extend(mends.finding(layer, frame));
    Ok(out)
}

/// Signed area of a path closed implicitly, m2.
fn path_area(path: &[PlaneXy]) -> f64 {
    let Some(&PlaneXy { x: x0, y: y0 }) = path.first() else {
        return 0.0;
    };
    path.windows(2)
        .map(|pair| {
            let [[ax, ay], [bx, by]] = [pair[0].pair(), pair[1].pair()];
            ((ax - x0) * (by - y0) - (ay - y0) * (bx - x0)) / 2.0
        })
        .sum()
}

impl Mends {
    /// The ring without its closing point, repeated points and spikes; empty if nothing is left.
    fn ring(&mut self, mut points: Ring, place: (&str, PlaneXy)) -> Ring {
        let before = self.sum();
        if points.len() > 1 && points.first() == points.last() {
            points.pop();
        } else {
            self.unclosed += 1;
        }
        let given = points.len();
        points.dedup();
        while points.len() > 1 && points.first() == points.last() {
            points.pop();
        }
        self.repeated += given - points.len();
        let has_spike = points.windows(3).any(|three| three[0] == three[2]);
        let mut ring = points;
        if has_spike {
            let mut without: Ring = Vec::with_capacity(ring.len());
            for point in ring {
                without.push(point);
                self.cut_spikes(&mut without);
            }
            ring = without;
        }
        // A spike may have its tip, or one end of its foot, where the ring starts.
        while let [first, second, .., before_last, last] = ring[..]
            && (first == before_last || second == last)
        {
            if second == last {
                ring.remove(0);
                ring.pop();
            } else {
                ring.truncate(ring.len() - 2);
            }
            self.spikes += 1;
        }
        if ring.len() < 3 {
            self.flat += 1;
            ring.clear();
        }
        if self.sum() > before && self.place.is_none() {
            self.place = Some((place.0.to_owned(), place.1));
        }
        ring
    }

    /// Takes off the end of a ring that goes out and comes straight back to the same point.
    fn cut_spikes(&mut self, ring: &mut Ring) {
        while let [.., before, _, again] = ring[..]
            && before == again
        {
            ring.truncate(ring.len() - 2);
            self.spikes += 1;
        }
    }

    fn sum(&self) -> usize {
        self.unclosed + self.repeated + self.spikes + self.flat
    }

    fn finding(self, layer: &Layer<PlaneXy>, frame: &Frame) -> Option<Finding> {
        let (feature, xy) = self.place?;
        let said: Vec<String> = [
            (self.unclosed, "rings not closed: closed"),
            (self.repeated, "repeated points: removed"),
            (self.spikes, "spikes without area: removed"),
            (self.flat, "rings without area: left out"),
        ]
        .iter()
        .filter(|(count, _)| *count > 0)
        .map(|(count, what)| format!("{count} {what}"))
        .collect();
        Some(Finding::note(
            "land.rings_mended",
            layer.place().feature(feature).at(frame.to_lon_lat(xy)),
            format!("{} (the first is here)", said.join("; ")),
        ))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn mended(points: &[[i64; 2]]) -> (Ring, Mends) {
        let mut mends = Mends::default();
        let ring = points.iter().map(|&[x, y]| Pt { x, y }).collect();
        let ring = mends.ring(ring, ("1", PlaneXy::default()));
        (ring, mends)
    }

    #[test]
    fn a_sound_ring_stays_as_it_is_less_its_closing_point() {
        let (ring, mends) = mended(&[[0, 0], [9, 0], [9, 9], [0, 0]]);
        assert_eq!((ring.len(), mends.sum()), (3, 0));
    }

    #[test]
    fn repeated_points_spikes_and_open_ends_are_mended_and_counted() {
        let (ring, mends) = mended(&[
            [0, 0],
            [9, 0],
            [9, 0],
            [9, 9],
            [20, 20],
            [30, 30],
            [20, 20],
            [9, 9],
        ]);
        assert_eq!(ring.len(), 3);
        assert_eq!([mends.unclosed, mends.repeated, mends.spikes], [1, 1, 2]);
    }

    #[test]
    fn a_spike_across_the_start_goes_too() {
        let (ring, _) = mended(&[[5, 5], [0, 0], [9, 0], [9, 9], [0, 0], [5, 5]]);
        assert_eq!(ring.len(), 3);
    }

    #[test]
    fn a_ring_without_area_is_left_out() {
        let (ring, mends) = mended(&[[0, 0], [9, 9], [0, 0]]);
        assert_eq!((ring.len(), mends.flat), (0, 1));
    }
}
