//! What a week's delay of sowing would change.

use super::Prepared;
use crate::agronomy;
use crate::findings::Outcome;
use crate::job::{Job, Kind, date_of, day_number};
use crate::tally::Tally;
use serde::Serialize;

/// The same plan sown a week later.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Later {
    /// YYYY-MM-DD.
    pub date: String,
    pub products: Vec<LaterProduct>,
}

/// One product a week later.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct LaterProduct {
    pub id: String,
    /// On the map, kg.
    pub map_kg: f64,
    /// More than on the sowing date, percent.
    pub more_percent: f64,
    /// Mean on land with a rate, kg/ha.
    pub mean_kg_per_ha: f64,
    /// What the order holds beyond it, kg: below 0 it is not enough.
    pub left_of_order_kg: f64,
    /// Land where a limit holds the rate down, m2.
    pub capped_m2: f64,
}

/// What sowing a week later would need, for every seed with a rate by date; `None` if there is none.
///
/// # Errors
/// What [`agronomy::rates`] refuses.
pub(super) fn week(prepared: &Prepared, job: &Job, tally: &Tally) -> Outcome<Option<Later>> {
    let day = job.sowing_date.as_deref().and_then(day_number);
    let dated = |nth: usize| {
        let product = job.products.get(nth);
        product.is_some_and(|of| of.kind == Kind::Seed && !of.rate.by_date.is_empty())
    };
    let Some(day) = day.filter(|_| (0..job.products.len()).any(dated)) else {
        return Ok(None);
    };
    let mut later = job.clone();
    later.sowing_date = Some(date_of(day + 7));
    let mut sums = vec![[0.0; 3]; job.products.len()];
    for (row, (facts, _)) in prepared.units.rows.iter().enumerate() {
        let area_m2 = prepared.units.area_m2(row);
        let (rates, _) = agronomy::rates(&later, &prepared.tables, facts)?;
        for (sum, rate) in sums.iter_mut().zip(rates) {
            sum[0] += area_m2 * rate.kg_per_ha / 10_000.0;
            if rate.kg_per_ha > 0.0 {
                sum[1] += area_m2;
            }
            if rate
                .reasons
                .iter()
                .any(|reason| matches!(reason.rule, "limit.max" | "limit.label"))
            {
                sum[2] += area_m2;
            }
        }
    }
    let of_product = |(nth, [map_kg, sown_m2, capped_m2]): (usize, [f64; 3])| {
        let now = tally.products.get(nth)?;
        Some(LaterProduct {
            id: now.id.clone(),
            map_kg,
            more_percent: match now.map_kg() > 0.0 {
                true => (map_kg / now.map_kg() - 1.0) * 100.0,
                false => 0.0,
            },
            mean_kg_per_ha: match sown_m2 > 0.0 {
                true => map_kg / sown_m2 * 10_000.0,
                false => 0.0,
            },
            left_of_order_kg: now.order_kg - map_kg,
            capped_m2,
        })
    };
    let sums = sums.into_iter().enumerate();
    Ok(Some(Later {
        date: later.sowing_date.unwrap_or_default(),
        products: sums
            .filter(|(nth, _)| dated(*nth))
            .filter_map(of_product)
            .collect(),
    }))
}
