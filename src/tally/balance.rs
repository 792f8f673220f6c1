//! The balance to broadcast: its own total and order.

use super::order::{Need, OnePackLess, Ordered, Pack, order};
use super::step::{self, Step, StepName};
use crate::agronomy::{Rate, balance_name, has_balance};
use crate::job::{Job, Product};
use crate::texts::Words;
use crate::units::M2_PER_HA;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use std::borrow::Cow;

/// What is broadcast because it is not placed with the seed.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct BalanceTally {
    /// Id of the product that was placed.
    pub of: String,
    /// Name of what is broadcast.
    pub name: String,
    /// kg of the nutrient, with its symbol, where the rate is for one.
    pub nutrients: Vec<(Cow<'static, str>, f64)>,
    /// Land with a balance above zero, m2.
    pub spread_m2: f64,
    /// Lowest rate above zero, kg/ha.
    pub lowest_kg_per_ha: f64,
    /// Highest rate, kg/ha.
    pub highest_kg_per_ha: f64,
    /// From the map total to the order, each step a line.
    pub steps: Vec<Step>,
    /// To order, kg.
    pub order_kg: f64,
    /// The same in packs, if the job gives a pack.
    pub packs: Option<u64>,
    /// What one pack less would leave of the reserve, where only the reserve asks for the last pack.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub one_pack_less: Option<OnePackLess>,
    /// What the spreader's own map spreads of it, where the job names a spreader.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub spreader: Option<SpreadTally>,
}

/// What the map of a spreader spreads of a balance.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct SpreadTally {
    /// Id of the spreader's own plan.
    pub plan: String,
    /// The folder of that plan, in the folder of this one; empty where none of its files was asked for (`--only`).
    #[serde(default, skip_serializing_if = "String::is_empty")]
    pub folder: String,
    /// Name of the spreader; may be empty.
    pub machine: String,
    /// Land with a rate above zero, m2.
    pub spread_m2: f64,
    /// Lowest rate above zero, kg/ha.
    pub lowest_kg_per_ha: f64,
    /// Highest rate, kg/ha.
    pub highest_kg_per_ha: f64,
    /// What its map spreads, kg.
    pub map_kg: f64,
    /// Whether a decision is open, so that there are no files for its terminal.
    pub held_back: bool,
}

/// The balance of every product that can leave one, in job order; `rows` has the area in m2 and the rates of
/// every row of the rate table.
pub(super) fn balances(rows: &[(f64, &[Rate])], job: &Job) -> Vec<BalanceTally> {
    let leaving = job
        .products
        .iter()
        .enumerate()
        .filter(|(_, product)| has_balance(job, product));
    leaving
        .map(|(nth, product)| {
            let mut map_kg = 0.0;
            let mut spread_m2 = 0.0;
            let mut nutrients: Vec<(Cow<'static, str>, f64)> = Vec::new();
            let mut rates: Vec<f64> = Vec::new();
            for (area_m2, of_row) in rows {
                let balance = of_row.get(nth).and_then(|rate| rate.balance.as_ref());
                let Some(balance) = balance.filter(|balance| balance.kg_per_ha > 0.0) else {
                    continue;
                };
                map_kg += balance.kg_per_ha * area_m2 / M2_PER_HA;
                spread_m2 += area_m2;
                rates.push(balance.kg_per_ha);
                if let (Some(symbol), Some(kg_per_ha)) =
                    (&balance.nutrient, balance.nutrient_kg_per_ha)
                {
                    let kg = kg_per_ha * area_m2 / M2_PER_HA;
                    match nutrients.iter_mut().find(|(known, _)| known == symbol) {
                        Some((_, sum)) => *sum += kg,
                        None => nutrients.push((symbol.clone(), kg)),
                    }
                }
            }
            let ordered = ordered(map_kg, [0.0; 2], product, job);
            BalanceTally {
                of: product.id.clone(),
                name: balance_name(product).to_owned(),
                nutrients,
                spread_m2,
                lowest_kg_per_ha: rates.iter().copied().reduce(f64::min).unwrap_or(0.0),
                highest_kg_per_ha: rates.iter().copied().reduce(f64::max).unwrap_or(0.0),
                steps: ordered.steps,
                order_kg: ordered.kg,
                packs: ordered.packs,
                one_pack_less: ordered.one_pack_less,
                spreader: None,
            }
        })
        .collect()
}

fn ordered(map_kg: f64, spreader: [f64; 2], product: &Product, job: &Job) -> Ordered {
    let own = product.balance.as_ref();
    order(&Need {
        driven: None,
        tramline_kg: 0.0,
        residue_kg: 0.0,
        map_kg,
        reserve_percent: job.order.reserve_percent,
        pack: own.map_or(product.pack_kg, |own| own.pack_kg).map(Pack::Kg),
        spreader,
        words: Words::of(job),
    })
}

impl BalanceTally {
    /// The same with what a spreader makes of it: what is ordered is what its own map spreads. `steps_kg` is what its least,
    /// most and step change on all land with a balance, kg.
    pub fn with_spreader(
        self,
        spreader: SpreadTally,
        steps_kg: f64,
        product: &Product,
        job: &Job,
    ) -> Self {
        let wanted_kg = self.map_kg();
        let setbacks_kg = spreader.map_kg - wanted_kg - steps_kg;
        // The same land added up in another order differs by the dust of rounding.
        let dust = 1e-6 * wanted_kg.max(1.0);
        let setbacks_kg = if setbacks_kg.abs() < dust {
            0.0
        } else {
            setbacks_kg
        };
        let ordered = ordered(wanted_kg, [steps_kg, setbacks_kg], product, job);
        Self {
            steps: ordered.steps,
            order_kg: ordered.kg,
            packs: ordered.packs,
            one_pack_less: ordered.one_pack_less,
            spreader: Some(spreader),
            ..self
        }
    }

    /// What is spread, kg: by the spreader's own map where there is one.
    pub fn spread_kg(&self) -> f64 {
        let spreader = self.spreader.as_ref();
        spreader.map_or_else(|| self.map_kg(), |own| own.map_kg)
    }

    /// Whether it is ordered with the product that is placed, for both are one article.
    pub fn in_order_of_product(&self) -> bool {
        let mut steps = self.steps.iter();
        steps.any(|step| step.step == StepName::OneOrder)
    }

    /// What the map of the balance spreads, kg.
    pub fn map_kg(&self) -> f64 {
        step::map_kg(&self.steps)
    }
}
