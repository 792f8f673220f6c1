//! The land that has been drilled, as an exclusion for the job that plans the rest.

use super::PlanMap;
use super::land::Ground;
use super::track::{Segment, Track};
use crate::coordinates::LonLat;
use crate::geometry::overlay::union;
use crate::geometry::{Pt, Shape};
use crate::map::lon_lat;
use crate::read::Polygon;

/// What the rest goes over again, so that no land stays bare where the drill stopped.
pub(super) struct Back {
    /// How far, m; 0 where the drill did not stop before open land.
    pub metres: f64,
    squares: Vec<usize>,
}

/// The way of one start delay at the last speed, and of `behind_m`, by which the outlets lie behind the place in the log.
pub(super) fn back(plan: &PlanMap, ground: &Ground, track: &Track, behind_m: f64) -> Back {
    let none = Back {
        metres: 0.0,
        squares: Vec::new(),
    };
    let ends = |own: &Segment| own.start_s + own.lasts_s;
    let last = track.segments.iter().enumerate();
    let last = last.max_by(|(_, a), (_, b)| ends(a).total_cmp(&ends(b)));
    let Some((at, last)) = last else {
        return none;
    };
    let ahead = last.headings[1].map(|part| part * plan.width_m / 2.0);
    let is_open = ground.is_open(plan, [last.to[0] + ahead[0], last.to[1] + ahead[1]]);
    if !is_open {
        return none;
    }
    let speed_m_per_s = last.length_m() / last.lasts_s.max(0.1);
    let metres = (plan.start_delay_s * speed_m_per_s + behind_m).max(0.0);
    let mut squares = Vec::new();
    let mut left_m = metres;
    for segment in track.segments.get(..=at).unwrap_or_default().iter().rev() {
        if left_m <= 0.0 {
            break;
        }
        let whole_m = segment.length_m();
        let share = (left_m / whole_m.max(1e-9)).min(1.0);
        // Of the last of them only the part that is still to be gone.
        let from =
            [0, 1].map(|axis| segment.to[axis] + (segment.from[axis] - segment.to[axis]) * share);
        let mut part = segment.clone();
        part.from = from;
        for strip in &part.strips {
            squares.extend(ground.squares(&part, strip));
        }
        left_m -= whole_m;
        if !segment.joined {
            break;
        }
    }
    squares.retain(|at| ground.passes.get(*at) == Some(&1));
    Back { metres, squares }
}

/// Land that was drilled, without some squares. Gaps between drilled land that are narrower than half a working width count
/// as drilled.
pub(super) fn drilled_shapes(plan: &PlanMap, ground: &Ground, without: &[usize]) -> Vec<Shape> {
    let reach = (plan.width_m / 4.0 / ground.edge_m).floor() as usize;
    let mut drilled: Vec<bool> = ground.passes.iter().map(|passes| *passes > 0).collect();
    for at in without {
        if let Some(own) = drilled.get_mut(*at) {
            *own = false;
        }
    }
    let closed = closed(&drilled, ground.columns, ground.rows, reach);
    union(rectangles(&closed, ground))
}

/// A feature collection with one feature of all drilled land, in degrees on WGS 84. Gaps between drilled land that are
/// narrower than half a working width count as drilled: no bout fits in.
pub(super) fn geojson(plan: &PlanMap, ground: &Ground, back: &Back) -> String {
    let shapes = drilled_shapes(plan, ground, &back.squares);
    let polygons: Vec<Polygon<LonLat>> = shapes
        .iter()
        .map(|shape| lon_lat(shape, &plan.frame))
        .collect();
    let ring = |ring: &Vec<LonLat>| {
        let points: Vec<String> = ring
            .iter()
            .map(|LonLat { lon, lat }| format!("[{lon:.9},{lat:.9}]"))
            .collect();
        format!("[{}]", points.join(","))
    };
    let polygons: Vec<String> = polygons
        .iter()
        .map(|polygon| {
            let rings: Vec<String> = std::iter::once(&polygon.exterior)
                .chain(&polygon.holes)
                .map(ring)
                .collect();
            format!("[{}]", rings.join(","))
        })
        .collect();
    format!(
        "{{\"type\":\"FeatureCollection\",\"plan\":{},\"features\":[\n{{\"type\":\"Feature\",\"properties\":{{\"name\":\"drilled already\"}},\"geometry\":{{\"type\":\"MultiPolygon\",\"coordinates\":[{}]}}}}\n]}}\n",
        serde_json::Value::from(plan.id.as_str()),
        polygons.join(",\n")
    )
}

