//! Edges that are straight in a layer's CRS stay so in the plane, and plane areas are true areas.

use geographiclib_rs::{Geodesic, PolygonArea, Winding};
use std::path::PathBuf;
use twinsow::coordinates::{LonLat, PlaneXy};
use twinsow::frame::{Crs, Frame, place, to_plane, to_wgs84};
use twinsow::read::{DeclaredCrs, Feature, Geometry, Layer, Polygon, Xy};

fn layer(crs: &str, rings: &[Vec<Xy>]) -> Layer {
    let polygon = |ring: &Vec<Xy>| Polygon {
        exterior: ring.clone(),
        holes: vec![],
    };
    Layer {
        file: PathBuf::from("field.gpkg"),
        format: "GeoPackage",
        table: None,
        crs: DeclaredCrs::Text(crs.into()),
        attributes: vec![],
        features: rings
            .iter()
            .enumerate()
            .map(|(i, ring)| Feature {
                name: (i + 1).to_string(),
                geometry: Geometry::Polygons(vec![polygon(ring)]),
                values: vec![],
            })
            .collect(),
        findings: vec![],
    }
}

fn ring<P: Clone>(layer: &Layer<P>, number: usize) -> Vec<P> {
    match &layer.features[number].geometry {
        Geometry::Polygons(polygons) => polygons[0].exterior.clone(),
        _ => panic!("no polygon"),
    }
}

fn beside(p: Xy, [a, b]: [Xy; 2]) -> f64 {
    let (dx, dy) = (b[0] - a[0], b[1] - a[1]);
    let t = (((p[0] - a[0]) * dx + (p[1] - a[1]) * dy) / (dx * dx + dy * dy)).clamp(0.0, 1.0);
    (p[0] - a[0] - t * dx).hypot(p[1] - a[1] - t * dy)
}

/// Squares of 2 to 5 km, turned so that no edge lies along an axis, and one that does.
const PLACES: [(&str, Xy, f64); 12] = [
    ("EPSG:28992", [155_000.0, 463_000.0], 1.0),
    ("EPSG:28992", [255_000.0, 590_000.0], 1.0),
    ("EPSG:3067", [520_000.0, 7_200_000.0], 1.0),
    ("EPSG:3067", [150_000.0, 6_750_000.0], 1.0),
    ("EPSG:25832", [280_000.0, 5_600_000.0], 1.0),
    ("EPSG:2193", [1_300_000.0, 4_900_000.0], 1.0),
    ("EPSG:3857", [600_000.0, 6_800_000.0], 1.6),
    ("EPSG:4326", [5.4, 52.3], 1e-5),
    ("EPSG:4326", [24.0, 69.5], 1e-5),
    ("EPSG:4326", [-60.0, -35.0], 1e-5),
    ("EPSG:4807", [0.1, 54.0], 1e-5),
    ("EPSG:2236", [700_000.0, 700_000.0], 3.28),
];

