//! Borders that lie too near each other for a file, brought together before rates are given. Method:
//! docs/methods/near-borders.md

use super::{Facts, LandUnits};
use crate::findings::{Finding, Place};
use crate::frame::Frame;
use crate::geometry::together::{Together, bring_together};
use crate::job::Job;
use crate::land::told_together;
use std::collections::BTreeSet;

/// Borders by how much they count, the first most: between land where something is off and land where it is not,
/// so that a product stays off where it is off; the border of the land; all others.
const OFF: u8 = 0;
const OUTLINE: u8 = 1;
const OTHER: u8 = 2;

/// The land units with their borders brought together. A row that has no land any more goes.
pub(super) fn brought(
    units: LandUnits,
    job: &Job,
    frame: &Frame,
    findings: &mut Vec<Finding>,
) -> LandUnits {
    with_rows_kept(units, job, frame, findings).0
}

/// The same, and which of the rows have kept land.
pub(super) fn with_rows_kept(
    units: LandUnits,
    job: &Job,
    frame: &Frame,
    findings: &mut Vec<Finding>,
) -> (LandUnits, Vec<bool>) {
    let off: Vec<BTreeSet<Off>> = units
        .rows
        .iter()
        .map(|(facts, _)| off(facts, job))
        .collect();
    let rank = |rows: [Option<u32>; 2]| match rows.map(|row| row.map(|row| &off[row as usize])) {
        [Some(left), Some(right)] if left != right => OFF,
        [Some(_), Some(_)] => OTHER,
        _ => OUTLINE,
    };
    let longest_m = frame.longest_straight_m() / 2.0;
    let Some(together) = bring_together(&units.arrangement, &units.row_of_face, longest_m, rank)
    else {
        let kept = vec![true; units.rows.len()];
        return (units, kept);
    };
    let told = told_together(
        "zones.threads_joined",
        &together,
        Place::nowhere(),
        frame,
        job.report.units,
    );
    findings.extend(told);
    let Together {
        arrangement, group, ..
    } = together;
    let mut area2 = vec![0_i128; units.rows.len()];
    for (face, row) in (0..).zip(&group) {
        if let Some(row) = row {
            area2[*row as usize] += arrangement.area2(face);
        }
    }
    let mut number_of = Vec::with_capacity(area2.len());
    let mut kept = 0;
    for area2 in &area2 {
        number_of.push((*area2 > 0).then_some(kept));
        kept += u32::from(*area2 > 0);
    }
    let row_of_face: Vec<Option<u32>> = group
        .iter()
        .map(|row| number_of[(*row)? as usize])
        .collect();
    let rows: Vec<(Facts, i128)> = units
        .rows
        .into_iter()
        .zip(area2)
        .filter(|(_, area2)| *area2 > 0)
        .map(|((facts, _), area2)| (facts, area2))
        .collect();
    let units = LandUnits {
        pieces: arrangement.dissolve(&row_of_face).len(),
        classes: super::areas_of_classes(&rows, job.layers.len()),
        arrangement,
        row_of_face,
        rows,
        setback_at_border: units.setback_at_border,
    };
    (units, number_of.iter().map(Option::is_some).collect())
}

/// Something that takes products from land: a setback or a special area, by its number in the job.
#[derive(PartialEq, Eq, PartialOrd, Ord)]
enum Off {
    Setback(usize),
    SpecialArea(usize),
}

fn off(facts: &Facts, job: &Job) -> BTreeSet<Off> {
    let takes = |nth: &&usize| {
        let area = job.special_areas.get(**nth);
        area.is_some_and(|area| area.percent.values().any(|percent| *percent == 0.0))
    };
    let areas = facts.special_areas.iter().filter(takes);
    let setbacks = facts.setbacks.iter().map(|nth| Off::Setback(*nth));
    setbacks
        .chain(areas.map(|nth| Off::SpecialArea(*nth)))
        .collect()
}