/// Grown by `reach` squares to all sides and shrunk by as much; the field counts as open around.
fn closed(drilled: &[bool], columns: usize, rows: usize, reach: usize) -> Vec<bool> {
    // With a margin, so that growing does not meet the edge of the grid.
    let (wide, high) = (columns + 2 * reach, rows + 2 * reach);
    let mut squares = vec![false; wide * high];
    for (row, line) in drilled.chunks(columns.max(1)).enumerate() {
        let start = (row + reach) * wide + reach;
        if let Some(own) = squares.get_mut(start..start + line.len()) {
            own.copy_from_slice(line);
        }
    }
    let grown = spread(&squares, wide, high, reach, true);
    let shrunk = spread(&grown, wide, high, reach, false);
    let mut result = Vec::with_capacity(drilled.len());
    for row in 0..rows {
        let start = (row + reach) * wide + reach;
        result.extend_from_slice(shrunk.get(start..start + columns).unwrap_or_default());
    }
    result
}

/// Gives every square `value` that has one of that value within `reach` along rows, then along columns.
fn spread(squares: &[bool], columns: usize, rows: usize, reach: usize, value: bool) -> Vec<bool> {
    let along =
        |squares: &[bool], lines: usize, length: usize, place: &dyn Fn(usize, usize) -> usize| {
            let mut result = squares.to_vec();
            for line in 0..lines {
                let mut last: Option<usize> = None;
                let is = |at: usize| squares.get(place(line, at)) == Some(&value);
                let mut ahead = 0;
                for at in 0..length {
                    while ahead < length && ahead <= at + reach {
                        if is(ahead) {
                            last = Some(ahead);
                        }
                        ahead += 1;
                    }
                    if last.is_some_and(|last| last + reach >= at)
                        && let Some(own) = result.get_mut(place(line, at))
                    {
                        *own = value;
                    }
                }
            }
            result
        };
    let by_row = along(squares, rows, columns, &|row, column| {
        row * columns + column
    });
    along(&by_row, columns, rows, &|column, row| {
        row * columns + column
    })
}

/// Runs of squares as rectangles; runs with the same ends in rows above each other are one.
fn rectangles(closed: &[bool], ground: &Ground) -> Vec<Shape> {
    let mut done: Vec<[usize; 4]> = Vec::new();
    let mut open: Vec<[usize; 4]> = Vec::new();
    for (row, line) in closed.chunks(ground.columns.max(1)).enumerate() {
        let mut next = Vec::new();
        let mut column = 0;
        while column < line.len() {
            if line.get(column) != Some(&true) {
                column += 1;
                continue;
            }
            let run = line
                .iter()
                .skip(column)
                .take_while(|drilled| **drilled)
                .count();
            let same = |own: &&[usize; 4]| own[0] == column && own[1] == column + run;
            let from = open.iter().find(same).map_or(row, |below| below[2]);
            next.push([column, column + run, from, row + 1]);
            column += run;
        }
        let goes_on = |own: &&[usize; 4]| next.iter().any(|n| n[0] == own[0] && n[1] == own[1]);
        done.extend(open.iter().filter(|own| !goes_on(own)).copied());
        open = next;
    }
    done.extend(open);
    let at = |column: usize, row: usize| {
        Pt::from_metres([
            ground.origin[0] + column as f64 * ground.edge_m,
            ground.origin[1] + row as f64 * ground.edge_m,
        ])
    };
    let shape = |[west, east, south, north]: [usize; 4]| {
        let corners = [
            at(west, south)?,
            at(east, south)?,
            at(east, north)?,
            at(west, north)?,
        ];
        Some(Shape {
            exterior: corners.to_vec(),
            holes: Vec::new(),
        })
    };
    done.into_iter().filter_map(shape).collect()
}
