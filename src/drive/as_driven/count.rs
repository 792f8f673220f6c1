//! Sums over the faces of the overlay: areas exactly, kilograms by cause.

use super::lay::{Found, Laid, Sown};
use super::{Areas, Carried, DrivenProduct, Within};
use crate::geometry::point::area2_to_m2;
use crate::job::{Job, Product};
use crate::units::M2_PER_HA;

/// Shares of the wanted rate that the comparison names, percent.
const WITHIN_PERCENT: [f64; 3] = [5.0, 10.0, 20.0];

/// Sums over the faces. Areas are twice the area in units^2, exactly.
pub(super) struct Count {
    driven: i128,
    once: i128,
    twice: i128,
    again: i128,
    beyond: i128,
    closed_rows: i128,
    closed: i128,
    missed: i128,
    land: i128,
    /// Per product.
    products: Vec<KgSums>,
}

#[derive(Clone, Default)]
struct KgSums {
    map: f64,
    tramlines: f64,
    sections: f64,
    overlap: f64,
    missed: f64,
    following: f64,
    wanted_m2: f64,
    within_m2: [f64; 3],
    unwanted_m2: f64,
}

impl Count {
    pub(super) fn new(products: usize) -> Self {
        Self {
            driven: 0,
            once: 0,
            twice: 0,
            again: 0,
            beyond: 0,
            closed_rows: 0,
            closed: 0,
            missed: 0,
            land: 0,
            products: vec![KgSums::default(); products],
        }
    }

    pub(super) fn add(&mut self, found: &Found, area2: i128) {
        let on_land = found.wanted.is_some();
        let passes = found.pieces.len() as i128;
        self.driven += (passes + found.closed as i128) * area2;
        self.closed_rows += found.closed as i128 * area2;
        match (on_land, passes) {
            (false, _) => self.beyond += passes * area2,
            (true, 0) if found.closed > 0 => self.closed += area2,
            (true, 0) => self.missed += area2,
            (true, 1) => self.once += area2,
            (true, _) => {
                self.twice += area2;
                self.again += (passes - 1) * area2;
            }
        }
        if on_land {
            self.land += area2;
        }
        let m2 = area2_to_m2(area2);
        for (product, sums) in self.products.iter_mut().enumerate() {
            sums.add(found, product, m2);
        }
    }

    pub(super) fn areas(&self) -> Areas {
        Areas {
            driven_m2: area2_to_m2(self.driven),
            once_m2: area2_to_m2(self.once),
            twice_m2: area2_to_m2(self.twice),
            again_m2: area2_to_m2(self.again),
            beyond_m2: area2_to_m2(self.beyond),
            closed_rows_m2: area2_to_m2(self.closed_rows),
            closed_m2: area2_to_m2(self.closed),
            missed_m2: area2_to_m2(self.missed),
            land_m2: area2_to_m2(self.land),
        }
    }

    pub(super) fn products(&self, laid: &Laid, carried: &Carried, job: &Job) -> Vec<DrivenProduct> {
        let products = job.products.iter().enumerate();
        let products = products.filter(|(nth, _)| carried.has(*nth));
        let of_product = |(nth, product): (usize, &Product)| {
            let sums = &self.products[nth];
            let share = |m2: f64| match sums.wanted_m2 > 0.0 {
                true => m2 / sums.wanted_m2 * 100.0,
                false => 100.0,
            };
            let within = WITHIN_PERCENT.iter().zip(sums.within_m2);
            DrivenProduct {
                id: product.id.clone(),
                map_kg: sums.map,
                tramlines_kg: sums.tramlines,
                sections_kg: sums.sections,
                overlap_kg: sums.overlap,
                missed_kg: sums.missed,
                following_kg: sums.following,
                as_driven_kg: sums.map
                    + sums.tramlines
                    + sums.sections
                    + sums.overlap
                    + sums.missed
                    + sums.following,
                metered_kg: laid.metered_kg[nth],
                returned_kg: laid.returned_kg[nth],
                within: within
                    .map(|(&percent, m2)| Within {
                        percent,
                        share_percent: share(m2),
                    })
                    .collect(),
                unwanted_m2: sums.unwanted_m2,
            }
        };
        products.map(of_product).collect()
    }
}

impl KgSums {
    /// Each kilogram goes to one cause: what the first pass puts down instead of the wanted rate to the
    /// following, further passes and ground beyond the land to overlap, unsown land to closed rows or missed.
    fn add(&mut self, found: &Found, product: usize, m2: f64) {
        let kg = |rate: f64| rate * m2 / M2_PER_HA;
        let wanted = found.wanted(product);
        let rate = |piece: &Sown| piece.rate(product);
        for piece in &found.pieces {
            self.tramlines += kg(rate(piece) * piece.more(product).rows);
            self.sections += kg(rate(piece) * piece.more(product).sections);
        }
        let sown = found.sown(product);
        if found.wanted.is_none() {
            self.overlap += found
                .pieces
                .iter()
                .map(|piece| kg(rate(piece)))
                .sum::<f64>();
            return;
        }
        self.map += kg(wanted);
        match found.pieces.split_first() {
            None if found.closed > 0 => self.tramlines -= kg(wanted),
            None => self.missed -= kg(wanted),
            Some((first, others)) => {
                self.following += kg(rate(first) - wanted);
                self.overlap += others.iter().map(|piece| kg(rate(piece))).sum::<f64>();
            }
        }
        if found.left_closed() {
            return;
        }
        if wanted > 0.0 {
            self.wanted_m2 += m2;
            for (sum, percent) in self.within_m2.iter_mut().zip(WITHIN_PERCENT) {
                // A billionth more, for sums of floating point.
                if (sown - wanted).abs() <= wanted * (percent / 100.0 + 1e-9) {
                    *sum += m2;
                }
            }
        } else if sown > 0.0 {
            self.unwanted_m2 += m2;
        }
    }
}
