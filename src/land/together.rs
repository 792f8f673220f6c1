//! The field and what is left out of it, with borders that lie too near each other for a file brought together.
//! Method: docs/methods/near-borders.md

use crate::findings::{Finding, Place};
use crate::frame::Frame;
use crate::geometry::together::{NEAREST_M, Together, bring_together};
use crate::geometry::{Overlay, Shape};
use crate::units::UnitSystem;
use std::collections::BTreeMap;

/// Borders by how much they count: what is left out keeps its border, and that of the field goes to it.
const LEFT_OUT: u8 = 0;
const OUTLINE: u8 = 1;

/// What changes sides below this is not told, m2: points of one bend, and ends of cuts.
const LEAST_TOLD_M2: f64 = 0.0001;

/// The field, what each exclusion leaves out, and the land: the field less all exclusions.
pub(super) struct Parts {
    pub field: Vec<Shape>,
    pub exclusions: Vec<Vec<Shape>>,
    pub land: Vec<Shape>,
    /// What was brought together.
    pub together: Option<Together>,
}

/// Cuts field and exclusions where they meet.
pub(super) fn parts(field: Vec<Shape>, exclusions: Vec<Vec<Shape>>, frame: &Frame) -> Parts {
    const FIELD: usize = 0;
    let mut overlay = Overlay::default();
    let mut part_of: Vec<usize> = Vec::new();
    let all = std::iter::once(&field).chain(&exclusions);
    for (part, shapes) in all.enumerate() {
        for shape in shapes {
            overlay.add(shape.clone());
            part_of.push(part);
        }
    }
    let mut arrangement = overlay.arrange();
    // Per face the parts that it belongs to, as a number.
    let mut numbers: BTreeMap<Vec<usize>, u32> = BTreeMap::new();
    let faces = 0..arrangement.faces() as u32;
    let mut group: Vec<Option<u32>> = faces
        .map(|face| {
            let covering = overlay.covering(&arrangement, face).into_iter();
            let mut parts: Vec<usize> = covering.map(|nth| part_of[nth as usize]).collect();
            parts.dedup();
            let next = numbers.len() as u32;
            (!parts.is_empty()).then(|| *numbers.entry(parts).or_insert(next))
        })
        .collect();
    let mut parts: Vec<&[usize]> = vec![&[]; numbers.len()];
    for (of, number) in &numbers {
        parts[*number as usize] = of;
    }
    let parts_of = |group: Option<u32>| group.map_or(&[][..], |group| parts[group as usize]);
    let left_out = |group| parts_of(group).iter().filter(|part| **part != FIELD);
    let rank = |[left, right]: [Option<u32>; 2]| match left_out(left).eq(left_out(right)) {
        true => OUTLINE,
        false => LEFT_OUT,
    };
    let longest_m = frame.longest_straight_m() / 2.0;
    let mut together = bring_together(&arrangement, &group, longest_m, rank);
    if let Some(brought) = &mut together {
        arrangement = brought.arrangement.clone();
        group = brought.group.clone();
    }
    let where_parts = |test: &dyn Fn(&[usize]) -> bool| -> Vec<Shape> {
        let wanted: Vec<Option<u32>> = group
            .iter()
            .map(|group| test(parts_of(*group)).then_some(0))
            .collect();
        let shapes = arrangement.dissolve(&wanted).into_iter();
        shapes.map(|(_, shape)| shape).collect()
    };
    let land = where_parts(&|parts| parts == [FIELD]);
    let (field, exclusions) = match &together {
        None => (field, exclusions),
        Some(_) => (
            where_parts(&|parts| parts.contains(&FIELD)),
            (1..=exclusions.len())
                .map(|nth| where_parts(&|parts| parts.contains(&nth)))
                .collect(),
        ),
    };
    Parts {
        field,
        exclusions,
        land,
        together,
    }
}

/// What was brought together, in words; nothing where hardly any land changed sides.
pub fn told_together(
    code: &'static str,
    together: &Together,
    place: Place,
    frame: &Frame,
    units: UnitSystem,
) -> Option<Finding> {
    let places = together.places.iter();
    let told: Vec<_> = places
        .filter(|(area_m2, _)| *area_m2 >= LEAST_TOLD_M2)
        .collect();
    let (largest_m2, at) = told.first()?;
    let message = format!(
        "borders lie less than {} apart in {} places, nearer than a file can hold them; they were brought together there, and {} joined what lies beside (the largest, {}, is here)",
        units.small_length(NEAREST_M),
        told.len(),
        units.small_area(together.area_m2, 4),
        units.small_area(*largest_m2, 4)
    );
    let place = place.at(frame.to_lon_lat(at.place()));
    Some(Finding::note(code, place, message).area(together.area_m2))
}
