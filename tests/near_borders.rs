//! Borders that nearly meet: whatever an export has done to layers that follow the boundary, they plan, and what is
//! written is what was planned. Made by seed; no outside data.

mod near_support;
mod plan_support;

use near_support::dice::Dice;
use near_support::{Case, End, case};
use plan_support::{
    Made, PLACE, Rings, collection, degrees, feature, job, planned, prepared, rectangle,
};
use rayon::prelude::*;
use std::collections::BTreeMap;
use std::ops::RangeInclusive;
use std::panic::{AssertUnwindSafe, catch_unwind};
use twinsow::coordinates::LonLat;
use twinsow::findings::Finding;
use twinsow::frame::Frame;
use twinsow::geometry::Shape;
use twinsow::geometry::together::NEAREST_M;
use twinsow::job::Job;
use twinsow::plan::Plan;
use twinsow::read::Polygon;

/// Jobs in a run of `cargo test`.
const JOBS: u64 = 100;

/// What the input may be at fault for: an exclusion may cover a small field, and a layer in whole metres may miss land
/// that an exclusion cuts off.
const RIGHTLY_REFUSED: [&str; 2] = ["land.nothing_left", "zones.part_not_covered"];

/// Numbers of the jobs. CI asks for more: `TWINSOW_NEAR_JOBS=101..400`.
fn seeds() -> RangeInclusive<u64> {
    let Ok(asked) = std::env::var("TWINSOW_NEAR_JOBS") else {
        return 1..=JOBS;
    };
    let ends = asked.split_once("..").expect("such as 1..2000");
    let [first, last] = [ends.0, ends.1].map(|end| end.parse().expect("a number"));
    first..=last
}

fn end(case: &Case) -> End {
    let end = catch_unwind(AssertUnwindSafe(|| case.end()));
    end.unwrap_or_else(|_| End::Broken("it panics".to_owned()))
}

/// The code of the fault that refused a job, "" where it plans, and what is wrong about that.
fn judged(seed: u64) -> (&'static str, Option<String>) {
    let case = case(&mut Dice::seeded(seed), 0.0);
    let told = |why: String| Some(format!("{seed}: {why}\n    {}", case.about));
    match end(&case) {
        End::Planned(plan) => ("", thread_in(&plan).and_then(told)),
        End::Refused(fault) if RIGHTLY_REFUSED.contains(&fault.code) => (fault.code, None),
        End::Refused(fault) => (fault.code, told(fault.to_string())),
        End::Broken(why) => ("", told(why)),
    }
}

#[test]
fn layers_made_of_the_boundary_plan() {
    let jobs: Vec<_> = seeds().collect();
    let ends: Vec<(&str, Option<String>)> = jobs.par_iter().map(|&seed| judged(seed)).collect();
    let mut refused: BTreeMap<&str, Vec<u64>> = BTreeMap::new();
    for (&seed, (code, _)) in jobs.iter().zip(&ends) {
        if !code.is_empty() {
            refused.entry(code).or_default().push(seed);
        }
    }
    let broken: Vec<String> = ends.iter().filter_map(|(_, why)| why.clone()).collect();
    println!("refused: {refused:?}");
    let all = broken.join("\n");
    assert!(broken.is_empty(), "{} broken:\n{all}", broken.len());
    let refused = refused.values().map(Vec::len).sum::<usize>();
    assert!(refused as u64 * 20 <= seeds().count() as u64, "{refused}");
}

/// A polygon of the plan that is a thread, in words: by its area and the length of its border it is thinner on average
/// than any may be. In the plane: an edge drawn in degrees bends by a part of that width.
fn thread_in(plan: &Plan) -> Option<String> {
    let zones = plan.maps.rate.zones.iter();
    let polygons = zones.flat_map(|zone| zone.polygons.iter());
    let terminal = plan.maps.rate.terminal.iter().flat_map(|map| &map.zones);
    let terminal = terminal.flat_map(|zone| &zone.polygons);
    let width_m = |polygon: &Polygon<LonLat>| width_m(&plan.land.frame, polygon);
    let thread = polygons
        .chain(terminal)
        .find(|polygon| width_m(polygon) < NEAREST_M / 2.0 - 1e-6)?;
    Some(format!(
        "a polygon is {} m wide: {thread:?}",
        width_m(thread)
    ))
}

