//! `plan.json`: everything about a plan but the geometry, versioned.

// The parameters of the objects below are called as the keys are.
#![allow(non_camel_case_types)]

use super::attributes::part_word;
use super::forms::Forms;
use super::holes;
use super::product_names::product_names;
use super::taskdata::TaskDataSums;
use crate::agronomy::caution;
use crate::drive;
use crate::findings::{Fault, Outcome, Place};
use crate::frame;
use crate::map::{Grid, MapZone, Outline, TerminalMap};
use crate::plan::{Combination, GateCheck, Plan};
use crate::read::Polygon;
use crate::units::nearest_whole;
use serde::Serialize;

/// An object with its keys in this order, written straight from what it holds: a tree of values first would take
/// several times as long. Each object is a type of its own, with a parameter for each key.
macro_rules! object {
    ({ $($(#[$how:meta])* $key:ident: $value:expr),* $(,)? }) => {{
        #[derive(Serialize)]
        struct Object<$($key),*> {
            $($(#[$how])* $key: $key),*
        }
        Object { $($key: $value),* }
    }};
}

/// Version of the layout below. It goes up when a reader of the older one would go wrong.
pub const VERSION: u32 = 1;

/// The document, pretty-printed, keys in a fixed order.
///
/// Units: as the keys say; longitude and latitude in degrees on WGS 84. `gate` is the plan's gate check.
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
    let document = object!({
        format: "twinsow-plan",
        version: VERSION,
        id: &plan.id,
        made_by: concat!("twinsow ", env!("CARGO_PKG_VERSION")),
        made_at: timestamp,
        epsg_version: frame::epsg_version(),
        inputs: &plan.inputs,
        job: &plan.job,
        frame: object!({
            projection: "transverse Mercator on WGS 84, scale 1, metres",
            origin_lon_lat: plan.frame.origin(),
        }),
        boundary: object!({ file: "gis/rates.gpkg", table: "boundary", polygons: plan.boundary.len() }),
        exclusions: object!({ file: "gis/rates.gpkg", table: "exclusions", polygons: plan.exclusions.len() }),
        rate_table: list(plan.combinations.iter().enumerate().map(|(at, row)| row_of(plan, at, row))),
        map: object!({
            file: "gis/rates.gpkg",
            table: "rates",
            extent_lon_lat: extent(plan.map.zones.iter().flat_map(|zone| zone.polygons.iter())),
            zones: list(plan.map.zones.iter().map(zone)),
        }),
        balance: list(plan.balance.iter().map(zone)),
        grids: object!({
            metric: grid(&plan.map.metric, "gis/rates.tif", "metres of the frame", |rate| f64::from(rate as f32)),
            degrees: grid(&plan.map.degrees, "terminal/TASKDATA/GRD00001.bin", "degrees on WGS 84", |rate| rate),
            balance: plan.balance_grid.as_ref().map(|of| grid(of, "gis/balance.tif", "metres of the frame", |rate| f64::from(rate as f32))),
        }),
        terminal: terminal(plan, sums),
        gate_check: &gate.places,
        gate_check_misses: &gate.misses,
        shut_by_hand: list(plan.shut_by_hand().into_iter().map(|land| object!({
            product: plan.job.products.get(land.product).map(|product| &product.id),
            area_m2: land.area_m2,
            at_stake_kg: land.at_stake_kg,
        }))),
        drill: plan.drill(),
        tramlines: plan.tramlines(),
        drive: &plan.drive,
        as_driven: &plan.as_driven,
        spread: &plan.spread,
        refills: &plan.refills,
        transitions: drive::response::transitions(&plan.job),
        in_setbacks: &plan.in_setbacks,
        tally: &plan.tally,
        one_week_later: &plan.later,
        cautions: object!({
            first: caution::DEFER,
            at_the_drill: caution::AT_THE_DRILL,
            products: caution::cautions(&plan.job),
        }),
        findings: &plan.findings,
        // The files named above are there only as far as their form was wanted.
        #[serde(flatten)]
        only: forms.words_if_not_all().map(|only| object!({ only: only })),
    });
    let mut text = serde_json::to_string_pretty(&document).map_err(refused)?;
    text.push('\n');
    Ok(text)
}

fn list<T>(items: impl Iterator<Item = T>) -> Vec<T> {
    items.collect()
}

fn row_of(plan: &Plan, at: usize, row: &Combination) -> impl Serialize {
    let job = &plan.job;
    let classes = job.layers.iter().zip(&row.facts.classes);
    let special_areas = row.facts.special_areas.iter();
    let special_areas = special_areas.filter_map(|&at| job.special_areas.get(at));
    let setbacks = row
        .facts
        .setbacks
        .iter()
        .filter_map(|&at| job.setbacks.get(at));
    object!({
        row: at + 1,
        part: part_word(row.facts.part),
        classes: list(classes.map(|(layer, class)| object!({ layer: &layer.name, class: class }))),
        special_areas: list(special_areas.map(|area| &area.name)),
        setbacks: list(setbacks.map(|setback| &setback.name)),
        area_m2: row.area_m2,
        rates: list(job.products.iter().zip(&row.rates).map(|(product, rate)| object!({
            product: &product.id,
            kg_per_ha: rate.kg_per_ha,
            lot: rate.lot.and_then(|lot| product.each_lot().get(lot)).map(|lot| &lot.lot),
            stand: &rate.stand,
            reasons: &rate.reasons,
            seed_safe: &rate.seed_safe,
            balance: &rate.balance,
        }))),
    })
}

fn zone(zone: &MapZone) -> impl Serialize {
    let outline = Outline::of(&zone.polygons);
    object!({
        zone: zone.id,
        part: part_word(zone.part),
        kg_per_ha: &zone.kg_per_ha,
        area_m2: zone.area_m2,
        middle_lon_lat: outline.middle,
        border_m: outline.border_m,
        border_points: outline.points,
        rows: &zone.combinations,
        polygons: zone.polygons.len(),
    })
}

/// A grid without its cells; sums of each row and column, in steps of 0.01 kg/ha, per product, tell which
/// cell of a file differs, or how a whole file was turned. `as_written` is the rate as the file has it.
fn grid(grid: &Grid, file: &str, unit: &str, as_written: fn(f64) -> f64) -> impl Serialize {
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
    object!({
        file: file,
        unit: unit,
        origin: grid.origin,
        cell: grid.cell,
        columns: grid.columns,
        rows: grid.rows,
        covered_m2: grid.covered_m2.iter().sum::<f64>(),
        row_sums: row_sums,
        column_sums: column_sums,
    })
}

/// West, south, east and north of polygons, degrees; none without any.
fn extent<'a>(polygons: impl Iterator<Item = &'a Polygon>) -> Option<[f64; 4]> {
    let points = polygons.flat_map(|polygon| &polygon.exterior);
    points.fold(None, |extent, &[lon, lat]| {
        let [west, south, east, north] = extent.unwrap_or([lon, lat, lon, lat]);
        Some([west.min(lon), south.min(lat), east.max(lon), north.max(lat)])
    })
}

fn terminal(plan: &Plan, sums: &TaskDataSums) -> impl Serialize {
    let products = plan.job.products.iter().enumerate().map(|(at, product)| {
        let of = |values: &[f64]| values.get(at).copied();
        let (as_written, as_planned) = (of(&sums.kg_per_product), of(&sums.grid_kg_per_product));
        let difference = as_written
            .zip(as_planned)
            .map(|(written, planned)| written - planned);
        object!({
            product: &product.id,
            element: plan.on_terminal.elements.get(at).map(|own| &own.id),
            default_kg_per_ha: of(&plan.default_kg_per_ha),
            position_lost_kg_per_ha: of(&plan.position_lost_kg_per_ha),
            out_of_field_kg_per_ha: of(&plan.out_of_field_kg_per_ha),
            kg_from_integers: as_written,
            kg_from_grid: as_planned,
            integers_less_grid_kg: difference,
        })
    });
    object!({
        task_data: "terminal/TASKDATA/TASKDATA.XML",
        data_dictionary_entry: 6,
        step_kg_per_ha: 0.01,
        outline: outlined(plan),
        carried_as: product_names(&plan.job),
        products: list(products),
        polygons: list(plan.map.terminal.iter().map(|map| polygons(plan, map))),
    })
}

/// The outline of the field in task data, obstacles with it.
fn outlined(plan: &Plan) -> impl Serialize {
    let land = holes::take_out(&plan.boundary, &plan.exclusions);
    let outline = Outline::of(&land.parts).and(Outline::of(&land.left_over));
    object!({
        area_m2: outline.area_m2,
        middle_lon_lat: outline.middle,
        border_m: outline.border_m,
        border_points: outline.points,
    })
}

/// A polygon map for terminals: what fewer points cost, and the land that each set of rates then has.
fn polygons(plan: &Plan, map: &TerminalMap) -> impl Serialize {
    let ids = map
        .products
        .iter()
        .map(|at| plan.job.products.get(*at).map(|of| &of.id));
    object!({
        products: ids.collect::<Vec<_>>(),
        borders_move_up_to_m: plan.job.terminal.simplify_m,
        polygons: map.polygons(),
        points_before: map.points_before,
        points: map.points,
        change_kg: map.drift_kg(),
        extent_lon_lat: extent(map.zones.iter().flat_map(|zone| &zone.polygons)),
        zones: list(map.zones.iter().map(|zone| {
            let outline = Outline::of(&zone.polygons);
            object!({
                kg_per_ha: &zone.kg_per_ha,
                area_m2: zone.area_m2,
                middle_lon_lat: outline.middle,
                border_m: outline.border_m,
                border_points: outline.points,
                area_before_m2: zone.area_before_m2,
            })
        })),
    })
}
