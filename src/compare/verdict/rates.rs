//! Faults of amounts: another unit, short or over everywhere, totals against rates, a product that stops, rates by hand.

use super::samples::{Sample, Samples, median, runs};
use super::{Case, Told, Trouble};
use crate::compare::entries::Source;
use crate::units::M2_PER_HA;
use std::collections::BTreeMap;

/// One pound per acre in kilograms per hectare: 0.453 592 37 kg (international pound) on 4046.856 422 4 m2 (international acre).
const LB_PER_ACRE: f64 = 0.453_592_37 / 4_046.856_422_4 * M2_PER_HA;
/// A factor is that of the unit within this share.
const UNIT_WITHIN: f64 = 0.02;
/// A meter is off from here on: what a careful calibration test keeps within.
const OFF: f64 = 0.03;
/// Factors of zones lie within this share of the whole's, or it is no factor.
const ALIKE: f64 = 0.02;
/// Totals and rates may differ by this share more than what was sown without a position, and by this much.
const TOTALS_WITHIN: f64 = 0.03;
const TOTALS_KG: f64 = 5.0;
/// A product has stopped below this share of the wanted rate, for so long a way, m.
const STOPPED: f64 = 0.5;
const WAY_M: f64 = 20.0;

pub(super) fn judge(case: &Case, samples: &Samples, wrong_map: bool) -> Vec<Told> {
    let mut told = Vec::new();
    for product in 0..case.plan.products.len() {
        if !wrong_map {
            told.extend(stopped(case, samples, product));
        }
        told.extend(total(case, product));
        told.extend(weighed(case, product));
        told.extend(source(case, samples, product, Trouble::ByHand));
        told.extend(source(case, samples, product, Trouble::FallbackRate));
    }
    told
}

/// Factors of products, where there is one.
pub(super) fn factors(case: &Case, samples: &Samples) -> Vec<Told> {
    let products = 0..case.plan.products.len();
    products
        .filter_map(|product| factor(case, samples, product))
        .collect()
}

/// The factor between what was sown and what was wanted, where it is the same on all zones.
fn factor(case: &Case, samples: &Samples, product: usize) -> Option<Told> {
    let mut all: Vec<(f64, f64)> = Vec::new();
    // By the bits of the wanted rate, which is above 0.
    let mut by_rate: BTreeMap<u64, Vec<(f64, f64)>> = BTreeMap::new();
    for (sample, wanted, sown) in samples.settled(product) {
        let ratio = (sown / wanted, sample.area_m2());
        all.push(ratio);
        by_rate.entry(wanted.to_bits()).or_default().push(ratio);
    }
    let whole = median(&mut all)?;
    if (whole - 1.0).abs() < OFF {
        return None;
    }
    let alike = by_rate
        .values_mut()
        .filter_map(|own| median(own))
        .all(|own| (own / whole - 1.0).abs() <= ALIKE);
    if !alike {
        return None;
    }
    let id = case.id(product);
    let near = |factor: f64| (whole / factor - 1.0).abs() <= UNIT_WITHIN;
    let m2: f64 = all.iter().map(|(_, m2)| m2).sum();
    let told = if near(LB_PER_ACRE) || near(1.0 / LB_PER_ACRE) {
        let (taken, meant) = match whole > 1.0 {
            true => ("pounds per acre", "kilograms per hectare"),
            false => ("kilograms per hectare", "pounds per acre"),
        };
        Told::of(
            Trouble::OtherUnit,
            format!(
                "Of '{id}' {whole:.3} times the plan was sown on every zone: that is the factor between kilograms per hectare and pounds per acre. Numbers in {meant} were taken for {taken}."
            ),
        )
    } else {
        let (trouble, what) = match whole > 1.0 {
            true => (Trouble::OverEverywhere, "more"),
            false => (Trouble::ShortEverywhere, "less"),
        };
        let percent = (whole - 1.0).abs() * 100.0;
        Told::of(
            trouble,
            format!(
                "Of '{id}' {percent:.1} % {what} than planned was sown on every zone (factor {whole:.3})."
            ),
        )
    };
    Some(Told {
        factor: Some(whole),
        ..told.product(case, product).area(m2)
    })
}