/// Twice the area by the length of the border.
fn width_m(frame: &Frame, polygon: &Polygon<LonLat>) -> f64 {
    let (mut area2, mut length) = (0.0, 0.0);
    for (nth, ring) in std::iter::once(&polygon.exterior)
        .chain(&polygon.holes)
        .enumerate()
    {
        let ring: Vec<_> = ring
            .iter()
            .map(|point| frame.to_plane(*point).pair())
            .collect();
        let mut own = 0.0;
        for pair in ring.windows(2) {
            let [a, b] = [&pair[0], &pair[1]].map(|p| [p[0] - ring[0][0], p[1] - ring[0][1]]);
            own += a[0] * b[1] - a[1] * b[0];
            length += (b[0] - a[0]).hypot(b[1] - a[1]);
        }
        area2 += if nth == 0 { own.abs() } else { -own.abs() };
    }
    area2 / length
}

#[test]
fn what_plans_when_moved_by_a_hair_plans_unmoved() {
    for seed in 1000..1025 {
        let moved = end(&case(&mut Dice::seeded(seed), 1e-9));
        let unmoved = end(&case(&mut Dice::seeded(seed), 0.0));
        let plans = |end: &End| matches!(end, End::Planned(_));
        assert!(!plans(&moved) || plans(&unmoved), "{seed}");
    }
}

