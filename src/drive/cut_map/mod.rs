//! The map cut to what the drill lays: pieces as wide as the drill, for one meter per product serves all of its width, along
//! bouts and rings, cut across where that costs least against what is wanted. Method: docs/methods/cut-map.md.

mod along;
mod cuts;
mod growing;
mod report;
mod rule;

pub use cuts::{Lane, places};
pub use report::{ProductReport, Report};
pub use rule::{PieceRate, TOUCHED_M2, Wanted};

use super::bout::Bout;
use super::path::on_grid;
use super::rims;
use super::row_borders::RowBorders;
use super::work_rate;
use crate::geometry::point::area2_to_m2;
use crate::geometry::{Arrangement, Overlay, Shape};
use crate::job::{Job, LandPart};
use crate::zones::LandUnits;
use rayon::prelude::*;
use std::collections::BTreeMap;

/// A piece goes this much beyond the ends of an open way, m, so that rounding leaves nothing before them.
const BEYOND_M: f64 = 0.01;

/// A piece of the cut map.
#[derive(Debug, Clone, PartialEq)]
pub struct Piece {
    /// The bout that lays it, from 1.
    pub bout: usize,
    /// Stations between which it lies, m.
    pub from_m: f64,
    pub to_m: f64,
    /// Land that is laid with it for the first time: rows with their area, m2.
    pub land: Vec<(u32, f64)>,
    /// Per product; `None` for one that keeps its rates.
    pub rates: Vec<Option<PieceRate>>,
}

/// Land cut into pieces.
pub struct CutLand {
    /// Everything that has a border on the land or is the border of a piece.
    pub arrangement: Arrangement,
    /// Per face: the row of the rate table, and the piece (by its place in `pieces`) that lays it; no piece where no
    /// bout drives the land.
    pub of_face: Vec<Option<(u32, Option<u32>)>>,
    pub pieces: Vec<Piece>,
}

/// The least length of a piece along a bout, m: the longest that any change of rate takes there, and what the job says.
pub fn least_m(speed_km_per_h: f64, job: &Job) -> f64 {
    let delays = super::Delays::of(job);
    let in_stream = job.products.iter().zip(&delays);
    let in_stream = in_stream.filter(|(product, _)| !product.surface_applied);
    let longest_s = in_stream
        .flat_map(|(_, of)| [of.start_s, of.stop_s, of.step_up_s, of.step_down_s])
        .fold(0.0, f64::max);
    let shortest_m = job.drive.as_ref().and_then(|drive| drive.shortest_piece_m);
    let shortest_m = shortest_m.unwrap_or(job.drill.working_width_m);
    work_rate::metres(speed_km_per_h, longest_s).max(shortest_m)
}

