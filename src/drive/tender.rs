//! Where the tender stands, and which bouts end there.

use super::bout::Bout;
use crate::geometry::Pt;
use crate::job::Job;

/// Places of the tender, in plane metres.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Tender {
    pub points: Vec<Pt>,
    /// Lines along which it can stand, such as a field edge.
    pub lines: Vec<Vec<Pt>>,
}

impl Tender {
    fn is_placed(&self) -> bool {
        !(self.points.is_empty() && self.lines.is_empty())
    }

    /// Distance to the nearest place, m.
    fn distance_m(&self, place: [f64; 2]) -> f64 {
        let points = self.points.iter().map(|point| point.metres());
        let to_points = points.map(|point| (point[0] - place[0]).hypot(point[1] - place[1]));
        let pieces = self.lines.iter().flat_map(|line| line.windows(2));
        let to_lines = pieces.filter_map(|pair| match pair {
            [a, b] => Some(to_piece(place, a.metres(), b.metres())),
            _ => None,
        });
        to_points.chain(to_lines).fold(f64::INFINITY, f64::min)
    }
}

fn to_piece(place: [f64; 2], a: [f64; 2], b: [f64; 2]) -> f64 {
    let way = [b[0] - a[0], b[1] - a[1]];
    let square = way[0] * way[0] + way[1] * way[1];
    let along = (place[0] - a[0]) * way[0] + (place[1] - a[1]) * way[1];
    let share = if square > 0.0 {
        (along / square).clamp(0.0, 1.0)
    } else {
        0.0
    };
    (a[0] + share * way[0] - place[0]).hypot(a[1] + share * way[1] - place[1])
}

/// How far a place lies towards a bearing, m.
fn towards(place: [f64; 2], bearing_deg: f64) -> f64 {
    let (sine, cosine) = bearing_deg.to_radians().sin_cos();
    place[0] * sine + place[1] * cosine
}

/// Which corner of a ring is nearest to the tender.
pub fn nearest_corner(corners: &[[f64; 2]], tender: &Tender, job: &Job) -> usize {
    let distance = |place: [f64; 2]| match job.refill.side_deg {
        _ if tender.is_placed() => tender.distance_m(place),
        Some(bearing) => -towards(place, bearing),
        None => 0.0,
    };
    let mut nearest = (0, f64::INFINITY);
    for (nth, corner) in corners.iter().enumerate() {
        let metres = distance(*corner);
        if metres < nearest.1 {
            nearest = (nth, metres);
        }
    }
    nearest.0
}

/// For each bout, whether its end is where the tender stands: within reach of one of its places; or, where
/// the job names a side, the end of the bout that lies farther to that side (both where they differ by less
/// than half a working width); or any end.
pub fn ends(bouts: &[Bout], tender: &Tender, job: &Job) -> Vec<bool> {
    let half_m = job.drill.working_width_m / 2.0;
    let is_there = |bout: &Bout| {
        let end = bout.path.at(bout.path.length_m());
        if tender.is_placed() {
            return tender.distance_m(end) <= job.refill.reach_m;
        }
        let Some(bearing) = job.refill.side_deg else {
            return true;
        };
        towards(end, bearing) - towards(bout.path.at(0.0), bearing) > -half_m
    };
    bouts.iter().map(is_there).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_distance_to_a_line_is_that_to_its_nearest_place() {
        let at = |xy| Pt::from_metres(xy).unwrap();
        let tender = Tender {
            points: vec![at([100.0, 0.0])],
            lines: vec![vec![at([0.0, 0.0]), at([0.0, 50.0])]],
        };
        assert_eq!(tender.distance_m([3.0, 25.0]), 3.0);
        assert_eq!(tender.distance_m([3.0, 54.0]), 5.0);
        assert_eq!(tender.distance_m([100.0, -7.0]), 7.0);
    }

    #[test]
    fn a_bearing_counts_clockwise_from_north() {
        assert!(towards([10.0, 0.0], 90.0) > 9.9);
        assert!(towards([0.0, -10.0], 180.0) > 9.9);
    }
}
