//! The rates of a piece of the cut map, and what a piece costs. Method: docs/methods/cut-map.md.

/// Land of a row counts as touched by a piece from this area on, m2: a square of ten centimetres. Less is what rounding
/// leaves along a rim.
pub const TOUCHED_M2: f64 = 0.01;

/// What is wanted on the land, by which a map is cut.
#[derive(Debug, Clone, PartialEq)]
pub struct Wanted {
    /// Per row of the rate table, per product (job order), kg/ha.
    pub kg_per_ha: Vec<Vec<f64>>,
    /// Per row, per product: the most that its land bears, kg/ha; infinite where nothing holds there.
    pub most_kg_per_ha: Vec<Vec<f64>>,
    /// Per product: the rates that a piece may have, kg/ha, ascending; empty for a product that the drill does not carry in its
    /// air stream, which keeps its rates.
    pub allowed: Vec<Vec<f64>>,
    /// Per product: what turns a squared difference of rates into a share of its mean rate, squared.
    pub weight: Vec<f64>,
}

/// A product's rate on a piece.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PieceRate {
    pub kg_per_ha: f64,
    /// Mean by area of what is wanted on the land of the piece, kg/ha.
    pub mean_kg_per_ha: f64,
    /// Whether land that it touches bears less than this mean.
    pub held: bool,
}

impl Wanted {
    /// What is wanted, per row and product, with the area of each row, m2. `in_stream` says per product whether the drill
    /// carries it in its air stream.
    pub fn of(
        kg_per_ha: Vec<Vec<f64>>,
        most_kg_per_ha: Vec<Vec<f64>>,
        areas_m2: &[f64],
        in_stream: &[bool],
    ) -> Self {
        let allowed = |product: usize| {
            let mut rates: Vec<f64> = kg_per_ha
                .iter()
                .filter_map(|row| row.get(product))
                .copied()
                .collect();
            rates.sort_by(f64::total_cmp);
            rates.dedup();
            rates
        };
        let weight = |product: usize| {
            let (mut m2, mut sum) = (0.0, 0.0);
            for (row, area_m2) in kg_per_ha.iter().zip(areas_m2) {
                let rate = row.get(product).copied().unwrap_or(0.0);
                if rate > 0.0 {
                    m2 += area_m2;
                    sum += rate * area_m2;
                }
            }
            if sum > 0.0 { (m2 / sum).powi(2) } else { 0.0 }
        };
        let products = || in_stream.iter().enumerate();
        Self {
            allowed: products()
                .map(|(nth, carried)| if *carried { allowed(nth) } else { Vec::new() })
                .collect(),
            weight: products()
                .map(|(nth, carried)| if *carried { weight(nth) } else { 0.0 })
                .collect(),
            kg_per_ha,
            most_kg_per_ha,
        }
    }

    /// The rates on land of these rows (area in m2 of each), per product; `None` for a product that keeps its rates, and on no land.
    ///
    /// Of the allowed rates the one nearest to the mean by area, the lower of two; where land that is touched bears less, the highest
    /// that all of it bears.
    pub fn rates(&self, land: &[(u32, f64)]) -> Vec<Option<PieceRate>> {
        let products = 0..self.allowed.len();
        products.map(|product| self.rate(product, land)).collect()
    }

    fn rate(&self, product: usize, land: &[(u32, f64)]) -> Option<PieceRate> {
        let allowed = self.allowed.get(product).filter(|all| !all.is_empty())?;
        let (mut m2, mut sum, mut most) = (0.0, 0.0, f64::INFINITY);
        for (row, area_m2) in land {
            m2 += area_m2;
            sum += area_m2 * at(&self.kg_per_ha, *row, product);
            if *area_m2 > TOUCHED_M2 {
                most = most.min(at(&self.most_kg_per_ha, *row, product));
            }
        }
        if m2 <= 0.0 {
            return None;
        }
        let mean = sum / m2;
        Some(PieceRate {
            kg_per_ha: chosen(allowed, mean, most),
            mean_kg_per_ha: mean,
            held: most < mean,
        })
    }

    /// What a piece on this land costs: over all products, area x (difference from what is wanted, as a share of the product's
    /// mean rate) squared, m2.
    pub fn cost_m2(&self, land: &[(u32, f64)]) -> f64 {
        let mut cost = 0.0;
        for (product, weight) in self.weight.iter().enumerate() {
            let Some(rate) = self.rate(product, land) else {
                continue;
            };
            for (row, area_m2) in land {
                let off = at(&self.kg_per_ha, *row, product) - rate.kg_per_ha;
                cost += weight * area_m2 * off * off;
            }
        }
        cost
    }
}

/// Of the allowed rates (ascending) the one nearest to the mean, the lower of two; where the land bears less, the highest that it
/// bears.
pub(super) fn chosen(allowed: &[f64], mean: f64, most: f64) -> f64 {
    let far = |rate: f64| (rate - mean).abs();
    let above = allowed.partition_point(|rate| *rate < mean);
    let below = above.checked_sub(1).and_then(|nth| allowed.get(nth));
    let nearest = match (below, allowed.get(above)) {
        (Some(low), Some(high)) if far(*high) < far(*low) => *high,
        (Some(low), _) => *low,
        (None, high) => high.copied().unwrap_or(0.0),
    };
    let bears = allowed.partition_point(|rate| *rate <= most);
    let bears = bears.checked_sub(1).and_then(|nth| allowed.get(nth));
    nearest.min(bears.copied().unwrap_or(0.0))
}

pub(super) fn at(rates: &[Vec<f64>], row: u32, product: usize) -> f64 {
    let row = rates.get(row as usize);
    row.and_then(|row| row.get(product)).copied().unwrap_or(0.0)
}
