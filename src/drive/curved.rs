//! Interior bouts along a curve, and what sections save on them.

use super::borders::Borders;
use super::bout::{Bout, ClosedAlong, Section, Sections, closed_rows};
use super::curve::{self, Line};
use super::lane::{self, Slab};
use super::path::{Path, area_m2, on_grid};
use super::ring_drives::RULES;
use super::tramline::Rhythm;
use super::ways::Ways;
use super::{SwitchRule, Switching};
use crate::geometry::{Overlay, Shape};
use crate::job::{Job, LandPart};
use crate::land::Land;

/// Strips are driven up and down, the first (from 0) against the direction of the guide, as straight ones are.
fn is_backwards(strip: usize) -> bool {
    strip.is_multiple_of(2)
}

/// A line as it is driven.
fn driven(line: &Line, strip: usize) -> Path {
    let mut points = line.clone();
    if is_backwards(strip) {
        points.reverse();
    }
    Path::new(&points, false)
}

/// The ways of a strip on which any part of the drill is in the interior, in the order in which they are driven:
/// the whole path, and from where to where.
fn ways(
    lines: &[Line],
    strip: usize,
    interior: &Borders,
    width_m: f64,
) -> Vec<(Path, Vec<[f64; 2]>)> {
    let half = width_m / 2.0;
    let mut ways: Vec<(Path, Vec<[f64; 2]>)> = lines
        .iter()
        .map(|line| {
            let path = driven(line, strip);
            let on = curve::drilled(&path, interior, [-half, half], SwitchRule::AnyPartIn).on_m;
            (path, on)
        })
        .collect();
    if is_backwards(strip) {
        ways.reverse();
    }
    ways
}

/// The bouts along the curve; empty where the guide is none.
pub(super) fn bouts(
    along: &Ways,
    job: &Job,
    rhythm: Option<&Rhythm>,
    sections_of: &Sections,
) -> Vec<Bout> {
    let width_m = job.drill.working_width_m;
    let mut bouts = Vec::new();
    for (nth, lines) in along.curves.iter().enumerate() {
        for (path, on) in ways(lines, nth, &along.interior, width_m) {
            let sections: Vec<([f64; 2], Vec<[f64; 2]>)> = sections_of
                .rims(job)
                .into_iter()
                .map(|left_m| {
                    let drilled = curve::drilled(&path, &along.interior, left_m, sections_of.rule);
                    (left_m, drilled.on_m)
                })
                .collect();
            for [from, to] in on {
                let of_section = |(left_m, on): &([f64; 2], Vec<[f64; 2]>)| Section {
                    left_m: *left_m,
                    on_m: on
                        .iter()
                        .filter(|[a, b]| *b > from && *a < to)
                        .map(|[a, b]| [a.max(from) - from, b.min(to) - from])
                        .collect(),
                };
                bouts.push(Bout {
                    number: 0,
                    part: LandPart::Interior,
                    strip: Some(nth + 1),
                    path: path.between(from, to),
                    sections: sections.iter().map(of_section).collect(),
                    closed: closed_rows(nth, job, rhythm),
                    closed_along: ClosedAlong::AllTheWay,
                    speed_km_per_h: job.drill.speed_km_per_h,
                });
            }
        }
    }
    bouts
}

