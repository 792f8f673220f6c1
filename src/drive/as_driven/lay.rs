//! The bouts on the land: one overlay of land units, stretches and closed rows.

use super::super::bout::{Bout, ClosedAlong, ClosedRow};
use super::super::closed_flow::{self, ExtraFlow, SownStretch};
use super::super::flow;
use super::super::look_up::Map;
use super::super::path::{area_m2, on_grid};
use super::super::rims;
use super::swaths::{GroundOf, Swath, close, cut_alike, swaths};
use super::{BoutSums, Carried, Ground};
use crate::geometry::{Overlay, Ring, Shape};
use crate::job::{Job, ShutFlows};
use crate::units::M2_PER_HA;
use std::collections::BTreeMap;

/// What a polygon of the overlay stands for.
enum Meaning {
    Land(u32),
    Piece(u32),
    /// Closed rows of a bout.
    Closed(u32),
}

/// A stretch on the ground: its bout, and what is sown on it.
#[derive(Clone, Copy)]
struct Piece {
    bout: u32,
    sown: u32,
}

/// What a stretch puts down.
pub(super) struct Sown {
    kg_per_ha: Vec<f64>,
    /// Per product: what its outlets get beyond the rate.
    more: Vec<ExtraFlow>,
}

impl Sown {
    /// What tells it from others: bits of all its numbers.
    fn key(kg_per_ha: &[f64], more: &[ExtraFlow]) -> Vec<u64> {
        let more = more.iter().flat_map(|more| [more.rows, more.sections]);
        let all = kg_per_ha.iter().copied().chain(more);
        all.map(f64::to_bits).collect()
    }

    /// The rate of a product before what shut outlets add, kg/ha.
    pub(super) fn rate(&self, product: usize) -> f64 {
        self.kg_per_ha[product]
    }

    pub(super) fn more(&self, product: usize) -> ExtraFlow {
        self.more[product]
    }
}

/// What the faces of the overlay are.
pub(super) struct Laid {
    pub(super) overlay: Overlay,
    meanings: Vec<Meaning>,
    pieces: Vec<Piece>,
    /// All that is sown anywhere, each once, and its number by its bits.
    sown: Vec<Sown>,
    numbers: BTreeMap<Vec<u64>, u32>,
    pub(super) bouts: Vec<BoutSums>,
    pub(super) metered_kg: Vec<f64>,
    pub(super) returned_kg: Vec<f64>,
}

/// Puts all stretches, closed rows and land units into one overlay.
pub(super) fn lay(bouts: &[Bout], ground: &Ground, carried: &Carried, job: &Job) -> Laid {
    let mut laid = lay_by(&TOGETHER, bouts, ground, carried, job);
    laid.overlay.share(&rims::shared(bouts));
    laid
}

/// How stretches become polygons.
pub(super) struct Outlines {
    pub(super) swaths: for<'a> fn(&Bout, &'a [SownStretch]) -> Vec<Swath<'a>>,
    pub(super) ground: GroundOf,
}

/// As few as can be.
const TOGETHER: Outlines = Outlines {
    swaths,
    ground: super::super::path::Path::bands,
};

/// The same.
pub(super) fn lay_by(
    outlines: &Outlines,
    bouts: &[Bout],
    ground: &Ground,
    carried: &Carried,
    job: &Job,
) -> Laid {
    let products = job.products.len();
    let mut laid = Laid {
        overlay: Overlay::default(),
        meanings: Vec::new(),
        pieces: Vec::new(),
        sown: Vec::new(),
        numbers: BTreeMap::new(),
        bouts: Vec::new(),
        metered_kg: vec![0.0; products],
        returned_kg: vec![0.0; products],
    };
    let land = ground.units.arrangement.dissolve(&ground.units.row_of_face);
    for (row, shape) in land {
        laid.overlay.add(shape);
        laid.meanings.push(Meaning::Land(row));
    }
    let map = Map::followed(ground, job);
    let flows = ShutFlows::of(job);
    for (nth, bout) in bouts.iter().enumerate() {
        let mut answers = map.along(&bout.path);
        for answer in &mut answers {
            answer.kg_per_ha = carried.rates(&answer.kg_per_ha);
        }
        let stretches = flow::stretches(bout, &answers, ground.delays);
        let (sown, returned_kg) = closed_flow::flows(bout, stretches, products, flows);
        laid.bout(nth, bout, &cut_alike(bout, sown), job, outlines);
        for (sum, kg) in laid.returned_kg.iter_mut().zip(returned_kg) {
            *sum += kg;
        }
    }
    laid
}

