//! The line that the interior bouts run along: a straight A-B line, or a curve.

use crate::coordinates::PlaneXy;
use crate::findings::{Fault, Outcome};
use crate::geometry::Shape;
use crate::geometry::thin::thinned;
use crate::read::{Geometry, Layer};

/// A line that leaves the straight way between its ends by no more than this is straight, m: two records
/// of one A-B line.
const STRAIGHT_M: f64 = 0.1;

/// Shorter lines give no heading, m: position errors at both ends would turn it.
const LEAST_M: f64 = 5.0;

/// Points nearer to the one before are the same place, m.
const SAME_M: f64 = 0.01;

/// More points than this are no guide line but a log.
const MOST_POINTS: usize = 2_000;

/// The line in plane metres: its two ends where it is straight, or all of its points.
///
/// # Errors
/// No line; a line shorter than 5 m; a curve that meets itself, or would if its ends went straight on across the
/// field; a curve of more than 2000 points once thinned to 1 cm.
pub fn line(layer: &Layer<PlaneXy>, field: &[Shape]) -> Outcome<Vec<[f64; 2]>> {
    let refused = |found: String, allowed: String, next: &str| {
        Fault::input("land.guide", layer.place(), found, allowed, next)
    };
    let one_line = || format!("one line, at least {LEAST_M} m long");
    let lines = layer
        .features
        .iter()
        .find_map(|feature| match &feature.geometry {
            Geometry::Lines(lines) => lines.first(),
            _ => None,
        });
    let lines: Option<Vec<[f64; 2]>> =
        lines.map(|line| line.iter().map(|place| place.pair()).collect());
    let Some((points, (first, last))) = lines
        .as_ref()
        .and_then(|line| Some((line, line.first().zip(line.last())?)))
    else {
        return Err(refused(
            "the file for 'along' holds no line".to_owned(),
            one_line(),
            "name a file with the line that the bouts run along",
        ));
    };
    let mut points = points.clone();
    points.dedup_by(|b, a| length([*a, *b]) < SAME_M);
    let metres: f64 = points.windows(2).map(way).sum();
    let straight = length([*first, *last]);
    let beside = |point: &[f64; 2]| {
        let [dx, dy] = [last[0] - first[0], last[1] - first[1]];
        ((point[0] - first[0]) * dy - (point[1] - first[1]) * dx).abs() / straight
    };
    let bend = points.iter().map(beside).fold(0.0, f64::max);
    // A line that comes back to its start has no straight way between its ends.
    let is_straight = straight >= SAME_M && bend <= STRAIGHT_M;
    let long = if is_straight { straight } else { metres };
    if long < LEAST_M {
        return Err(refused(
            format!("the line in 'along' is {long:.2} m long"),
            one_line(),
            "use a longer line: A at one end of the bout, B at the other",
        ));
    }
    if is_straight {
        return Ok(vec![*first, *last]);
    }
    let points = thinned(&points, SAME_M);
    if points.len() > MOST_POINTS {
        return Err(refused(
            format!("the curve in 'along' has {} points", points.len()),
            format!("one curve of up to {MOST_POINTS} points"),
            "simplify it in a GIS, by 2 cm or so",
        ));
    }
    if let Some([x, y]) = crossing(&extended(&points, field)) {
        return Err(refused(
            format!(
                "the curve in 'along', with its ends going straight on across the field, meets itself {x:.0} m east and {y:.0} m north of the middle of the field"
            ),
            "a curve that leads across the field once".to_owned(),
            "cut it where it turns back, and give one of the pieces",
        ));
    }
    Ok(points)
}

fn length([a, b]: [[f64; 2]; 2]) -> f64 {
    (b[0] - a[0]).hypot(b[1] - a[1])
}

fn way(pair: &[[f64; 2]]) -> f64 {
    match pair {
        &[a, b] => length([a, b]),
        _ => 0.0,
    }
}

/// The curve with both ends going straight on until they are clear of the field.
pub(crate) fn extended(points: &[[f64; 2]], field: &[Shape]) -> Vec<[f64; 2]> {
    let (_, radius) = around(points, field);
    let mut line = points.to_vec();
    let on = |from: [f64; 2], to: [f64; 2]| {
        let share = 8.0 * radius / length([from, to]).max(SAME_M);
        [
            to[0] + share * (to[0] - from[0]),
            to[1] + share * (to[1] - from[1]),
        ]
    };
    if let [first, second, ..] = points {
        line.insert(0, on(*second, *first));
    }
    if let [.., before, last] = points {
        line.push(on(*before, *last));
    }
    line
}

/// Middle and radius of a circle around the field and the curve.
pub(crate) fn around(points: &[[f64; 2]], field: &[Shape]) -> ([f64; 2], f64) {
    let corners = field.iter().flat_map(|shape| &shape.exterior);
    let all = corners
        .map(|point| point.metres())
        .chain(points.iter().copied());
    let bounds = all.fold([f64::MAX, f64::MAX, f64::MIN, f64::MIN], |b, [x, y]| {
        [b[0].min(x), b[1].min(y), b[2].max(x), b[3].max(y)]
    });
    let middle = [(bounds[0] + bounds[2]) / 2.0, (bounds[1] + bounds[3]) / 2.0];
    (
        middle,
        length([[bounds[0], bounds[1]], [bounds[2], bounds[3]]]) / 2.0,
    )
}

/// Where a line first meets itself.
fn crossing(line: &[[f64; 2]]) -> Option<[f64; 2]> {
    let legs: Vec<[[f64; 2]; 2]> = line
        .windows(2)
        .filter_map(|pair| <[[f64; 2]; 2]>::try_from(pair).ok())
        .collect();
    for (at, a) in legs.iter().enumerate() {
        for b in legs.iter().skip(at + 2) {
            let [u, v] = [a, b].map(|[from, to]| [to[0] - from[0], to[1] - from[1]]);
            let cross = u[0] * v[1] - u[1] * v[0];
            if cross == 0.0 {
                continue;
            }
            let between = [b[0][0] - a[0][0], b[0][1] - a[0][1]];
            let of_a = (between[0] * v[1] - between[1] * v[0]) / cross;
            let of_b = (between[0] * u[1] - between[1] * u[0]) / cross;
            if (0.0..=1.0).contains(&of_a) && (0.0..=1.0).contains(&of_b) {
                return Some([a[0][0] + of_a * u[0], a[0][1] + of_a * u[1]]);
            }
        }
    }
    None
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_curve_that_turns_back_meets_itself() {
        // A hook: the end, going straight on, crosses the beginning.
        let hook = [
            [0.0, 0.0],
            [100.0, 0.0],
            [100.0, 50.0],
            [50.0, 50.0],
            [50.0, 20.0],
        ];
        assert_eq!(crossing(&hook), None);
        let on = crossing(&extended(&hook, &[])).unwrap();
        assert!((on[0] - 50.0).abs() < 1e-9 && on[1].abs() < 1e-9, "{on:?}");
        // A bend of a quarter turn does not.
        assert_eq!(crossing(&extended(&hook[..3], &[])), None);
    }
}
