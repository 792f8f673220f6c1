//! Where the blocks of a trial lie: all places where one has room, and the choice among them.

use super::ground::{Borders, Bouts, Rectangle, lengths};
use super::land::OfRow;
use super::treatments::Tried;
use crate::job::{Job, TrialDesign, TrialPlace};
use crate::plan::rated_land::RatedLand;
use crate::tally::Price;
use crate::units::{M_PER_FOOT, M2_PER_HA};
use std::collections::BTreeMap;

/// What one reading of a yield monitor mixes, m: left out at both ends, and the least that is left between them twice (Knight and
/// Pettitt 2003).
pub(super) const MIXED_M: f64 = 30.0;

/// Lengths of plots that are tried from the longest on, m: 750 ft and more do best (Washington State University 1994), 120 m is
/// the least between.
const LENGTHS_FT: f64 = 750.0;
const SHORTER_M: [f64; 2] = [180.0, 150.0];

/// Longer plots were not found to tell more, ft: up to 1000 ft were compared (after Wuest 1994).
const LONGEST_FT: f64 = 1000.0;

/// The least by which rates of a block differ, as a share of the highest: with less there is nothing to see.
pub(super) const LEAST_CONTRAST: f64 = 0.05;

/// A block: plots side by side along the bouts, all of one size.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Block {
    /// Number of the zone that it lies in; 0 where blocks run through zones.
    pub zone: u32,
    pub plots: Vec<Rectangle>,
    /// In a chessboard: its row, by which it begins a treatment later if they take turns.
    pub turn: Option<usize>,
    /// What its strips cost, all treatments taken together: money where prices are known, else kg.
    pub cost: f64,
}

impl Block {
    fn middle(&self) -> [f64; 2] {
        let middle = |axis: fn(&Rectangle) -> [f64; 2]| {
            let ends = self.plots.iter().map(axis);
            let (low, high) = ends
                .fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), [a, b]| {
                    (low.min(a), high.max(b))
                });
            (low + high) / 2.0
        };
        [middle(|plot| plot.u), middle(|plot| plot.v)]
    }
}

/// What a search needs.
pub(super) struct Search<'a> {
    pub land: &'a RatedLand<'a>,
    pub tried: &'a Tried<'a>,
    pub rows: &'a [OfRow],
    pub bouts: &'a Bouts,
    /// Bouts of a strip, and the bout (from 0) that one begins with.
    pub strip: (i64, i64),
    /// Left out at both ends of a plot, m.
    pub ends_m: f64,
    /// Around the area that all plots lie in, where a file has one.
    pub here: Option<&'a Borders>,
    /// Where no plot may lie.
    pub blocked: &'a [Rectangle],
    pub job: &'a Job,
}

/// Zones of the map by the rates of the products that are tried, in order of these rates.
pub(super) struct Zones {
    of_row: Vec<Option<u32>>,
    /// Their rates, kg/ha, in the order of the products that are tried.
    pub rates: Vec<Vec<f64>>,
}

impl Zones {
    pub fn of(search: &Search) -> Self {
        let key = |row: usize| -> Option<Vec<u64>> {
            search.rows.get(row)?.strips.as_ref().ok()?;
            if !search.tried.by_zone {
                return Some(Vec::new());
            }
            let rates = search.land.kg_per_ha.get(row)?;
            let own = search.tried.products.iter();
            // The order of bits is that of the numbers, for none is below 0.
            own.map(|nth| rates.get(*nth).map(|rate| (rate + 0.0).to_bits()))
                .collect()
        };
        let keys: Vec<Option<Vec<u64>>> = (0..search.rows.len()).map(key).collect();
        let mut numbers: BTreeMap<&Vec<u64>, u32> = BTreeMap::new();
        keys.iter().flatten().for_each(|key| {
            numbers.insert(key, 0);
        });
        numbers
            .values_mut()
            .zip(0..)
            .for_each(|(number, nth)| *number = nth);
        let of_row = keys
            .iter()
            .map(|key| numbers.get(key.as_ref()?).copied())
            .collect();
        let rates = numbers
            .keys()
            .map(|key| key.iter().map(|bits| f64::from_bits(*bits)).collect());
        Self {
            of_row,
            rates: rates.collect(),
        }
    }
}

