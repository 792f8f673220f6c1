//! Land units tile the land: edge by edge, in whole numbers, and against areas from other programs.

mod plan_support;

use geographiclib_rs::{Geodesic, PolygonArea, Winding};
use serde_json::Value;
use std::collections::{BTreeMap, BTreeSet};
use std::path::{Path, PathBuf};
use twinsow::coordinates::LonLat;
use twinsow::geometry::point::UNITS_PER_M;
use twinsow::geometry::{Pt, Shape};
use twinsow::job::Job;
use twinsow::map::lon_lat;
use twinsow::plan::Prepared;

fn repository(name: &str) -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join(name)
}

/// The demo as it stands.
fn demo() -> Prepared {
    let job = Job::load(&repository("examples/demo/job.toml")).expect("the demo's job");
    plan_support::prepared(&job).expect("the demo is land")
}

/// A parcel of testdata with its two layers; nothing is cleaned, so that areas can be compared.
fn parcel(name: &str) -> Prepared {
    let file = match name.starts_with("nl") {
        true => "nl_epsg28992.gpkg",
        false => "dk_epsg25832.shp.zip",
    };
    let layer = |layer: &str| {
        format!(
            "[[layer]]\nname = \"{layer}\"\nsource = {{ file = \"{name}_{layer}.geojson\" }}\nclass_attribute = \"{layer}\"\n"
        )
    };
    let text = format!(
        r#"name = "{name}"
[field]
name = "{name}"
boundary = {{ file = "{file}", only = {{ field_id = "{name}" }} }}
[headland]
bouts = 1
[zones]
sliver_area_m2 = 0.0
{}{}
[drill]
working_width_m = 3.0
[[drill.hopper]]
name = "front"
usable_l = 1200.0
[[product]]
id = "seed"
crop = "wheat"
name = "seed"
kind = "seed"
hopper = "front"
rate = {{ kg_per_ha = 150.0 }}
"#,
        layer("soil"),
        layer("need")
    );
    let job = Job::parse(&text, &repository("testdata/fields/job.toml")).expect("a job");
    plan_support::prepared(&job).expect("the parcel is land")
}

fn figures() -> Vec<Value> {
    let text = std::fs::read_to_string(repository("testdata/fields/figures.json")).expect("there");
    let figures: Value = serde_json::from_str(&text).expect("JSON");
    figures["parcels"].as_array().expect("parcels").clone()
}

fn edges(shapes: &[Shape]) -> Vec<[Pt; 2]> {
    let of_ring = |ring: &Vec<Pt>| {
        let ends = ring.iter().skip(1).chain(ring.first());
        ring.iter()
            .zip(ends)
            .map(|(&from, &to)| [from, to])
            .collect::<Vec<_>>()
    };
    shapes
        .iter()
        .flat_map(Shape::rings)
        .flat_map(of_ring)
        .collect()
}

/// Shapes of each row, each connected piece for itself, and the outline of all land.
fn dissolved(prepared: &Prepared) -> (Vec<(u32, Shape)>, Vec<Shape>) {
    let units = &prepared.units;
    let rows = units.arrangement.dissolve(&units.row_of_face);
    let all: Vec<Option<u32>> = units.row_of_face.iter().map(|row| row.map(|_| 0)).collect();
    let land = units.arrangement.dissolve(&all);
    (rows, land.into_iter().map(|(_, shape)| shape).collect())
}

