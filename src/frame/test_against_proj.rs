//! Checks of this module's parts against PROJ, which is the oracle for the plane.

use super::plane::Frame;
use super::proj::{Context, Object};
use crate::coordinates::{LonLat, PlaneXy};
use crate::read::Xy;

/// Seeded numbers between 0 and 1 (a linear congruential generator; Knuth, MMIX).
struct Random(u64);

impl Random {
    fn next(&mut self) -> f64 {
        self.0 = self
            .0
            .wrapping_mul(6_364_136_223_846_793_005)
            .wrapping_add(1_442_695_040_888_963_407);
        (self.0 >> 11) as f64 / (1u64 << 53) as f64
    }

    fn between(&mut self, low: f64, high: f64) -> f64 {
        low + (high - low) * self.next()
    }
}

/// PROJ's transverse Mercator about this origin, from degrees.
fn proj_plane(
    LonLat {
        lon: lon0,
        lat: lat0,
    }: LonLat,
) -> Object {
    let context = Context::open(None).expect("the database inside");
    let pipeline = format!(
        "+proj=pipeline +step +proj=unitconvert +xy_in=deg +xy_out=rad \
         +step +proj=tmerc +lon_0={lon0} +lat_0={lat0} +k=1 +ellps=WGS84"
    );
    context.parse(&pipeline).expect("a pipeline")
}

/// Fields of all sizes and places: their corners.
fn fields() -> Vec<[LonLat; 2]> {
    let mut random = Random(20_110_615);
    let mut fields = Vec::new();
    for lat in [0.0, 0.3, -12.0, 35.0, -44.0, 52.0, 61.0, 69.9, 78.0, -83.0] {
        for half_m in [20.0, 300.0, 2500.0, 10_000.0, 60_000.0] {
            for lon in [-180.0, -71.123_456_7, 0.0, 5.4, 179.999_9] {
                let lon = lon + random.between(-0.01, 0.01);
                let half_lat = half_m / 111_000.0;
                let half_lon = half_lat / f64::cos(f64::to_radians(lat));
                let turned = |lon: f64| (lon + 180.0).rem_euclid(360.0) - 180.0;
                fields.push([
                    LonLat::new(turned(lon - half_lon), lat - half_lat),
                    LonLat::new(turned(lon + half_lon), lat + half_lat),
                ]);
            }
        }
    }
    fields
}

#[test]
fn the_plane_is_that_of_proj_to_1e_8_m() {
    let mut random = Random(42);
    let mut worst = [0.0f64; 3];
    let mut fitted = 0;
    for corners in fields() {
        let frame = Frame::centred_on(&corners).expect("a field");
        let oracle = proj_plane(frame.origin());
        fitted += usize::from(frame.is_fitted());
        let [min, max] = frame.extent_m().expect("an extent");
        // Half as far again as the field, so that some points fall outside the fit.
        let plane: Vec<PlaneXy> = (0..40)
            .map(|_| {
                let out =
                    |low: f64, high: f64, r: f64| (low + high) / 2.0 + (high - low) * 0.75 * r;
                PlaneXy::new(
                    out(min.x, max.x, random.between(-1.0, 1.0)),
                    out(min.y, max.y, random.between(-1.0, 1.0)),
                )
            })
            .collect();
        let places: Vec<LonLat> = plane.iter().map(|&p| frame.to_lon_lat(p)).collect();
        assert!(places.iter().all(|p| p.lon.abs() <= 180.0), "{places:?}");
        let mut right: Vec<Xy> = places.iter().map(|place| place.pair()).collect();
        oracle.transform(&mut right);
        let fast = frame.all_to_plane(places.clone());
        let back = frame.all_to_lon_lat(plane.clone());
        let off = |a: PlaneXy, b: PlaneXy| (a.x - b.x).hypot(a.y - b.y);
        for i in 0..plane.len() {
            worst[0] = worst[0].max(off(frame.to_plane(places[i]), PlaneXy::of_pair(right[i])));
            worst[1] = worst[1].max(off(fast[i], frame.to_plane(places[i])));
            let d_lon = (back[i].lon - places[i].lon + 540.0).rem_euclid(360.0) - 180.0;
            let d_lat = back[i].lat - places[i].lat;
            let metres = (d_lon * places[i].lat.to_radians().cos()).hypot(d_lat) * 111_694.0;
            worst[2] = worst[2].max(metres);
            // There and back within the fit, and alone as in company.
            assert_eq!(frame.fast_to_plane(places[i]), fast[i]);
        }
    }
    println!("series from PROJ, fast forth, fast back (m): {worst:?}; {fitted} fitted");
    assert!(worst[0] < 1e-8, "series against PROJ: {worst:?}");
    assert!(worst[1] < 1e-8, "polynomial forth: {worst:?}");
    // A rounding step of a longitude near 180 is 3e-9 m by itself.
    assert!(worst[2] < 1.2e-8, "polynomial back: {worst:?}");
    assert!(fitted >= 200, "fitted only {fitted} of 250");
}

#[test]
fn what_writers_get_is_the_same_plane() {
    let frame =
        Frame::centred_on(&[LonLat::new(5.61, 52.31), LonLat::new(5.62, 52.32)]).expect("a field");
    for text in [frame.wkt1(), format!("{} +type=crs", frame.proj_string())] {
        let context = Context::open(None).expect("the database inside");
        let wgs84 = context.parse("EPSG:4326").expect("WGS 84");
        let crs = context
            .parse(&text)
            .unwrap_or_else(|said| panic!("{text}: {said}"));
        let forth = super::operation::choose(&wgs84, &crs, None, None)
            .expect("an operation")
            .operation;
        let place = LonLat::new(5.613_2, 52.318_7);
        let mut moved = [place.pair()];
        forth.transform(&mut moved);
        let right = frame.to_plane(place).pair();
        assert!((moved[0][0] - right[0]).abs() < 1e-8 && (moved[0][1] - right[1]).abs() < 1e-8);
    }
}

/// Projections alone, without datum shift, against the worked examples of IOGP Guidance Note 373-7-2
/// (September 2019): 3.3.1.1 oblique stereographic (Amersfoort / RD New) and 3.2.5 transverse Mercator
/// (OSGB36 / British National Grid).
#[test]
fn projections_meet_the_worked_examples_of_the_guidance_note() {
    for (code, lon_lat, [x, y], tolerance) in [
        ("EPSG:28992", [6.0, 53.0], [196_105.283, 557_057.739], 0.001),
        ("EPSG:27700", [0.5, 50.5], [577_274.99, 69_740.50], 0.01),
    ] {
        let context = Context::open(None).expect("the database inside");
        let crs = context.parse(code).expect("a CRS");
        let base = crs.geographic().expect("a geographic CRS");
        let forth = super::operation::choose(&base, &crs, None, None)
            .expect("a projection")
            .operation;
        let mut moved = [lon_lat];
        forth.transform(&mut moved);
        let [[e, n]] = moved;
        assert!(
            (e - x).abs() < tolerance && (n - y).abs() < tolerance,
            "{code}: {e} {n}"
        );
    }
}
