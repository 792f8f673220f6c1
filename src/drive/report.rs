//! The numbers of a drive: bouts, metres, hours, and what sections and switch rules drill.

use super::bands::Bands;
use super::bout::Sections;
use super::lane::{self, Slab};
use super::path::Path;
use super::ring_drives::{RULES, sets};
use super::strips::straight;
use super::ways::Ways;
use super::{Report, Switching, curved, work_rate};
use crate::job::Job;
use crate::land::Land;
use crate::units::M2_PER_HA;

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
    let rings = &ways.rings;
    for (row, along) in switching.iter_mut().zip(&ways.ring_drives) {
        let drilled = along.drilled;
        row.rings_again_m2 = (drilled.driven_m2 - drilled.headland_m2).max(0.0);
        let drilled_m2 = drilled.headland_m2 + along.before_m2;
        row.rings_missed_m2 = (rings.headland_m2 - drilled_m2).max(0.0);
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

/// How many rings cover the headland.
pub(super) fn ring_count(land: &Land, job: &Job) -> usize {
    (land.headland_m / job.drill.working_width_m - 1e-6)
        .ceil()
        .max(0.0) as usize
}

/// What every rule drills with these sections, left to right.
pub(super) fn of_sections(edges: &Bands, strips: &[f64], sections_m: &[f64]) -> Vec<Switching> {
    let mut all = RULES.map(|rule| Switching {
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
