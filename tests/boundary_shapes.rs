//! Boundaries that say something odd: holes that overlap, nest or lie outside, and longitudes that count on beyond the
//! antimeridian.

mod plan_support;

use plan_support::{Made, PLACE, Rings, collection, feature, job, planned, rectangle};
use twinsow::findings::{Finding, Severity};
use twinsow::plan::Plan;

fn hole(low: [f64; 2], high: [f64; 2]) -> Vec<[f64; 2]> {
    rectangle(low, high).remove(0)
}

/// A field of 200 m by 150 m with these holes.
fn with_holes(holes: &[Vec<[f64; 2]>]) -> Plan {
    let made = Made::new();
    let mut rings: Rings = rectangle([0.0, 0.0], [200.0, 150.0]);
    rings.extend_from_slice(holes);
    made.write("job.toml", job(""));
    made.write(
        "boundary.geojson",
        collection(&[feature(PLACE, "", &rings)]),
    );
    made.write("soil.geojson", plan_support::two_zones(PLACE));
    planned(made.path()).expect("a plan")
}

fn told<'a>(plan: &'a Plan, code: &str) -> Vec<&'a Finding> {
    let findings = plan.findings.iter();
    findings.filter(|finding| finding.code == code).collect()
}

/// What placing on the grid changed by what is said, m2.
fn snapped_m2(plan: &Plan) -> f64 {
    let said = &told(plan, "land.snapped")[0].message;
    let number = said.rsplit("by ").next().expect("a number");
    number.trim_end_matches(" m2").parse().expect("a number")
}

#[test]
fn holes_that_overlap_nest_or_lie_outside_are_told_with_place_and_area() {
    let pond = || hole([20.0, 20.0], [60.0, 60.0]);
    let overlapping = with_holes(&[pond(), hole([50.0, 20.0], [90.0, 60.0])]);
    let nested = with_holes(&[pond(), hole([30.0, 30.0], [40.0, 40.0])]);
    let outside = with_holes(&[pond(), hole([190.0, 100.0], [230.0, 130.0])]);
    let beside = with_holes(&[pond(), hole([300.0, 100.0], [310.0, 130.0])]);
    // A degree of the made field is 0.27 % shorter than it counts.
    let near = |finding: &Finding, m2: f64| {
        let found = finding.area_m2.expect("an area");
        assert!((found / m2 - 1.0).abs() < 0.005, "{finding:?}");
        assert_eq!(finding.severity, Severity::Warning);
        assert!(finding.place.lon_lat.is_some() && finding.place.feature.is_some());
    };
    for (plan, code, m2) in [
        (&overlapping, "land.holes_overlap", 400.0),
        (&nested, "land.holes_overlap", 100.0),
        (&outside, "land.holes_outside", 900.0),
        (&beside, "land.holes_outside", 300.0),
    ] {
        let both = ["land.holes_overlap", "land.holes_outside"];
        let all: Vec<&Finding> = both.iter().flat_map(|code| told(plan, code)).collect();
        assert_eq!(all.len(), 1, "{all:?}");
        assert_eq!(all[0].code, code);
        near(all[0], m2);
        assert!(snapped_m2(plan).abs() < 0.01, "{}", snapped_m2(plan));
    }
    let sound = with_holes(&[pond(), hole([60.0, 20.0], [90.0, 60.0])]);
    assert!(told(&sound, "land.holes_overlap").is_empty());
    assert!(told(&sound, "land.holes_outside").is_empty());
    assert!(snapped_m2(&sound).abs() < 0.01);
}

#[test]
fn longitudes_that_count_on_beyond_the_antimeridian_are_meant_as_such() {
    let at = |lon: f64| {
        let made = Made::new();
        made.write("job.toml", job(""));
        let field = |properties: &str, rings: &Rings| {
            let ring = rings[0].iter().chain(rings[0].first());
            let points: Vec<String> = ring
                .map(|[x, y]| format!("[{},{}]", lon + x / 67_000.0, 53.0 + y / 111_200.0))
                .collect();
            format!(
                r#"{{"type":"Feature","properties":{{{properties}}},"geometry":{{"type":"Polygon","coordinates":[[{}]]}}}}"#,
                points.join(",")
            )
        };
        let boundary = field("", &rectangle([0.0, 0.0], [200.0, 150.0]));
        let [a, b] = [
            field(r#""soil":"a""#, &rectangle([-9.0, -9.0], [80.0, 160.0])),
            field(r#""soil":"b""#, &rectangle([80.0, -9.0], [210.0, 160.0])),
        ];
        made.write("boundary.geojson", collection(&[boundary]));
        made.write("soil.geojson", collection(&[a, b]));
        planned(made.path()).unwrap_or_else(|fault| panic!("{lon}: {fault}"))
    };
    for (counted, plain) in [
        (180.002, -179.998),
        (362.5, 2.5),
        (539.9, 179.9),
        (-180.1, 179.9),
        (-539.5, -179.5),
    ] {
        let [counted, plain] = [at(counted), at(plain)];
        let corner = |plan: &Plan| plan.land.boundary[0].exterior[0].pair();
        let by = [0, 1].map(|axis: usize| corner(&counted)[axis] - corner(&plain)[axis]);
        assert!(by.iter().all(|degrees| degrees.abs() < 1e-9), "{by:?}");
        let area = |plan: &Plan| {
            plan.maps
                .rate
                .zones
                .iter()
                .map(|zone| zone.area_m2)
                .sum::<f64>()
        };
        assert!((area(&counted) - area(&plain)).abs() < 0.001);
    }
}