#[test]
fn edges_of_2_to_5_km_lie_within_a_twentieth_of_a_millimetre() {
    for (code, [x, y], metre) in PLACES {
        for (length, turned) in [
            (2000.0, 0.0f64),
            (5000.0, 0.0),
            (5000.0, 0.4),
            (3000.0, 1.1),
        ] {
            let side = length * metre;
            let corner = |quarter: f64| {
                let angle = turned + quarter * std::f64::consts::FRAC_PI_2;
                [
                    x + side * angle.cos() / 2f64.sqrt(),
                    y + side * angle.sin() / 2f64.sqrt(),
                ]
            };
            let corners: Vec<Xy> = [0.5, 1.5, 2.5, 3.5, 0.5].map(corner).to_vec();
            let source = layer(code, std::slice::from_ref(&corners));
            let crs = Crs::of(&source, None).unwrap_or_else(|fault| panic!("{fault}"));
            let lon_lat = to_wgs84(source.clone(), &crs).expect("on Earth");
            let frame = Frame::centred_on(&ring(&lon_lat, 0)).expect("a field");
            let plane = ring(&to_plane(lon_lat, &frame), 0);
            assert_eq!(
                plane,
                ring(&place(source, &crs, &frame).expect("on Earth"), 0),
                "{code}"
            );

            let mut worst = 0.0f64;
            let mut undensified = 0.0f64;
            let mut put = 0;
            for edge in corners.windows(2) {
                let on_edge: Vec<Xy> = (0..=400)
                    .map(|i| {
                        let t = f64::from(i) / 400.0;
                        [
                            edge[0][0] + t * (edge[1][0] - edge[0][0]),
                            edge[0][1] + t * (edge[1][1] - edge[0][1]),
                        ]
                    })
                    .collect();
                let on_edge = crs.to_wgs84(&on_edge).expect("on Earth");
                let on_edge: Vec<Xy> = on_edge
                    .into_iter()
                    .map(|p| frame.to_plane(p).pair())
                    .collect();
                let chord = [on_edge[0], on_edge[400]];
                for &p in &on_edge {
                    let near = plane
                        .windows(2)
                        .map(|piece| beside(p, [piece[0].pair(), piece[1].pair()]));
                    worst = worst.max(near.fold(f64::INFINITY, f64::min));
                    undensified = undensified.max(beside(p, chord));
                }
                put += 1;
            }
            assert_eq!(put, 4);
            assert!(worst < 5e-5, "{code} {length} {turned}: {worst}");
            // At most one halving more than the bend asks for (halves, so up to twice the root of the bend, and
            // twice that for the level), and pieces of up to a kilometre.
            let added = plane.len() - 5;
            let halved = (length / 1_000.0).log2().ceil().exp2() - 1.0;
            let pieces = (undensified / 4e-5).sqrt();
            assert!(
                (added as f64) <= 4.0 * halved.max(2.0 * pieces + 1.0),
                "{code}: {added} for {undensified}"
            );
        }
    }
}

#[test]
fn neighbours_get_the_same_points_on_their_border() {
    let [a, b, c, d] = [[5.40, 52.30], [5.46, 52.303], [5.46, 52.33], [5.40, 52.28]];
    // The border a-b runs one way in the first ring, the other way in the second, and closes the third,
    // which its file has left open.
    let rings = [vec![a, b, c, a], vec![b, a, d, b], vec![b, d, a]];
    let source = layer("EPSG:4326", &rings);
    let crs = Crs::of(&source, None).expect("a CRS");
    let done = to_wgs84(source, &crs).expect("on Earth");
    let [a, b] = [a, b].map(LonLat::of_pair);
    let between = |ring: &[LonLat], from: LonLat, to: LonLat| -> Vec<LonLat> {
        let start = ring.iter().position(|&p| p == from).expect("a corner");
        ring.iter()
            .cycle()
            .skip(start + 1)
            .take_while(|&&p| p != to)
            .copied()
            .collect()
    };
    let first = between(&ring(&done, 0), a, b);
    assert!(first.len() > 10);
    let mut second = between(&ring(&done, 1), b, a);
    second.reverse();
    assert_eq!(first, second);
    let third = between(&ring(&done, 2), a, b);
    assert_eq!(first, third);
    // The border of many more neighbours, in degrees and in metres, down to the last bit.
    let mut seed = 3u64;
    let mut next = |low: f64, high: f64| {
        seed = seed
            .wrapping_mul(6_364_136_223_846_793_005)
            .wrapping_add(1_442_695_040_888_963_407);
        low + (high - low) * (seed >> 11) as f64 / (1u64 << 53) as f64
    };
    for round in 0..60 {
        let (code, [x, y], size) = PLACES[[0, 2, 6, 7, 10][round % 5]];
        let mut corner = || {
            [
                x + next(-4000.0, 4000.0) * size,
                y + next(-4000.0, 4000.0) * size,
            ]
        };
        let [a, b, c, d] = [corner(), corner(), corner(), corner()];
        let source = layer(code, &[vec![a, b, c, a], vec![d, b, a, d]]);
        let crs = Crs::of(&source, None).expect("a CRS");
        let ends = crs.to_wgs84(&[a, b]).expect("on Earth");
        let done = to_wgs84(source, &crs).expect("on Earth");
        let mut there = between(&ring(&done, 0), ends[0], ends[1]);
        there.reverse();
        assert_eq!(there, between(&ring(&done, 1), ends[1], ends[0]), "{code}");
    }
    // The open ring stays open.
    assert_ne!(ring(&done, 2).last(), Some(&b));
    assert!(done.findings.is_empty());
}

