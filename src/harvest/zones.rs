//! The land of the plan: which readings lie on it, and in which of its zones.

use super::clean::Cleaned;
use super::plots::holds;
use super::readings::Readings;
use crate::coordinates::PlaneXy;
use crate::read::Polygon;
use rstar::RTree;
use rstar::primitives::{GeomWithData, Rectangle};
use serde::Serialize;

/// Polygons with a number each, found by place.
pub struct Zones<'a> {
    polygons: Vec<(i64, &'a Polygon<PlaneXy>)>,
    tree: RTree<GeomWithData<Rectangle<[f64; 2]>, usize>>,
}

/// What a zone gave.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct ZoneYield {
    /// Number of the zone in the plan.
    pub zone: i64,
    /// Mean yield at the basis, kg/ha.
    pub kg_per_ha: f64,
    /// Readings that count.
    pub readings: usize,
}

impl<'a> Zones<'a> {
    /// From polygons in the field's plane.
    pub fn of(polygons: Vec<(i64, &'a Polygon<PlaneXy>)>) -> Self {
        let boxes = polygons
            .iter()
            .enumerate()
            .filter_map(|(at, (_, polygon))| {
                let first = polygon.exterior.first()?.pair();
                let grown = polygon
                    .exterior
                    .iter()
                    .fold([first, first], |[low, high], p| {
                        [
                            [low[0].min(p.x), low[1].min(p.y)],
                            [high[0].max(p.x), high[1].max(p.y)],
                        ]
                    });
                Some(GeomWithData::new(
                    Rectangle::from_corners(grown[0], grown[1]),
                    at,
                ))
            });
        let tree = RTree::bulk_load(boxes.collect());
        Self { polygons, tree }
    }

    /// The place in the list of the first polygon that holds a point.
    pub(super) fn at(&self, xy: [f64; 2]) -> Option<usize> {
        let hit = self.tree.locate_all_at_point(&xy).map(|found| found.data);
        hit.filter(|&at| {
            self.polygons
                .get(at)
                .is_some_and(|(_, polygon)| holds(polygon, xy))
        })
        .min()
    }

    /// The number of the first polygon that holds a point.
    pub fn number_at(&self, xy: [f64; 2]) -> Option<i64> {
        let at = self.at(xy)?;
        self.polygons.get(at).map(|(number, _)| *number)
    }

    /// Marks readings outside all zones.
    pub fn mark(&self, readings: &mut Readings) {
        for reading in &mut readings.of {
            reading.outside = self.at(reading.xy).is_none();
        }
    }

    /// Mean yield of each zone that has readings, by its number.
    pub fn yields(&self, cleaned: &Cleaned) -> Vec<ZoneYield> {
        let mut of: std::collections::BTreeMap<i64, Vec<usize>> = std::collections::BTreeMap::new();
        for at in cleaned.counting() {
            if let Some((zone, _)) = self
                .at(cleaned.readings[at].xy)
                .and_then(|at| self.polygons.get(at))
            {
                of.entry(*zone).or_default().push(at);
            }
        }
        of.into_iter()
            .filter_map(|(zone, members)| {
                Some(ZoneYield {
                    zone,
                    kg_per_ha: cleaned.mean(members.iter().copied())?,
                    readings: members.len(),
                })
            })
            .collect()
    }
}
