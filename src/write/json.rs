//! A plan as the document that `plan.json` is.

use super::forms::Forms;
use super::holes;
use super::product_names::product_names;
use super::taskdata::TaskDataSums;
use crate::agronomy::Rate;
use crate::agronomy::caution::{self, Caution};
use crate::coordinates::LonLat;
use crate::document::{
    AllCautions, FORMAT, Frame, GridOfPlan, Grids, InFile, LandRates, LayerClass, MADE_BY,
    PlanDocument, RateOfProduct, ShutByHand, TerminalFiles, TerminalPolygons, TerminalProduct,
    TerminalZone, TurnedGridOfPlan, VERSION, Zone, ZoneMap,
};
use crate::drive;
use crate::findings::{Fault, Outcome, Place};
use crate::frame;
use crate::job::{Job, Product};
use crate::map::{Grid, MapZone, Outline, TerminalMap};
use crate::plan::{Combination, GateCheck, Maps, Plan, PlannedLand};
use crate::read::Polygon;
use crate::texts::Words;
use crate::units::nearest_whole;
use std::borrow::Cow;

/// The text of `plan.json`. `gate` is the plan's gate check.
///
/// # Errors
/// A path in the job that is no Unicode.
pub(super) fn text(
    plan: &Plan,
    timestamp: &str,
    sums: &TaskDataSums,
    (forms, gate): (&Forms, &GateCheck),
) -> Outcome<String> {
    let refused = |error: serde_json::Error| {
        Fault::input(
            "write.json",
            Place::file(&plan.job.file),
            format!("plan.json cannot hold this job: {error}"),
            "texts and paths in Unicode",
            "Rename the file or folder that is meant.",
        )
    };
    document(plan, timestamp, sums, (forms, gate))
        .text()
        .map_err(refused)
}

fn document<'a>(
    plan: &'a Plan,
    timestamp: &'a str,
    sums: &TaskDataSums,
    (forms, gate): (&Forms, &'a GateCheck),
) -> PlanDocument<'a> {
    let balance = plan.maps.balance.as_ref();
    let words = Words::of(&plan.job);
    PlanDocument {
        format: FORMAT.into(),
        version: VERSION,
        id: Cow::from(&plan.id),
        made_by: MADE_BY.into(),
        made_at: timestamp.into(),
        epsg_version: frame::epsg_version().into(),
        inputs: Cow::from(&plan.inputs),
        seedbed: plan.other_seedbed.as_ref().map(Cow::Borrowed),
        job: Cow::Borrowed(&plan.job),
        frame: Frame {
            projection: "transverse Mercator on WGS 84, scale 1, metres".into(),
            origin_lon_lat: plan.land.frame.origin(),
        },
        boundary: table("boundary", &plan.land.boundary),
        exclusions: table("exclusions", &plan.land.exclusions),
        rate_table: (1..)
            .zip(&plan.rates.rows)
            .map(|(number, row)| row_of(&plan.job, number, row))
            .collect(),
        map: ZoneMap {
            file: "gis/rates.gpkg".into(),
            table: "rates".into(),
            extent_lon_lat: extent(
                plan.maps
                    .rate
                    .zones
                    .iter()
                    .flat_map(|zone| zone.polygons.iter()),
            ),
            zones: plan.maps.rate.zones.iter().map(zone).collect(),
        },
        balance: balance
            .map(|map| map.zones.iter().map(zone).collect())
            .unwrap_or_default(),
        grids: grids(&plan.maps),
        terminal: terminal(plan, sums),
        gate_check: Cow::from(&gate.places),
        gate_check_misses: Cow::from(&gate.misses),
        shut_by_hand: shut_by_hand(plan),
        drill: plan.drill(),
        tramlines: plan.tramlines().map(Cow::Borrowed),
        drive: plan.drive.report.as_ref().map(Cow::Borrowed),
        as_driven: plan.drive.as_driven.as_ref().map(Cow::Borrowed),
        spread: Cow::from(&plan.drive.spread),
        refills: plan.drive.refills.as_ref().map(Cow::Borrowed),
        transitions: drive::response::transitions(&plan.job),
        in_setbacks: Cow::from(&plan.drive.in_setbacks),
        cut_map: plan.drive.cut_map.as_ref().map(Cow::Borrowed),
        trials: Cow::from(&plan.trials),
        tally: Cow::Borrowed(&plan.tally.planned),
        one_week_later: plan.tally.later.as_ref().map(Cow::Borrowed),
        cautions: AllCautions {
            first: words.text(&Caution::Defer).into(),
            at_the_drill: words
                .text(&match plan.spreader_of {
                    None => Caution::AtTheDrill,
                    Some(_) => Caution::AtTheSpreader,
                })
                .into(),
            products: caution::cautions(&plan.job),
        },
        findings: Cow::from(&plan.findings),
        spreader_of: plan.spreader_of.as_deref().map(Cow::from),
        only: forms
            .words_if_not_all()
            .map(|words| words.into_iter().map(Cow::from).collect()),
    }
}