#[test]
fn short_edges_and_points_are_left_alone() {
    let corners = vec![[5.4, 52.3], [5.4002, 52.3], [5.4002, 52.3001], [5.4, 52.3]];
    let source = layer("EPSG:4326", &[corners]);
    let crs = Crs::of(&source, None).expect("a CRS");
    let done = to_wgs84(source.clone(), &crs).expect("on Earth");
    let places: Vec<Xy> = ring(&done, 0).into_iter().map(LonLat::pair).collect();
    assert_eq!(places, ring(&source, 0));
    assert_eq!((done.features.len(), &done.findings), (1, &source.findings));
}

/// A ring without its closing point, from its lowest point on.
fn from_lowest(ring: &[LonLat]) -> Vec<Xy> {
    let open = ring[..ring.len() - 1].iter();
    let mut open: Vec<Xy> = open.map(|place| place.pair()).collect();
    let lowest = (0..open.len()).min_by(|a, b| open[*a].partial_cmp(&open[*b]).expect("numbers"));
    open.rotate_left(lowest.expect("points"));
    open
}

#[test]
fn the_first_edge_of_a_ring_and_the_rings_before_it_decide_nothing() {
    for (code, [x, y], metre) in [PLACES[3], PLACES[8]] {
        let at = |places: &[[f64; 2]]| -> Vec<Xy> {
            let place = |[east, north]: &[f64; 2]| [x + east * metre, y + north * metre];
            places.iter().map(place).collect()
        };
        let small = at(&[[0.0, 0.0], [9.0, 0.0], [9.0, 9.0], [0.0, 0.0]]);
        // Two short edges, then long ones.
        let corners = [
            [0.0, 0.0],
            [8.0, 1.0],
            [16.0, 0.0],
            [3000.0, 40.0],
            [2900.0, 2000.0],
        ];
        let mut expected: Option<Vec<Xy>> = None;
        for shift in 0..corners.len() {
            let mut corners = corners.to_vec();
            corners.rotate_left(shift);
            corners.push(corners[0]);
            let rings = [small.clone(), at(&corners), small.clone()];
            let source = layer(code, &rings);
            let crs = Crs::of(&source, None).unwrap_or_else(|fault| panic!("{fault}"));
            let placed = to_wgs84(source, &crs).expect("on Earth");
            let densified = from_lowest(&ring(&placed, 1));
            assert!(densified.len() > 5, "{code}: {}", densified.len());
            for nth in [0, 2] {
                assert_eq!(ring(&placed, nth).len(), small.len(), "{code}");
            }
            assert_eq!(
                *expected.get_or_insert(densified.clone()),
                densified,
                "{code} {shift}"
            );
        }
    }
}

/// Area on the ellipsoid by GeographicLib (Karney 2013), m2.
fn geodesic_area(ring: &[LonLat]) -> f64 {
    let earth = Geodesic::wgs84();
    let mut area = PolygonArea::new(&earth, Winding::CounterClockwise);
    for &LonLat { lon, lat } in &ring[..ring.len() - 1] {
        area.add_point(lat, lon);
    }
    area.compute(true).1
}

fn plane_area(ring: &[PlaneXy]) -> f64 {
    ring.windows(2)
        .map(|e| e[0].x * e[1].y - e[1].x * e[0].y)
        .sum::<f64>()
        / 2.0
}

