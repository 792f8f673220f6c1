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

/// The numbers of an attribute in all elements of a name.
fn numbers(xml: &str, element: &str, attribute: &str) -> Vec<f64> {
    let begin = format!("<{element} ");
    let elements = xml.split(&begin).skip(1);
    let of = |text: &str| -> f64 {
        let text = text.split('>').next().expect("an end");
        let (_, value) = text
            .split_once(&format!("{attribute}=\""))
            .expect("an attribute");
        let value = value.split('"').next().expect("a value");
        value.parse().expect("a number")
    };
    elements.map(of).collect()
}

/// A field on each side of the 180th meridian, both up to it, with zones across it: what `plan.across_180` asks for. Their task data lie on
/// their own side, the grid of the eastern one too, whose rim goes on to the west of it.
#[test]
fn fields_that_end_at_the_180th_meridian_have_task_data_on_their_own_side() {
    let made = Made::new();
    let text = job("[headland]\nbouts = 1\n[drive]\n");
    let text = text.replace("\nboundary =", "\nsplit_by = \"side\"\nboundary =");
    made.write("job.toml", text);
    let place = [180.0, -17.0];
    let field = |side: &str, low, high| {
        feature(place, &format!(r#""side":"{side}""#), &rectangle(low, high))
    };
    made.write(
        "boundary.geojson",
        collection(&[
            field("west", [-400.0, 0.0], [0.0, 900.0]),
            field("east", [0.0, 0.0], [300.0, 900.0]),
        ]),
    );
    let zone = |class: &str, low, high| {
        feature(
            place,
            &format!(r#""soil":"{class}""#),
            &rectangle(low, high),
        )
    };
    made.write(
        "soil.geojson",
        collection(&[
            zone("a", [-450.0, -50.0], [-100.0, 950.0]),
            zone("b", [-100.0, -50.0], [350.0, 950.0]),
        ]),
    );
    let output = made.run(&["plan", "job.toml", "--out", "plans"]);
    let told = plan_support::said(&output);
    assert!(!told.contains("180th"), "{told}");
    for (side, longitudes, columns_m) in [
        ("west", 179.0..=180.0, 400.0),
        ("east", -180.0..=-179.0, 300.0),
    ] {
        let xml = made
            .path()
            .join(format!("plans/{side}/terminal/TASKDATA/TASKDATA.XML"));
        let xml = std::fs::read_to_string(xml).unwrap_or_else(|_| panic!("{told}"));
        let points = numbers(&xml, "PNT", "D");
        assert!(
            points.len() > 4 && points.iter().all(|lon| longitudes.contains(lon)),
            "{points:?}"
        );
        let [[west], [width], [columns]] = ["B", "D", "E"].map(|attribute| {
            <[f64; 1]>::try_from(numbers(&xml, "GRD", attribute)).expect("one grid")
        });
        assert!(longitudes.contains(&west), "{west}");
        // As wide as the field with a rim on each side that is on Earth, and a cell at most beside it.
        let wide_m = columns * width * 111_320.0 * 17f64.to_radians().cos();
        assert!((columns_m..columns_m + 25.0).contains(&wide_m), "{wide_m}");
        if side == "east" {
            assert_eq!(west, -180.0);
        }
    }
    let output = made.run(&["stick", "plans", "--to", "stick"]);
    assert!(output.status.success(), "{}", plan_support::said(&output));
}
