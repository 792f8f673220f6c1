//! What of a layer lies near the field: layers often cover a whole farm or region.

use crate::read::{Geometry, Layer, Xy};

/// The layer (in plane metres) less everything whose box is farther than `margin_m` from the box of
/// the field. Features that keep nothing go.
pub fn near(mut layer: Layer, field: &Layer, margin_m: f64) -> Layer {
    let mut reach = Extent::NONE;
    for feature in &field.features {
        if let Geometry::Polygons(polygons) = &feature.geometry {
            polygons
                .iter()
                .for_each(|polygon| reach.add(&polygon.exterior));
        }
    }
    let near = |points: &[Xy]| {
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
    low: Xy,
    high: Xy,
}

impl Extent {
    const NONE: Self = Self {
        low: [f64::INFINITY; 2],
        high: [f64::NEG_INFINITY; 2],
    };

    fn add(&mut self, points: &[Xy]) {
        for point in points {
            for (axis, value) in point.iter().enumerate() {
                self.low[axis] = self.low[axis].min(*value);
                self.high[axis] = self.high[axis].max(*value);
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
