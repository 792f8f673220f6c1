//! What a piece costs while it grows along a lane, part by part: [`Wanted::cost_m2`] with the rows of the lane at hand.

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

/// A piece of a lane.
#[derive(Clone)]
pub(super) struct Growing<'a> {
    rows: &'a LaneRows<'a>,
    /// Per row of the lane, m2.
    area_m2: Vec<f64>,
    /// The rows that it has, in the order in which they came.
    held: Vec<usize>,
}

impl<'a> Growing<'a> {
    pub(super) fn new(rows: &'a LaneRows<'a>) -> Self {
        Self {
            area_m2: vec![0.0; rows.rows.len()],
            held: Vec::new(),
            rows,
        }
    }

    /// Nothing again.
    pub(super) fn clear(&mut self) {
        for row in self.held.drain(..) {
            self.area_m2[row] = 0.0;
        }
    }

    pub(super) fn add(&mut self, land: &[(usize, f64)]) {
        for (row, m2) in land {
            if !self.held.contains(row) {
                self.held.push(*row);
            }
            self.area_m2[*row] += m2;
        }
    }

    /// What it costs, m2; never less with more land.
    pub(super) fn cost_m2(&self) -> f64 {
        let m2: f64 = self.held.iter().map(|row| self.area_m2[*row]).sum();
        if m2 <= 0.0 {
            return 0.0;
        }
        let mut cost = 0.0;
        for of in &self.rows.products {
            let (mut sum, mut most) = (0.0, f64::INFINITY);
            for &row in &self.held {
                sum += self.area_m2[row] * of.wanted[row];
                if self.area_m2[row] > TOUCHED_M2 {
                    most = most.min(of.most[row]);
                }
            }
            let rate = chosen(of.allowed, sum / m2, most);
            for &row in &self.held {
                let off = of.wanted[row] - rate;
                cost += of.weight * self.area_m2[row] * off * off;
            }
        }
        cost
    }
}
