//! The drawing plane: decimetres of the field's plane, y to the south, from the corner of the view.

use super::number::Numbers;
use crate::coordinates::{LonLat, PlaneXy};
use crate::frame::Frame;
use crate::plan::Plan;
use crate::read::Polygon;
use crate::units::M_PER_FOOT;
use serde_json::{Value, json};
use std::fmt::Write as _;

/// Drawing units in a metre.
pub(super) const PER_M: f64 = 10.0;

/// A map is about so wide on a screen, and no higher, in pixels at full view.
const WIDE_PX: f64 = 560.0;
const HIGH_PX: f64 = 600.0;

/// Free room around the field, as a share of its longer side.
const MARGIN: f64 = 0.03;

/// The view that all maps share.
pub(super) struct Canvas {
    frame: Frame,
    /// West and north edge of the view, metres of the plane.
    corner: [f64; 2],
    /// Of the view, drawing units.
    pub width: f64,
    pub height: f64,
    /// Drawing units of one screen pixel at full view.
    pub pixel: f64,
}

impl Canvas {
    pub(super) fn of(plan: &Plan) -> Self {
        let frame = plan.land.frame.clone();
        let outlines = plan.land.boundary.iter().chain(
            plan.maps
                .drawing
                .rows
                .iter()
                .flat_map(|polygons| polygons.iter()),
        );
        // The outermost places by many at a time, and then each by itself.
        let [mut west, mut south] = [(f64::INFINITY, None); 2];
        let [mut east, mut north] = [(f64::NEG_INFINITY, None); 2];
        for polygon in outlines {
            let plane = frame.all_to_plane(polygon.exterior.clone());
            for (&PlaneXy { x, y }, place) in plane.iter().zip(&polygon.exterior) {
                for (least, at) in [(&mut west, x), (&mut south, y)] {
                    if at < least.0 {
                        *least = (at, Some(*place));
                    }
                }
                for (most, at) in [(&mut east, x), (&mut north, y)] {
                    if at > most.0 {
                        *most = (at, Some(*place));
                    }
                }
            }
        }
        let exact = |(near, place): (f64, Option<LonLat>), axis: usize| {
            place.map_or(near, |place| frame.to_plane(place).pair()[axis])
        };
        let [mut west, mut east] = [west, east].map(|side| exact(side, 0));
        let [mut south, mut north] = [south, north].map(|side| exact(side, 1));
        if west > east {
            [west, south, east, north] = [-50.0, -50.0, 50.0, 50.0];
        }
        let margin = ((east - west).max(north - south) * MARGIN).max(1.0);
        let width = (east - west + 2.0 * margin) * PER_M;
        // Below the field there is room for the scale bar.
        let land = (north - south + 2.0 * margin) * PER_M;
        let bare = f64::max(width / WIDE_PX, land / HIGH_PX);
        let height = land + 34.0 * bare;
        Self {
            frame,
            corner: [west - margin, north + margin],
            width: width.round(),
            height: height.round(),
            pixel: f64::max(width / WIDE_PX, height / HIGH_PX),
        }
    }

    /// A place in drawing units.
    pub(super) fn place(&self, lon_lat: LonLat) -> [f64; 2] {
        self.of_plane(self.frame.to_plane(lon_lat).pair())
    }

    /// A place of the field's plane, metres, in drawing units.
    pub(super) fn of_plane(&self, [x, y]: [f64; 2]) -> [f64; 2] {
        [(x - self.corner[0]) * PER_M, (self.corner[1] - y) * PER_M]
    }

    /// A ring in whole drawing units: without its end, without points in a row that fall together or lie on
    /// a straight line. Empty if nothing is left to see.
    pub(super) fn ring(&self, ring: &[LonLat]) -> Vec<[i64; 2]> {
        let mut seen: Vec<[i64; 2]> = Vec::with_capacity(ring.len());
        for place in ring {
            let [x, y] = self.of_plane(self.frame.fast_to_plane(*place).pair());
            let next = [x.round() as i64, y.round() as i64];
            if seen.last() == Some(&next) {
                continue;
            }
            if let [.., a, b] = seen[..]
                && straight(a, b, next)
            {
                seen.pop();
            }
            seen.push(next);
        }
        while seen.len() > 1 && seen.first() == seen.last() {
            seen.pop();
        }
        if seen.len() < 3 { Vec::new() } else { seen }
    }