fn tiles(name: &str, prepared: &Prepared) {
    let (rows, land) = dissolved(prepared);
    let shapes: Vec<Shape> = rows.iter().map(|(_, shape)| shape.clone()).collect();
    let all = edges(&shapes);
    let directed: BTreeSet<[Pt; 2]> = all.iter().copied().collect();
    assert_eq!(
        directed.len(),
        all.len(),
        "{name}: an edge is used twice the same way"
    );
    let alone: BTreeSet<[Pt; 2]> = directed
        .iter()
        .copied()
        .filter(|&[from, to]| !directed.contains(&[to, from]))
        .collect();
    let border: BTreeSet<[Pt; 2]> = edges(&land).into_iter().collect();
    assert_eq!(
        alone, border,
        "{name}: edges that do not cancel are the border of the land"
    );

    // In whole numbers: the pieces of a row make the row, the rows make the land.
    let units = &prepared.units;
    for (row, (_, area2)) in units.rows.iter().enumerate() {
        let pieces = rows.iter().filter(|(of, _)| *of == row as u32);
        assert_eq!(
            pieces.map(|(_, shape)| shape.area2()).sum::<i128>(),
            *area2,
            "{name} row {row}"
        );
    }
    let of_rows: i128 = units.rows.iter().map(|(_, area2)| area2).sum();
    let of_land: i128 = land.iter().map(Shape::area2).sum();
    assert_eq!(of_rows, of_land, "{name}: rows make the land");
    // The outline itself moves when the layers' edges are rounded onto it: by less than one unit of the
    // grid along its length.
    let before: i128 = prepared.land.land.iter().map(Shape::area2).sum();
    let length: f64 = edges(&land).iter().map(|[a, b]| a.distance_m(*b)).sum();
    let most = 2.0 * length * UNITS_PER_M;
    assert!(
        ((of_land - before) as f64).abs() <= most,
        "{name}: the land moved by {} units2 of {most}",
        of_land - before
    );
}

/// Geodesic area of shapes in m2: GeographicLib (C. F. F. Karney, "Algorithms for geodesics", 2013).
fn geodesic_m2(shapes: &[Shape], prepared: &Prepared) -> f64 {
    let earth = Geodesic::wgs84();
    let ring_m2 = |ring: &Vec<LonLat>| {
        let mut area = PolygonArea::new(&earth, Winding::CounterClockwise);
        // The last point repeats the first.
        ring.iter()
            .skip(1)
            .for_each(|place| area.add_point(place.lat, place.lon));
        area.compute(true).1
    };
    let polygons = shapes.iter().map(|shape| lon_lat(shape, &prepared.frame));
    polygons
        .map(|polygon| ring_m2(&polygon.exterior) + polygon.holes.iter().map(ring_m2).sum::<f64>())
        .sum()
}

#[test]
fn the_demo_tiles_its_land() {
    let prepared = demo();
    assert!(prepared.units.rows.len() > 10 && prepared.units.pieces > 10);
    tiles("demo", &prepared);
    let plane: f64 = prepared.land.field.iter().map(Shape::area_m2).sum();
    let geodesic = geodesic_m2(&prepared.land.field, &prepared);
    assert!((plane / geodesic - 1.0).abs() < 1e-6, "{plane} {geodesic}");
}

#[test]
fn real_parcels_tile_and_have_the_areas_that_other_programs_give() {
    let figures = figures();
    assert_eq!(figures.len(), 10);
    for figure in &figures {
        let name = figure["name"].as_str().expect("a name");
        let prepared = parcel(name);
        tiles(name, &prepared);
        let field_m2: f64 = prepared.land.field.iter().map(Shape::area_m2).sum();
        // pyproj's figure comes from the coordinates as published, ours from the shapes as planned.
        // On top of 1e-6: 10 cm2, the noise of a geodesic area itself.
        for geodesic in [
            figure["geodesic_m2"].as_f64().expect("an area"),
            geodesic_m2(&prepared.land.field, &prepared),
        ] {
            assert!(
                (field_m2 - geodesic).abs() <= 1e-6 * geodesic + 1e-3,
                "{name}: {field_m2} m2, geodesic {geodesic} m2"
            );
        }
        let mut pairs: BTreeMap<String, f64> = BTreeMap::new();
        for (row, (facts, _)) in prepared.units.rows.iter().enumerate() {
            *pairs.entry(facts.classes.join("|")).or_default() += prepared.units.area_m2(row);
        }
        let wanted = figure["overlay_m2"].as_object().expect("pairs");
        assert_eq!(pairs.len(), wanted.len(), "{name}: {pairs:?}");
        for (pair, wanted) in wanted {
            // shapely (GEOS), in the same plane. On top of 1e-6: 1 cm2.
            let [found, wanted] = [pairs[pair], wanted.as_f64().expect("an area")];
            assert!(
                (found - wanted).abs() <= 1e-6 * wanted + 1e-4,
                "{name} {pair}: {found} m2, shapely {wanted} m2"
            );
        }
    }
}
