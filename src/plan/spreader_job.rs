//! The job of a spreader's plan, from that of the drill's.

use super::spreader::{FOLDER, WANTED, Wanted};
use crate::agronomy::{self, SpreadRates};
use crate::job::{
    ByClass, ClosedPeriod, Drill, Fallback, Job, Kind, Lookup, ProductsPerTask, RateRule, Setback,
    Spreader, ZoneLayer, balance_id,
};
use std::collections::BTreeMap;
use std::path::PathBuf;

/// Name of its layer, as reasons name it.
const LAYER: &str = "left to broadcast, kg/ha";

/// The job of the spreader: its machine, one product by classes of what is wanted, the field and its setbacks as they are.
pub(super) fn own_job(
    job: &Job,
    spreader: &Spreader,
    of: usize,
    wanted: &Wanted,
    rates: &SpreadRates,
) -> Job {
    let mut own = job.clone();
    let placed = &job.products[of];
    let id = balance_id(placed);
    let drill = &job.drill;
    let width = spreader.working_width_m;
    // Half the width is what a setback is widened by anyhow; grains land farther than that.
    let beyond_m = spreader.throw_m() - width / 2.0;
    own.drill = Drill {
        from: None,
        name: spreader.name.clone(),
        working_width_m: width,
        row_spacing_m: None,
        rows: None,
        sections_m: Vec::new(),
        max_flow_kg_per_min: None,
        fan_rpm: None,
        position_error_m: spreader.position_error_m.unwrap_or(drill.position_error_m),
        run_on_m: spreader.run_on_m.unwrap_or(drill.run_on_m) + beyond_m,
        reference_to_outlets_m: 0.0,
        wheel_round_m: None,
        opener_spread_m: None,
        hoppers: Vec::new(),
        ..drill.clone()
    };
    let mut product = placed.clone();
    let other = placed.balance.as_ref();
    product.id.clone_from(&id);
    product.name = agronomy::balance_name(placed).to_owned();
    product.kind = Kind::Fertiliser;
    product.hopper = FOLDER.to_owned();
    product.surface_applied = true;
    product.grade = agronomy::balance_grade(placed);
    if let Some(other) = other {
        product.bulk_density_kg_per_l = None;
        product.pack_kg = other.pack_kg;
        product.price_per_t = other.price_per_t;
        product.price_per_pack = other.price_per_pack;
        product.lot = None;
    }
    product.lots = None;
    product.form = None;
    product.delays = None;
    product.depth_mm = None;
    product.adjustments = Vec::new();
    product.limits = agronomy::spread_limits(spreader, placed);
    product.fallback_kg_per_ha = None;
    product.balance = None;
    let classes = wanted.classes.iter();
    let by_class: BTreeMap<String, f64> = classes
        .map(|class| (class.name.clone(), rates.rate(class.kg_per_ha)))
        .collect();
    product.rate = RateRule {
        kg_per_ha: Some(Lookup::ByClass(ByClass {
            layer: LAYER.to_owned(),
            by_class,
            curve: Vec::new(),
            otherwise: None,
        })),
        ..RateRule::default()
    };
    own.products = vec![product];
    let mut layer: ZoneLayer = layer_of_its_own();
    layer.source.file = PathBuf::from("gis/balance.geojson");
    own.layers = vec![layer];
    own.setbacks = own_setbacks(job, &placed.id, &id);
    own.sowing_date = spreader
        .spreading_date
        .clone()
        .or_else(|| job.sowing_date.clone());
    let closed = job.closed_periods.iter();
    let closed = closed.filter(|period| {
        [&placed.id, &id]
            .iter()
            .any(|id| period.products.contains(id))
    });
    own.closed_periods = closed
        .map(|period| ClosedPeriod {
            products: vec![id.clone()],
            ..period.clone()
        })
        .collect();
    own.special_areas = Vec::new();
    own.headland = Default::default();
    own.zones.sliver_area_m2 = 0.0;
    own.spreader = None;
    own.drive = None;
    own.tramline = None;
    own.trials = Vec::new();
    // What is wanted is that of the seedbed that was planned for.
    own.seedbed = None;
    own.of_two_seedbeds = false;
    own.refill = Default::default();
    own.mixture = None;
    // What is wanted has been held against them.
    own.place_limits = Vec::new();
    own.seed_safe = Vec::new();
    own.own_seed_limits = Vec::new();
    own.accepted = Vec::new();
    own.grid.cell_m = spreader.cell_m.or(job.grid.cell_m);
    // Another machine, mostly behind another terminal: what that of the drill has told means nothing there.
    own.terminal.from = None;
    own.terminal.products_per_task = ProductsPerTask::All;
    // Where its map does not answer nothing is known to be wanted.
    own.terminal.default_rate = Fallback::Zero;
    own.terminal.position_lost = Fallback::Zero;
    own.terminal.out_of_field = Fallback::Zero;
    own.report.units = spreader.units.unwrap_or(job.report.units);
    own.machine_file = None;
    own
}

fn layer_of_its_own() -> ZoneLayer {
    ZoneLayer {
        name: LAYER.to_owned(),
        source: Default::default(),
        divides: false,
        line: Vec::new(),
        class_attribute: WANTED.to_owned(),
        values: None,
        zonal: None,
        overlaps: None,
        placed_since: None,
        class_of_gaps: None,
    }
}

/// The setbacks that hold for the spreader: those of the placed product, and those that name what is broadcast.
pub(super) fn held(job: &Job, placed: &str, id: &str) -> Vec<usize> {
    let all = job.setbacks.iter().enumerate();
    let named = all.filter(|(_, own)| {
        own.products
            .iter()
            .any(|known| known == placed || known == id)
    });
    named.map(|(nth, _)| nth).collect()
}

fn own_setbacks(job: &Job, placed: &str, id: &str) -> Vec<Setback> {
    let held = held(job, placed, id).into_iter();
    held.filter_map(|nth| job.setbacks.get(nth))
        .map(|own| Setback {
            products: vec![id.to_owned()],
            ..own.clone()
        })
        .collect()
}