    /// Polygons as the `d` of a path.
    pub(super) fn path<'a>(
        &self,
        polygons: impl IntoIterator<Item = &'a Polygon<LonLat>>,
    ) -> String {
        let mut path = String::new();
        for polygon in polygons {
            for ring in std::iter::once(&polygon.exterior).chain(&polygon.holes) {
                let ring = self.ring(ring);
                let Some((&[x, y], rest)) = ring.split_first() else {
                    continue;
                };
                let _ = write!(path, "M{x} {y}l");
                let [mut from_x, mut from_y] = [x, y];
                for (nth, &[x, y]) in rest.iter().enumerate() {
                    let blank = if nth > 0 && x >= from_x { " " } else { "" };
                    let between = if y >= from_y { " " } else { "" };
                    let _ = write!(path, "{blank}{}{between}{}", x - from_x, y - from_y);
                    [from_x, from_y] = [x, y];
                }
                path.push('z');
            }
        }
        path
    }

    /// For the template: the view, the scale bar, the margin of the bar.
    pub(super) fn words(&self, numbers: &Numbers) -> Value {
        let unit = if numbers.is_us() { M_PER_FOOT } else { 1.0 };
        let bar = nice(self.width / PER_M / unit / 4.0);
        json!({
            "width": self.width,
            "height": self.height,
            "pixel": self.pixel,
            "corner": format!("{} {}", self.corner[0], self.corner[1]),
            "unit": unit * PER_M,
            "bar": (bar * unit * PER_M).round(),
            "bar_text": numbers.grouped(bar, 0),
        })
    }
}

/// Whether b lies on the straight way from a to c.
fn straight(a: [i64; 2], b: [i64; 2], c: [i64; 2]) -> bool {
    let [ab, bc] = [[b[0] - a[0], b[1] - a[1]], [c[0] - b[0], c[1] - b[1]]];
    ab[0] * bc[1] == ab[1] * bc[0] && ab[0] * bc[0] + ab[1] * bc[1] > 0
}

/// The longest of 1, 2, 5, 10, ... that is not above `most`; at least 1.
fn nice(most: f64) -> f64 {
    let ten = 10_f64.powf(most.max(1.0).log10().floor());
    let fits = [5.0, 2.0, 1.0].into_iter().find(|step| step * ten <= most);
    (fits.unwrap_or(1.0) * ten).max(1.0)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_bar_is_a_round_number() {
        let bars: Vec<f64> = [0.3, 1.0, 4.9, 187.0, 250.0, 999.0].map(nice).to_vec();
        assert_eq!(bars, [1.0, 1.0, 2.0, 100.0, 200.0, 500.0]);
    }

    fn canvas() -> Canvas {
        Canvas {
            frame: Frame::about(2.5, 54.8),
            corner: [-100.0, 100.0],
            width: 2000.0,
            height: 2000.0,
            pixel: 3.5,
        }
    }

    #[test]
    fn a_path_keeps_corners_and_drops_what_lies_on_an_edge() {
        let canvas = canvas();
        let lon_lat = |x: f64, y: f64| canvas.frame.to_lon_lat(PlaneXy::new(x, y));
        let ring = [
            lon_lat(-100.0, 100.0),
            lon_lat(-95.0, 100.0),
            lon_lat(-90.0, 100.0),
            lon_lat(-90.0, 90.0),
            lon_lat(-90.0, 90.01),
            lon_lat(-100.0, 90.0),
            lon_lat(-100.0, 100.0),
        ];
        let polygon = Polygon {
            exterior: ring.to_vec(),
            holes: Vec::new(),
        };
        assert_eq!(canvas.path([&polygon]), "M0 0l100 0 0 100-100 0z");
        let crumb = Polygon {
            exterior: vec![lon_lat(0.0, 0.0), lon_lat(0.01, 0.0), lon_lat(0.0, 0.01)],
            holes: Vec::new(),
        };
        assert_eq!(canvas.path([&crumb]), "");
    }
}
