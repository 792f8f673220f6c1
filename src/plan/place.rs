//! Which row of the rate table a place belongs to.

use super::Prepared;
use crate::geometry::Shape;

/// The row (from 0) of the land at a longitude and latitude in degrees; `None` where no land is. On a border
/// between two rows one of them answers.
pub fn row_at(prepared: &Prepared, lon_lat: [f64; 2]) -> Option<usize> {
    let place = prepared.frame.to_plane(lon_lat);
    let shapes = prepared
        .units
        .arrangement
        .dissolve(&prepared.units.row_of_face);
    let row = shapes.iter().find(|(_, shape)| covers(shape, place));
    row.map(|(row, _)| *row as usize)
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
