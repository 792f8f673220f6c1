//! Fields with long straight sides, in CRSs whose straight lines bend in degrees: the files say what the plan
//! says, borders lie where the source has them, and areas are those on the ellipsoid.

mod plan_support;

use geographiclib_rs::{Geodesic, PolygonArea, Winding};
use plan_support::{Made, collection};
use std::fs;
use std::path::{Path, PathBuf};
use twinsow::audit::{self, PlanFacts};
use twinsow::coordinates::LonLat;
use twinsow::frame::{Crs, Frame, to_wgs84};
use twinsow::job::Job;
use twinsow::plan::{self, Disk, Options, Plan};
use twinsow::read::{DeclaredCrs, Feature, Geometry, Layer, Polygon, Xy};
use twinsow::write;

/// CRS, a place in it, and its units in a metre.
const PLACES: [(&str, Xy, f64); 6] = [
    ("EPSG:25832", [600_000.0, 5_870_000.0], 1.0),
    ("EPSG:28992", [155_000.0, 463_000.0], 1.0),
    ("EPSG:2154", [700_000.0, 6_600_000.0], 1.0),
    ("EPSG:25830", [450_000.0, 4_500_000.0], 1.0),
    ("EPSG:2263", [1_000_000.0, 200_000.0], 3.280_833_333),
    ("EPSG:4326", [2.0, 53.0], 1.0 / 91_000.0),
];

/// A triangle of 400 by 80 m, and others by the length of their longest side, turned.
fn shapes() -> Vec<Vec<Xy>> {
    let mut shapes = vec![vec![[0.0, 0.0], [400.0, 0.0], [130.0, 80.0]]];
    for (nth, side) in [500.0, 1_600.0, 5_000.0].into_iter().enumerate() {
        let (sine, cosine) = (nth as f64 * 1.1).sin_cos();
        let turned = |[x, y]: Xy| [x * cosine - y * sine, x * sine + y * cosine];
        shapes.push(
            [[0.0, 0.0], [side, 0.0], [0.3 * side, 60.0]]
                .map(turned)
                .to_vec(),
        );
        let trapezium = [
            [0.0, 0.0],
            [side, 0.0],
            [0.7 * side, 0.4 * side],
            [0.1 * side, 0.4 * side],
        ];
        shapes.push(trapezium.map(turned).to_vec());
    }
    shapes
}

fn placed(shape: &[Xy], at: Xy, per_m: f64) -> Vec<Xy> {
    let place = |[x, y]: &Xy| [at[0] + x * per_m, at[1] + y * per_m];
    shape.iter().map(place).collect()
}

const JOB: &str = r#"
name = "long"
[field]
name = "long"
boundary = { file = "boundary.geojson" }
[grid]
cell_m = 25.0
[drill]
working_width_m = 6.0
[[drill.hopper]]
name = "front"
usable_l = 1900.0
[[product]]
id = "seed"
crop = "wheat"
name = "seed"
kind = "seed"
hopper = "front"
rate = { kg_per_ha = 160.0 }
limits = { min_kg_per_ha = 100.0, max_kg_per_ha = 300.0 }
"#;

