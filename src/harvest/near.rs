//! Readings near a place.

use rstar::RTree;
use rstar::primitives::GeomWithData;

/// All places with their numbers.
pub(super) struct Near(RTree<GeomWithData<[f64; 2], u32>>);

impl Near {
    pub(super) fn of(places: impl Iterator<Item = (u32, [f64; 2])>) -> Self {
        Self(RTree::bulk_load(
            places
                .map(|(number, xy)| GeomWithData::new(xy, number))
                .collect(),
        ))
    }

    /// Numbers of all within `reach_m`.
    pub(super) fn within(&self, xy: [f64; 2], reach_m: f64) -> impl Iterator<Item = u32> {
        self.0
            .locate_within_distance(xy, reach_m * reach_m)
            .map(|found| found.data)
    }

    /// Numbers, nearest first.
    pub(super) fn nearest(&self, xy: [f64; 2]) -> impl Iterator<Item = u32> {
        self.0.nearest_neighbor_iter(&xy).map(|found| found.data)
    }
}