/// What was found: the blocks, and of zones without room for all of theirs how many they had room for.
pub(super) struct Found {
    pub blocks: Vec<Block>,
    pub too_small: Vec<(u32, usize)>,
    /// The most blocks that there was room for, where nothing was found.
    pub most: usize,
}

impl Search<'_> {
    /// Least length of a plot, m: both ends, and between them two readings' worth, in a cell of a chessboard one.
    pub fn least_m(&self) -> f64 {
        let readings = match self.tried.trial.chessboard {
            Some(_) => 1.0,
            None => 2.0,
        };
        2.0 * self.ends_m + readings * MIXED_M
    }

    /// The blocks of the trial.
    pub fn blocks(&self, zones: &Zones) -> Found {
        let borders = Borders::of(self.land.units(), self.bouts, |row| {
            zones.of_row.get(row as usize).copied().flatten()
        });
        let rows = Borders::of(self.land.units(), self.bouts, Some);
        let count = self.bouts.count as i64;
        let middles: Vec<_> = (0..count)
            .map(|strip| rows.along(self.bouts.rim(strip) + self.bouts.width_m / 2.0))
            .collect();
        // A chessboard is found as one piece.
        let wanted = match self.board() {
            Some(_) => 1,
            None => self.tried.trial.blocks(),
        };
        let mut found = Found {
            blocks: Vec::new(),
            too_small: Vec::new(),
            most: 0,
        };
        let each_zone = self.tried.trial.design == TrialDesign::FlatStamps;
        let parts: Vec<Option<u32>> = match each_zone {
            true => (0..zones.rates.len() as u32).map(Some).collect(),
            false => vec![None],
        };
        for zone in parts {
            let mut most = 0;
            let mut own = Vec::new();
            'tries: for (length_m, one) in self.lengths() {
                for shape in self.shapes() {
                    let room = self.room(&borders, &middles, zone, (length_m, one), shape);
                    most = most.max(room.len());
                    if room.len() >= wanted {
                        own = self.choose(room, wanted);
                        break 'tries;
                    }
                }
            }
            match (own.is_empty(), zone) {
                (true, Some(zone)) if most > 0 => found.too_small.push((zone, most)),
                _ => {}
            }
            found.most = found.most.max(most);
            found
                .blocks
                .extend(own.into_iter().flat_map(|piece| self.parted(piece)));
        }
        found
    }

    /// Lengths to try, with whether a clear stretch holds one block only.
    fn lengths(&self) -> Vec<(f64, bool)> {
        if let Some(length_m) = self.tried.trial.length_m {
            return vec![(length_m, false)];
        }
        let least = self.least_m();
        if self.is_short() {
            return vec![(least, false)];
        }
        let long = LENGTHS_FT * M_PER_FOOT;
        let tried = [long]
            .into_iter()
            .chain(SHORTER_M)
            .filter(|length| *length > least);
        tried
            .chain([least])
            .flat_map(|length| [(length, true), (length, false)])
            .collect()
    }

    /// All blocks that have room beside each other; of a chessboard all places that it has room at.
    fn room(
        &self,
        borders: &Borders,
        middles: &[Vec<(f64, Option<u32>)>],
        zone: Option<u32>,
        length: (f64, bool),
        [across, along]: [usize; 2],
    ) -> Vec<Block> {
        let (wide, first) = self.strip;
        let mut best: Vec<Block> = Vec::new();
        for phase in 0..across as i64 {
            let mut blocks = Vec::new();
            // One strip before the first, where that is one only in part: borders keep plots out of it.
            let mut from = first - wide + phase * wide;
            while from + across as i64 * wide <= self.bouts.count as i64 {
                if from >= 0 {
                    self.in_lane(
                        borders,
                        middles,
                        zone,
                        length,
                        (from, across, along),
                        &mut blocks,
                    );
                }
                from += across as i64 * wide;
            }
            if self.tried.trial.chessboard.is_some() {
                best.extend(blocks);
            } else if blocks.len() > best.len() {
                best = blocks;
            }
        }
        best
    }

    fn in_lane(
        &self,
        borders: &Borders,
        middles: &[Vec<(f64, Option<u32>)>],
        zone: Option<u32>,
        (length_m, one): (f64, bool),
        (from, across, along): (i64, usize, usize),
        blocks: &mut Vec<Block>,
    ) {
        let wide = self.strip.0;
        let rim = |nth: usize| self.bouts.rim(from + nth as i64 * wide);
        let lane = [rim(0), rim(across)];
        for (stretch, key) in borders.clear(lane) {
            if zone.is_some_and(|zone| zone != key) {
                continue;
            }
            for [begin, end] in self.free(stretch, lane) {
                let block_m = length_m * along as f64;
                let pieces = ((end - begin) / block_m).floor();
                let pieces = if one { pieces.min(1.0) } else { pieces };
                if pieces < 1.0 {
                    continue;
                }
                let piece_m = (end - begin) / pieces;
                let plot_m = self.most_m(length_m).min(piece_m / along as f64);
                for piece in 0..pieces as usize {
                    let middle = begin + (piece as f64 + 0.5) * piece_m;
                    let start = middle - along as f64 * plot_m / 2.0;
                    let plots: Vec<Rectangle> = (0..along)
                        .flat_map(|behind| (0..across).map(move |beside| (behind, beside)))
                        .map(|(behind, beside)| Rectangle {
                            u: [
                                start + behind as f64 * plot_m,
                                start + (behind + 1) as f64 * plot_m,
                            ],
                            v: [rim(beside), rim(beside + 1)],
                        })
                        .collect();
                    if let Some(cost) = self.cost(&plots, middles, from, across) {
                        blocks.push(Block {
                            zone: key,
                            plots,
                            turn: None,
                            cost,
                        });
                    }
                }
            }
        }
    }

    /// The longest that a plot gets, m.
    fn most_m(&self, length_m: f64) -> f64 {
        match self.tried.trial.length_m.is_some() || self.is_short() {
            true => length_m,
            false => (LONGEST_FT * M_PER_FOOT).max(length_m),
        }
    }

    /// What of a stretch of a lane lies in the area of the trial and is not blocked.
    fn free(&self, stretch: [f64; 2], lane: [f64; 2]) -> Vec<[f64; 2]> {
        let Some(here) = self.here else {
            return self.unblocked(stretch, lane);
        };
        let inside = here.clear(lane).into_iter();
        let inside = inside.map(|([begin, end], _)| [begin.max(stretch[0]), end.min(stretch[1])]);
        let inside = inside.filter(|[begin, end]| begin < end);
        inside
            .flat_map(|stretch| self.unblocked(stretch, lane))
            .collect()
    }

    /// What of a stretch of a lane is not blocked.
    fn unblocked(&self, stretch: [f64; 2], lane: [f64; 2]) -> Vec<[f64; 2]> {
        let mut blocked: Vec<[f64; 2]> = self
            .blocked
            .iter()
            .filter(|of| {
                of.meets(&Rectangle {
                    u: stretch,
                    v: lane,
                })
            })
            .map(|of| of.u)
            .collect();
        blocked.sort_by(|a, b| a[0].total_cmp(&b[0]));
        let mut free = Vec::new();
        let mut from = stretch[0];
        for [begin, end] in blocked {
            if begin > from {
                free.push([from, begin]);
            }
            from = from.max(end);
        }
        if stretch[1] > from {
            free.push([from, stretch[1]]);
        }
        free
    }

    /// What a block costs, along the middle of each bout; `None` where its treatments are too much alike.
    fn cost(
        &self,
        plots: &[Rectangle],
        middles: &[Vec<(f64, Option<u32>)>],
        from: i64,
        across: usize,
    ) -> Option<f64> {
        let products = self.job.products.len();
        let (mut metres, mut cost) = (0.0, 0.0);
        let mut contrast = vec![0.0; products];
        let ends = plots
            .iter()
            .fold([f64::INFINITY, f64::NEG_INFINITY], |[low, high], plot| {
                [low.min(plot.u[0]), high.max(plot.u[1])]
            });
        let strips = from..from + across as i64 * self.strip.0;
        for middle in strips.filter_map(|strip| middles.get(usize::try_from(strip).ok()?)) {
            for (row, length) in lengths(middle, ends) {
                let Some(Ok(strips)) = self.rows.get(row as usize).map(|of| &of.strips) else {
                    continue;
                };
                let map = self.land.kg_per_ha.get(row as usize)?;
                metres += length;
                for (product, contrast) in contrast.iter_mut().enumerate() {
                    let rates = || {
                        strips
                            .iter()
                            .filter_map(|of| of.get(product))
                            .map(|of| of.kg_per_ha)
                    };
                    let high = rates().fold(0.0, f64::max);
                    let low = rates().fold(f64::INFINITY, f64::min);
                    if high > 0.0 {
                        *contrast += (high - low) / high * length;
                    }
                    let of_map = map.get(product).copied().unwrap_or(0.0);
                    let apart: f64 = rates().map(|rate| (rate - of_map).abs()).sum();
                    let price = price_per_kg(self.job, product).unwrap_or(1.0);
                    let share =
                        length * self.bouts.width_m / M2_PER_HA / strips.len().max(1) as f64;
                    cost += apart * price * share;
                }
            }
        }
        let seen = |nth: &usize| {
            contrast
                .get(*nth)
                .is_some_and(|sum| *sum >= LEAST_CONTRAST * metres)
        };
        let differs = match self.tried.all_differ {
            true => self.tried.products.iter().all(seen),
            false => self.tried.products.iter().any(seen),
        };
        (metres > 0.0 && differs).then_some(cost)
    }

    /// So many of the blocks that have room, in the order in which they lie.
    fn choose(&self, mut room: Vec<Block>, wanted: usize) -> Vec<Block> {
        let along = |a: &Block, b: &Block| {
            let ([au, av], [bu, bv]) = (a.middle(), b.middle());
            av.total_cmp(&bv).then(au.total_cmp(&bu))
        };
        room.sort_by(along);
        let trial = self.tried.trial;
        match (trial.near, trial.place()) {
            (Some(near), _) => {
                let place = self.land.prepared.frame.to_plane(near.lon_lat());
                let [u, v] = self.bouts.turned(place.pair());
                let apart = |block: &Block| {
                    let [own_u, own_v] = block.middle();
                    (own_u - u).hypot(own_v - v)
                };
                room.sort_by(|a, b| apart(a).total_cmp(&apart(b)));
            }
            (None, TrialPlace::LeastCost) => room.sort_by(|a, b| a.cost.total_cmp(&b.cost)),
            (None, TrialPlace::Spread) => {
                let count = room.len();
                let chosen = (0..wanted).map(|nth| (2 * nth + 1) * count / (2 * wanted.max(1)));
                let chosen: Vec<usize> = chosen.collect();
                let mut nth = 0;
                room.retain(|_| {
                    nth += 1;
                    chosen.contains(&(nth - 1))
                });
            }
        }
        room.truncate(wanted);
        room.sort_by(along);
        room
    }
}

/// Price of a kilogram of a product, in the money of the job.
pub(super) fn price_per_kg(job: &Job, product: usize) -> Option<f64> {
    let product = job.products.get(product)?;
    Price::of(product)?.per_kg(product.pack_kg)
}
