//! The A-B line that the interior bouts run along.

use crate::findings::{Fault, Outcome};
use crate::read::{Geometry, Layer, Xy};

/// A line may leave the straight way between its ends by this much, m: two records of one A-B line.
const STRAIGHT_M: f64 = 0.1;

/// Shorter lines give no heading, m: position errors at both ends would turn it.
const LEAST_M: f64 = 5.0;

/// First and last point of the first line of a layer in plane metres.
///
/// # Errors
/// No line; a line shorter than 5 m; one that bends by more than 10 cm.
pub(super) fn ends(layer: &Layer) -> Outcome<[Xy; 2]> {
    let refused = |found: String, next: &str| {
        Fault::input(
            "land.guide",
            layer.place(),
            found,
            format!("one straight line, at least {LEAST_M} m long"),
            next,
        )
    };
    let lines = layer
        .features
        .iter()
        .find_map(|feature| match &feature.geometry {
            Geometry::Lines(lines) => lines.first(),
            _ => None,
        });
    let Some((first, last)) = lines.and_then(|line| line.first().zip(line.last())) else {
        return Err(refused(
            "the file for 'along' holds no line".to_owned(),
            "name a file with the A-B line as a line of two points",
        ));
    };
    let way = [last[0] - first[0], last[1] - first[1]];
    let length = way[0].hypot(way[1]);
    if length < LEAST_M {
        return Err(refused(
            format!("the A-B line is {length:.2} m long"),
            "use a longer line: A at one end of the bout, B at the other",
        ));
    }
    let beside = |point: &Xy| {
        ((point[0] - first[0]) * way[1] - (point[1] - first[1]) * way[0]).abs() / length
    };
    let bend = lines.into_iter().flatten().map(beside).fold(0.0, f64::max);
    if bend > STRAIGHT_M {
        return Err(refused(
            format!(
                "the line bends: it lies up to {bend:.2} m beside the straight way between its ends; bouts along a curve are not planned"
            ),
            "give the two ends of a straight line, or use 'heading' instead",
        ));
    }
    Ok([*first, *last])
}
