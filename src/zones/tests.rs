//! Overlays whose areas a reader can work out on squared paper.

use super::{LandUnits, ZoneLayers, overlay};
use crate::coordinates::PlaneXy;
use crate::findings::{Finding, Severity};
use crate::frame::Frame;
use crate::job::Job;
use crate::land::{LandLayers, build};
use crate::read::{DeclaredCrs, Feature, Geometry, Layer, Polygon, Value};
use std::path::Path;

const JOB: &str = r#"
name = "squares"
zones = { sliver_area_m2 = SLIVER }
[field]
name = "squares"
boundary = { file = "boundary.geojson" }
[[layer]]
name = "soil"
source = { file = "soil.geojson" }
class_attribute = "soil"
[drill]
working_width_m = 6.0
[[drill.hopper]]
name = "front"
usable_l = 1000.0
[[product]]
id = "seed"
name = "Seed"
kind = "seed"
hopper = "front"
rate.kg_per_ha = 100.0
"#;

fn rectangle([west, south, east, north]: [f64; 4]) -> Vec<[f64; 2]> {
    vec![
        [west, south],
        [east, south],
        [east, north],
        [west, north],
        [west, south],
    ]
}

/// A layer of rectangles with a class each.
fn layer(rectangles: &[(&str, [f64; 4])]) -> Layer<PlaneXy> {
    let feature = |(nth, (class, sides)): (usize, &(&str, [f64; 4]))| Feature {
        name: (nth + 1).to_string(),
        geometry: Geometry::Polygons(vec![Polygon {
            exterior: rectangle(*sides)
                .into_iter()
                .map(PlaneXy::of_pair)
                .collect(),
            holes: Vec::new(),
        }]),
        values: vec![Value::Text((*class).to_owned())],
    };
    Layer {
        file: "squares.geojson".into(),
        format: "GeoJSON",
        table: None,
        crs: DeclaredCrs::Wgs84ByStandard,
        attributes: vec!["soil".to_owned()],
        features: rectangles.iter().enumerate().map(feature).collect(),
        findings: Vec::new(),
    }
}

/// A field of 100 m x 100 m with these zones.
fn overlaid(zones: &[(&str, [f64; 4])], sliver_m2: f64) -> (LandUnits, Vec<Finding>) {
    overlaid_by(JOB, zones, sliver_m2)
}

fn overlaid_by(job: &str, zones: &[(&str, [f64; 4])], sliver_m2: f64) -> (LandUnits, Vec<Finding>) {
    let text = job.replace("SLIVER", &format!("{sliver_m2:.1}"));
    let job = Job::parse(&text, Path::new("job.toml")).unwrap_or_else(|fault| panic!("{fault}"));
    let frame = Frame::about(2.5, 54.8);
    let boundary = layer(&[("", [0.0, 0.0, 100.0, 100.0])]);
    let layers = LandLayers {
        boundary: &boundary,
        exclusions: &[],
        setbacks: &[],
        guide: None,
    };
    let (land, _) = build(&layers, &job, &frame).unwrap_or_else(|fault| panic!("{fault}"));
    let zones = [layer(zones)];
    let layers = ZoneLayers {
        zones: &zones,
        special_areas: &[],
    };
    overlay(&land, &layers, &job, &frame).unwrap_or_else(|fault| panic!("{fault}"))
}

fn area(units: &LandUnits, class: &str) -> f64 {
    units.classes[0]
        .iter()
        .find(|(name, _)| name == class)
        .map_or(0.0, |(_, area)| *area)
}

#[test]
fn a_strip_left_along_the_border_goes_to_the_class_beside_it() {
    let (units, findings) = overlaid(
        &[
            ("left", [5.0, 5.0, 30.0, 95.0]),
            ("right", [30.0, 5.0, 95.0, 95.0]),
        ],
        0.0,
    );
    assert!(
        (area(&units, "left") - 3000.0).abs() < 0.01,
        "{}",
        area(&units, "left")
    );
    assert!((area(&units, "right") - 7000.0).abs() < 0.01);
    let told: Vec<f64> = findings
        .iter()
        .filter(|finding| finding.code == "zones.gap_filled")
        .filter_map(|finding| finding.area_m2)
        .collect();
    assert_eq!(told.len(), 2);
    assert!((told.iter().sum::<f64>() - 1900.0).abs() < 0.01, "{told:?}");
    // 19 % of the land was guessed: somebody has to agree.
    assert!(
        findings
            .iter()
            .any(|finding| finding.code == "zones.gaps_large")
    );
}

#[test]
fn a_gap_between_zones_takes_the_class_of_the_longest_border() {
    let (units, findings) = overlaid(
        &[
            ("left", [0.0, 0.0, 48.0, 100.0]),
            ("low", [52.0, 0.0, 100.0, 40.0]),
            ("high", [52.0, 40.0, 100.0, 100.0]),
        ],
        0.0,
    );
    // The gap's ends lie on the border of the field; the change from low to high is cut across.
    assert_eq!(
        findings
            .iter()
            .filter(|f| f.code == "zones.gap_filled")
            .count(),
        1
    );
    assert!(
        (area(&units, "left") - 5200.0).abs() < 0.01,
        "{:?}",
        units.classes
    );
}

#[test]
fn the_feature_listed_first_wins_an_overlap() {
    let (units, findings) = overlaid(
        &[
            ("a", [0.0, 0.0, 60.0, 100.0]),
            ("b", [50.0, 0.0, 100.0, 100.0]),
        ],
        0.0,
    );
    assert_eq!(area(&units, "a"), 6000.0);
    assert_eq!(area(&units, "b"), 4000.0);
    let overlap = findings
        .iter()
        .find(|finding| finding.code == "zones.overlap");
    assert_eq!(overlap.and_then(|finding| finding.area_m2), Some(1000.0));
    // A tenth of the field, and the job does not say which counts.
    let large = findings
        .iter()
        .find(|finding| finding.code == "zones.overlaps_large")
        .expect("a decision");
    assert_eq!(
        (large.severity, large.area_m2),
        (Severity::Decision, Some(1000.0))
    );
    // Once it does, nothing is asked.
    let attribute = "class_attribute = \"soil\"";
    let said = JOB.replace(attribute, &format!("{attribute}\noverlaps = \"last\""));
    let zones = [
        ("a", [0.0, 0.0, 60.0, 100.0]),
        ("b", [50.0, 0.0, 100.0, 100.0]),
    ];
    let (units, findings) = overlaid_by(&said, &zones, 0.0);
    assert_eq!(area(&units, "b"), 5000.0);
    assert!(findings.iter().all(|own| own.severity == Severity::Note));
}

#[test]
fn a_sliver_joins_the_neighbour_with_the_longest_border() {
    let zones = [
        ("a", [0.0, 0.0, 50.0, 100.0]),
        ("sliver", [50.0, 0.0, 52.0, 10.0]),
        ("b", [50.0, 0.0, 100.0, 100.0]),
    ];
    let (kept, _) = overlaid(&zones, 0.0);
    assert_eq!(area(&kept, "sliver"), 20.0);
    let (merged, findings) = overlaid(&zones, 25.0);
    assert_eq!(area(&merged, "sliver"), 0.0);
    // 10 m of border with a; 10 + 2 m with b.
    assert_eq!(area(&merged, "b"), 5000.0);
    assert!(
        findings
            .iter()
            .any(|finding| finding.code == "zones.slivers_merged")
    );
}
