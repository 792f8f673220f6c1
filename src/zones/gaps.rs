//! Land that a layer leaves without a class.

use super::faces::Faces;
use crate::coordinates::PlaneXy;
use crate::findings::{Decision, Fault, Finding, Outcome};
use crate::frame::Frame;
use crate::geometry::point::UNITS_PER_M;
use crate::geometry::thin::distance_m;
use crate::geometry::{Pt, UnionFind};
use crate::job::{Job, ZoneLayer};
use crate::read::Layer;
use crate::units::{UnitSystem, nearest_whole};
use std::collections::BTreeMap;

/// Gaps below this are cuts and crumbs of rounding; they are filled like all others.
const SMALLEST_TOLD_M2: f64 = 0.01;

/// Land without a class that touches none and is smaller takes the nearest: exclusions cut off crumbs.
const CRUMB_M2: f64 = 1.0;

/// So many crumbs are no accident any more, and each is looked at from every border.
const MOST_CRUMBS: usize = 1000;

/// A connected piece of land without a class.
#[derive(Default)]
struct Gap {
    area_m2: f64,
    /// Length of the border with each class, in units of the grid: whole numbers, so that the order
    /// of the edges decides nothing.
    borders: BTreeMap<u32, i64>,
}

/// Gives every gap a class by the job's rule.
///
/// # Errors
/// A layer that covers none of the land; a gap that touches no class, where the job names no class
/// for gaps, and that is no crumb.
pub(super) fn fill(
    faces: &mut Faces,
    layers: &[Layer<PlaneXy>],
    job: &Job,
    frame: &Frame,
    findings: &mut Vec<Finding>,
) -> Outcome<()> {
    let land_m2: f64 = land(faces)
        .map(|face| faces.arrangement.area_m2(face))
        .sum();
    let units = job.report.units;
    for (nth, (layer, zone_layer)) in layers.iter().zip(&job.layers).enumerate() {
        if land(faces).all(|face| faces.class[nth][face as usize].is_none()) {
            return Err(Fault::input(
                "zones.layer_misses_land",
                layer.place(),
                format!("layer '{}' covers none of the field", zone_layer.name),
                "a layer that covers the field, gaps aside",
                "check that the file belongs to this field and has values in its class attribute",
            ));
        }
        // Cuts first part the pieces they lie between; what then still has no class (the cuts
        // themselves, a piece between two that meet) takes it across them.
        let mut cuts_part = true;
        let mut gap_m2 = 0.0;
        loop {
            let (gap_of, gaps) = gaps(faces, nth, cuts_part);
            if !cuts_part && gaps.is_empty() {
                break;
            }
            let mut filled: BTreeMap<u32, (u32, String)> = gaps
                .iter()
                .filter_map(|(&first, gap)| {
                    Some((first, class_for(gap, zone_layer, faces, nth, units)?))
                })
                .collect();
            if filled.is_empty() && !cuts_part {
                let is_land = |gap: &Gap| gap.area_m2 >= CRUMB_M2 || gaps.len() > MOST_CRUMBS;
                if let Some((&first, gap)) = gaps.iter().find(|(_, gap)| is_land(gap)) {
                    return Err(isolated(
                        gap,
                        layer,
                        zone_layer,
                        first,
                        faces,
                        (frame, units),
                    ));
                }
                filled = nearest(gaps.keys(), faces, nth, units);
            }
            for (face, gap) in gap_of.iter().enumerate() {
                if let Some((class, _)) = gap.and_then(|gap| filled.get(&gap)) {
                    faces.class[nth][face] = Some(*class);
                }
            }
            for (first, (class, how)) in &filled {
                let gap = &gaps[first];
                if gap.area_m2 < SMALLEST_TOLD_M2 {
                    continue;
                }
                gap_m2 += gap.area_m2;
                let place = frame.to_lon_lat(faces.arrangement.corner(*first).place());
                findings.push(
                    Finding::note(
                        "zones.gap_filled",
                        layer.place().at(place),
                        format!(
                            "layer '{}' leaves {} without a class; it takes '{}', {how}",
                            zone_layer.name,
                            units.small_area(gap.area_m2, 1),
                            faces.classes[nth].names[*class as usize]
                        ),
                    )
                    .area(gap.area_m2),
                );
            }
            cuts_part = false;
        }
        let percent = 100.0 * gap_m2 / land_m2;
        if percent > job.zones.gap_decision_percent {
            findings.push(
                Finding::decision(
                    Decision::GapsLarge,
                    layer.place(),
                    format!(
                        "layer '{}' leaves {}, {percent:.2} % of the land, without a class (more than gap_decision_percent = {}); {}",
                        zone_layer.name,
                        units.area(gap_m2, 2),
                        job.zones.gap_decision_percent,
                        match zone_layer.placed_since {
                            None => "the gaps were filled as noted: set class_of_gaps for this layer, or redraw it, if that is wrong",
                            Some(_) => "nothing is taken off there: write the ledger of what was placed on it, or sign that nothing was",
                        }
                    ),
                )
                .about(&zone_layer.name)
                .area(gap_m2),
            );
        }
    }
    Ok(())
}

