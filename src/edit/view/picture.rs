//! Outlines of a field as they travel to the page: whole centimetres, each point as the step from the one before.

use super::super::work::Shown;
use super::{PER_M, ground};
use crate::geometry::{Pt, Shape, UNITS_PER_M};
use crate::land::Land;
use crate::report::middle;
use crate::report::number::Numbers;
use serde_json::{Value, json};
use std::collections::BTreeMap;

/// Numbers stand on so many pieces of land at most.
const MOST_MIDDLES: usize = 200;

/// Land with less free room than this around a place carries no number, m.
const LEAST_ROOM_M: f64 = 2.0;

/// The picture of the land: its outlines do not depend on rates.
pub fn of(shown: &Shown) -> Value {
    let land = &shown.prepared.land;
    let shapes = by_row(shown);
    let middles = middles(&shapes);
    let rows = shown.rows.len();
    let of_rows = (0..rows).map(|row| {
        let own = shapes.iter().filter(|(of, _)| *of == row);
        json!({
            "row": row + 1,
            "rings": own.flat_map(|(_, shape)| rings(shape)).collect::<Vec<_>>(),
            "middles": middles.get(&row).cloned().unwrap_or_default(),
        })
    });
    let job = &shown.job;
    let setbacks = land.setbacks.iter().zip(&job.setbacks);
    let setbacks = setbacks.map(|(shapes, of)| json!({ "name": of.name, "rings": all(shapes) }));
    json!({
        "picture": shown.picture,
        "per_m": PER_M,
        "box": frame(land),
        "boundary": all(&land.field),
        "exclusions": land.exclusions.iter().flat_map(|shapes| all(shapes)).collect::<Vec<_>>(),
        "interior": match land.headland_m > 0.0 {
            true => all(&land.interior),
            false => Vec::new(),
        },
        "setbacks": setbacks.collect::<Vec<_>>(),
        "special_areas": special(shown),
        "land": of_rows.collect::<Vec<_>>(),
        "grounds": ground::maps(shown, &Numbers::of_pages(job.report)),
    })
}

/// Pieces of land with the same row, each a simple outline; rows from 0.
pub fn by_row(shown: &Shown) -> Vec<(usize, Shape)> {
    let units = shown.units();
    let shapes = units.arrangement.dissolve(&units.row_of_face);
    shapes
        .into_iter()
        .map(|(row, shape)| (row as usize, shape))
        .collect()
}

/// The land inside each special area.
fn special(shown: &Shown) -> Vec<Value> {
    let units = shown.units();
    let areas = shown.job.special_areas.iter().enumerate();
    let one = |(nth, area): (usize, &crate::job::SpecialArea)| {
        let inside = |row: &u32| {
            let row = shown.rows.get(*row as usize);
            row.is_some_and(|row| row.facts.special_areas.contains(&nth))
        };
        let group: Vec<Option<u32>> = units
            .row_of_face
            .iter()
            .map(|row| row.filter(inside).map(|_| 0))
            .collect();
        let shapes = units.arrangement.dissolve(&group);
        let rings: Vec<Vec<i64>> = shapes.iter().flat_map(|(_, shape)| rings(shape)).collect();
        json!({ "name": area.name, "rings": rings })
    };
    areas.map(one).collect()
}

fn middles(shapes: &[(usize, Shape)]) -> BTreeMap<usize, Vec<[i64; 3]>> {
    let mut largest: Vec<&(usize, Shape)> = shapes.iter().collect();
    largest.sort_by_key(|(row, shape)| (std::cmp::Reverse(shape.area2()), *row));
    let mut found: BTreeMap<usize, Vec<[i64; 3]>> = BTreeMap::new();
    let least = LEAST_ROOM_M * PER_M;
    for (row, shape) in largest.into_iter().take(MOST_MIDDLES) {
        let rings: Vec<Vec<[i64; 2]>> = shape
            .rings()
            .map(|ring| ring.iter().map(whole).collect())
            .collect();
        if let Some(middle) = middle(&rings, least, least / 2.0) {
            let [x, y] = middle.at.map(|at| at.round() as i64);
            let own = found.entry(*row).or_default();
            own.push([x, y, middle.radius.round() as i64]);
        }
    }
    found
}

/// West, south, east and north of the field.
fn frame(land: &Land) -> [i64; 4] {
    let points = || {
        let rings = land.field.iter().flat_map(|shape| &shape.exterior);
        rings.map(whole)
    };
    let of = |axis: usize| points().map(move |at| at[axis]);
    [
        of(0).min().unwrap_or(0),
        of(1).min().unwrap_or(0),
        of(0).max().unwrap_or(0),
        of(1).max().unwrap_or(0),
    ]
}

/// A point of the plane as it travels.
pub fn whole(point: &Pt) -> [i64; 2] {
    let scale = UNITS_PER_M / PER_M;
    [point.x, point.y].map(|units| (units as f64 / scale).round() as i64)
}

fn all(shapes: &[Shape]) -> Vec<Vec<i64>> {
    shapes.iter().flat_map(rings).collect()
}

fn rings(shape: &Shape) -> Vec<Vec<i64>> {
    let rings = shape.rings();
    let rings = rings.map(|ring| steps(ring.iter().map(whole)));
    // What rounding leaves without area is nothing to fill.
    rings.filter(|ring| ring.len() >= 6).collect()
}

/// Places as the first and then the step from each to the next; places that fall together once.
pub fn steps(places: impl Iterator<Item = [i64; 2]>) -> Vec<i64> {
    let mut flat: Vec<i64> = Vec::new();
    let mut last: Option<[i64; 2]> = None;
    for [x, y] in places {
        match last {
            None => flat.extend([x, y]),
            Some([from_x, from_y]) if [x, y] != [from_x, from_y] => {
                flat.extend([x - from_x, y - from_y]);
            }
            Some(_) => continue,
        }
        last = Some([x, y]);
    }
    flat
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn steps_lead_back_to_the_places() {
        let places = [[10, -5], [12, -5], [12, -5], [11, 7]];
        assert_eq!(steps(places.into_iter()), [10, -5, 2, 0, -1, 12]);
    }
}
