//! Counting a map: areas and kilograms, per land part and product.

use super::balance::balances;
use super::lot_totals::{LotTally, lots, shared, summed};
use super::order::{Need, Pack, order, seeds_of_kg};
use super::{ProductTally, Tally};
use crate::agronomy::Rate;
use crate::drive::as_driven::DrivenProduct;
use crate::drive::tramline::Rhythm;
use crate::drive::work_rate::ha_per_fill;
use crate::geometry::Shape;
use crate::job::{Job, LandPart, Product};
use crate::land::Land;
use crate::map::RateMap;
use crate::texts::Words;
use crate::units::M2_PER_HA;
use crate::zones::LandUnits;

/// What is counted.
pub struct Counted<'a> {
    pub land: &'a Land,
    pub units: &'a LandUnits,
    /// Per row of the rate table, per product (job order), kg/ha.
    pub rates: &'a [Vec<f64>],
    pub map: &'a RateMap,
    /// Tramlines, in the interior and on the headland.
    pub tramline: Option<&'a Rhythm>,
    /// What the drive makes of the map, product by product; empty where the job asks for no drive.
    pub driven: Vec<&'a DrivenProduct>,
    /// Per row of the rate table: its area in m2 and the rates of all products with their balance.
    pub rows: &'a [(f64, &'a [Rate])],
}

/// Counts a map and makes the order.
pub fn count(counted: &Counted, job: &Job) -> Tally {
    let sum = |shapes: &[Shape]| shapes.iter().map(Shape::area_m2).sum::<f64>();
    let boundary_m2 = sum(&counted.land.field);
    let rows = counted.units.rows.len();
    let part_m2 = |part: LandPart| {
        let in_part = (0..rows).filter(|&row| counted.units.rows[row].0.part == part);
        (
            part,
            in_part.map(|row| counted.units.area_m2(row)).sum::<f64>(),
        )
    };
    let parts_m2: Vec<(LandPart, f64)> = [LandPart::Headland, LandPart::Interior]
        .map(part_m2)
        .to_vec();
    let mapped_m2 = parts_m2.iter().map(|(_, area)| area).sum();
    let [metric_kg, degrees_kg] = [counted.map.metric.kg(), counted.map.degrees.kg()];
    let products = job.products.iter().enumerate().map(|(nth, product)| {
        let tally = product_tally(counted, job, product, nth);
        ProductTally {
            metric_grid_kg: metric_kg[nth] - tally.map_kg(),
            degrees_grid_kg: degrees_kg[nth] - tally.map_kg(),
            ..tally
        }
    });
    Tally {
        mapped_m2,
        boundary_m2,
        excluded_m2: boundary_m2 - sum(&counted.land.land),
        parts_m2,
        products: products.collect(),
        balances: balances(counted.rows, job),
    }
}

/// The product over the whole field. Where it has lots, its steps are theirs summed: nothing is pooled
/// across lots, so each lot's reserve, residue and packs are its own.
fn product_tally(counted: &Counted, job: &Job, product: &Product, nth: usize) -> ProductTally {
    let whole = sown(counted, job, product, nth, &|_| true);
    let lots = lots(counted, job, product, nth);
    let whole = match lots.is_empty() {
        true => whole,
        false => summed(whole, &lots, Words::of(job)),
    };
    ProductTally {
        id: product.id.clone(),
        name: product.name.clone(),
        lot: product.lot.clone(),
        sown_m2: whole.sown_m2,
        lowest_kg_per_ha: whole.lowest_kg_per_ha,
        highest_kg_per_ha: whole.highest_kg_per_ha,
        flat_kg_per_ha: whole.flat_kg_per_ha,
        steps: whole.steps,
        as_driven_kg: whole.as_driven_kg,
        order_kg: whole.order_kg,
        packs: whole.packs,
        one_pack_less: whole.one_pack_less,
        hopper: product.hopper.clone(),
        fills: whole.fills,
        kg_per_fill: whole.kg_per_fill,
        ha_per_fill: whole.ha_per_fill,
        metric_grid_kg: 0.0,
        degrees_grid_kg: 0.0,
        seeds: whole.seeds,
        lots,
    }
}