/// Polygons that lie in a table of the GeoPackage.
fn table<'a>(name: &'a str, polygons: &[Polygon<LonLat>]) -> InFile<'a> {
    InFile {
        file: "gis/rates.gpkg".into(),
        table: name.into(),
        polygons: polygons.len(),
    }
}

fn row_of<'a>(job: &'a Job, number: usize, row: &'a Combination) -> LandRates<'a> {
    let facts = &row.facts;
    let classes = job.layers.iter().zip(&facts.classes);
    let special_areas = facts.special_areas.iter();
    let special_areas = special_areas.filter_map(|&at| job.special_areas.get(at));
    let setbacks = facts.setbacks.iter();
    let setbacks = setbacks.filter_map(|&at| job.setbacks.get(at));
    let rates = job.products.iter().zip(&row.rates);
    LandRates {
        row: number,
        part: facts.part,
        classes: classes
            .map(|(layer, class)| LayerClass {
                layer: Cow::from(&layer.name),
                class: Cow::from(class),
            })
            .collect(),
        special_areas: special_areas.map(|area| Cow::from(&area.name)).collect(),
        setbacks: setbacks.map(|setback| Cow::from(&setback.name)).collect(),
        area_m2: row.area_m2,
        rates: rates
            .map(|(product, rate)| rate_of(product, rate))
            .collect(),
    }
}

fn rate_of<'a>(product: &'a Product, rate: &'a Rate) -> RateOfProduct<'a> {
    let lot = rate.lot.and_then(|lot| product.each_lot().get(lot));
    RateOfProduct {
        product: Cow::from(&product.id),
        kg_per_ha: rate.kg_per_ha,
        lot: lot.map(|lot| Cow::from(&lot.lot)),
        stand: rate.stand.as_ref().map(Cow::Borrowed),
        reasons: Cow::from(&rate.reasons),
        seed_safe: Cow::from(&rate.seed_safe),
        balance: rate.balance.as_ref().map(Cow::Borrowed),
    }
}

fn zone(zone: &MapZone) -> Zone<'_> {
    let outline = Outline::of(&zone.polygons);
    Zone {
        zone: zone.id,
        part: zone.part,
        kg_per_ha: Cow::from(&zone.kg_per_ha),
        area_m2: zone.area_m2,
        middle_lon_lat: outline.middle,
        border_m: outline.border_m,
        border_points: outline.points,
        rows: Cow::from(&zone.combinations),
        polygons: zone.polygons.len(),
    }
}

fn grids(maps: &Maps) -> Grids<'static> {
    // GeoTIFF holds rates in 32 bits.
    let as_single = |rate| f64::from(rate as f32);
    let metric = |of, file| grid(of, file, "metres of the frame", as_single);
    let balance = maps.balance.as_ref();
    Grids {
        metric: metric(&maps.rate.metric, "gis/rates.tif"),
        degrees: grid(
            &maps.rate.degrees,
            "terminal/TASKDATA/GRD00001.bin",
            "degrees on WGS 84",
            |rate| rate,
        ),
        balance: balance.map(|map| metric(&map.grid, "gis/balance.tif")),
        turned: maps.rate.turned.as_ref().map(|turned| TurnedGridOfPlan {
            heading_deg: turned.heading_deg,
            kg: turned.grid.kg(),
            cells: metric(&turned.grid, "gis/rates-turned.tif"),
        }),
    }
}

/// A grid without its cells. `as_written` is the rate as the file has it.
fn grid(
    grid: &Grid,
    file: &'static str,
    unit: &'static str,
    as_written: fn(f64) -> f64,
) -> GridOfPlan<'static> {
    let products = grid.kg_per_ha.each();
    let steps = |rate: &f64| nearest_whole(as_written(*rate) * 100.0);
    let sets = grid.kg_per_ha.sets().iter();
    let steps_of_set: Vec<Vec<i64>> = sets.map(|set| set.iter().map(steps).collect()).collect();
    let mut row_sums = vec![vec![0_i64; grid.rows]; products];
    let mut column_sums = vec![vec![0_i64; grid.columns]; products];
    let rows = grid.kg_per_ha.numbers().chunks(grid.columns.max(1));
    for (row, numbers) in rows.enumerate() {
        for (column, &set) in numbers.iter().enumerate() {
            let steps = steps_of_set.get(set as usize).into_iter().flatten();
            for (nth, steps) in steps.enumerate() {
                row_sums[nth][row] += steps;
                column_sums[nth][column] += steps;
            }
        }
    }
    GridOfPlan {
        file: file.into(),
        unit: unit.into(),
        origin: grid.origin,
        cell: grid.cell,
        columns: grid.columns,
        rows: grid.rows,
        covered_m2: grid.covered_m2.iter().sum(),
        row_sums,
        column_sums,
    }
}

