//! Land that the drive on paper sows more than once, against what may lie beside the seed there.
//!
//! Rows of two passes rarely lie on each other, and sections that switch late overlap by a few metres; so it cuts no rate of a
//! whole zone (as `sown_twice` of the headland does), and is told with its hectares and the most that lies there.

use super::drive::Drive;
use super::flat;
use super::rated_land::RatedLand;
use crate::drive::as_driven::Carried;
use crate::findings::{Finding, Place};
use crate::job::{Job, Kind, LandPart};

/// Less is rounding of the plane, and corners that two passes share, m2. Our own choice, no source.
const LEAST_M2: f64 = 10.0;
/// Smaller pieces count their land, but do not say what most of it gets: rounding leaves crumbs that many passes touch, m2. Our
/// own choice, no source.
const LEAST_PIECE_M2: f64 = 1.0;
/// Above a limit by more than rounding.
const SLACK: f64 = 1e-6;

/// Where most of one fertiliser lies above its limit.
struct Worst<'a> {
    area_m2: f64,
    sown_kg_per_ha: f64,
    most_kg_per_ha: f64,
    table: &'a str,
}

/// A warning for each fertiliser of the air stream that lies above its limit beside the seed where several passes sow.
pub(super) fn findings(land: &RatedLand, drive: &Drive, job: &Job) -> Vec<Finding> {
    let units = job.report.units;
    let products = job.products.iter().enumerate();
    let beside = products.filter(|(_, of)| of.kind == Kind::Fertiliser && !of.surface_applied);
    let worst = beside.filter_map(|(nth, of)| Some((&of.id, worst(land, drive, job, nth)?)));
    worst
        .map(|(id, worst)| {
            let message = format!(
                "'{id}': where the drive sows more than once, {} get more beside the seed than its limit: up to {} in all passes together, where {} may lie ({}). Narrower sections, or switch_rule = \"half_in\", overlap less; sown_twice under [headland] halves the limit on all of the headland",
                units.area(worst.area_m2, 2),
                units.rate(worst.sown_kg_per_ha, 1),
                units.rate(worst.most_kg_per_ha, 1),
                worst.table
            );
            Finding::warning("seed_safe.sown_again", Place::file(&job.file), message)
                .area(worst.area_m2)
        })
        .collect()
}

fn worst<'a>(land: &'a RatedLand, drive: &Drive, job: &Job, product: usize) -> Option<Worst<'a>> {
    let carried = Carried::in_stream(job);
    let wanted: Vec<Vec<f64>> = land
        .kg_per_ha
        .iter()
        .map(|row| carried.rates(row))
        .collect();
    let patches = drive.as_driven.iter().flat_map(|driven| &driven.patches);
    let mut worst: Option<Worst> = None;
    let mut all_m2 = 0.0;
    for patch in patches.filter(|patch| patch.on_land && patch.passes > 1) {
        // Land of one row of rates may be of several limits: the strictest of them.
        let rows = land.rates.rows.iter().zip(&wanted);
        let limits = rows.filter(|(_, own)| **own == patch.wanted);
        let limits = limits.filter_map(|(row, _)| {
            let rate = row.rates.get(product)?;
            let times = match job.headland.sown_twice && row.facts.part == LandPart::Headland {
                true => 2.0,
                false => 1.0,
            };
            let checks = rate.seed_safe.iter();
            let most = checks.filter_map(|check| {
                let most = flat::most(rate.kg_per_ha, check)?;
                Some((most * times, check.table.as_str()))
            });
            most.min_by(|a, b| a.0.total_cmp(&b.0))
        });
        let Some((most, table)) = limits.min_by(|a, b| a.0.total_cmp(&b.0)) else {
            continue;
        };
        let sown = patch.sown[product];
        if sown <= most * (1.0 + SLACK) {
            continue;
        }
        all_m2 += patch.area_m2;
        let more = |known: &Worst| sown - most > known.sown_kg_per_ha - known.most_kg_per_ha;
        if patch.area_m2 >= LEAST_PIECE_M2 && worst.as_ref().is_none_or(more) {
            worst = Some(Worst {
                area_m2: 0.0,
                sown_kg_per_ha: sown,
                most_kg_per_ha: most,
                table,
            });
        }
    }
    let worst = worst.filter(|_| all_m2 >= LEAST_M2)?;
    Some(Worst {
        area_m2: all_m2,
        ..worst
    })
}
