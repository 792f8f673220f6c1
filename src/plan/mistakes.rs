//! What may have gone wrong with a map on its way to the terminal, and whether a place shows it.

use crate::map::Grid;
use crate::units::{kg_per_ha_from_lb_per_acre, nearest_whole};

/// Two rates that differ by less than this share of the product's highest one are alike on a screen.
const ALIKE: f64 = 0.02;
/// A shift that the places should show, as a share of the map's extent.
const SHIFT: usize = 4;

/// A mistake.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) enum Mistake {
    /// The rates of two products exchanged, by their places in the job.
    Swapped(usize, usize),
    /// Rows, columns or both in the wrong order.
    Turned { rows: bool, columns: bool },
    /// Moved by so many columns to the east and rows to the north.
    Shifted(isize, isize),
    /// Another unit of measure.
    Unit,
}

/// All mistakes that are looked for on a map of this size, with so many products.
pub(super) fn all(grid: &Grid, products: usize) -> Vec<Mistake> {
    let pairs = (0..products).flat_map(|a| (a + 1..products).map(move |b| Mistake::Swapped(a, b)));
    let turned = |rows, columns| Mistake::Turned { rows, columns };
    let [east, north] =
        [grid.columns, grid.rows].map(|count| isize::try_from(count / SHIFT).unwrap_or(1).max(1));
    pairs
        .chain([turned(true, false), turned(false, true), turned(true, true)])
        .chain(
            [(east, 0), (-east, 0), (0, north), (0, -north)].map(|(e, n)| Mistake::Shifted(e, n)),
        )
        .chain([Mistake::Unit])
        .collect()
}

impl Mistake {
    /// Whether the screen shows other rates at a cell than the plan has there; `most` are the highest rates of the map.
    pub fn shows(self, grid: &Grid, cell: [usize; 2], own: &[i64], most: &[f64]) -> bool {
        let other = match self {
            Self::Swapped(a, b) => {
                let mut other = own.to_vec();
                if a < own.len() && b < own.len() {
                    other.swap(a, b);
                }
                Some(other)
            }
            Self::Turned { rows, columns } => {
                let turn = |at: usize, all: usize, is: bool| match is {
                    true => all.checked_sub(at + 1),
                    false => Some(at),
                };
                let column = turn(cell[0], grid.columns, columns);
                let row = turn(cell[1], grid.rows, rows);
                column
                    .zip(row)
                    .and_then(|(column, row)| rates_at(grid, column, row))
            }
            // What lies here came from there.
            Self::Shifted(east, north) => {
                let column = cell[0].checked_add_signed(-east);
                let row = cell[1].checked_add_signed(-north);
                column
                    .zip(row)
                    .and_then(|(column, row)| rates_at(grid, column, row))
            }
            // Kilograms per hectare read as pounds per acre.
            Self::Unit => Some(
                own.iter()
                    .map(|raw| (*raw as f64 / kg_per_ha_from_lb_per_acre(1.0)) as i64)
                    .collect(),
            ),
        };
        // Where the map then has no rate, the screen shows none, or 0.
        let other = other.unwrap_or_else(|| vec![0; own.len()]);
        let mut pairs = own.iter().zip(&other).zip(most);
        pairs.any(|((own, other), most)| (own - other).abs() as f64 > ALIKE * most.max(1.0))
    }

    /// In words, for the page beside the maps.
    pub fn words(self, names: &[&str]) -> String {
        let name = |at: usize| names.get(at).copied().unwrap_or_default();
        match self {
            Self::Swapped(a, b) => format!("{} and {} swapped", name(a), name(b)),
            Self::Turned {
                rows: true,
                columns: false,
            } => "a map with north and south exchanged".to_string(),
            Self::Turned {
                rows: false,
                columns: true,
            } => "a map with east and west exchanged".to_string(),
            Self::Turned { .. } => "a map turned by half a circle".to_string(),
            Self::Shifted(east, north) => {
                let to = match (east.signum(), north.signum()) {
                    (1, _) => "east",
                    (-1, _) => "west",
                    (_, 1) => "north",
                    _ => "south",
                };
                format!("a map shifted to the {to} by a quarter of its extent")
            }
            Self::Unit => "a wrong unit of measure".to_string(),
        }
    }
}

/// The rates of a cell as task data hold them; `None` where it has none.
pub(super) fn rates_at(grid: &Grid, column: usize, row: usize) -> Option<Vec<i64>> {
    if column >= grid.columns || row >= grid.rows {
        return None;
    }
    grid.kg_per_ha.at(row * grid.columns + column).map(raw)
}

/// Rates in steps of 0.01 kg/ha, as task data hold them.
pub(super) fn raw(kg_per_ha: &[f64]) -> Vec<i64> {
    let steps = kg_per_ha.iter().map(|rate| nearest_whole(rate * 100.0));
    steps.collect()
}
