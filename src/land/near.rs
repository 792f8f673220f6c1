//! What of a layer lies near the field: layers often cover a whole farm or region.

use crate::coordinates::PlaneXy;
use crate::read::{Geometry, Layer};

/// The layer (in plane metres) less everything whose box is farther than `margin_m` from the box of
/// the field. Features that keep nothing go.
pub fn near(mut layer: Layer<PlaneXy>, field: &Layer<PlaneXy>, margin_m: f64) -> Layer<PlaneXy> {
    let mut reach = Extent::NONE;
    for feature in &field.features {
        if let Geometry::Polygons(polygons) = &feature.geometry {
            polygons
                .iter()
                .for_each(|polygon| reach.add(&polygon.exterior));
        }
    }
    let near = |points: &[PlaneXy]| {
        let mut extent = Extent::NONE;
        extent.add(points);
        extent.within(&reach, margin_m)
    };
    for feature in &mut layer.features {
        match &mut feature.geometry {
            Geometry::Empty => {}
            Geometry::Points(points) => points.retain(|point| near(&[*point])),
            Geometry::Lines(lines) => lines.retain(|line| near(line)),
            Geometry::Polygons(polygons) => polygons.retain(|polygon| near(&polygon.exterior)),
        }
    }
    layer.features.retain(|feature| match &feature.geometry {
        Geometry::Empty => false,
        Geometry::Points(points) => !points.is_empty(),
        Geometry::Lines(lines) => !lines.is_empty(),
        Geometry::Polygons(polygons) => !polygons.is_empty(),
    });
    layer
}

/// A box.
struct Extent {
    low: [f64; 2],
    high: [f64; 2],
}

impl Extent {
    const NONE: Self = Self {
        low: [f64::INFINITY; 2],
        high: [f64::NEG_INFINITY; 2],
    };

    fn add(&mut self, points: &[PlaneXy]) {
        for point in points {
            for (axis, value) in point.pair().into_iter().enumerate() {
                self.low[axis] = self.low[axis].min(value);
                self.high[axis] = self.high[axis].max(value);
            }
        }
    }

    fn within(&self, other: &Self, margin: f64) -> bool {
        (0..2).all(|axis| {
            self.low[axis] <= other.high[axis] + margin
                && other.low[axis] <= self.high[axis] + margin
        })
    }
}
