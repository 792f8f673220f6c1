//! Pieces too small to matter join a neighbour.

use super::faces::Faces;
use super::gaps::length_units;
use crate::findings::{Finding, Place};
use crate::frame::Frame;
use crate::job::Job;
use std::collections::BTreeMap;

/// Rounds after which a piece that is still too small stays.
const MOST_ROUNDS: usize = 10;

/// Gives every piece smaller than `sliver_area_m2` of the job the classes of the neighbour with the longest shared
/// border. A neighbour is land in the same land part, setbacks and special areas, so that nothing is
/// switched on or off by cleaning.
pub(super) fn merge(faces: &mut Faces, job: &Job, frame: &Frame, findings: &mut Vec<Finding>) {
    let (smallest_m2, units) = (job.zones.sliver_area_m2, job.report.units);
    let mut merged: Vec<(f64, u32)> = Vec::new();
    for _ in 0..MOST_ROUNDS {
        let round = merge_once(faces, smallest_m2);
        if round.is_empty() {
            break;
        }
        merged.extend(round);
    }
    if merged.is_empty() {
        return;
    }
    let area_m2: f64 = merged.iter().map(|(area, _)| area).sum();
    let largest = merged
        .iter()
        .max_by(|a, b| a.0.total_cmp(&b.0).then(b.1.cmp(&a.1)));
    let place = largest.map_or(Place::nowhere(), |&(_, face)| {
        Place::nowhere().at(frame.to_lon_lat(faces.arrangement.corner(face).place()))
    });
    findings.push(
        Finding::note(
            "zones.slivers_merged",
            place,
            format!(
                "{} pieces under {}, {} in all, joined the neighbour with the longest shared border (the largest, {}, is here)",
                merged.len(),
                units.given_small_area(smallest_m2),
                units.small_area(area_m2, 1),
                units.small_area(largest.map_or(0.0, |(area, _)| *area), 1)
            ),
        )
        .area(area_m2),
    );
}

/// One round: area and lowest face of each piece that joined a neighbour.
fn merge_once(faces: &mut Faces, smallest_m2: f64) -> Vec<(f64, u32)> {
    let (pieces, piece_of) = faces.pieces();
    let mut area = vec![0.0; piece_of.len()];
    for (face, &piece) in piece_of.iter().enumerate() {
        if faces.fixed[face].is_some() {
            area[piece as usize] += faces.arrangement.area_m2(face as u32);
        }
    }
    let mut small: Vec<(f64, u32)> = pieces
        .iter()
        .map(|&piece| (area[piece as usize], piece))
        .filter(|(area, _)| *area < smallest_m2)
        .collect();
    small.sort_by(|a, b| a.0.total_cmp(&b.0).then(a.1.cmp(&b.1)));
    if small.is_empty() {
        return Vec::new();
    }
    // Borders of the small pieces, by neighbouring piece.
    let mut borders: BTreeMap<u32, BTreeMap<u32, i64>> = small
        .iter()
        .map(|&(_, piece)| (piece, BTreeMap::new()))
        .collect();
    let mut is_small = vec![false; piece_of.len()];
    small
        .iter()
        .for_each(|&(_, piece)| is_small[piece as usize] = true);
    let of_small = |sides: [u32; 2]| {
        let pieces = sides.map(|face| piece_of[face as usize]);
        pieces[0] != pieces[1] && pieces.iter().any(|piece| is_small[*piece as usize])
    };
    for ([a, b], sides) in faces.arrangement.edges_between(of_small) {
        let [left, right] = sides.map(|face| piece_of[face as usize]);
        for (here, there) in [(left, right), (right, left)] {
            let may_join = faces.fixed[here as usize] == faces.fixed[there as usize];
            if may_join && let Some(list) = borders.get_mut(&here) {
                *list.entry(there).or_default() += length_units(a, b);
            }
        }
    }
    let mut members: BTreeMap<u32, Vec<u32>> = BTreeMap::new();
    for (face, &piece) in piece_of.iter().enumerate() {
        if borders.contains_key(&piece) {
            members.entry(piece).or_default().push(face as u32);
        }
    }
    let mut joined = Vec::new();
    for (area, piece) in small {
        // A neighbour that has become alike in this round is no neighbour any more.
        let neighbour = borders[&piece]
            .iter()
            .filter(|(there, _)| !faces.alike(piece, **there))
            .max_by(|a, b| a.1.cmp(b.1).then(b.0.cmp(a.0)));
        let Some((&neighbour, _)) = neighbour else {
            continue;
        };
        for &face in &members[&piece] {
            for class in &mut faces.class {
                class[face as usize] = class[neighbour as usize];
            }
        }
        joined.push((area, piece));
    }
    joined
}
