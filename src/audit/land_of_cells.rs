//! How much of the cells of a grid of task data the outlined field covers. Forms of task data that lie beside each other have one
//! grid and one outline: what that makes is worked out once for those that say the same.

use super::cells::{self, Tile};
use super::overlay::drawn;
use crate::coordinates::LonLat;
use crate::read::Polygon;
use std::sync::{Arc, Mutex, PoisonError};

/// The cells of one grid.
pub(super) struct Cells {
    tile: Tile,
    boundary: Vec<Polygon<LonLat>>,
    obstacles: Vec<Polygon<LonLat>>,
    /// Covered land of each, m2, columns fastest.
    pub m2: Vec<f64>,
}

/// The grid that was asked for last.
#[derive(Default)]
pub(super) struct LandOfCells(Mutex<Option<Arc<Cells>>>);

impl LandOfCells {
    /// The land in a boundary and in no obstacle; without a boundary, all of each cell.
    pub fn of(
        &self,
        tile: &Tile,
        boundary: &[Polygon<LonLat>],
        obstacles: &[Polygon<LonLat>],
    ) -> Arc<Cells> {
        let same = |known: &&Arc<Cells>| {
            known.tile == *tile && known.boundary == boundary && known.obstacles == obstacles
        };
        let known = self.0.lock().unwrap_or_else(PoisonError::into_inner);
        if let Some(known) = known.as_ref().filter(same) {
            return Arc::clone(known);
        }
        drop(known);
        let cells = Arc::new(Cells {
            tile: tile.clone(),
            boundary: boundary.to_vec(),
            obstacles: obstacles.to_vec(),
            m2: covered_m2(tile, boundary, obstacles),
        });
        let mut last = self.0.lock().unwrap_or_else(PoisonError::into_inner);
        *last = Some(Arc::clone(&cells));
        cells
    }
}

fn covered_m2(
    tile: &Tile,
    boundary: &[Polygon<LonLat>],
    obstacles: &[Polygon<LonLat>],
) -> Vec<f64> {
    let all = |polygons: &[Polygon<LonLat>]| -> Vec<_> {
        let each = polygons.iter();
        each.map(|own| drawn(own, LonLat::pair)).collect()
    };
    let shares = match boundary.is_empty() {
        true => vec![1.0; tile.columns * tile.rows],
        false => cells::shares(tile, &all(boundary), &all(obstacles)),
    };
    let mut m2 = Vec::with_capacity(shares.len());
    for (row, shares) in shares.chunks(tile.columns.max(1)).enumerate() {
        // Alike for all cells of a row, and dear.
        let cell_m2 = cells::cell_m2(tile, row);
        m2.extend(shares.iter().map(|share| share * cell_m2));
    }
    m2
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Another outline or another grid is not taken for the one before.
    #[test]
    fn only_the_same_grid_and_outline_are_the_same() {
        let tile = |columns| Tile {
            origin: [9.0, 52.0],
            cell: [0.001, 0.001],
            columns,
            rows: 2,
        };
        let square = |east: f64| Polygon {
            exterior: [
                [9.0, 52.0],
                [east, 52.0],
                [east, 52.001],
                [9.0, 52.001],
                [9.0, 52.0],
            ]
            .map(|[lon, lat]| LonLat::new(lon, lat))
            .to_vec(),
            holes: Vec::new(),
        };
        let known = LandOfCells::default();
        let one = known.of(&tile(2), &[square(9.001)], &[]);
        assert!(one.m2[0] > 0.0 && one.m2[1..] == [0.0; 3], "{:?}", one.m2);
        assert!(Arc::ptr_eq(
            &one,
            &known.of(&tile(2), &[square(9.001)], &[])
        ));
        let wider = known.of(&tile(2), &[square(9.002)], &[]);
        assert!(wider.m2[1] > 0.0);
        assert_eq!(known.of(&tile(3), &[square(9.002)], &[]).m2.len(), 6);
        let without = known.of(&tile(3), &[square(9.002)], &[square(9.001)]);
        assert_eq!(without.m2[0], 0.0);
        assert!(known.of(&tile(3), &[], &[]).m2.iter().all(|m2| *m2 > 0.0));
    }
}
