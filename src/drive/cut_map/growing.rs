//! What a piece costs while it grows along a lane, part by part: [`Wanted::cost_m2`] from sums, so that a step costs the same
//! however many rows the piece has.
//!
//! The sums round otherwise than the cost of the whole piece does: by some 1e-14 of what the lane would cost at a wrong rate, far
//! less than the differences of cost that count (`WORTH` and `SURE` in `cuts.rs`).

use super::rule::{TOUCHED_M2, Wanted, at, chosen};

/// Rates of the rows that lie in a lane.
pub(super) struct LaneRows<'a> {
    /// Ascending.
    rows: Vec<u32>,
    /// Per product that the drill carries in its air stream.
    products: Vec<OfProduct<'a>>,
}

struct OfProduct<'a> {
    weight: f64,
    allowed: &'a [f64],
    /// Per row of the lane: what is wanted, and the most that it bears, kg/ha.
    wanted: Vec<f64>,
    most: Vec<f64>,
}

impl<'a> LaneRows<'a> {
    pub(super) fn of(wanted: &'a Wanted, mut rows: Vec<u32>) -> Self {
        rows.sort_unstable();
        rows.dedup();
        let products = wanted.allowed.iter().zip(&wanted.weight).enumerate();
        let products = products.filter(|(_, (allowed, _))| !allowed.is_empty());
        let products = products.map(|(product, (allowed, weight))| {
            let column = |of: &[Vec<f64>]| rows.iter().map(|row| at(of, *row, product)).collect();
            OfProduct {
                weight: *weight,
                allowed,
                wanted: column(&wanted.kg_per_ha),
                most: column(&wanted.most_kg_per_ha),
            }
        });
        let products = products.collect();
        Self { rows, products }
    }

    /// The same land by the places of its rows in this lane.
    pub(super) fn numbered(&self, land: &[(u32, f64)]) -> Vec<(usize, f64)> {
        let number = |row: u32| self.rows.partition_point(|known| *known < row);
        land.iter().map(|(row, m2)| (number(*row), *m2)).collect()
    }
}

/// Of one product, over the land of a piece.
#[derive(Clone, Copy)]
struct Sums {
    /// Area x what is wanted, and area x its square.
    wanted: f64,
    squared: f64,
    /// The least that touched land bears, kg/ha.
    most: f64,
}

const NOTHING: Sums = Sums {
    wanted: 0.0,
    squared: 0.0,
    most: f64::INFINITY,
};

impl Sums {
    fn add(&mut self, wanted: f64, m2: f64) {
        self.wanted += m2 * wanted;
        self.squared += m2 * wanted * wanted;
    }
}

/// A piece of a lane.
pub(super) struct Growing<'a> {
    rows: &'a LaneRows<'a>,
    m2: f64,
    /// Per product.
    sums: Vec<Sums>,
    /// Per row of the lane, m2: what is touched is counted by row.
    of_row_m2: Vec<f64>,
    /// The rows that it has, some more than once.
    held: Vec<usize>,
}

impl<'a> Growing<'a> {
    pub(super) fn new(rows: &'a LaneRows<'a>) -> Self {
        Self {
            m2: 0.0,
            sums: vec![NOTHING; rows.products.len()],
            of_row_m2: vec![0.0; rows.rows.len()],
            held: Vec::new(),
            rows,
        }
    }

    /// Nothing again.
    pub(super) fn clear(&mut self) {
        for row in self.held.drain(..) {
            self.of_row_m2[row] = 0.0;
        }
        self.sums.fill(NOTHING);
        self.m2 = 0.0;
    }

    pub(super) fn add(&mut self, land: &[(usize, f64)]) {
        for &(row, m2) in land {
            let before_m2 = self.of_row_m2[row];
            if before_m2 == 0.0 {
                self.held.push(row);
            }
            self.of_row_m2[row] += m2;
            self.m2 += m2;
            let becomes_touched = before_m2 <= TOUCHED_M2 && self.of_row_m2[row] > TOUCHED_M2;
            for (of, sums) in self.rows.products.iter().zip(&mut self.sums) {
                sums.add(of.wanted[row], m2);
                if becomes_touched {
                    sums.most = sums.most.min(of.most[row]);
                }
            }
        }
    }

    /// What it costs, m2; never less with more land, but for rounding.
    pub(super) fn cost_m2(&self) -> f64 {
        self.cost_with_m2(&[])
    }

    /// What it costs where it touches these rows too, with so little land of each that it counts as touched, m2.
    pub(super) fn cost_with_m2(&self, touched: &[(usize, f64)]) -> f64 {
        let m2 = self.m2 + touched.iter().map(|(_, m2)| m2).sum::<f64>();
        if m2 <= 0.0 {
            return 0.0;
        }
        let products = self.rows.products.iter().zip(&self.sums);
        let costs = products.map(|(of, sums)| {
            let mut sums = *sums;
            for &(row, m2) in touched {
                sums.add(of.wanted[row], m2);
                sums.most = sums.most.min(of.most[row]);
            }
            let rate = chosen(of.allowed, sums.wanted / m2, sums.most);
            let off = sums.squared - 2.0 * rate * sums.wanted + rate * rate * m2;
            of.weight * off.max(0.0)
        });
        costs.sum()
    }
}