/// What every rule drills with each set of sections (left to right); areas by an overlay of all ground driven.
pub(super) fn switching(along: &Ways, land: &Land, job: &Job, sets: &[Vec<f64>]) -> Vec<Switching> {
    let width_m = job.drill.working_width_m;
    let paths: Vec<Path> = along
        .curves
        .iter()
        .enumerate()
        .flat_map(|(nth, lines)| lines.iter().map(move |line| driven(line, nth)))
        .collect();
    let mut all = Vec::new();
    for sections in sets {
        let mut overlays = RULES.map(|_| (Overlay::default(), 0.0));
        for (overlay, _) in &mut overlays {
            land.interior.iter().for_each(|shape| {
                overlay.add(shape.clone());
            });
        }
        for path in &paths {
            let mut left = width_m / 2.0;
            let lanes = sections.iter().map(|width| {
                let lane = [left - width, left];
                left -= width;
                (lane, curve::along(path, &along.interior, lane))
            });
            let lanes: Vec<([f64; 2], Vec<Slab>)> = lanes.collect();
            for (rule, (overlay, driven_m2)) in RULES.iter().zip(&mut overlays) {
                let on = lanes.iter().map(|(lane, slabs)| {
                    let drilled = lane::drilled(slabs, lane[1] - lane[0], *rule);
                    (*lane, drilled.on_m)
                });
                for (stations, left_m) in side_by_side(&on.collect::<Vec<_>>()) {
                    for ring in path.bands(stations, left_m) {
                        if let Some(exterior) = on_grid(&ring) {
                            *driven_m2 += area_m2(&ring);
                            overlay.add(Shape {
                                exterior,
                                holes: Vec::new(),
                            });
                        }
                    }
                }
            }
        }
        for (rule, (overlay, driven_m2)) in RULES.into_iter().zip(overlays) {
            let interior = land.interior.len() as u32;
            let arrangement = overlay.arrange();
            let (mut inside_m2, mut missed_m2) = (0.0, 0.0);
            for face in 1..arrangement.faces() as u32 {
                let covering = overlay.covering(&arrangement, face);
                if covering.iter().any(|polygon| *polygon < interior) {
                    let is_driven = covering.iter().any(|polygon| *polygon >= interior);
                    let sum = if is_driven {
                        &mut inside_m2
                    } else {
                        &mut missed_m2
                    };
                    *sum += arrangement.area_m2(face);
                }
            }
            all.push(Switching {
                sections: sections.len(),
                rule,
                inside_m2,
                // All that is driven but the interior once: beyond it, and a second time where a curve folds.
                beyond_m2: (driven_m2 - inside_m2).max(0.0),
                missed_m2,
                rings_again_m2: 0.0,
                rings_missed_m2: 0.0,
                beyond_kg: Vec::new(),
                saved_kg: Vec::new(),
            });
        }
    }
    all
}

/// Ground of a way: between which stations, and its right and its left rim.
type Ground = ([f64; 2], [f64; 2]);

/// The ground of sections (rims, and where they are on; from the left) with those side by side that are on together as one.
fn side_by_side(sections: &[([f64; 2], Vec<[f64; 2]>)]) -> Vec<Ground> {
    let mut stations: Vec<f64> = sections
        .iter()
        .flat_map(|(_, on)| on.iter().flatten().copied())
        .collect();
    stations.sort_by(f64::total_cmp);
    stations.dedup();
    let mut ground: Vec<Ground> = Vec::new();
    // What goes on up to here.
    let mut open: Vec<Ground> = Vec::new();
    for pair in stations.windows(2) {
        let &[from, to] = pair else { continue };
        let middle = (from + to) / 2.0;
        let is_on = |on: &[[f64; 2]]| {
            let next = on.partition_point(|[_, end]| *end < middle);
            on.get(next).is_some_and(|[begin, _]| *begin < middle)
        };
        let mut here: Vec<[f64; 2]> = Vec::new();
        for (left_m, _) in sections.iter().filter(|(_, on)| is_on(on)) {
            match here.last_mut() {
                Some(last) if last[0] == left_m[1] => last[0] = left_m[0],
                _ => here.push(*left_m),
            }
        }
        let goes_on = |of: &Ground| here.contains(&of.1);
        let (on, over): (Vec<Ground>, Vec<Ground>) = open.into_iter().partition(goes_on);
        ground.extend(over);
        open = here
            .into_iter()
            .map(|left_m| {
                let before = on.iter().find(|of| of.1 == left_m);
                let from = before.map_or(from, |(stations, _)| stations[0]);
                ([from, to], left_m)
            })
            .collect();
    }
    ground.extend(open);
    ground
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn sections_that_are_on_together_are_one_piece_of_ground() {
        let sections = [
            ([1.0, 3.0], vec![[0.0, 50.0]]),
            ([-1.0, 1.0], vec![[2.0, 20.0], [30.0, 50.0]]),
            ([-3.0, -1.0], vec![[4.0, 50.0]]),
        ];
        let mut ground = side_by_side(&sections);
        ground.sort_by(|a, b| a.0[0].total_cmp(&b.0[0]).then(b.1[1].total_cmp(&a.1[1])));
        let expected = [
            ([0.0, 2.0], [1.0, 3.0]),
            ([2.0, 4.0], [-1.0, 3.0]),
            ([4.0, 20.0], [-3.0, 3.0]),
            ([20.0, 30.0], [1.0, 3.0]),
            ([20.0, 30.0], [-3.0, -1.0]),
            ([30.0, 50.0], [-3.0, 3.0]),
        ];
        assert_eq!(ground, expected);
        assert!(side_by_side(&[([0.0, 1.0], Vec::new())]).is_empty());
    }
}