#[test]
fn plane_areas_are_geodesic_areas_to_1e_6() {
    let mut worst = 0.0f64;
    for lat in [-77.0, -43.5, -10.0, 0.0, 20.0, 47.0, 52.0, 61.0, 70.0, 83.0] {
        for lon in [-179.99, -93.0, 5.0, 179.98] {
            // A star of 5 km across, its vertices 80 to 400 m apart.
            let points = 90;
            let mut star: Vec<LonLat> = (0..points)
                .map(|i| {
                    let angle = std::f64::consts::TAU * f64::from(i) / f64::from(points);
                    let radius = 2500.0 * (0.75 + 0.25 * (5.0 * angle).cos());
                    let d_lat = radius * angle.sin() / 111_300.0;
                    let d_lon = radius * angle.cos() / 111_300.0 / f64::cos(f64::to_radians(lat));
                    LonLat::new((lon + d_lon + 180.0).rem_euclid(360.0) - 180.0, lat + d_lat)
                })
                .collect();
            star.push(star[0]);
            let frame = Frame::centred_on(&star).expect("a field");
            let plane = frame.all_to_plane(star.clone());
            let share = (plane_area(&plane) / geodesic_area(&star) - 1.0).abs();
            assert!(share < 1e-6, "{lon} {lat}: {share}");
            assert!(
                share < frame.area_error() + 1e-9,
                "{lon} {lat}: {share} {}",
                frame.area_error()
            );
            worst = worst.max(share);
        }
    }
    // A plane that is off by 1e-6 everywhere would be caught.
    assert!(worst > 1e-9 && worst < 2e-7, "{worst}");
}

/// Two fields across the antimeridian, from longitudes on either side of it: one in degrees, one in
/// EPSG:2193, whose easting runs on across it.
#[test]
fn a_field_may_lie_across_the_antimeridian() {
    let degrees = vec![
        [179.98, -43.9],
        [-179.98, -43.9],
        [-179.98, -43.88],
        [179.98, -43.88],
        [179.98, -43.9],
    ];
    let source = layer("EPSG:4326", std::slice::from_ref(&degrees));
    let crs = Crs::of(&source, None).expect("a CRS");
    let done = to_wgs84(source, &crs).expect("on Earth");
    let lon_lat = ring(&done, 0);
    assert!(lon_lat.len() > 30, "densified the short way round");
    assert!(
        lon_lat
            .iter()
            .all(|p| p.lon.abs() > 179.9 && p.lon.abs() <= 180.0),
        "{lon_lat:?}"
    );
    let degrees: Vec<LonLat> = degrees.into_iter().map(LonLat::of_pair).collect();
    let frame = Frame::centred_on(&degrees).expect("a field");
    assert_eq!(frame.origin(), LonLat::new(180.0, -43.89));
    let plane = ring(&to_plane(done, &frame), 0);
    let share = plane_area(&plane) / geodesic_area(&lon_lat) - 1.0;
    assert!(share.abs() < 1e-7, "{share}");
    let back = frame.all_to_lon_lat(plane);
    for (a, b) in back.iter().zip(&lon_lat) {
        let d_lon = (a.lon - b.lon + 540.0).rem_euclid(360.0) - 180.0;
        assert!(
            d_lon.abs() < 2e-13 && (a.lat - b.lat).abs() < 2e-13,
            "{a:?} {b:?}"
        );
    }

    // Chatham: EPSG:2193 reaches to -171.2 degrees.
    let [x, y] = [2_080_000.0, 5_090_000.0];
    let source = layer(
        "EPSG:2193",
        &[vec![
            [x, y],
            [x + 4000.0, y],
            [x + 4000.0, y + 4000.0],
            [x, y],
        ]],
    );
    let crs = Crs::of(&source, None).unwrap_or_else(|fault| panic!("{fault}"));
    let done = to_wgs84(source, &crs).expect("on Earth");
    let lon_lat = ring(&done, 0);
    assert!(lon_lat.iter().all(|p| p.lon.abs() <= 180.0));
    let frame = Frame::centred_on(&lon_lat).expect("a field");
    let share = plane_area(&ring(&to_plane(done, &frame), 0)) / geodesic_area(&lon_lat) - 1.0;
    assert!(share.abs() < 1e-6, "{share}");
}