fn made(crs: &str, rings: &[Vec<Xy>]) -> Made {
    let made = Made::new();
    let polygon = |ring: &Vec<Xy>| {
        let closed = ring.iter().chain(ring.first());
        let points: Vec<String> = closed.map(|[x, y]| format!("[{x},{y}]")).collect();
        format!("[[{}]]", points.join(","))
    };
    let polygons: Vec<String> = rings.iter().map(polygon).collect();
    let feature = format!(
        r#"{{"type":"Feature","properties":{{}},"geometry":{{"type":"MultiPolygon","coordinates":[{}]}}}}"#,
        polygons.join(",")
    );
    let named = format!(
        r#"{{"type":"FeatureCollection","crs":{{"type":"name","properties":{{"name":"{crs}"}}}},"features":"#
    );
    let text = collection(&[feature]).replace(r#"{"type":"FeatureCollection","features":"#, &named);
    made.write("boundary.geojson", text);
    made.write("job.toml", JOB);
    made
}

fn planned(made: &Made) -> (Plan, PathBuf) {
    let job = Job::load(&made.path().join("job.toml")).expect("a job");
    let plan = plan::plan(&job, &Disk, &Options::default()).expect("a plan");
    let out = made.path().join("out");
    write::deliver(&plan, &out, "2026-01-05T10:00:00Z").expect("files");
    (plan, out)
}

fn complaints(out: &Path) -> Vec<String> {
    let facts = PlanFacts::read(&out.join("plan.json")).expect("a plan");
    let audit = audit::audit(&[out.to_path_buf()], Some(&facts), None, out).expect("files");
    assert!(audit.files.len() > 4);
    audit.complaints()
}

/// Points every two metres on the sides of a ring in its own CRS, in degrees.
fn dense(crs: &str, ring: &[Xy], per_m: f64) -> Vec<LonLat> {
    let mut points = Vec::new();
    for (a, b) in ring.iter().zip(ring.iter().cycle().skip(1)) {
        let steps = ((b[0] - a[0]).hypot(b[1] - a[1]) / per_m / 2.0).ceil();
        for step in 0..steps as u32 {
            let share = f64::from(step) / steps;
            points.push([0, 1].map(|axis: usize| a[axis] + share * (b[axis] - a[axis])));
        }
    }
    let layer = Layer {
        file: PathBuf::from("dense.gpkg"),
        format: "GeoPackage",
        table: None,
        crs: DeclaredCrs::Text(crs.into()),
        attributes: vec![],
        features: vec![Feature {
            name: String::from("1"),
            geometry: Geometry::Polygons(vec![Polygon {
                exterior: points,
                holes: vec![],
            }]),
            values: vec![],
        }],
        findings: vec![],
    };
    let crs = Crs::of(&layer, None).expect("a CRS");
    match &to_wgs84(layer, &crs).expect("degrees").features[0].geometry {
        Geometry::Polygons(polygons) => polygons[0].exterior.clone(),
        _ => panic!("no polygon"),
    }
}

/// Area with geodesics between the points (C. F. F. Karney, Algorithms for geodesics, 2013).
fn geodesic_m2(ring: &[LonLat]) -> f64 {
    let geodesic = Geodesic::wgs84();
    let mut area = PolygonArea::new(&geodesic, Winding::CounterClockwise);
    ring.iter()
        .for_each(|place| area.add_point(place.lat, place.lon));
    let (_, m2, _) = area.compute(true);
    m2.abs()
}

fn beside_m(p: Xy, [a, b]: [Xy; 2]) -> f64 {
    let (dx, dy) = (b[0] - a[0], b[1] - a[1]);
    let along = (((p[0] - a[0]) * dx + (p[1] - a[1]) * dy) / (dx * dx + dy * dy)).clamp(0.0, 1.0);
    (p[0] - a[0] - along * dx).hypot(p[1] - a[1] - along * dy)
}

#[test]
fn long_sides_plan_in_every_crs_with_the_area_of_the_ellipsoid() {
    for (nth, shape) in shapes().iter().enumerate() {
        // Each shape in two CRSs, all CRSs in turn.
        for (crs, at, per_m) in [PLACES[nth % 6], PLACES[(nth + 3) % 6]] {
            let ring = placed(shape, at, per_m);
            let made = made(crs, std::slice::from_ref(&ring));
            let (plan, out) = planned(&made);
            assert_eq!(complaints(&out), [""; 0], "{crs}, shape {nth}");
            let dense = dense(crs, &ring, per_m);
            let wanted = geodesic_m2(&dense);
            let got = plan.tally.planned.mapped_m2;
            assert!(
                (got - wanted).abs() < 1e-6 * wanted + 0.001,
                "{crs}, shape {nth}: {got} m2, {wanted} m2 on the ellipsoid"
            );
            // Lines between the points of the delivered ring, straight in degrees, lie beside the source's side
            // by less than a millimetre.
            let text = fs::read_to_string(out.join("gis/rates.geojson")).expect("a map");
            let map: serde_json::Value = serde_json::from_str(&text).expect("JSON");
            let ring = &map["features"][0]["geometry"]["coordinates"][0][0];
            let ring: Vec<Xy> = serde_json::from_value(ring.clone()).expect("a ring");
            let frame = Frame::centred_on(&dense).expect("a plane");
            let side: Vec<Xy> = dense.iter().map(|&at| frame.to_plane(at).pair()).collect();
            for pair in ring.windows(2) {
                let middle = [0, 1].map(|axis: usize| (pair[0][axis] + pair[1][axis]) / 2.0);
                let middle = frame.to_plane(LonLat::of_pair(middle)).pair();
                let ends = side.iter().zip(side.iter().cycle().skip(1));
                let away = ends.map(|(a, b)| beside_m(middle, [*a, *b]));
                let away = away.fold(f64::INFINITY, f64::min);
                assert!(away < 0.000_6, "{crs}, shape {nth}: {away} m");
            }
        }
    }
}

#[test]
fn parts_far_from_each_other_plan() {
    for apart_m in [5_000.0, 60_000.0, 100_000.0] {
        let square = [[0.0, 0.0], [300.0, 10.0], [280.0, 400.0], [-20.0, 390.0]];
        let north = square.map(|[x, y]| [x * 1.3 + 40.0, y + apart_m]);
        let rings = [square, north].map(|ring| placed(&ring, [600_000.0, 5_820_000.0], 1.0));
        let made = made("EPSG:25832", &rings);
        let job = JOB.replace("cell_m = 25.0", "cell_m = 400.0");
        made.write("job.toml", job);
        let (_, out) = planned(&made);
        assert_eq!(complaints(&out), [""; 0], "{apart_m} m apart");
    }
}

/// One corner of one polygon moved by five millimetres, in each kind of file that holds polygons.
#[test]
fn a_corner_moved_by_five_millimetres_is_refused() {
    let ring = placed(&shapes()[2], PLACES[0].1, PLACES[0].2);
    let made = made(PLACES[0].0, &[ring]);
    let (_, out) = planned(&made);
    assert_eq!(complaints(&out), [""; 0]);
    let step = 0.005 / 111_200.0;
    let moved = |path: &str, change: &dyn Fn(&str) -> String| {
        let path = out.join(path);
        let was = fs::read_to_string(&path).expect("text");
        let is = change(&was);
        assert_ne!(was, is);
        fs::write(&path, is).expect("written");
        let found = complaints(&out);
        fs::write(&path, was).expect("written");
        found
    };
    let found = moved("gis/rates.geojson", &|text| {
        let mut map: serde_json::Value = serde_json::from_str(text).expect("JSON");
        let at = &mut map["features"][0]["geometry"]["coordinates"][0][0][7][1];
        *at = serde_json::json!(at.as_f64().expect("a number") + step);
        map.to_string()
    });
    assert!(
        found.len() == 1 && found[0].contains("rates.geojson"),
        "{found:?}"
    );
    let found = moved("terminal/TASKDATA/TASKDATA.XML", &|text| {
        let start = text.match_indices("<PNT").nth(5).expect("a point").0;
        let from = start + text[start..].find("C=\"").expect("a latitude") + 3;
        let to = from + text[from..].find('"').expect("its end");
        let latitude: f64 = text[from..to].parse().expect("a number");
        format!("{}{:.9}{}", &text[..from], latitude + step, &text[to..])
    });
    assert!(
        found.len() == 1 && found[0].contains("outline"),
        "{found:?}"
    );
}
