//! Which rotor covers the range of the map, and what would help where none does.

use super::{Limits, Metering, Range, Row, flow};
use crate::job::{Job, Rotor};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// A rotor against the range of the map.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct RotorFit {
    /// Name of the rotor.
    pub name: String,
    /// What it delivers in one revolution, kg.
    pub kg_per_rev: f64,
    /// What it delivers, kg/min.
    pub delivers_kg_per_min: Range,
    /// Revolutions per minute at both ends of the map's range.
    pub rev_per_min: Range,
    /// The smaller of: lowest flow over what it delivers at least, what it delivers at most over the
    /// highest flow. From 1 up it fits; 1.25 leaves a quarter to spare at the tighter end.
    pub margin: f64,
    /// Rows of the rate table (from 1) that it cannot serve over the whole range of speeds.
    pub rows_outside: Vec<usize>,
}

/// What would make the range fit, each on its own.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Help {
    /// Highest flow over lowest flow of the map.
    pub turn_down: f64,
    /// Displacement that covers the range with the revolutions of the best rotor, cm3; `None` if the
    /// turn-down is more than any single rotor with these revolutions has.
    pub cm3_per_rev: Option<Range>,
    /// Fastest speed that the best rotor can feed at the highest rate, if that is the trouble.
    pub fastest_km_per_h: Option<f64>,
    /// Slowest speed that it can feed at the lowest rate with the smallest section alone, if that is
    /// the trouble.
    pub slowest_km_per_h: Option<f64>,
    /// Lowest rate that it can meter at the slowest speed with the smallest section alone.
    pub lowest_kg_per_ha: Option<f64>,
    /// Highest rate that it can meter at the fastest speed.
    pub highest_kg_per_ha: Option<f64>,
}

/// A product and the rotors of its hopper over all rows. `None` without rotors, without a bulk
/// density, or where nothing is sown; for a surface-applied product also where the width that its own
/// unit spreads is not given. That unit has no sections.
pub(super) fn metering(job: &Job, nth: usize, rows: &[Row], limits: &Limits) -> Option<Metering> {
    let product = job.products.get(nth)?;
    let mut hoppers = job.drill.hoppers.iter();
    let hopper = hoppers.find(|hopper| hopper.name == product.hopper)?;
    let limits = &if product.surface_applied {
        let width_m = hopper.spreads_width_m?;
        Limits {
            width_m,
            smallest_section_m: width_m,
            ..*limits
        }
    } else {
        *limits
    };
    let kg_per_l = product.bulk_density_kg_per_l?;
    let rates = range(
        rows.iter()
            .filter_map(|row| row.kg_per_ha.get(nth))
            .copied(),
    )?;
    let needs = |rate: f64| Range {
        low: flow::kg_per_min(rate, limits.smallest_section_m, limits.slow_km_per_h),
        high: flow::kg_per_min(rate, limits.width_m, limits.fast_km_per_h),
    };
    let need = Range {
        low: needs(rates.low).low,
        high: needs(rates.high).high,
    };
    let rotors: Vec<RotorFit> = hopper
        .rotors
        .iter()
        .map(|rotor| {
            let mut fit = fit(rotor, kg_per_l, need);
            let outside = rows.iter().enumerate().filter(|(_, row)| {
                let rate = row.kg_per_ha.get(nth).copied().unwrap_or(0.0);
                let need = needs(rate);
                rate > 0.0
                    && (need.low < fit.delivers_kg_per_min.low
                        || need.high > fit.delivers_kg_per_min.high)
            });
            fit.rows_outside = outside.map(|(row, _)| row + 1).collect();
            fit
        })
        .collect();
    let mut best = 0;
    for (at, rotor) in rotors.iter().enumerate() {
        // Of two with the same margin the first listed counts.
        if rotor.margin > rotors.get(best)?.margin {
            best = at;
        }
    }
    let (fitted, rotor) = (rotors.get(best)?, hopper.rotors.get(best)?);
    let help = (fitted.margin < 1.0).then(|| help(rotor, fitted, kg_per_l, need, rates, limits));
    Some(Metering {
        product: product.id.clone(),
        hopper: hopper.name.clone(),
        rates_kg_per_ha: rates,
        flow_kg_per_min: need,
        width_m: limits.width_m,
        rotors,
        best,
        help,
    })
}

/// Lowest and highest of the rates above zero.
fn range(rates: impl Iterator<Item = f64>) -> Option<Range> {
    rates
        .filter(|rate| *rate > 0.0)
        .map(|rate| Range {
            low: rate,
            high: rate,
        })
        .reduce(|a, b| Range {
            low: a.low.min(b.low),
            high: a.high.max(b.high),
        })
}

fn fit(rotor: &Rotor, kg_per_l: f64, need: Range) -> RotorFit {
    let kg_per_rev = flow::kg_per_rev(rotor, kg_per_l);
    let delivers = Range {
        low: rotor.min_rev_per_min * kg_per_rev,
        high: rotor.max_rev_per_min * kg_per_rev,
    };
    RotorFit {
        name: rotor.name.clone(),
        kg_per_rev,
        delivers_kg_per_min: delivers,
        rev_per_min: Range {
            low: need.low / kg_per_rev,
            high: need.high / kg_per_rev,
        },
        margin: (need.low / delivers.low).min(delivers.high / need.high),
        rows_outside: Vec::new(),
    }
}

fn help(
    rotor: &Rotor,
    fit: &RotorFit,
    kg_per_l: f64,
    need: Range,
    rates: Range,
    limits: &Limits,
) -> Help {
    let per_cm3 = flow::kg_per_rev(rotor, kg_per_l) / rotor.cm3_per_rev;
    let wanted = Range {
        low: need.high / (rotor.max_rev_per_min * per_cm3),
        high: need.low / (rotor.min_rev_per_min * per_cm3),
    };
    let delivers = fit.delivers_kg_per_min;
    let [too_little, too_much] = [need.low < delivers.low, need.high > delivers.high];
    let (narrow, wide) = (limits.smallest_section_m, limits.width_m);
    Help {
        turn_down: need.high / need.low,
        cm3_per_rev: (wanted.low <= wanted.high).then_some(wanted),
        fastest_km_per_h: too_much.then(|| flow::km_per_h(delivers.high, rates.high, wide)),
        slowest_km_per_h: too_little.then(|| flow::km_per_h(delivers.low, rates.low, narrow)),
        lowest_kg_per_ha: too_little
            .then(|| flow::kg_per_ha(delivers.low, narrow, limits.slow_km_per_h)),
        highest_kg_per_ha: too_much
            .then(|| flow::kg_per_ha(delivers.high, wide, limits.fast_km_per_h)),
    }
}