#[test]
fn the_centre_does_not_depend_on_where_the_vertices_crowd() {
    let sparse = [[5.0, 52.0], [5.02, 52.0], [5.02, 52.01], [5.0, 52.01]].map(LonLat::of_pair);
    let mut crowded = sparse.to_vec();
    crowded.extend((0..1000).map(|i| LonLat::new(5.0 + f64::from(i) * 1e-6, 52.0)));
    let origin = Frame::centred_on(&sparse).expect("a field").origin();
    assert_eq!(origin, LonLat::new(5.01, 52.005));
    assert_eq!(
        Frame::centred_on(&crowded).expect("a field").origin(),
        origin
    );
    // Six decimals write it exactly.
    let frame = Frame::centred_on(&[LonLat::new(5.123_456_789, 52.123_456_789)]).expect("a field");
    assert_eq!(frame.origin(), LonLat::new(5.123_457, 52.123_457));
    let name = frame.proj_string();
    assert!(
        name.contains("+lat_0=52.123457 +lon_0=5.123457 +k=1"),
        "{name}"
    );
    assert_eq!(
        Frame::about(5.123_457, 52.123_457).to_plane(LonLat::new(5.13, 52.13)),
        frame.to_plane(LonLat::new(5.13, 52.13))
    );
}

#[test]
fn what_is_no_field_is_refused() {
    for (places, code) in [
        (vec![], "frame.no_places"),
        (vec![[20.0, 84.000_1]], "frame.beyond_84_degrees"),
        (vec![[20.0, -85.0]], "frame.beyond_84_degrees"),
        (vec![[20.0, f64::NAN]], "frame.not_on_earth"),
        (vec![[200.0, 50.0]], "frame.not_on_earth"),
        // A stray vertex at 0, 0; fields in two countries; the antipodes.
        (vec![[5.0, 52.0], [5.1, 52.0], [0.0, 0.0]], "frame.too_wide"),
        (vec![[5.0, 52.0], [9.0, 52.0]], "frame.too_wide"),
        (vec![[5.0, 52.0], [-175.0, 52.0]], "frame.too_wide"),
        (
            vec![[0.0, 0.0], [120.0, 0.0], [-120.0, 0.0]],
            "frame.too_wide",
        ),
    ] {
        let places: Vec<LonLat> = places.into_iter().map(LonLat::of_pair).collect();
        let fault = Frame::centred_on(&places).expect_err("no field");
        assert_eq!(fault.code, code, "{places:?}: {fault}");
    }
    let stray = [[5.0, 52.0], [5.1, 52.0], [0.0, 0.0]].map(LonLat::of_pair);
    let fault = Frame::centred_on(&stray).expect_err("too wide");
    assert!(fault.found.contains("0.000000, 0.000000"), "{fault}");
}

/// A layer of the whole world: what the plane cannot hold is left out and said; what is near is there.
#[test]
fn features_out_of_the_planes_reach_are_left_out_and_said() {
    let near = vec![[5.0, 52.0], [5.1, 52.0], [5.1, 52.1], [5.0, 52.0]];
    let far = vec![
        [150.0, -30.0],
        [151.0, -30.0],
        [151.0, -31.0],
        [150.0, -30.0],
    ];
    let away = vec![[8.0, 50.0], [8.1, 50.0], [8.1, 50.1], [8.0, 50.0]];
    let source = layer("EPSG:4326", &[near.clone(), far, away]);
    let crs = Crs::of(&source, None).expect("a CRS");
    let near: Vec<LonLat> = near.into_iter().map(LonLat::of_pair).collect();
    let frame = Frame::centred_on(&near).expect("a field");
    let done = place(source, &crs, &frame).expect("on Earth");
    assert_eq!(done.features.len(), 2);
    // Edges that are in reach but nowhere near the field get no points.
    assert!(ring(&done, 0).len() > 100 && ring(&done, 1).len() == 4);
    let said: Vec<_> = done.findings.iter().map(|f| f.code.as_ref()).collect();
    assert_eq!(said, ["frame.feature_too_far"]);
    assert_eq!(done.findings[0].place.feature.as_deref(), Some("2"));
}
