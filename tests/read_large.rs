//! A large GeoJSON layer, made by formula: 2 000 polygons, 680 000 points, some 19 MB.

use std::fmt::Write;
use twinsow::read::{Geometry, Value, read};

const POLYGONS: usize = 2_000;
const POINTS: usize = 340;

/// Point `at` of polygon `number`: a circle that closes.
fn point(number: usize, at: usize) -> [f64; 2] {
    let angle = (at % (POINTS - 1)) as f64 / (POINTS - 1) as f64 * std::f64::consts::TAU;
    let centre = [
        9.0 + (number % 50) as f64 * 1e-3,
        55.0 + (number / 50) as f64 * 1e-3,
    ];
    [
        centre[0] + 4e-4 * angle.cos(),
        centre[1] + 4e-4 * angle.sin(),
    ]
}

#[test]
fn a_large_layer_reads_to_the_last_digit() {
    let mut text = String::from("{\"type\": \"FeatureCollection\", \"features\": [\n");
    for number in 0..POLYGONS {
        let comma = if number == 0 { "" } else { ",\n" };
        write!(
            text,
            "{comma}{{\"type\": \"Feature\", \"properties\": {{\"class\": \"c{}\"}}, \
             \"geometry\": {{\"type\": \"Polygon\", \"coordinates\": [[",
            number % 5
        )
        .unwrap();
        for at in 0..POINTS {
            let [x, y] = point(number, at);
            write!(text, "{}[{x},{y}]", if at == 0 { "" } else { "," }).unwrap();
        }
        text.push_str("]]}}");
    }
    text.push_str("\n]}\n");
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("large.geojson");
    std::fs::write(&path, &text).unwrap();
    let layer = read(&path, None).unwrap();
    assert_eq!(layer.features.len(), POLYGONS);
    assert_eq!(layer.features[7].values, [Value::Text("c2".into())]);
    for (number, feature) in layer.features.iter().enumerate() {
        let Geometry::Polygons(polygons) = &feature.geometry else {
            panic!()
        };
        assert_eq!((polygons.len(), polygons[0].holes.len()), (1, 0));
        let expected: Vec<[f64; 2]> = (0..POINTS).map(|at| point(number, at)).collect();
        assert_eq!(polygons[0].exterior, expected);
    }
}
