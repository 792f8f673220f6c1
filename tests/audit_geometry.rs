//! What the audit lays over each other by the crate geo, and what planning does by its own arrangement, on real parcels:
//! both judges come to the same land, within the bounds that the audit allows. Neither shares code with the other.

use geo::bool_ops::FillRule;
use geo::buffer::{BufferStyle, LineCap, LineJoin};
use geo::{Area, BooleanOps, Buffer, Euclidean, Length, LineString, MultiPolygon, Polygon};
use std::f64::consts::PI;
use std::path::Path;
use twinsow::coordinates::{LonLat, PlaneXy};
use twinsow::frame::{Crs, Frame, place, to_wgs84};
use twinsow::geometry::offset::{ARC_TOLERANCE_M, outset};
use twinsow::geometry::overlay::union;
use twinsow::geometry::{Overlay, Pt, Ring, Shape};
use twinsow::read::{self, Geometry, Layer};

/// The parcels of a file, each as shapes of a plane of its own.
fn parcels() -> Vec<Vec<Shape>> {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("testdata/fields");
    let mut parcels = Vec::new();
    for file in ["dk_epsg25832.shp.zip", "nl_epsg28992.gpkg"] {
        let layer = read::read(&folder.join(file), None).expect("parcels");
        let crs = Crs::of(&layer, None).expect("a CRS");
        for feature in layer.features.clone() {
            let one = Layer {
                features: vec![feature],
                ..layer.clone()
            };
            let degrees = to_wgs84(one.clone(), &crs).expect("degrees");
            let points = polygons(&degrees)
                .into_iter()
                .flat_map(|(exterior, _)| exterior);
            let points: Vec<LonLat> = points.collect();
            if points.is_empty() {
                continue;
            }
            let frame = Frame::centred_on(&points).expect("a plane");
            let placed = place(one, &crs, &frame).expect("in the plane");
            parcels.push(union(polygons(&placed).iter().map(shape)));
        }
    }
    assert!(parcels.len() > 5);
    parcels
}

type Rings<P> = (Vec<P>, Vec<Vec<P>>);

fn polygons<P: Clone>(layer: &Layer<P>) -> Vec<Rings<P>> {
    let of = |geometry: &Geometry<P>| match geometry {
        Geometry::Polygons(polygons) => polygons.clone(),
        _ => Vec::new(),
    };
    let features = layer.features.iter().flat_map(|own| of(&own.geometry));
    features.map(|own| (own.exterior, own.holes)).collect()
}

fn shape((exterior, holes): &Rings<PlaneXy>) -> Shape {
    let ring = |ring: &Vec<PlaneXy>| -> Ring {
        let points = ring
            .iter()
            .map(|at| Pt::from_metres(at.pair()).expect("near"));
        let mut points: Ring = points.collect();
        points.dedup();
        points.pop();
        points
    };
    Shape {
        exterior: ring(exterior),
        holes: holes.iter().map(ring).collect(),
    }
}

fn drawn(shapes: &[Shape]) -> MultiPolygon {
    let ring = |ring: &Ring| {
        let points = ring.iter().map(|at| at.metres().into());
        LineString::new(points.collect())
    };
    let one = |shape: &Shape| {
        Polygon::new(
            ring(&shape.exterior),
            shape.holes.iter().map(ring).collect(),
        )
    };
    MultiPolygon::new(shapes.iter().map(one).collect())
}

fn border_m(land: &MultiPolygon) -> f64 {
    let rings = land
        .iter()
        .flat_map(|own| std::iter::once(own.exterior()).chain(own.interiors()));
    rings.map(|ring| Euclidean.length(ring)).sum()
}

/// A parcel and itself moved aside by some metres, so that borders cross.
fn moved(shapes: &[Shape]) -> Vec<Shape> {
    let aside = Pt::from_metres([13.37, -7.11]).expect("near");
    let ring = |ring: &Ring| -> Ring {
        let moved = ring.iter().map(|at| Pt {
            x: at.x + aside.x,
            y: at.y + aside.y,
        });
        moved.collect()
    };
    let one = |shape: &Shape| Shape {
        exterior: ring(&shape.exterior),
        holes: shape.holes.iter().map(ring).collect(),
    };
    shapes.iter().map(one).collect()
}

fn kernel_m2(own: &[Shape], other: &[Shape], test: impl Fn(bool, bool) -> bool) -> f64 {
    let mut overlay = Overlay::default();
    for shape in own.iter().chain(other) {
        overlay.add(shape.clone());
    }
    let first = own.len() as u32;
    let shapes = overlay.shapes_where(|covering| {
        let in_own = covering.iter().any(|at| *at < first);
        let in_other = covering.iter().any(|at| *at >= first);
        test(in_own, in_other)
    });
    shapes.iter().map(Shape::area_m2).sum()
}

#[test]
fn both_judges_cut_unite_and_take_away_the_same_land() {
    let mut farthest: f64 = 0.0;
    for own in parcels() {
        let other = moved(&own);
        let (a, b) = (drawn(&own), drawn(&other));
        let by_geo = [
            a.intersection_with_fill_rule(&b, FillRule::Positive),
            a.union_with_fill_rule(&b, FillRule::Positive),
            a.difference_with_fill_rule(&b, FillRule::Positive),
        ];
        let by_kernel = [
            kernel_m2(&own, &other, |own, other| own && other),
            kernel_m2(&own, &other, |own, other| own || other),
            kernel_m2(&own, &other, |own, other| own && !other),
        ];
        let border = border_m(&a) + border_m(&b);
        for (geo, kernel) in by_geo.iter().zip(by_kernel) {
            farthest = farthest.max((geo.unsigned_area() - kernel).abs() / border);
        }
    }
    // Metres that borders would have to move to make the difference. The audit allows 0.28 mm.
    println!("{farthest:.2e} m");
    assert!(farthest < 2e-6, "{farthest}");
}

/// Strips: all within a distance of a parcel, and of its border as a line.
#[test]
fn both_judges_draw_the_same_strips() {
    for own in parcels() {
        for width_m in [3.0, 12.5, 40.0] {
            // Geo takes chords of up to twice the angle that it is told.
            let step = (1.0 - ARC_TOLERANCE_M / width_m).acos();
            let style = BufferStyle::new(width_m)
                .line_join(LineJoin::Round(step))
                .line_cap(LineCap::Round(step));
            let land = drawn(&own);
            let line = own[0].exterior.clone();
            let by_kernel = [
                outset(&own, &[], &[], width_m),
                outset(&[], std::slice::from_ref(&line), &[], width_m),
            ];
            let line = LineString::new(line.iter().map(|at| at.metres().into()).collect());
            let by_geo = [
                land.buffer_with_style(style.clone()),
                line.buffer_with_style(style),
            ];
            for (kernel, geo) in by_kernel.iter().zip(by_geo) {
                let kernel = drawn(kernel);
                let border = border_m(&kernel);
                // A chord encloses two thirds of how far it lies from its arc, and lies inside.
                let arc_m = width_m * (1.0 - (0.01 * PI).cos());
                let beyond = geo.difference(&kernel).unsigned_area();
                let short = kernel.difference(&geo).unsigned_area();
                assert!(
                    beyond < border * ARC_TOLERANCE_M * 2.0 / 3.0,
                    "{width_m} m: {beyond} m2 beyond along {border} m"
                );
                assert!(
                    short < border * arc_m * 2.0 / 3.0,
                    "{width_m} m: {short} m2 short along {border} m"
                );
            }
        }
    }
}
