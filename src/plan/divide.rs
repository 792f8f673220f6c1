//! A zone layer from a line: the land on its left and on its right, seen along it.

use crate::coordinates::PlaneXy;
use crate::findings::{Fault, Outcome, Place};
use crate::job::Values;
use crate::read::{DeclaredCrs, Feature, Geometry, Layer, Polygon, Value};
use std::path::Path;

/// Points of the arc that closes each side, far outside the field.
const ARC: usize = 32;

/// The layer with its line replaced by two polygons of the classes "left" and "right". The line and `field`,
/// the points of the boundary, are in the field's plane, in metres; beyond its ends the line goes on straight.
///
/// # Errors
/// No line, or several; a line without length; one that crosses itself.
pub(super) fn sides(layer: Layer<PlaneXy>, field: &[PlaneXy]) -> Outcome<Layer<PlaneXy>> {
    let line = one_line(&layer)?;
    let place = layer.place();
    let all = field.iter().map(|place| place.pair());
    let all: Vec<[f64; 2]> = all.chain(line.iter().copied()).collect();
    let (centre, reach) = around(&all);
    let radius = 2.0 * reach + 100.0;
    let (Some(first), Some(last)) = (
        ahead(line.iter().rev(), centre, radius),
        ahead(line.iter(), centre, radius),
    ) else {
        return Err(wrong(
            place,
            "the line that divides the field has no length",
        ));
    };
    let mut whole = vec![first];
    whole.extend(&line);
    whole.push(last);
    if crosses_itself(&whole) {
        return Err(wrong(
            place,
            "the line that divides the field crosses itself",
        ));
    }
    let back: Vec<[f64; 2]> = whole.iter().rev().copied().collect();
    let side = |class: &str, name: &str, path: &[[f64; 2]]| Feature {
        name: name.to_owned(),
        geometry: Geometry::Polygons(vec![Polygon {
            exterior: closed(path, centre, radius),
            holes: Vec::new(),
        }]),
        values: vec![Value::Text(class.to_owned())],
    };
    Ok(Layer {
        attributes: vec![Values::CLASS_ATTRIBUTE.to_owned()],
        features: vec![side("left", "1", &whole), side("right", "2", &back)],
        ..layer
    })
}

/// The land to the left of a line, far around the field, as a closed ring; as `sides`.
///
/// # Errors
/// As `sides`.
pub fn left_of_line(line: &[PlaneXy], field: &[PlaneXy]) -> Outcome<Vec<PlaneXy>> {
    let layer = of_points(Path::new(""), line.to_vec());
    let sides = sides(
        Layer {
            file: "the line".into(),
            ..layer
        },
        field,
    )?;
    let left = sides.features.into_iter().next();
    let ring = left.and_then(|feature| match feature.geometry {
        Geometry::Polygons(polygons) => Some(polygons.into_iter().next()?.exterior),
        _ => None,
    });
    Ok(ring.unwrap_or_default())
}

/// A line of points in the field's plane as a layer; `file` is the job's, for messages.
pub(super) fn of_points(file: &Path, points: Vec<PlaneXy>) -> Layer<PlaneXy> {
    Layer {
        file: file.to_path_buf(),
        format: "line in the job",
        table: None,
        crs: DeclaredCrs::None,
        attributes: Vec::new(),
        features: vec![Feature {
            name: "1".to_owned(),
            geometry: Geometry::Lines(vec![points]),
            values: Vec::new(),
        }],
        findings: Vec::new(),
    }
}

fn one_line(layer: &Layer<PlaneXy>) -> Outcome<Vec<[f64; 2]>> {
    let mut lines: Vec<&Vec<PlaneXy>> = Vec::new();
    for feature in &layer.features {
        if let Geometry::Lines(own) = &feature.geometry {
            lines.extend(own);
        }
    }
    let mut line = match lines.as_slice() {
        [line] => line.iter().map(|place| place.pair()).collect::<Vec<_>>(),
        [] => {
            return Err(wrong(
                layer.place(),
                "there is no line to divide the field by",
            ));
        }
        lines => {
            let found = format!("there are {} lines to divide the field by", lines.len());
            return Err(wrong(layer.place(), &found));
        }
    };
    line.dedup();
    Ok(line)
}

fn wrong(place: Place, found: &str) -> Box<Fault> {
    Fault::input(
        "plan.divide",
        place,
        found,
        "one line of two or more points that does not cross itself",
        "Draw one line across the field, or choose it with 'only'.",
    )
}

/// Middle of the box around points, and half of its diagonal.
fn around(points: &[[f64; 2]]) -> ([f64; 2], f64) {
    let fold = |pick: fn(f64, f64) -> f64, start: f64, axis: usize| {
        points.iter().map(|point| point[axis]).fold(start, pick)
    };
    let low = [0, 1].map(|axis| fold(f64::min, f64::INFINITY, axis));
    let high = [0, 1].map(|axis| fold(f64::max, f64::NEG_INFINITY, axis));
    let centre = [(low[0] + high[0]) / 2.0, (low[1] + high[1]) / 2.0];
    let reach = (high[0] - low[0]).hypot(high[1] - low[1]) / 2.0;
    (centre, reach)
}

/// Where the last stretch of a path, going on straight, meets the circle; `None` without a stretch.
fn ahead<'a>(
    path: impl DoubleEndedIterator<Item = &'a [f64; 2]>,
    centre: [f64; 2],
    radius: f64,
) -> Option<[f64; 2]> {
    let mut back = path.rev();
    let end = back.next()?;
    let before = back.next()?;
    let step = [end[0] - before[0], end[1] - before[1]];
    let length = step[0].hypot(step[1]);
    let step = [step[0] / length, step[1] / length];
    let from = [end[0] - centre[0], end[1] - centre[1]];
    // |from + t step| = radius, the root ahead; the end lies inside the circle.
    let along = from[0] * step[0] + from[1] * step[1];
    let t =
        (along * along + radius * radius - from[0] * from[0] - from[1] * from[1]).sqrt() - along;
    t.is_finite()
        .then(|| [end[0] + t * step[0], end[1] + t * step[1]])
}

