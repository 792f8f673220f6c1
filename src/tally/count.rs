//! Counting a map: areas and kilograms, per land part and product.

use super::balance::balances;
use super::order::{Need, order};
use super::{ProductTally, Tally};
use crate::agronomy::Rate;
use crate::drive::as_driven::AsDriven;
use crate::drive::tramline::Rhythm;
use crate::geometry::Shape;
use crate::job::{Job, LandPart, Product};
use crate::land::Land;
use crate::map::RateMap;
use crate::zones::LandUnits;

/// What is counted.
pub struct Counted<'a> {
    pub land: &'a Land,
    pub units: &'a LandUnits,
    /// Per row of the rate table, per product (job order), kg/ha.
    pub rates: &'a [Vec<f64>],
    pub map: &'a RateMap,
    /// Tramlines, in the interior.
    pub tramline: Option<&'a Rhythm>,
    /// What the drive makes of the map; `None` where the job asks for no drive.
    pub driven: Option<&'a AsDriven>,
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

fn product_tally(counted: &Counted, job: &Job, product: &Product, nth: usize) -> ProductTally {
    let units = counted.units;
    let is_off = |row: usize| {
        let mut setbacks = units.rows[row].0.setbacks.iter();
        setbacks.any(|&setback| job.setbacks[setback].products.contains(&product.id))
    };
    let rows: Vec<(f64, f64)> = (0..units.rows.len())
        .map(|row| (units.area_m2(row), counted.rates[row][nth]))
        .collect();
    let map_kg: f64 = rows.iter().map(|(area, rate)| area * rate / 10_000.0).sum();
    let sown = || rows.iter().filter(|(_, rate)| *rate > 0.0);
    let sown_m2: f64 = sown().map(|(area, _)| area).sum();
    let open_m2: f64 = rows
        .iter()
        .enumerate()
        .filter(|(row, _)| !is_off(*row))
        .map(|(_, (area, _))| area)
        .sum();
    let per_ha = |m2: f64| {
        if m2 > 0.0 {
            map_kg / m2 * 10_000.0
        } else {
            0.0
        }
    };
    let lowest = sown()
        .map(|(_, rate)| *rate)
        .reduce(f64::min)
        .unwrap_or(0.0);
    let highest = sown()
        .map(|(_, rate)| *rate)
        .reduce(f64::max)
        .unwrap_or(0.0);
    let hopper = job
        .drill
        .hoppers
        .iter()
        .find(|hopper| hopper.name == product.hopper);
    let residue_kg = hopper
        .zip(product.bulk_density_kg_per_l)
        .map_or(0.0, |(h, density)| h.residue_l * density);
    let ordered = order(&Need {
        map_kg,
        reserve_percent: job.order.reserve_percent,
        driven: counted
            .driven
            .and_then(|driven| driven.products.iter().find(|of| of.id == product.id)),
        tramline_kg: tramline_kg(counted, product, nth),
        residue_kg,
        pack_kg: product.pack_kg,
    });
    let kg_per_fill = hopper
        .zip(product.bulk_density_kg_per_l)
        .map(|(h, density)| h.usable_l * density);
    ProductTally {
        id: product.id.clone(),
        name: product.name.clone(),
        lot: product.lot.clone(),
        sown_m2,
        lowest_kg_per_ha: lowest,
        highest_kg_per_ha: highest,
        flat_kg_per_ha: per_ha(open_m2),
        steps: ordered.steps,
        order_kg: ordered.kg,
        packs: ordered.packs,
        hopper: product.hopper.clone(),
        as_driven_kg: ordered.sown_kg,
        fills: kg_per_fill.map(|fill| ordered.sown_kg / fill),
        kg_per_fill,
        ha_per_fill: kg_per_fill
            .filter(|_| map_kg > 0.0)
            .map(|fill| fill / per_ha(sown_m2)),
        metric_grid_kg: 0.0,
        degrees_grid_kg: 0.0,
    }
}

/// What closed tramline rows of the interior do not sow, kg: their share of a full cycle.
fn tramline_kg(counted: &Counted, product: &Product, nth: usize) -> f64 {
    let Some(rhythm) = counted.tramline.filter(|_| !product.surface_applied) else {
        return 0.0;
    };
    let units = counted.units;
    let interior =
        (0..units.rows.len()).filter(|&row| units.rows[row].0.part == LandPart::Interior);
    let kg = interior.map(|row| units.area_m2(row) * counted.rates[row][nth] / 10_000.0);
    kg.sum::<f64>() * rhythm.saved_percent / 100.0
}