fn land(faces: &Faces) -> impl Iterator<Item = u32> {
    (0..faces.fixed.len() as u32).filter(|&face| faces.fixed[face as usize].is_some())
}

/// Gaps of a layer by their lowest face, and per face the gap it is in.
fn gaps(faces: &Faces, layer: usize, cuts_part: bool) -> (Vec<Option<u32>>, BTreeMap<u32, Gap>) {
    let class = &faces.class[layer];
    let is_cut = &faces.is_cut[layer];
    let is_land = |face: u32| faces.fixed[face as usize].is_some();
    let is_gap = |face: u32| is_land(face) && class[face as usize].is_none();
    let mut sets = UnionFind::new(class.len());
    for [left, right] in faces.arrangement.neighbours() {
        let parted = cuts_part && is_cut[left as usize] != is_cut[right as usize];
        if is_gap(left) && is_gap(right) && !parted {
            sets.unite(left, right);
        }
    }
    let gap_of: Vec<Option<u32>> = (0..class.len() as u32)
        .map(|face| is_gap(face).then(|| sets.find(face)))
        .collect();
    let mut gaps: BTreeMap<u32, Gap> = BTreeMap::new();
    for (face, gap) in gap_of.iter().enumerate() {
        if let Some(gap) = gap {
            gaps.entry(*gap).or_default().area_m2 += faces.arrangement.area_m2(face as u32);
        }
    }
    let of_gap = |sides: [u32; 2]| sides.iter().any(|side| gap_of[*side as usize].is_some());
    for ([a, b], [left, right]) in faces.arrangement.edges_between(of_gap) {
        for (here, there) in [(left, right), (right, left)] {
            if let (Some(gap), Some(class)) = (gap_of[here as usize], class[there as usize]) {
                let gap = gaps.entry(gap).or_default();
                *gap.borders.entry(class).or_default() += length_units(a, b);
            }
        }
    }
    (gap_of, gaps)
}

/// Length of an edge in units of the grid, rounded.
pub(super) fn length_units(a: Pt, b: Pt) -> i64 {
    nearest_whole(a.distance_m(b) * UNITS_PER_M)
}

/// The class a gap takes, and why.
fn class_for(
    gap: &Gap,
    layer: &ZoneLayer,
    faces: &Faces,
    nth: usize,
    units: UnitSystem,
) -> Option<(u32, String)> {
    if let Some(class) = layer.class_of_gaps() {
        let number = faces.classes[nth].number(class)?;
        let how = match layer.placed_since {
            None => "as class_of_gaps says",
            Some(_) => "as the ledger does not know it",
        };
        return Some((number, how.to_owned()));
    }
    // The later of two equal borders does not count, so the order of classes decides.
    let longest = gap
        .borders
        .iter()
        .max_by(|a, b| a.1.cmp(b.1).then(b.0.cmp(a.0)))?;
    Some((
        *longest.0,
        format!(
            "with which it shares {} of border, the longest",
            units.length(*longest.1 as f64 / UNITS_PER_M, 1)
        ),
    ))
}

/// The class nearest to the corner of each gap, by its lowest face.
fn nearest<'a>(
    gaps: impl Iterator<Item = &'a u32>,
    faces: &Faces,
    nth: usize,
    units: UnitSystem,
) -> BTreeMap<u32, (u32, String)> {
    let corner = |first: &u32| (*first, faces.arrangement.corner(*first).metres());
    let corners: Vec<(u32, [f64; 2])> = gaps.map(corner).collect();
    let class = |face: u32| faces.class[nth][face as usize];
    let has_class = |sides: [u32; 2]| sides.into_iter().any(|face| class(face).is_some());
    let mut nearest: Vec<Option<(f64, u32)>> = vec![None; corners.len()];
    for (ends, sides) in faces.arrangement.edges_between(has_class) {
        let ends = ends.map(Pt::metres);
        for class in sides.into_iter().filter_map(class) {
            for ((_, corner), best) in corners.iter().zip(&mut nearest) {
                let away = (distance_m(*corner, ends), class);
                if best.is_none_or(|best| away.0 < best.0 || away.0 == best.0 && away.1 < best.1) {
                    *best = Some(away);
                }
            }
        }
    }
    let mut filled = BTreeMap::new();
    for ((first, _), best) in corners.iter().zip(nearest) {
        if let Some((away_m, class)) = best {
            let how = format!(
                "the nearest, {} away; it touches none",
                units.length(away_m, 1)
            );
            filled.insert(*first, (class, how));
        }
    }
    filled
}

fn isolated(
    gap: &Gap,
    layer: &Layer<PlaneXy>,
    zone_layer: &ZoneLayer,
    face: u32,
    faces: &Faces,
    (frame, units): (&Frame, UnitSystem),
) -> Box<Fault> {
    Fault::input(
        "zones.part_not_covered",
        layer
            .place()
            .at(frame.to_lon_lat(faces.arrangement.corner(face).place())),
        format!(
            "layer '{}' leaves a part of {} without a class, and that part touches no class",
            zone_layer.name,
            units.small_area(gap.area_m2, 1)
        ),
        "layers that reach every part of the field, or class_of_gaps",
        "set class_of_gaps for this layer, or extend it to this part",
    )
}
