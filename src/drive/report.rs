//! The numbers of a drive: bouts, metres, hours, and what sections and switch rules drill.

use super::bands::Bands;
use super::bout::{self, Sections};
use super::lane::{self, Slab};
use super::path::Path;
use super::rings;
use super::strips::straight;
use super::ways::Ways;
use super::{Report, SwitchRule, Switching, curved, work_rate};
use crate::job::{HeadlandTurn, Job};
use crate::land::Land;
use crate::units::M2_PER_HA;
use rayon::prelude::*;

/// Drives the land on paper; `None` where the job does not ask for it.
pub fn report(land: &Land, job: &Job, ways: &Ways) -> Option<Report> {
    let drive = job.drive.as_ref()?;
    let width_m = job.drill.working_width_m;
    let (edges, strips) = (&ways.edges, &ways.strips);
    let (interior_bouts, interior_m) = if land.is_curved() {
        let one = Sections::one(job)?;
        let bouts = curved::bouts(ways, job, None, &one);
        let metres = bouts.iter().map(|bout| bout.path.length_m());
        (bouts.len(), metres.sum())
    } else {
        straight(edges, strips, width_m)
    };
    let headland_rings = ring_count(land, job);
    let headland_m = ways.rings.ways.iter().map(Path::length_m).sum();
    let turns = interior_bouts.saturating_sub(1);
    let hours = drive.field_efficiency_percent.map(|percent| {
        let speed = job.drill.speed_km_per_h;
        let headland_speed = job.drill.headland_speed_km_per_h.unwrap_or(speed);
        let hours = |metres: f64, speed: f64| {
            metres * width_m / M2_PER_HA / work_rate::ha_per_h(width_m, speed, percent / 100.0)
        };
        hours(interior_m, speed) + hours(headland_m, headland_speed)
    });
    let sets = sets(job);
    let mut switching = if land.is_curved() {
        curved::switching(ways, land, job, &sets)
    } else {
        let of_set = |sections: &Vec<f64>| of_sections(edges, strips, sections);
        sets.iter().flat_map(of_set).collect()
    };
    if !ways.rings.ways.is_empty() {
        along_rings(&mut switching, &sets, land, job, ways);
    }
    Some(Report {
        heading_deg: ways.heading_deg,
        along_curve: land.is_curved(),
        interior_bouts,
        interior_m,
        headland_rings,
        headland_m,
        turns,
        hours,
        switching,
    })
}

/// Adds what each set of sections drills by each rule along the headland rings; rows in the order of the sets.
fn along_rings(
    switching: &mut [Switching],
    sets: &[Vec<f64>],
    land: &Land,
    job: &Job,
    ways: &Ways,
) {
    let rings = &ways.rings;
    let last = job.drive.as_ref().map(|drive| drive.headland) == Some(HeadlandTurn::Last);
    let per_set = switching.len() / sets.len();
    // Each row is a drive of its own.
    switching.par_iter_mut().enumerate().for_each(|(nth, row)| {
        let widths_m = &sets[nth / per_set];
        let sections = Sections {
            widths_m: widths_m.clone(),
            rule: row.rule,
        };
        let before = match last {
            true => bout::interior(ways, land, job, None, &sections),
            false => Vec::new(),
        };
        let (_, drilled) = rings::bouts(rings, &before, job, &sections);
        row.rings_again_m2 = (drilled.driven_m2 - drilled.headland_m2).max(0.0);
        let drilled_m2 = drilled.headland_m2 + rings::drilled_m2(rings, &before);
        row.rings_missed_m2 = (rings.headland_m2 - drilled_m2).max(0.0);
    });
}

/// How many rings cover the headland.
pub(super) fn ring_count(land: &Land, job: &Job) -> usize {
    (land.headland_m / job.drill.working_width_m - 1e-6)
        .ceil()
        .max(0.0) as usize
}

/// Sections to compare, left to right: one, as many as the job asks for, and those of the drill.
fn sets(job: &Job) -> Vec<Vec<f64>> {
    let width_m = job.drill.working_width_m;
    let mut sets: Vec<Vec<f64>> = vec![vec![width_m]];
    let asked = job.drive.iter().flat_map(|drive| &drive.compare_sections);
    let asked = asked.map(|count| vec![width_m / f64::from(*count); *count as usize]);
    let own = Some(job.drill.sections_m.clone()).filter(|own| !own.is_empty());
    for set in asked.chain(own) {
        let same = |known: &Vec<f64>| {
            let close = |(a, b): (&f64, &f64)| (a - b).abs() < 1e-9;
            known.len() == set.len() && known.iter().zip(&set).all(close)
        };
        if !sets.iter().any(same) {
            sets.push(set);
        }
    }
    sets
}

/// What every rule drills with these sections, left to right.
pub(super) fn of_sections(edges: &Bands, strips: &[f64], sections_m: &[f64]) -> Vec<Switching> {
    let rules = [SwitchRule::AnyPartIn, SwitchRule::HalfIn, SwitchRule::AllIn];
    let mut all = rules.map(|rule| Switching {
        sections: sections_m.len(),
        rule,
        inside_m2: 0.0,
        beyond_m2: 0.0,
        missed_m2: 0.0,
        rings_again_m2: 0.0,
        rings_missed_m2: 0.0,
        beyond_kg: Vec::new(),
        saved_kg: Vec::new(),
    });
    for (nth, low) in strips.iter().enumerate() {
        let mut from = *low;
        // Bouts are driven up and down, the first with the edge on its left.
        let order: Vec<f64> = if nth.is_multiple_of(2) {
            sections_m.to_vec()
        } else {
            sections_m.iter().rev().copied().collect()
        };
        for width in order {
            let slabs: Vec<Slab> = lane::profile(edges, from, from + width);
            for sums in &mut all {
                let drilled = lane::drilled(&slabs, width, sums.rule);
                sums.inside_m2 += drilled.inside_m2;
                sums.beyond_m2 += drilled.outside_m2;
                sums.missed_m2 += drilled.missed_m2;
            }
            from += width;
        }
    }
    all.to_vec()
}
