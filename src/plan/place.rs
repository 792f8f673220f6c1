//! Which row of the rate table a place belongs to.

use super::Plan;
use crate::coordinates::{LonLat, PlaneXy};

/// The row (from 0) of the land at a longitude and latitude in degrees; `None` where no land is. On a border
/// between two rows one of them answers.
pub fn row_at(plan: &Plan, lon_lat: LonLat) -> Option<usize> {
    let place = plan.land.frame.to_plane(lon_lat);
    rows_at(plan, &[place]).into_iter().next().flatten()
}

/// The same for places in the field's plane, metres.
pub fn rows_at(plan: &Plan, places: &[PlaneXy]) -> Vec<Option<usize>> {
    let in_plane = |ring: &Vec<LonLat>| {
        ring.iter()
            .map(|at| plan.land.frame.to_plane(*at))
            .collect()
    };
    let rows: Vec<Vec<Vec<PlaneXy>>> = plan
        .maps
        .drawing
        .rows
        .iter()
        .map(|land| {
            let rings = land
                .iter()
                .flat_map(|polygon| std::iter::once(&polygon.exterior).chain(&polygon.holes));
            rings.map(in_plane).collect()
        })
        .collect();
    let row = |place: &PlaneXy| rows.iter().position(|rings| covers(rings, *place));
    places.iter().map(row).collect()
}

/// Whether an odd number of edges lies east of the place: holes count with the exterior, and the polygons of a row
/// do not overlap.
fn covers(rings: &[Vec<PlaneXy>], PlaneXy { x, y }: PlaneXy) -> bool {
    let mut inside = false;
    for pair in rings.iter().flat_map(|ring| ring.windows(2)) {
        let &[PlaneXy { x: ax, y: ay }, PlaneXy { x: bx, y: by }] = pair else {
            continue;
        };
        if (ay > y) != (by > y) && x < ax + (y - ay) / (by - ay) * (bx - ax) {
            inside = !inside;
        }
    }
    inside
}
