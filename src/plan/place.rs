//! Which row of the rate table a place belongs to.

use super::Plan;
use crate::read::{Polygon, Xy};

/// The row (from 0) of the land at a longitude and latitude in degrees; `None` where no land is. On a border
/// between two rows one of them answers.
pub fn row_at(plan: &Plan, lon_lat: Xy) -> Option<usize> {
    let place = plan.frame.to_plane(lon_lat);
    let mut rows = plan.drawing.rows.iter();
    rows.position(|land| land.iter().any(|polygon| covers(plan, polygon, place)))
}

/// Whether an odd number of edges lies east of the place: holes count with the exterior.
fn covers(plan: &Plan, polygon: &Polygon, [x, y]: Xy) -> bool {
    let mut inside = false;
    for ring in std::iter::once(&polygon.exterior).chain(&polygon.holes) {
        let ring: Vec<Xy> = ring.iter().map(|at| plan.frame.to_plane(*at)).collect();
        for pair in ring.windows(2) {
            let &[[ax, ay], [bx, by]] = pair else {
                continue;
            };
            if (ay > y) != (by > y) && x < ax + (y - ay) / (by - ay) * (bx - ax) {
                inside = !inside;
            }
        }
    }
    inside
}
