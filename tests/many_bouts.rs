//! A field of many short bouts: the difference map keeps its small pieces, for together they are land.

mod plan_support;

use plan_support::{PLACE, collection, feature, plain, planned};
use twinsow::coordinates::LonLat;
use twinsow::read::{Geometry, read};
use twinsow::write;

/// 400 bouts of 0.5 m, square to the long sides of a strip of 12 m. These are slanting by 1 in 50, so each bout overlaps
/// the headland by a triangle of 0.5 x 0.5 x 0.02 / 2 = 0.0025 m2 at each end: 2 m2 in all, in pieces of 25 cm2.
#[test]
fn the_small_pieces_of_400_bouts_add_up_to_the_land() {
    let made = plain("[headland]\nbouts = 1\n[drive]\nheading_deg = 0\n");
    let job = plan_support::job("[headland]\nbouts = 1\n[drive]\nheading_deg = 0\n")
        .replace("working_width_m = 6.0", "working_width_m = 0.5");
    made.write("job.toml", format!("{job}[grid]\ncell_m = 5\n"));
    let field = [[0.0, 0.0], [200.2, 4.004], [200.2, 16.004], [0.0, 12.0]];
    made.write(
        "boundary.geojson",
        collection(&[feature(PLACE, "", &vec![field.to_vec()])]),
    );
    let plan = planned(made.path()).unwrap_or_else(|fault| panic!("{fault}"));
    let drive = plan.drive.report.as_ref().expect("a drive");
    assert!(drive.interior_bouts >= 399, "{drive:?}");
    let out = made.path().join("out");
    write::deliver(&plan, &out, "2026-03-20T06:00:00Z").expect("files");
    let layer = read(&out.join("gis/rates.gpkg"), Some("difference"))
        .unwrap_or_else(|fault| panic!("{fault}"));
    let on_land = layer.attributes.iter().position(|name| name == "on_land");
    let on_land = on_land.expect("a column");
    let driven = plan.drive.as_driven.as_ref().expect("a drive");
    let mut land_m2 = 0.0;
    for feature in &layer.features {
        let Geometry::Polygons(polygons) = &feature.geometry else {
            panic!("no polygons");
        };
        if feature.values[on_land].to_string() == "1" {
            land_m2 += polygons
                .iter()
                .map(|polygon| area_m2(&plan, polygon))
                .sum::<f64>();
        }
    }
    // The bound of the check of delivered files in tests/interop/drive.py.
    let wanted = driven.areas.land_m2;
    assert!(
        (land_m2 - wanted).abs() < 1e-6 * wanted + 1.0,
        "{land_m2}, not {wanted}"
    );
}

/// In the plane of the plan.
fn area_m2(plan: &twinsow::plan::Plan, polygon: &twinsow::read::Polygon) -> f64 {
    let of_ring = |ring: &Vec<[f64; 2]>| {
        let places: Vec<[f64; 2]> = ring
            .iter()
            .map(|at| plan.land.frame.to_plane(LonLat::of_pair(*at)).pair())
            .collect();
        let next = places.iter().skip(1).chain(places.first());
        let twice = places
            .iter()
            .zip(next)
            .map(|(a, b)| a[0] * b[1] - a[1] * b[0]);
        twice.sum::<f64>().abs() / 2.0
    };
    of_ring(&polygon.exterior) - polygon.holes.iter().map(of_ring).sum::<f64>()
}