/// The path and, counterclockwise along the circle, the way back to its start.
fn closed(path: &[[f64; 2]], centre: [f64; 2], radius: f64) -> Vec<PlaneXy> {
    let mut ring = path.to_vec();
    if let (Some(first), Some(last)) = (path.first(), path.last()) {
        let angle = |point: &[f64; 2]| (point[1] - centre[1]).atan2(point[0] - centre[0]);
        let from = angle(last);
        let turn = (angle(first) - from).rem_euclid(std::f64::consts::TAU);
        ring.extend((1..ARC).map(|n| {
            let at = from + turn * n as f64 / ARC as f64;
            [centre[0] + radius * at.cos(), centre[1] + radius * at.sin()]
        }));
        ring.push(*first);
    }
    ring.into_iter().map(PlaneXy::of_pair).collect()
}

fn crosses_itself(path: &[[f64; 2]]) -> bool {
    let stretches: Vec<([f64; 2], [f64; 2])> =
        path.windows(2).map(|pair| (pair[0], pair[1])).collect();
    stretches.iter().enumerate().any(|(n, one)| {
        // The next one begins where this one ends.
        let mut others = stretches.iter().skip(n + 2);
        others.any(|other| cross(*one, *other))
    })
}

/// Whether two stretches meet; stretches of one straight line only where their boxes do.
fn cross((a, b): ([f64; 2], [f64; 2]), (c, d): ([f64; 2], [f64; 2])) -> bool {
    let apart = |axis: usize| {
        let (low, high) = (a[axis].min(b[axis]), a[axis].max(b[axis]));
        high < c[axis].min(d[axis]) || c[axis].max(d[axis]) < low
    };
    let side = |a: [f64; 2], b: [f64; 2], p: [f64; 2]| {
        (b[0] - a[0]) * (p[1] - a[1]) - (b[1] - a[1]) * (p[0] - a[0])
    };
    !apart(0)
        && !apart(1)
        && side(a, b, c) * side(a, b, d) <= 0.0
        && side(c, d, a) * side(c, d, b) <= 0.0
}

#[cfg(test)]
mod tests {
    use super::*;

    const FIELD: [[f64; 2]; 4] = [[0.0, 0.0], [200.0, 0.0], [200.0, 100.0], [0.0, 100.0]];

    fn divided(line: &[[f64; 2]]) -> Outcome<Vec<(String, Vec<[f64; 2]>)>> {
        let line = line.iter().copied().map(PlaneXy::of_pair);
        let layer = of_points(Path::new("job.toml"), line.collect());
        let layer = sides(layer, &FIELD.map(PlaneXy::of_pair))?;
        let side = |feature: Feature<PlaneXy>| match (feature.geometry, feature.values.first()) {
            (Geometry::Polygons(polygons), Some(Value::Text(class))) => {
                let exterior = polygons[0].exterior.iter();
                (class.clone(), exterior.map(|at| at.pair()).collect())
            }
            other => panic!("{other:?}"),
        };
        Ok(layer.features.into_iter().map(side).collect())
    }

    /// Whether a point lies inside a ring, by the crossings of a ray to the east.
    fn inside(ring: &[[f64; 2]], [x, y]: [f64; 2]) -> bool {
        let crossed = ring.windows(2).filter(|pair| {
            let ([x1, y1], [x2, y2]) = (pair[0], pair[1]);
            (y1 > y) != (y2 > y) && x < x1 + (y - y1) / (y2 - y1) * (x2 - x1)
        });
        crossed.count() % 2 == 1
    }

    fn side_of(line: &[[f64; 2]], at: [f64; 2]) -> Vec<String> {
        let sides = divided(line).expect("a line");
        let hit = sides.into_iter().filter(|(_, ring)| inside(ring, at));
        hit.map(|(class, _)| class).collect()
    }

    #[test]
    fn every_place_lies_on_one_side_seen_along_the_line() {
        let north = [[50.0, 10.0], [50.0, 60.0]];
        assert_eq!(side_of(&north, [20.0, 95.0]), ["left"]);
        assert_eq!(side_of(&north, [80.0, 5.0]), ["right"]);
        let south = [north[1], north[0]];
        assert_eq!(side_of(&south, [20.0, 95.0]), ["right"]);
        // With a bend, and with ends far beyond the field.
        let bent = [[-900.0, 50.0], [100.0, 50.0], [100.0, 900.0]];
        assert_eq!(side_of(&bent, [50.0, 80.0]), ["left"]);
        assert_eq!(side_of(&bent, [50.0, 20.0]), ["right"]);
        assert_eq!(side_of(&bent, [150.0, 80.0]), ["right"]);
    }

    #[test]
    fn a_line_without_length_or_that_crosses_itself_is_refused() {
        let knot = [[0.0, 0.0], [100.0, 0.0], [100.0, 50.0], [50.0, -50.0]];
        for (line, found) in [
            (vec![[5.0, 5.0], [5.0, 5.0]], "has no length"),
            (knot.to_vec(), "crosses itself"),
        ] {
            let fault = divided(&line).expect_err(found);
            assert!(fault.found.contains(found), "{}", fault.found);
        }
        let mut none = of_points(Path::new("job.toml"), Vec::new());
        none.features.clear();
        let fault = sides(none, &FIELD.map(PlaneXy::of_pair)).expect_err("no line");
        assert!(fault.found.contains("there is no line"), "{}", fault.found);
    }
}