impl Laid {
    /// How many polygons lie in the overlay.
    #[cfg(test)]
    pub(super) fn polygons(&self) -> usize {
        self.meanings.len()
    }

    fn add(&mut self, exterior: Ring, meaning: Meaning) {
        self.overlay.add(Shape {
            exterior,
            holes: Vec::new(),
        });
        self.meanings.push(meaning);
    }

    fn bout(
        &mut self,
        nth: usize,
        bout: &Bout,
        sown: &[SownStretch],
        job: &Job,
        outlines: &Outlines,
    ) {
        let mut sums = vec![0.0; job.products.len()];
        let width_m = job.drill.working_width_m;
        for swath in (outlines.swaths)(bout, sown) {
            let Some(SownStretch { stretch, more }) = swath.parts.first().map(|part| part.sown)
            else {
                continue;
            };
            let number = self.pieces.len() as u32;
            let mut ground_m2 = 0.0;
            for ring in swath.outlines(&bout.path, outlines.ground) {
                let Some(exterior) = on_grid(&ring) else {
                    continue;
                };
                ground_m2 += area_m2(&ring);
                self.add(exterior, Meaning::Piece(number));
            }
            let closed = swath.parts.iter();
            let closed = closed.map(|part| closed_m2(bout, part.stations(), part.left_m));
            let closed_m2: f64 = closed.sum();
            for (product, rate) in stretch.kg_per_ha.iter().enumerate() {
                let factor = more[product].factor();
                let kg = rate * factor * (ground_m2 - closed_m2) / M2_PER_HA;
                sums[product] += kg;
                self.metered_kg[product] += kg;
            }
            let sown = self.sown(&stretch.kg_per_ha, more);
            self.pieces.push(Piece {
                bout: nth as u32,
                sown,
            });
        }
        let ends = [-width_m, bout.path.length_m() + width_m];
        let reach = sown.iter().fold(ends, |[a, b], s| {
            [a.min(s.stretch.from_m), b.max(s.stretch.to_m)]
        });
        let along = bout.closed_along.within(reach);
        for left_m in closed_strips(bout) {
            for stations in &along {
                for ring in (outlines.ground)(&bout.path, *stations, left_m) {
                    let Some(exterior) = on_grid(&ring) else {
                        continue;
                    };
                    self.add(exterior, Meaning::Closed(nth as u32));
                }
            }
        }
        self.bouts.push(BoutSums {
            bout: bout.number,
            kg: sums,
        });
    }

    /// The number of what is sown.
    fn sown(&mut self, kg_per_ha: &[f64], more: &[ExtraFlow]) -> u32 {
        let next = self.sown.len() as u32;
        let number = *self
            .numbers
            .entry(Sown::key(kg_per_ha, more))
            .or_insert(next);
        if number == next {
            self.sown.push(Sown {
                kg_per_ha: kg_per_ha.to_vec(),
                more: more.to_vec(),
            });
        }
        number
    }

    /// Finds what lies on a face; false where there is neither land nor drill.
    pub(super) fn face<'a>(
        &'a self,
        covering: &[u32],
        rates: &'a [Vec<f64>],
        found: &mut Found<'a>,
    ) -> bool {
        found.clear();
        for &polygon in covering {
            match self.meanings[polygon as usize] {
                Meaning::Land(row) => found.row = Some(row),
                Meaning::Piece(number) => found.driven.push(self.pieces[number as usize]),
                Meaning::Closed(bout) => found.closed_bouts.push(bout),
            }
        }
        found.want(rates);
        found.same.push(found.row.map_or(0, |row| row + 1));
        for piece in &found.driven {
            if found.closed_bouts.contains(&piece.bout) {
                found.closed += 1;
            } else {
                found.pieces.push(&self.sown[piece.sown as usize]);
                found.same.push(piece.sown);
            }
        }
        found.same.push(u32::from(found.left_closed()));
        found.wanted.is_some() || !found.pieces.is_empty() || found.closed > 0
    }
}