/// Counts a product on the rows that `on` picks.
pub(super) fn sown(
    counted: &Counted,
    job: &Job,
    product: &Product,
    nth: usize,
    on: &dyn Fn(usize) -> bool,
) -> LotTally {
    let units = counted.units;
    let is_off = |row: usize| {
        let mut setbacks = units.rows[row].0.setbacks.iter();
        setbacks.any(|&setback| job.setbacks[setback].products.contains(&product.id))
    };
    let rows: Vec<(usize, f64, f64)> = (0..units.rows.len())
        .filter(|&row| on(row))
        .map(|row| (row, units.area_m2(row), counted.rates[row][nth]))
        .collect();
    let kg = rows.iter().map(|(_, area, rate)| area * rate / M2_PER_HA);
    let map_kg: f64 = kg.sum();
    let sown = || rows.iter().filter(|(_, _, rate)| *rate > 0.0);
    // A sum of nothing is -0.
    let sown_m2 = sown().map(|(_, area, _)| area).sum::<f64>() + 0.0;
    let open = rows.iter().filter(|(row, _, _)| !is_off(*row));
    let open_m2: f64 = open.map(|(_, area, _)| area).sum();
    let per_ha = |m2: f64| match m2 > 0.0 {
        true => map_kg / m2 * M2_PER_HA,
        false => 0.0,
    };
    let rates = || sown().map(|(_, _, rate)| *rate);
    let mut hoppers = job.drill.hoppers.iter();
    let hopper = hoppers
        .find(|hopper| hopper.name == product.hopper)
        .zip(product.bulk_density_kg_per_l);
    // The drive knows the product, not its lots: a lot bears what the drive changes by its share of the map.
    let mut driven = counted.driven.iter();
    let driven = driven
        .find(|of| of.id == product.id)
        .map(|of| shared(of, map_kg));
    let ordered = order(&Need {
        spreader: [0.0; 2],
        words: Words::of(job),
        map_kg,
        reserve_percent: job.order.reserve_percent,
        driven: driven.as_ref(),
        tramline_kg: tramline_kg(counted, product, nth, on),
        residue_kg: hopper.map_or(0.0, |(hopper, density)| hopper.residue_l * density),
        pack: Pack::of(product),
    });
    let kg_per_fill = hopper.map(|(hopper, density)| hopper.usable_l * density);
    LotTally {
        lot: product.lot.clone().unwrap_or_default(),
        variety: None,
        dressing: product.dressing.clone(),
        classes: Vec::new(),
        sown_m2,
        lowest_kg_per_ha: rates().reduce(f64::min).unwrap_or(0.0),
        highest_kg_per_ha: rates().reduce(f64::max).unwrap_or(0.0),
        flat_kg_per_ha: per_ha(open_m2),
        steps: ordered.steps,
        order_kg: ordered.kg,
        packs: ordered.packs,
        one_pack_less: ordered.one_pack_less,
        as_driven_kg: ordered.sown_kg,
        fills: kg_per_fill.map(|fill| ordered.sown_kg / fill),
        kg_per_fill,
        ha_per_fill: kg_per_fill
            .filter(|_| map_kg > 0.0)
            .map(|fill| ha_per_fill(fill, per_ha(sown_m2))),
        seeds: product
            .thousand_grain_weight_g
            .map(|weight| seeds_of_kg(map_kg, weight)),
    }
}

/// What closed tramline rows do not sow, kg: in the interior their share of a full cycle, on the headland their ground
/// at its mean rate.
fn tramline_kg(
    counted: &Counted,
    product: &Product,
    nth: usize,
    on: &dyn Fn(usize) -> bool,
) -> f64 {
    let Some(rhythm) = counted.tramline.filter(|_| !product.surface_applied) else {
        return 0.0;
    };
    let units = counted.units;
    let rows_of =
        |part: LandPart| (0..units.rows.len()).filter(move |&row| units.rows[row].0.part == part);
    let kg = |part: LandPart| {
        let rows = rows_of(part).filter(|&row| on(row));
        rows.map(|row| units.area_m2(row) * counted.rates[row][nth] / M2_PER_HA)
            .sum::<f64>()
    };
    let interior_kg = kg(LandPart::Interior) * rhythm.saved_percent / 100.0;
    let headland_m2: f64 = rows_of(LandPart::Headland)
        .map(|row| units.area_m2(row))
        .sum();
    match &rhythm.headland {
        Some(round) if round.saved_m2 > 0.0 && headland_m2 > 0.0 => {
            let share = (round.saved_m2 / headland_m2).min(1.0);
            interior_kg + kg(LandPart::Headland) * share
        }
        _ => interior_kg,
    }
}
