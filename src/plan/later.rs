//! What a week's delay of sowing would change.

use super::drill_by_lot;
use super::rated_land::RatedLand;
use super::rates::{Combination, kg_per_ha};
use crate::agronomy::{self, Rate, Strip};
use crate::drill;
use crate::findings::Outcome;
use crate::job::{Job, Kind, date_of, day_number};
use crate::tally::{LotTally, StepName, Tally};
use crate::units::M2_PER_HA;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// The same plan sown a week later.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Later {
    /// YYYY-MM-DD.
    pub date: String,
    /// Per seed with a rate by date.
    pub products: Vec<LaterProduct>,
}

/// One product a week later.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct LaterProduct {
    /// Id of the product.
    pub id: String,
    /// The lot, where the product has several: what is left of one does not help another.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub lot: Option<String>,
    /// On the map, kg.
    pub map_kg: f64,
    /// What leaves the outlets and what the meter cannot empty, kg: corrected as on the sowing date, by its share of the map.
    pub needed_kg: f64,
    /// More than on the sowing date, percent.
    pub more_percent: f64,
    /// Mean on land with a rate, kg/ha.
    pub mean_kg_per_ha: f64,
    /// What the order holds beyond what is needed, kg: below 0 it is not enough. The rest of it is reserve.
    pub left_of_order_kg: f64,
    /// Land where a limit holds the rate down, m2.
    pub capped_m2: f64,
    /// The rotor that is recommended for the sowing date, on that later date; none where the job names no rotors.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub meter: Option<LaterMeter>,
}

/// A metering unit on a later date.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct LaterMeter {
    /// Name of the rotor.
    pub rotor: String,
    /// Asked of it over all speeds and sections, kg/min.
    pub asked_kg_per_min: drill::Range,
    /// What it delivers, kg/min.
    pub delivers_kg_per_min: drill::Range,
    /// From 1 up it fits.
    pub margin: f64,
}

/// What sowing a week later would need, for every seed with a rate by date; `None` if there is none.
///
/// # Errors
/// What [`agronomy::rates`] refuses.
pub(super) fn week(land: &RatedLand, tally: &Tally, job: &Job) -> Outcome<Option<Later>> {
    let (units, now) = (land.units(), land.rates.rows.as_slice());
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
    // One entry per product with a rate by date, and one per lot where it has several.
    let mut sums: Vec<(usize, Option<&LotTally>, Sum)> = Vec::new();
    for (nth, today) in tally
        .products
        .iter()
        .enumerate()
        .filter(|(nth, _)| dated(*nth))
    {
        match today.lots.as_slice() {
            [] => sums.push((nth, None, Sum::default())),
            lots => sums.extend(lots.iter().map(|lot| (nth, Some(lot), Sum::default()))),
        }
    }
    let mut then: Vec<Combination> = Vec::with_capacity(now.len());
    for (row, (facts, _)) in units.rows.iter().enumerate() {
        let area_m2 = units.area_m2(row);
        // Strips of a trial ask for the same on any day.
        let asked = now[row].rates.iter().map(|rate| rate.asked);
        let strip = Strip {
            trial: "",
            asked: &asked.collect::<Vec<_>>(),
        };
        let (mut rates, _) = agronomy::in_trial(&later, &land.prepared.tables, facts, &strip)?;
        // A map that is cut to the bouts would be cut much the same.
        for (rate, today) in rates.iter_mut().zip(&now[row].rates) {
            rate.kg_per_ha *= agronomy::times_on_piece(today);
        }
        for (nth, lot, sum) in &mut sums {
            let rate = &rates[*nth];
            let each = job.products[*nth].each_lot();
            let sown = rate.lot.and_then(|of_list| each.get(of_list));
            if sown.map(|sown| &sown.lot) == lot.map(|lot| &lot.lot) {
                sum.add(rate, area_m2);
            }
        }
        then.push(Combination {
            facts: facts.clone(),
            area_m2,
            rates,
        });
    }
    let of_product = |(nth, lot, sum): &(usize, Option<&LotTally>, Sum)| {
        let today = tally.products.get(*nth)?;
        let (map_now_kg, driven_now_kg, order_kg, steps) = match lot {
            Some(lot) => (lot.map_kg(), lot.as_driven_kg, lot.order_kg, &lot.steps),
            None => (
                today.map_kg(),
                today.as_driven_kg,
                today.order_kg,
                &today.steps,
            ),
        };
        // Closed rows, overlap and the like go with the rates: the drive is the same.
        let driven_kg = match map_now_kg > 0.0 {
            true => sum.map_kg * driven_now_kg / map_now_kg,
            false => sum.map_kg,
        };
        let residue = steps.iter().filter(|step| step.step == StepName::Residue);
        let needed_kg = driven_kg + residue.map(|step| step.kg).sum::<f64>();
        Some(LaterProduct {
            id: today.id.clone(),
            lot: lot.map(|lot| lot.lot.clone()),
            map_kg: sum.map_kg,
            more_percent: match map_now_kg > 0.0 {
                true => (sum.map_kg / map_now_kg - 1.0) * 100.0,
                false => 0.0,
            },
            mean_kg_per_ha: match sum.sown_m2 > 0.0 {
                true => sum.map_kg / sum.sown_m2 * M2_PER_HA,
                false => 0.0,
            },
            needed_kg,
            left_of_order_kg: order_kg - needed_kg,
            capped_m2: sum.capped_m2,
            meter: meter(job, [now, &then], *nth, lot.map(|lot| lot.lot.as_str())),
        })
    };
    let products = sums.iter().filter_map(of_product).collect();
    Ok(Some(Later {
        date: later.sowing_date.unwrap_or_default(),
        products,
    }))
}

/// The rotor for the rates of today (the first) under those of the later date, of one product or one lot of it.
fn meter(job: &Job, of: [&[Combination]; 2], nth: usize, lot: Option<&str>) -> Option<LaterMeter> {
    let id = &job.products.get(nth)?.id;
    let [today, later] = of.map(|rows| {
        let report = match lot {
            Some(lot) => drill_by_lot::report(rows, job, nth, lot),
            None => drill::report(job, &super::drill::rows(rows, &kg_per_ha(rows))),
        };
        report.metering.into_iter().find(|own| own.product == *id)
    });
    let rotor = today?.best()?.name.clone();
    let later = later?;
    let fit = later.rotors.iter().find(|fit| fit.name == rotor)?;
    Some(LaterMeter {
        asked_kg_per_min: later.flow_kg_per_min,
        delivers_kg_per_min: fit.delivers_kg_per_min,
        margin: fit.margin,
        rotor,
    })
}

/// What a later date comes to.
#[derive(Default)]
struct Sum {
    map_kg: f64,
    sown_m2: f64,
    capped_m2: f64,
}

impl Sum {
    fn add(&mut self, rate: &Rate, area_m2: f64) {
        self.map_kg += area_m2 * rate.kg_per_ha / M2_PER_HA;
        if rate.kg_per_ha > 0.0 {
            self.sown_m2 += area_m2;
        }
        if rate.held_down() {
            self.capped_m2 += area_m2;
        }
    }
}
