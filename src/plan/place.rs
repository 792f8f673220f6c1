//! Which row of the rate table a place belongs to.

use super::Prepared;
use crate::geometry::Shape;

/// The row (from 0) of the land at a longitude and latitude in degrees; `None` where no land is. On a border
/// between two rows one of them answers.
pub fn row_at(prepared: &Prepared, lon_lat: [f64; 2]) -> Option<usize> {
    let place = prepared.frame.to_plane(lon_lat);
    rows_at(prepared, &[place]).into_iter().next().flatten()
}

/// The same for places in the field's plane, metres.
pub fn rows_at(prepared: &Prepared, places: &[[f64; 2]]) -> Vec<Option<usize>> {
    let shapes = prepared
        .units
        .arrangement
        .dissolve(&prepared.units.row_of_face);
    let row = |place: &[f64; 2]| {
        let found = shapes.iter().find(|(_, shape)| covers(shape, *place));
        found.map(|(row, _)| *row as usize)
    };
    places.iter().map(row).collect()
}

/// Whether an odd number of edges lies east of the place: holes count with the exterior.
fn covers(shape: &Shape, [x, y]: [f64; 2]) -> bool {
    let mut inside = false;
    for ring in shape.rings() {
        let ends = ring.iter().zip(ring.iter().cycle().skip(1));
        for (from, to) in ends {
            let ([ax, ay], [bx, by]) = (from.metres(), to.metres());
            if (ay > y) != (by > y) && x < ax + (y - ay) / (by - ay) * (bx - ax) {
                inside = !inside;
            }
        }
    }
    inside
}