fn made(
    boundary: &Rings,
    zones: &[(&str, Rings)],
    middle: &str,
    layer: &str,
    place: [f64; 2],
) -> Made {
    let made = Made::new();
    let zones: Vec<String> = zones
        .iter()
        .map(|(class, rings)| feature(place, &format!(r#""soil":"{class}""#), rings))
        .collect();
    let text = job(middle).replace("[drill]\n", &format!("{layer}\n[drill]\n"));
    made.write(
        "job.toml",
        text.replace("b = 190.0", "b = 190.0, c = 170.0")
            .replace("b = 0.0", "b = 0.0, c = 60.0"),
    );
    made.write(
        "boundary.geojson",
        collection(&[feature(place, "", boundary)]),
    );
    made.write("soil.geojson", collection(&zones));
    made
}

/// Plans and writes; the program's own check has agreed.
fn delivered(made: &Made) -> Plan {
    let output = made.run(&["plan", "job.toml"]);
    assert!(
        matches!(output.status.code(), Some(0 | 1)),
        "{}",
        plan_support::said(&output)
    );
    planned(made.path()).expect("a plan")
}

fn finding<'a>(plan: &'a Plan, code: &str) -> Option<&'a Finding> {
    plan.findings.iter().find(|finding| finding.code == code)
}

#[test]
fn a_corner_on_the_border_of_a_layer_with_a_class_for_gaps_plans() {
    let field = vec![vec![
        [0.0, 0.0],
        [100.0, 0.0],
        [100.0, 80.0],
        [50.0, 120.0],
        [0.0, 80.0],
    ]];
    for beyond in [0.0, 1e-7, 1e-5, 1e-4, 0.01] {
        let zones = [("a", rectangle([-5.0, -5.0], [105.0, 120.0 - beyond]))];
        for sliver in ["0.0", "0.01", "25.0"] {
            let zoning = format!("[zones]\nsliver_area_m2 = {sliver}\n");
            let made = made(&field, &zones, &zoning, "class_of_gaps = \"c\"", PLACE);
            delivered(&made);
        }
    }
}

#[test]
fn a_thread_of_2800_m_at_69_degrees_north_plans_and_is_told() {
    let place = [18.0, 69.0];
    let points = |y: f64| (0..=28).map(move |nth| [f64::from(nth) * 100.0, y]);
    let side = |low: f64, high: f64| -> Rings {
        let back = points(high).collect::<Vec<_>>().into_iter().rev();
        vec![points(low).chain(back).collect()]
    };
    let field = side(0.0, 60.0);
    let zones = [("a", side(0.0, 30.0)), ("b", side(30.0, 59.9999))];
    for (layer, sliver) in [
        ("class_of_gaps = \"c\"", "0.0"),
        ("class_of_gaps = \"c\"", "0.01"),
        ("", "0.0"),
    ] {
        let zoning = format!("[zones]\nsliver_area_m2 = {sliver}\n[grid]\ncell_m = 20.0\n");
        let plan = delivered(&made(&field, &zones, &zoning, layer, place));
        let classes: Vec<_> = plan
            .rates
            .rows
            .iter()
            .flat_map(|row| &row.facts.classes)
            .collect();
        assert_eq!(classes, ["a", "b"]);
        let told = finding(&plan, "zones.threads_joined");
        match layer.is_empty() {
            // As a gap it has taken the class beside it, and nothing lies between two classes.
            true => assert!(told.is_none(), "{told:?}"),
            false => {
                let told = told.expect("it is told");
                let area_m2 = told.area_m2.expect("an area");
                assert!((area_m2 - 0.28).abs() < 0.02, "{told:?}");
                let LonLat { lon, lat } = told.place.lon_lat.expect("a place");
                let [_, north] = degrees(place, [0.0, 60.0]);
                assert!(
                    (lat - north).abs() < 1e-6 && (18.0..18.08).contains(&lon),
                    "{told:?}"
                );
            }
        }
    }
}

/// Where straight lines in degrees are straight in the plane.
const EQUATOR: [f64; 2] = [18.0, 0.0];

/// A field of 200 m by 150 m at the equator with a second layer in a file.
fn at_the_equator(entry: &str) -> Made {
    let field = rectangle([0.0, 0.0], [200.0, 150.0]);
    let zones = [
        ("a", rectangle([-10.0, -10.0], [80.0, 160.0])),
        ("b", rectangle([80.0, -10.0], [210.0, 160.0])),
    ];
    made(&field, &zones, entry, "", EQUATOR)
}

fn sown_m2(plan: &Plan) -> f64 {
    plan.maps.rate.zones.iter().map(|zone| zone.area_m2).sum()
}

#[test]
fn an_exclusion_a_hair_beside_the_border_leaves_no_thread_of_land() {
    let sown = |beside: f64| {
        let made = at_the_equator(
            "[[exclusion]]\nname = \"hedge\"\nsource = { file = \"hedge.geojson\" }\n",
        );
        let hedge = rectangle([20.0, beside], [180.0, 4.0]);
        made.write("hedge.geojson", collection(&[feature(EQUATOR, "", &hedge)]));
        let plan = delivered(&made);
        let told = finding(&plan, "land.threads_joined");
        assert_eq!(told.is_some(), beside != 0.0, "{beside}: {told:?}");
        assert!(thread_in(&plan).is_none());
        sown_m2(&plan)
    };
    let whole = sown(0.0);
    for beside in [-0.0003, -0.0001, 0.0001, 0.0003] {
        // The field's border goes to the hedge's: from its corners, 20 m away.
        let less = whole - sown(beside);
        assert!(less.abs() <= 20.0 * 0.0003, "{beside}: {less}");
    }
}

/// A strip that reaches into the land by a tenth of a millimetre: what would be a thread is not sown, for it may not
/// join land where the starter is on.
#[test]
fn a_thread_where_a_product_is_off_never_joins_land_where_it_is_on() {
    let made = at_the_equator(
        "[[setback]]\nname = \"brook\"\nsource = { file = \"brook.geojson\" }\ndistance_m = 5.0\nproducts = [\"starter\"]\n",
    );
    let brook = |north: f64| {
        let brook = rectangle([10.0, north - 5.0], [190.0, north]);
        made.write("brook.geojson", collection(&[feature(EQUATOR, "", &brook)]));
    };
    // How far the strip lies beyond the southern border, in the plane.
    let beyond = |north: f64| {
        brook(north);
        let job = Job::load(&made.path().join("job.toml")).expect("a job");
        let land = prepared(&job).expect("land").land;
        let norths = |shapes: &[Shape]| -> Vec<f64> {
            let points = shapes.iter().flat_map(|shape| shape.exterior.iter());
            points.map(|point| point.metres()[1]).collect()
        };
        let strip = norths(&land.setbacks[0])
            .into_iter()
            .fold(f64::MIN, f64::max);
        strip - norths(&land.land).into_iter().fold(f64::MAX, f64::min)
    };
    let mut north = -5.0;
    for _ in 0..4 {
        north -= beyond(north);
    }
    let plan_at = |by: f64| {
        brook(north + by);
        delivered(&made)
    };
    let off = |plan: &Plan| {
        let rows = plan.rates.rows.iter();
        let off = rows.filter(|row| !row.facts.setbacks.is_empty());
        off.map(|row| row.area_m2).sum::<f64>()
    };
    let [none, thread, strip] = [-0.01, 0.0002, 0.01].map(plan_at);
    assert_eq!((off(&none), off(&thread)), (0.0, 0.0));
    assert!((1.7..2.2).contains(&off(&strip)), "{}", off(&strip));
    assert!((sown_m2(&none) - sown_m2(&strip)).abs() < 0.001);
    let not_sown = sown_m2(&none) - sown_m2(&thread);
    assert!((0.03..0.05).contains(&not_sown), "{not_sown}");
    assert!(finding(&thread, "zones.threads_joined").is_some());
}

/// Fields across the 180th meridian, with a layer and an exclusion along their border, a hand off it at most: rings jump
/// from 180 to -180 there, and a Shapefile does not say which of them lies in which.
#[test]
fn fields_across_the_180th_meridian_plan_with_layers_along_their_border() {
    let place = [180.0, -17.0];
    for seed in 0..24 {
        let mut dice = Dice::seeded(7_000 + seed);
        let reach_m = [60.0, 200.0, 700.0][seed as usize % 3];
        let off_m = [0.3, 1e-9, 1e-4, 0.3][seed as usize % 4];
        let corners = 4 + seed as usize % 5;
        let middle = (dice.unit() - 0.5) * reach_m;
        let corner = |nth: usize, dice: &mut Dice| {
            let turn = nth as f64 / corners as f64 * std::f64::consts::TAU;
            let far = reach_m * (0.5 + 0.9 * dice.unit());
            [middle + far * turn.cos(), far * turn.sin()]
        };
        let field: Vec<[f64; 2]> = (0..corners).map(|nth| corner(nth, &mut dice)).collect();
        let parts = [3, 12, 40][seed as usize / 8];
        let mut along = Vec::new();
        for (a, b) in field.iter().zip(field.iter().skip(1).chain(field.first())) {
            for part in 0..parts {
                let share = f64::from(part) / f64::from(parts);
                let off = [0, 1].map(|_| off_m * (2.0 * dice.unit() - 1.0));
                along.push([0, 1].map(|at| a[at] + (b[at] - a[at]) * share + off[at]));
            }
        }
        let half = along.len() / 2;
        let inside = [middle, 0.0];
        let first: Vec<[f64; 2]> = along[..=half].iter().copied().chain([inside]).collect();
        let second = along[half..].iter().chain(along.first()).copied();
        let second: Vec<[f64; 2]> = second.chain([inside]).collect();
        let strip = &along[..along.len() / 3];
        let back = strip
            .iter()
            .rev()
            .map(|[x, y]| [middle + (x - middle) * 0.98, y * 0.98]);
        let strip: Vec<[f64; 2]> = strip.iter().copied().chain(back).collect();
        let file = |name: &str, features: &[String]| (name.to_owned(), collection(features));
        let exclusion = "[[exclusion]]\nname = \"strip\"\nsource = { file = \"strip.geojson\" }\nbuffer_m = 0.0\n";
        let job = job(exclusion).replace(
            "class_attribute = \"soil\"\n",
            "class_attribute = \"soil\"\nclass_of_gaps = \"a\"\n",
        );
        let case = Case {
            about: format!("{seed}: {reach_m} m, {off_m} m off"),
            files: vec![
                file("boundary.geojson", &[feature(place, "", &vec![field])]),
                file("strip.geojson", &[feature(place, "", &vec![strip])]),
                file(
                    "soil.geojson",
                    &[
                        feature(place, r#""soil":"a""#, &vec![first]),
                        feature(place, r#""soil":"b""#, &vec![second]),
                    ],
                ),
                ("job.toml".to_owned(), job),
            ],
        };
        match end(&case) {
            End::Planned(plan) => assert!(
                finding(&plan, "plan.across_180").is_some(),
                "{}: not asked",
                case.about
            ),
            End::Refused(fault) => panic!("{}: {fault}", case.about),
            End::Broken(why) => panic!("{}: {why}", case.about),
        }
    }
}