/// The total against rates times land, and what the task counts against the logs.
fn total(case: &Case, product: usize) -> Vec<Told> {
    let Some(own) = case.figures.products.get(product) else {
        return Vec::new();
    };
    let id = case.id(product);
    let mut told = Vec::new();
    let placed_kg = own.on_land_kg + own.beyond_kg;
    let logged_kg = case.track.counted_kg.get(product).copied().unwrap_or(0.0);
    let in_logs = case.channels.has_total.get(product) == Some(&true);
    let has_rate = case.channels.has_rate.get(product) == Some(&true);
    // Where there was no position, and over gaps, kilograms are counted and not placed.
    let worked_m2: f64 = case.track.segments.iter().map(|s| s.area_m2(product)).sum();
    let m2_per_s = worked_m2 / case.track.working_s.max(1.0);
    let rate = placed_kg / worked_m2.max(1.0);
    let unplaced_m2 = case.track.lost_s * m2_per_s + case.track.gap_m * case.plan.width_m;
    let unplaced_kg = rate * unplaced_m2 * 1.5;
    if in_logs && has_rate && placed_kg > 0.0 {
        let differs = logged_kg - placed_kg;
        let most = placed_kg * TOTALS_WITHIN + TOTALS_KG;
        let trouble = if differs > most + unplaced_kg {
            Some((Trouble::TotalAboveRates, "more"))
        } else if differs < -most {
            Some((Trouble::TotalBelowRates, "less"))
        } else {
            None
        };
        if let Some((trouble, what)) = trouble {
            let factor = logged_kg / placed_kg;
            let told_of = Told::of(
                trouble,
                format!(
                    "The meter of '{id}' counted {}, and its rates on the land that was drilled come to {}: {} {what} (factor {factor:.3}).",
                    case.mass(logged_kg, 0),
                    case.mass(placed_kg, 0),
                    case.mass(differs.abs(), 0)
                ),
            );
            told.push(Told {
                kg: Some(differs),
                factor: Some(factor),
                ..told_of.product(case, product)
            });
        }
    }
    if let Some(task_kg) = own.in_task_kg {
        let logged_kg = if in_logs { logged_kg } else { placed_kg };
        let more = task_kg - logged_kg;
        if more > logged_kg * TOTALS_WITHIN + TOTALS_KG {
            let told_of = Told::of(
                Trouble::NotLogged,
                format!(
                    "The task counts {} of '{id}', and its logs hold {}: {} were sown while nothing was logged.",
                    case.mass(task_kg, 0),
                    case.mass(logged_kg, 0),
                    case.mass(more, 0)
                ),
            );
            told.push(Told {
                kg: Some(more),
                ..told_of.product(case, product)
            });
        }
    }
    told
}

/// What the scales say against what the meter counted.
fn weighed(case: &Case, product: usize) -> Option<Told> {
    let own = case.figures.products.get(product)?;
    let (weighed_kg, factor) = (own.sown_by_weight_kg?, own.by_weight_factor?);
    if (factor - 1.0).abs() < OFF {
        return None;
    }
    let found = format!(
        "By weight {} of '{}' were sown, and the meter counted {} (factor {factor:.3}): everywhere lies {factor:.3} times what the log says.",
        case.mass(weighed_kg, 0),
        case.id(product),
        case.mass(own.sown_kg, 0)
    );
    let told = Told::of(Trouble::MeterOffScales, found).product(case, product);
    Some(Told {
        kg: Some(weighed_kg - own.sown_kg),
        factor: Some(factor),
        ..told
    })
}

/// The longest stretch on which a product stops while the drill goes on.
fn stopped(case: &Case, samples: &Samples, product: usize) -> Option<Told> {
    use super::samples::SETTLES_S;
    let holds = |own: &Sample| {
        let (wanted, sown) = own.rates(product).unwrap_or((0.0, 0.0));
        let settled = own.settled_s.get(product).is_some_and(|s| *s >= SETTLES_S);
        own.on_land && settled && wanted > 0.0 && sown < STOPPED * wanted
    };
    let found: Vec<(&Sample, f64, f64)> = runs(&samples.all, holds)
        .into_iter()
        .filter(|(_, metres, _)| *metres >= WAY_M)
        .collect();
    let worst = found.iter().max_by(|a, b| a.1.total_cmp(&b.1))?;
    let m2: f64 = found.iter().map(|(_, _, m2)| m2).sum();
    let (first, metres, _) = worst;
    let told = Told::of(
        Trouble::ProductStopped,
        format!(
            "'{}' fell below half of its rate while the drill went on: {} times, {} in all, the longest over {}.",
            case.id(product),
            found.len(),
            case.land(m2),
            case.way(*metres, 0)
        ),
    );
    Some(told.product(case, product).at(case, first.at).area(m2))
}

/// Land sown with rates that are not those of the map.
fn source(case: &Case, samples: &Samples, product: usize, trouble: Trouble) -> Option<Told> {
    let holds = |own: &Sample| {
        let source = own.sources.get(product).copied().flatten();
        own.on_land
            && match trouble {
                Trouble::ByHand => source == Some(Source::Hand),
                _ => matches!(
                    source,
                    Some(Source::Default | Source::PositionLost | Source::OutOfField)
                ),
            }
    };
    let found: Vec<(&Sample, f64, f64)> = runs(&samples.all, holds)
        .into_iter()
        .filter(|(_, metres, _)| *metres >= WAY_M)
        .collect();
    let (first, _, _) = found.iter().max_by(|a, b| a.1.total_cmp(&b.1))?;
    let m2: f64 = found.iter().map(|(_, _, m2)| m2).sum();
    let (id, land) = (case.id(product), case.land(m2));
    let told = Told::of(
        trouble,
        match trouble {
            Trouble::ByHand => format!("The rate of '{id}' was set by hand on {land}."),
            _ => format!(
                "'{id}' was sown at the rate for where the map has none, for a lost position or for outside the field on {land} of the plan's land."
            ),
        },
    );
    Some(told.product(case, product).at(case, first.at).area(m2))
}
