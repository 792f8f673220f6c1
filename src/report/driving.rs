//! The drive on the map: bouts in their order, and the rows that stay closed.

use super::canvas::Canvas;
use crate::drive::{Bout, ClosedAlong, Path};
use crate::job::LandPart;
use crate::plan::Drive;
use serde_json::{Value, json};
use std::fmt::Write as _;

/// Every so many bouts one carries its number.
const NUMBERED: usize = 5;

/// Lines and numbers in drawing units; null where the field is not driven on paper.
pub(super) fn of(drive: &Drive, canvas: &Canvas) -> Value {
    if drive.bouts.is_empty() {
        return Value::Null;
    }
    let mut ways = String::new();
    let mut closed = String::new();
    let mut numbers = Vec::new();
    let last = drive.bouts.last().map(|bout| bout.number);
    for bout in &drive.bouts {
        line(&mut ways, &bout.path.points(), canvas);
        let along = match &bout.closed_along {
            ClosedAlong::AllTheWay => vec![bout.path.clone()],
            ClosedAlong::Between(parts) => {
                let parts = parts.iter();
                parts
                    .map(|[from, to]| bout.path.between(*from, *to))
                    .collect()
            }
        };
        for row in &bout.closed {
            let middle = (row.left_m[0] + row.left_m[1]) / 2.0;
            for (from, to, _) in along.iter().flat_map(Path::straights) {
                line(&mut closed, &beside(from, to, middle), canvas);
            }
        }
        let inside = bout.part == LandPart::Interior;
        let told = bout.number.is_multiple_of(NUMBERED) || Some(bout.number) == last;
        if inside && told {
            let [x, y] = canvas.of_plane(bout.path.at(bout.path.length_m() * share(bout)));
            numbers.push(json!({ "number": bout.number, "x": x.round(), "y": y.round() }));
        }
    }
    let start = drive
        .bouts
        .iter()
        .find(|bout| bout.part == LandPart::Interior);
    let start = start.or(drive.bouts.first()).map(|bout| {
        let [x, y] = canvas.of_plane(bout.path.at(0.0));
        json!({ "number": bout.number, "x": x.round(), "y": y.round() })
    });
    let stops = drive.refills.iter().flat_map(|refills| &refills.stops);
    let stops = stops.map(|stop| {
        let [x, y] = canvas.place(stop.lon_lat);
        json!({ "number": stop.number, "x": x.round(), "y": y.round() })
    });
    let stops: Vec<Value> = stops.collect();
    json!({ "stops": stops, "ways": ways, "closed": closed, "numbers": numbers, "start": start })
}

/// Numbers stand in two rows, so that they do not run into each other.
fn share(bout: &Bout) -> f64 {
    match bout.number.is_multiple_of(2 * NUMBERED) {
        true => 0.45,
        false => 0.55,
    }
}

/// A straight piece, moved to the left.
fn beside(from: [f64; 2], to: [f64; 2], left_m: f64) -> [[f64; 2]; 2] {
    let way = [to[0] - from[0], to[1] - from[1]];
    let length = way[0].hypot(way[1]).max(f64::MIN_POSITIVE);
    let off = [-way[1] / length * left_m, way[0] / length * left_m];
    [from, to].map(|[x, y]| [x + off[0], y + off[1]])
}

fn line(path: &mut String, points: &[[f64; 2]], canvas: &Canvas) {
    for (nth, &point) in points.iter().enumerate() {
        let [x, y] = canvas.of_plane(point).map(f64::round);
        let _ = write!(path, "{}{x} {y}", if nth == 0 { 'M' } else { 'L' });
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn left_is_left_of_the_way() {
        // To the north, left is west; to the east, left is north.
        assert_eq!(
            beside([0.0, 0.0], [0.0, 10.0], 2.0),
            [[-2.0, 0.0], [-2.0, 10.0]]
        );
        assert_eq!(
            beside([0.0, 0.0], [10.0, 0.0], 2.0),
            [[0.0, 2.0], [10.0, 2.0]]
        );
    }
}