/// West, south, east and north of polygons, degrees; none without any.
fn extent<'a>(polygons: impl Iterator<Item = &'a Polygon<LonLat>>) -> Option<[f64; 4]> {
    let points = polygons.flat_map(|polygon| &polygon.exterior);
    points.fold(None, |extent, &LonLat { lon, lat }| {
        let [west, south, east, north] = extent.unwrap_or([lon, lat, lon, lat]);
        Some([west.min(lon), south.min(lat), east.max(lon), north.max(lat)])
    })
}

fn terminal<'a>(plan: &'a Plan, sums: &TaskDataSums) -> TerminalFiles<'a> {
    let products = plan.job.products.iter().enumerate();
    let maps = plan.maps.rate.terminal.iter();
    TerminalFiles {
        task_data: "terminal/TASKDATA/TASKDATA.XML".into(),
        held_back: plan.held_back().into_iter().map(Cow::from).collect(),
        ids_of_terminal: plan.land.on_terminal.ids().map(Cow::from).collect(),
        data_dictionary_entry: 6,
        step_kg_per_ha: 0.01,
        outline: outlined(&plan.land).into(),
        carried_as: product_names(&plan.job),
        products: products
            .filter_map(|(at, product)| in_task_data(plan, sums, at, product))
            .collect(),
        polygons: maps.map(|map| polygons(&plan.job, map)).collect(),
    }
}

/// A product in the task data; every list has an entry for it.
fn in_task_data<'a>(
    plan: &'a Plan,
    sums: &TaskDataSums,
    at: usize,
    product: &'a Product,
) -> Option<TerminalProduct<'a>> {
    let kg_from_integers = *sums.kg_per_product.get(at)?;
    let kg_from_grid = *sums.grid_kg_per_product.get(at)?;
    let element = plan.land.on_terminal.elements.get(at);
    Some(TerminalProduct {
        product: Cow::from(&product.id),
        element: element.map(|own| Cow::from(&own.id)),
        default_kg_per_ha: *plan.rates.default_kg_per_ha.get(at)?,
        position_lost_kg_per_ha: *plan.rates.position_lost_kg_per_ha.get(at)?,
        out_of_field_kg_per_ha: *plan.rates.out_of_field_kg_per_ha.get(at)?,
        kg_from_integers,
        kg_from_grid,
        integers_less_grid_kg: kg_from_integers - kg_from_grid,
    })
}

/// The outline of the field in task data, obstacles with it.
fn outlined(land: &PlannedLand) -> Outline {
    let land = holes::take_out(&land.boundary, &land.exclusions);
    Outline::of(&land.parts).and(Outline::of(&land.left_over))
}

/// A polygon map for terminals: what fewer points cost, and the land that each set of rates then has.
fn polygons<'a>(job: &'a Job, map: &'a TerminalMap) -> TerminalPolygons<'a> {
    let products = map.products.iter();
    let products = products.filter_map(|&at| job.products.get(at));
    let zones = map.zones.iter().map(|zone| {
        let outline = Outline::of(&zone.polygons);
        TerminalZone {
            kg_per_ha: Cow::from(&zone.kg_per_ha),
            area_m2: zone.area_m2,
            middle_lon_lat: outline.middle,
            border_m: outline.border_m,
            border_points: outline.points,
            area_before_m2: zone.area_before_m2,
        }
    });
    TerminalPolygons {
        products: products.map(|product| Cow::from(&product.id)).collect(),
        borders_move_up_to_m: job.terminal.simplify_m,
        polygons: map.polygons(),
        points_before: map.points_before,
        points: map.points,
        change_kg: map.drift_kg(),
        extent_lon_lat: extent(map.zones.iter().flat_map(|zone| &zone.polygons)),
        zones: zones.collect(),
    }
}

fn shut_by_hand(plan: &Plan) -> Vec<ShutByHand<'_>> {
    let land = plan.shut_by_hand().into_iter().filter_map(|land| {
        Some(ShutByHand {
            product: Cow::from(&plan.job.products.get(land.product)?.id),
            area_m2: land.area_m2,
            at_stake_kg: land.at_stake_kg,
        })
    });
    land.collect()
}
