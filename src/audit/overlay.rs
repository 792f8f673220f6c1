//! Polygons laid over each other by the crate geo, in degrees: there edges are straight, as in files, and no plane is
//! needed. Areas of what comes out are those on the ellipsoid (`ellipsoid.rs`).
//!
//! Geo puts all points onto a grid: 2^-29 to 2^-30 of half the extent (of a field of 2 km: 2 micrometres). Where edges cross,
//! ends within a step of the crossing go to it, and the reach doubles with each further round of crossings that this
//! makes. Held against the arrangement of planning in `tests/audit_geometry.rs`.

use crate::read::Polygon;
use geo::bool_ops::FillRule;
use geo::orient::Direction;
use geo::{BooleanOps, LineString, MultiPolygon, OpType, Orient};

/// Polygons that do not overlap, exteriors counter-clockwise, holes clockwise.
pub(super) type Land = MultiPolygon<f64>;

/// A polygon for geo, each of its points put somewhere. A ring with a place that is no number is left out.
pub(super) fn drawn<P: Copy>(polygon: &Polygon<P>, place: impl Fn(P) -> [f64; 2]) -> geo::Polygon {
    let ring = |ring: &Vec<P>| {
        let placed: Vec<[f64; 2]> = ring.iter().map(|at| place(*at)).collect();
        let is_place = placed.iter().flatten().all(|number| number.is_finite());
        LineString::from(if is_place { placed } else { Vec::new() })
    };
    geo::Polygon::new(
        ring(&polygon.exterior),
        polygon.holes.iter().map(ring).collect(),
    )
}

/// Longitudes the shorter way round from this one, so that a field across the antimeridian hangs together: plain numbers,
/// as for geo, since they may go beyond 180.
pub(super) fn about(lon0: f64) -> impl Fn([f64; 2]) -> [f64; 2] {
    move |[lon, lat]| [lon - ((lon - lon0) / 360.0).round() * 360.0, lat]
}

/// The land that any of the polygons covers. What a polygon covers is what its rings wind around: those of files may
/// run either way, but none crosses itself.
pub(super) fn united(polygons: Vec<geo::Polygon>) -> Land {
    let none = Land::new(Vec::new());
    let polygons = MultiPolygon::new(polygons).orient(Direction::Default);
    turned(polygons.union_with_fill_rule(&none, FillRule::Positive))
}

/// Land as it is laid over other land. Geo does not say which way the rings run that it gives: in 4 of 600 jobs
/// (`tests/near_borders.rs`) a narrow hole ran like an exterior.
fn turned(land: Land) -> Land {
    land.orient(Direction::Default)
}

/// The same for rings that may cross themselves and holes that may overlap or reach beyond the outline: an outline
/// encloses what lies in it an odd number of times, and any hole takes away.
pub(super) fn outlined(polygons: impl IntoIterator<Item = geo::Polygon>) -> Land {
    let odd = |ring: LineString| {
        let ring = geo::Polygon::new(ring, Vec::new());
        turned(ring.boolean_op(&Land::new(Vec::new()), OpType::Union))
    };
    let mut parts = Vec::new();
    for polygon in polygons {
        let (exterior, holes) = polygon.into_inner();
        let holes: Vec<geo::Polygon> = holes.into_iter().flat_map(odd).collect();
        parts.extend(without(&odd(exterior), &united(holes)));
    }
    united(parts)
}

/// Land less other land.
pub(super) fn without(land: &Land, other: &Land) -> Land {
    if other.0.is_empty() {
        return land.clone();
    }
    turned(land.difference_with_fill_rule(other, FillRule::Positive))
}

/// What two pieces of land have in common.
pub(super) fn shared(land: &Land, other: &Land) -> Land {
    turned(land.intersection_with_fill_rule(other, FillRule::Positive))
}

/// A ring cut to a box from its low to its high corner (Sutherland and Hodgman, 1974: one half plane after the other;
/// pieces along the border enclose nothing).
pub(super) fn cut_to(ring: Vec<[f64; 2]>, low: [f64; 2], high: [f64; 2]) -> Vec<[f64; 2]> {
    let sides = [
        (0, low[0], 1.0),
        (0, high[0], -1.0),
        (1, low[1], 1.0),
        (1, high[1], -1.0),
    ];
    let cut = |points: Vec<[f64; 2]>, (axis, limit, sign)| cut(&points, axis, limit, sign);
    sides.into_iter().fold(ring, cut)
}

fn cut(points: &[[f64; 2]], axis: usize, limit: f64, sign: f64) -> Vec<[f64; 2]> {
    let inside = |point: &[f64; 2]| (point[axis] - limit) * sign >= 0.0;
    let mut kept = Vec::with_capacity(points.len() + 4);
    let before = points.iter().cycle().skip(points.len().saturating_sub(1));
    for (from, to) in before.zip(points) {
        if inside(from) != inside(to) {
            let share = (limit - from[axis]) / (to[axis] - from[axis]);
            let mut at = [0, 1].map(|n: usize| from[n] + share * (to[n] - from[n]));
            at[axis] = limit;
            kept.push(at);
        }
        if inside(to) {
            kept.push(*to);
        }
    }
    kept
}

#[cfg(test)]
mod tests {
    use super::*;
    use geo::Area;

    fn ring(points: &[[f64; 2]]) -> Vec<[f64; 2]> {
        points.to_vec()
    }

    fn area(land: &Land) -> f64 {
        land.unsigned_area()
    }

    #[test]
    fn an_outline_that_crosses_itself_counts_both_lobes_and_odd_holes_take_away_once() {
        let bow = Polygon {
            exterior: ring(&[[0.0, 0.0], [2.0, 2.0], [2.0, 0.0], [0.0, 2.0]]),
            holes: Vec::new(),
        };
        let bow = outlined([drawn(&bow, |at| at)]);
        assert!((area(&bow) - 2.0).abs() < 1e-6, "{bow:?}");
        let square =
            |low: f64, high: f64| ring(&[[low, low], [high, low], [high, high], [low, high]]);
        // The second hole lies over the first on 1, and beyond the outline with the rest but 3.
        let holes = vec![square(1.0, 3.0), square(2.0, 5.0)];
        let field = Polygon {
            exterior: square(0.0, 4.0),
            holes,
        };
        let field = outlined([drawn(&field, |at| at)]);
        assert!(
            (area(&field) - (16.0 - 4.0 - 3.0)).abs() < 1e-6,
            "{field:?}"
        );
    }

    #[test]
    fn land_across_the_antimeridian_hangs_together() {
        let place = about(179.999);
        let [lon, lat] = place([-179.999, 12.0]);
        assert!((lon - 180.001).abs() < 1e-9 && lat == 12.0);
    }
}
