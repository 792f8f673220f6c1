//! What if the geometry of planning were wrong? The map of a plan is spoilt before it is written, as a broken kernel
//! would: `plan.json` states what it has measured on the wrong map, and all of its files are of one mind. The audit sees
//! it all the same, with the job, from which it makes the land anew by means of its own.

use std::path::Path;
use std::sync::Arc;
use twinsow::audit::{JobFacts, PlanFacts, audit};
use twinsow::coordinates::LonLat;
use twinsow::frame::ground_m2;
use twinsow::job::Job;
use twinsow::plan::{self, Disk, Options, Plan};
use twinsow::read::Polygon;
use twinsow::write;

fn job() -> Job {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("examples/demo");
    Job::load(&folder.join("job.toml")).expect("the demo's job")
}

/// What the audit says of the polygons of a plan that somebody has spoilt: with its `plan.json` alone, and with the
/// job as well.
fn audited(spoil: impl FnOnce(&mut Plan)) -> [Vec<String>; 2] {
    let mut plan = plan::plan(&job(), &Disk, &Options::default()).expect("a plan");
    spoil(&mut plan);
    let folder = tempfile::tempdir().expect("a folder");
    let out = folder.path().join("plan");
    write::deliver(&plan, &out, "2026-09-20T12:00:00Z").expect("files");
    let facts = PlanFacts::read(&out.join("plan.json")).expect("plan.json");
    let job = JobFacts::of(job()).expect("the land of the job");
    let files = ["gis/rates.geojson", "gis/rates.gpkg", "gis/rates.shp.zip"];
    let files = files.map(|file| out.join(file));
    [None, Some(&job)].map(|job| {
        let found = audit(&files, Some(&facts), job, &out).expect("files");
        found.complaints()
    })
}

/// States areas and kilograms of the map as they are measured on it: what planning would believe of it.
fn restate(plan: &mut Plan) {
    for zone in &mut plan.maps.rate.zones {
        zone.area_m2 = ground_m2(&zone.polygons);
    }
    plan.tally.planned.mapped_m2 = plan.maps.rate.zones.iter().map(|zone| zone.area_m2).sum();
    for (nth, product) in plan.tally.planned.products.iter_mut().enumerate() {
        let kg = |zone: &twinsow::map::MapZone| zone.kg_per_ha[nth] * zone.area_m2 / 10_000.0;
        product.steps[0].kg = plan.maps.rate.zones.iter().map(kg).sum();
    }
}

fn polygons(plan: &mut Plan, zone: usize) -> &mut Vec<Polygon<LonLat>> {
    Arc::make_mut(&mut plan.maps.rate.zones[zone].polygons)
}

/// The zone with most land.
fn largest(plan: &Plan) -> usize {
    let areas = plan
        .maps
        .rate
        .zones
        .iter()
        .map(|zone| zone.area_m2)
        .enumerate();
    areas.max_by(|a, b| a.1.total_cmp(&b.1)).expect("zones").0
}

fn sees(found: &[String], words: &str) {
    assert!(found.len() >= 3, "one for each file: {found:?}");
    assert!(found.iter().all(|line| line.contains(words)), "{found:?}");
}

#[test]
fn nothing_is_said_of_a_map_that_is_right() {
    let none: [Vec<String>; 2] = [Vec::new(), Vec::new()];
    assert_eq!(audited(|_| ()), none);
    assert_eq!(audited(restate), none);
}

#[test]
fn a_piece_that_is_missing_is_seen_with_the_job() {
    let [by_plan, by_job] = audited(|plan| {
        let zone = largest(plan);
        polygons(plan, zone).remove(0);
        restate(plan);
    });
    assert_eq!(by_plan, [""; 0]);
    sees(&by_job, "m2 of the land are in no polygon");
}

#[test]
fn a_map_that_lies_five_metres_beside_is_seen_with_the_job() {
    let [by_plan, by_job] = audited(|plan| {
        let east = |at: LonLat| LonLat::new(at.lon + 5.0 / 64_000.0, at.lat);
        for zone in 0..plan.maps.rate.zones.len() {
            for polygon in polygons(plan, zone) {
                let rings = std::iter::once(&mut polygon.exterior).chain(&mut polygon.holes);
                rings.flatten().for_each(|at| *at = east(*at));
            }
        }
        restate(plan);
    });
    assert_eq!(by_plan, [""; 0]);
    for words in [
        "m2 of the land are in no polygon",
        "m2 with a rate lie beyond the land of the job",
        "in the setback 'Shoal Brook'",
    ] {
        let found = by_job.iter().filter(|line| line.contains(words));
        assert_eq!(found.count(), 3, "{words}: {by_job:?}");
    }
}

/// A corner of the field's border, which one polygon alone has, moved 20 m into the field.
#[test]
fn a_corner_that_is_moved_is_seen_with_the_job() {
    let [by_plan, by_job] = audited(|plan| {
        let south = |zone: &[Polygon<LonLat>]| {
            let corners = zone.iter().flat_map(|own| &own.exterior);
            corners.copied().min_by(|a, b| a.lat.total_cmp(&b.lat))
        };
        let zones = plan.maps.rate.zones.iter();
        let lowest = zones.filter_map(|zone| south(&zone.polygons));
        let lowest = lowest.min_by(|a, b| a.lat.total_cmp(&b.lat));
        let lowest = lowest.expect("a corner");
        for zone in 0..plan.maps.rate.zones.len() {
            let rings = polygons(plan, zone).iter_mut();
            let corners = rings.flat_map(|own| &mut own.exterior);
            let corners = corners.filter(|at| **at == lowest);
            corners.for_each(|at| at.lat += 20.0 / 111_200.0);
        }
        restate(plan);
    });
    assert_eq!(by_plan, [""; 0]);
    sees(&by_job, "m2 of the land are in no polygon");
}

#[test]
fn a_rate_in_a_setback_is_seen_with_the_job() {
    let [by_plan, by_job] = audited(|plan| {
        let zones = plan.maps.rate.zones.iter_mut();
        for zone in zones.filter(|zone| zone.kg_per_ha[1] == 0.0) {
            zone.kg_per_ha[1] = 80.0;
        }
        restate(plan);
    });
    assert_eq!(by_plan, [""; 0]);
    for setback in ["Shoal Brook", "Dew pond bank"] {
        let words = format!("with a rate lie in the setback '{setback}'");
        let found = by_job.iter().filter(|line| line.contains(&words));
        assert_eq!(found.count(), 3, "{words}: {by_job:?}");
    }
}

#[test]
fn a_polygon_that_counts_twice_is_seen_without_the_job() {
    let [by_plan, by_job] = audited(|plan| {
        let zone = largest(plan);
        let again = plan.maps.rate.zones[zone].polygons[0].clone();
        let other = (zone + 1) % plan.maps.rate.zones.len();
        polygons(plan, other).push(again);
        restate(plan);
    });
    sees(&by_plan, "polygons overlap on");
    sees(&by_job, "polygons overlap on");
}

/// Areas one part in ten thousand too large, and all kilograms with them.
#[test]
fn areas_that_are_measured_wrong_are_seen() {
    let [by_plan, _] = audited(|plan| {
        for zone in &mut plan.maps.rate.zones {
            zone.area_m2 *= 1.0001;
        }
        plan.tally.planned.mapped_m2 *= 1.0001;
        for product in &mut plan.tally.planned.products {
            product.steps[0].kg *= 1.0001;
        }
    });
    sees(&by_plan, "m2 in the file");
}