/// Ground of a bout's closed rows between two stations and two distances beside it, m2.
fn closed_m2(bout: &Bout, stations: [f64; 2], left_m: [f64; 2]) -> f64 {
    let along = bout.closed_along.within(stations);
    let of_row = |row: &ClosedRow| {
        let [right, left] = [row.left_m[0].max(left_m[0]), row.left_m[1].min(left_m[1])];
        if left <= right {
            return 0.0;
        }
        match bout.closed_along {
            ClosedAlong::AllTheWay => (left - right) * (stations[1] - stations[0]),
            // A ring bends, and its rows may lie all on one side.
            ClosedAlong::Between(_) => along
                .iter()
                .flat_map(|part| bout.path.ground(*part, [right, left]))
                .map(|ring| area_m2(&ring))
                .sum(),
        }
    };
    bout.closed.iter().map(of_row).sum()
}

/// The rims of the closed rows of a bout, rows side by side as one.
fn closed_strips(bout: &Bout) -> Vec<[f64; 2]> {
    let mut strips: Vec<[f64; 2]> = Vec::new();
    for row in &bout.closed {
        match strips.last_mut() {
            Some(strip) if close(strip[0], row.left_m[1]) => strip[0] = row.left_m[0],
            _ => strips.push(row.left_m),
        }
    }
    strips
}

/// What lies on a face.
#[derive(Default)]
pub(super) struct Found<'a> {
    /// Rates of the land; `None` beyond it.
    pub(super) wanted: Option<&'a [f64]>,
    /// In the order in which they are driven.
    pub(super) pieces: Vec<&'a Sown>,
    /// Passes with closed rows here.
    pub(super) closed: usize,
    /// The row of the land.
    row: Option<u32>,
    driven: Vec<Piece>,
    closed_bouts: Vec<u32>,
    /// Numbers that are the same on other faces of the same patch only; not on all of them.
    pub(super) same: Vec<u32>,
}

/// What patches of the difference map have in common: land, passes, closed, bits of wanted and sown.
pub(super) type Key = (bool, usize, bool, Vec<u64>, Vec<u64>);

impl<'a> Found<'a> {
    fn clear(&mut self) {
        (self.wanted, self.row, self.closed) = (None, None, 0);
        self.pieces.clear();
        self.driven.clear();
        self.closed_bouts.clear();
        self.same.clear();
    }

    /// Takes what is wanted on the land from these rates, per row and product.
    pub(super) fn want(&mut self, rates: &'a [Vec<f64>]) {
        let row = self.row.and_then(|row| rates.get(row as usize));
        self.wanted = row.map(Vec::as_slice);
    }

    pub(super) fn wanted(&self, product: usize) -> f64 {
        let wanted = self.wanted.and_then(|rates| rates.get(product));
        wanted.copied().unwrap_or(0.0)
    }

    pub(super) fn sown(&self, product: usize) -> f64 {
        let rate = |piece: &&Sown| piece.rate(product) * piece.more(product).factor();
        self.pieces.iter().map(rate).sum()
    }

    pub(super) fn products(&self) -> usize {
        let first = self.pieces.first().map(|piece| piece.kg_per_ha.len());
        first.or(self.wanted.map(<[f64]>::len)).unwrap_or(0)
    }

    pub(super) fn left_closed(&self) -> bool {
        self.closed > 0 && self.pieces.is_empty()
    }

    pub(super) fn key(&self) -> Key {
        let bits =
            |of: &dyn Fn(usize) -> f64| (0..self.products()).map(|p| of(p).to_bits()).collect();
        (
            self.wanted.is_some(),
            self.pieces.len(),
            self.left_closed(),
            bits(&|p| self.wanted(p)),
            bits(&|p| self.sown(p)),
        )
    }
}