/// Cuts land along the bouts. Headland and interior lie in no piece together: rings lay the one, interior bouts the other. Where
/// several drive over the same land, the first of them lays it.
pub fn cut(bouts: &[Bout], units: &LandUnits, wanted: &Wanted, job: &Job) -> CutLand {
    let borders = RowBorders::of(units);
    let half_m = job.drill.working_width_m / 2.0;
    let part_of = |row: u32| units.rows.get(row as usize).map(|(facts, _)| facts.part);
    let cuts_of = |bout: &Bout| {
        let least_m = least_m(bout.speed_km_per_h, job);
        let lane = borders.lane(&bout.path, half_m, least_m, &|row| {
            part_of(row) == Some(bout.part)
        });
        let cuts = lane.cuts(wanted, least_m);
        cuts.iter()
            .filter_map(|nth| lane.places_m.get(*nth).copied())
            .collect::<Vec<f64>>()
    };
    let cuts: Vec<Vec<f64>> = bouts.par_iter().map(cuts_of).collect();
    let mut overlay = Overlay::default();
    let mut meanings = Vec::new();
    for (row, shape) in units.arrangement.dissolve(&units.row_of_face) {
        overlay.add(shape);
        meanings.push(Meaning::Land(row));
    }
    let mut pieces = Vec::new();
    let mut parts: Vec<LandPart> = Vec::new();
    for (bout, cuts) in bouts.iter().zip(&cuts) {
        let ends = [cuts.first(), cuts.last()];
        for pair in cuts.windows(2) {
            let beyond = |at: &f64| {
                if !bout.path.closed && ends.contains(&Some(at)) {
                    BEYOND_M
                } else {
                    0.0
                }
            };
            let stations = [pair[0] - beyond(&pair[0]), pair[1] + beyond(&pair[1])];
            for ring in bout.path.bands(stations, [-half_m, half_m]) {
                if let Some(exterior) = on_grid(&ring) {
                    overlay.add(Shape {
                        exterior,
                        holes: Vec::new(),
                    });
                    meanings.push(Meaning::Piece(pieces.len() as u32));
                }
            }
            parts.push(bout.part);
            pieces.push(Piece {
                bout: bout.number,
                from_m: pair[0],
                to_m: pair[1],
                land: Vec::new(),
                rates: Vec::new(),
            });
        }
    }
    overlay.share(&rims::shared(bouts));
    let arrangement = overlay.arrange_once();
    let on_face = |face: u32| {
        let (mut row, mut first) = (None, None);
        for polygon in overlay.covering(&arrangement, face) {
            match meanings[polygon as usize] {
                Meaning::Land(of) => row = Some(of),
                // Pieces come in the order in which they are driven.
                Meaning::Piece(piece) => {
                    let same = row.and_then(part_of) == Some(parts[piece as usize]);
                    first = first.or(same.then_some(piece));
                }
            }
        }
        Some((row?, first))
    };
    let mut of_face: Vec<Option<(u32, Option<u32>)>> =
        (0..arrangement.faces() as u32).map(on_face).collect();
    let part_of_piece = |piece: u32| parts.get(piece as usize).copied();
    take_slivers(&arrangement, &mut of_face, &|row, piece| {
        part_of(row) == part_of_piece(piece)
    });
    let mut land: BTreeMap<(u32, u32), i128> = BTreeMap::new();
    for (face, of) in (0..).zip(&of_face) {
        if let Some((row, Some(piece))) = of {
            *land.entry((*piece, *row)).or_default() += arrangement.area2(face);
        }
    }
    for ((piece, row), area2) in land {
        pieces[piece as usize].land.push((row, area2_to_m2(area2)));
    }
    for piece in &mut pieces {
        piece.rates = wanted.rates(&piece.land);
    }
    CutLand {
        arrangement,
        of_face,
        pieces,
    }
}

/// Land smaller than this in no piece is what rounding leaves between pieces, m2: it goes to the piece beside it.
const SLIVER_M2: f64 = 0.05;

/// Gives slivers in no piece to the piece with the longest border beside them that may have them.
fn take_slivers(
    arrangement: &Arrangement,
    of_face: &mut [Option<(u32, Option<u32>)>],
    may_have: &dyn Fn(u32, u32) -> bool,
) {
    let sliver = |face: u32| match of_face.get(face as usize).copied().flatten() {
        Some((row, None)) if arrangement.area_m2(face) < SLIVER_M2 => Some(row),
        _ => None,
    };
    let mut beside: BTreeMap<u32, BTreeMap<u32, f64>> = BTreeMap::new();
    for (ends, [left, right]) in arrangement.edges() {
        for (own, other) in [(left, right), (right, left)] {
            let next = of_face.get(other as usize).copied().flatten();
            let next = next.and_then(|(_, piece)| piece);
            if let (Some(row), Some(piece)) = (sliver(own), next)
                && may_have(row, piece)
            {
                let metres = ends[0].distance_m(ends[1]);
                *beside.entry(own).or_default().entry(piece).or_default() += metres;
            }
        }
    }
    for (face, pieces) in beside {
        let longest = pieces
            .into_iter()
            .max_by(|a, b| a.1.total_cmp(&b.1).then(b.0.cmp(&a.0)));
        if let (Some(Some((_, piece))), Some((of, _))) = (of_face.get_mut(face as usize), longest) {
            *piece = Some(of);
        }
    }
}

/// What a polygon of the overlay stands for; land comes before all pieces.
enum Meaning {
    Land(u32),
    Piece(u32),
}
