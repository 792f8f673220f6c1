//! Bouts: headland rings, and straight interior bouts side by side along a heading.

use super::bout::{self, Sections};
use super::frame::{self, Edge, Turned};
use super::lane::{self, Slab};
use super::path::Path;
use super::rings;
use super::ways::Ways;
use super::{Report, SwitchRule, Switching, curved, work};
use crate::job::{Heading, HeadingRange, HeadlandTurn, Job, Start};
use crate::land::Land;
use rayon::prelude::*;

/// Drives the land on paper; `None` where the job does not ask for it.
pub fn report(land: &Land, job: &Job, ways: &Ways) -> Option<Report> {
    let drive = job.drive.as_ref()?;
    let width_m = job.drill.working_width_m;
    let (edges, strips) = (&ways.edges, &ways.strips);
    let (interior_bouts, interior_m) = if land.is_curved() {
        let one = Sections::one(job)?;
        let bouts = curved::bouts(ways, land, job, None, &one);
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
            metres * width_m / 10_000.0 / work::ha_per_h(width_m, speed, percent / 100.0)
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
    let per_set = switching.len() / sets.len().max(1);
    // Each row is a drive of its own.
    switching.par_iter_mut().enumerate().for_each(|(nth, row)| {
        let Some(widths_m) = sets.get(nth / per_set.max(1)) else {
            return;
        };
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

/// Heading of the interior bouts; `None` where the job asks for no drive.
pub(super) fn heading_deg(land: &Land, job: &Job) -> Option<f64> {
    let drive = job.drive.as_ref()?;
    if let Some([a, .., b]) = land.guide.as_deref() {
        let degrees = (b[0] - a[0]).atan2(b[1] - a[1]).to_degrees();
        return Some(degrees.rem_euclid(360.0));
    }
    Some(match (drive.heading_deg, drive.heading) {
        (Some(heading), _) => heading.rem_euclid(360.0),
        (None, Heading::LongestEdge) => frame::longest_side_deg(&land.land).unwrap_or(0.0),
        (None, Heading::FewestTurns) => fewest_bouts_deg(land, job),
    })
}

/// Lowest and highest place across the heading.
fn across(edges: &[Edge]) -> Option<[f64; 2]> {
    let places = edges.iter().map(|edge| [edge.from[1], edge.from[1]]);
    places.reduce(|a, b| [a[0].min(b[0]), a[1].max(b[1])])
}

/// Strips of one working width, from the edge on the right of the heading; where tramlines start with half
/// a bout, the first strip lies half outside. Along an A-B line, one strip has it in its middle.
pub(super) fn strips(edges: &[Edge], land: &Land, job: &Job, heading_deg: f64) -> Vec<f64> {
    if let Some([a, ..]) = land.guide.as_deref() {
        let width_m = job.drill.working_width_m;
        let line = Turned::to(heading_deg).of(*a)[1];
        return strips_along(edges, width_m, line);
    }
    from_edge(edges, job)
}

/// Strips of which one has a line in its middle; `line` is its place across the heading.
pub(super) fn strips_along(edges: &[Edge], width_m: f64, line: f64) -> Vec<f64> {
    let Some([low, high]) = across(edges) else {
        return Vec::new();
    };
    let rim = line - width_m / 2.0;
    // A sliver within the plane's grid is no bout.
    let first = ((low - rim) / width_m + 1e-6).floor() as i64;
    let end = ((high - rim) / width_m - 1e-6).ceil() as i64;
    let place = |nth: i64| rim + nth as f64 * width_m;
    (first..end).map(place).collect()
}

fn from_edge(edges: &[Edge], job: &Job) -> Vec<f64> {
    let half = job
        .tramline
        .as_ref()
        .is_some_and(|tramline| tramline.start == Start::Half);
    strips_of(edges, job.drill.working_width_m, half)
}

pub(super) fn strips_of(edges: &[Edge], width_m: f64, half: bool) -> Vec<f64> {
    let [low, high] = across(edges).unwrap_or([0.0, 0.0]);
    let low = if half && high > low {
        low - width_m / 2.0
    } else {
        low
    };
    // A sliver within the plane's grid of a whole number of bouts is no bout.
    let count = ((high - low) / width_m - 1e-6).ceil().max(0.0) as usize;
    (0..count).map(|nth| low + nth as f64 * width_m).collect()
}

/// Number and length of the interior bouts at full width.
fn straight(edges: &[Edge], strips: &[f64], width_m: f64) -> (usize, f64) {
    let (mut bouts, mut metres) = (0, 0.0);
    for &low in strips {
        let slabs = lane::profile(edges, low, low + width_m);
        let on = lane::drilled(&slabs, width_m, SwitchRule::AnyPartIn).on_m;
        bouts += on.len();
        metres += on.iter().map(|[from, to]| to - from).sum::<f64>();
    }
    (bouts, metres)
}

/// The heading with the fewest bouts, of these the one with the shortest way: the longest edge and every
/// whole degree, but for those to avoid; of equal ones the first.
fn fewest_bouts_deg(land: &Land, job: &Job) -> f64 {
    let avoid: &[HeadingRange] = job.drive.as_ref().map_or(&[], |drive| &drive.avoid);
    let edge = frame::longest_side_deg(&land.land);
    let tried = edge.into_iter().chain((0..180).map(f64::from));
    let mut best: Option<(usize, f64, f64)> = None;
    for heading in tried {
        if avoid.iter().any(|range| range.holds(heading)) {
            continue;
        }
        let edges = frame::edges(&land.interior, heading);
        let strips = from_edge(&edges, job);
        let (bouts, metres) = straight(&edges, &strips, job.drill.working_width_m);
        let better = best.is_none_or(|(fewest, shortest, _)| {
            bouts < fewest || (bouts == fewest && metres < shortest - 1e-6)
        });
        if better {
            best = Some((bouts, metres, heading));
        }
    }
    best.map_or(0.0, |(_, _, heading)| heading)
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
pub(super) fn of_sections(edges: &[Edge], strips: &[f64], sections_m: &[f64]) -> Vec<Switching> {
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
