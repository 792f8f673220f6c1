//! Level of a hopper by a table of its own.

use crate::job::Level;

/// Level at which the hopper holds these litres, cm: in a straight line between two entries. `None` outside
/// of the table.
pub(super) fn cm(table: &[Level], litres: f64) -> Option<f64> {
    // The table ends where the hopper is full; sums of floating point may pass that by a hair.
    let last = table.last()?;
    if (litres - last.l).abs() < 1e-6 {
        return Some(last.cm);
    }
    table.windows(2).find_map(|pair| match pair {
        [low, high] if (low.l..=high.l).contains(&litres) => {
            Some(low.cm + (litres - low.l) / (high.l - low.l) * (high.cm - low.cm))
        }
        _ => None,
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_level_lies_between_its_neighbours() {
        // A cone below, straight walls above: 5 l/cm and 20 l/cm on average.
        let table = [[0.0, 0.0], [20.0, 100.0], [70.0, 1100.0]].map(|[cm, l]| Level { cm, l });
        assert_eq!(super::cm(&table, 50.0), Some(10.0));
        assert_eq!(super::cm(&table, 600.0), Some(45.0));
        assert_eq!(super::cm(&table, 1100.0), Some(70.0));
        assert_eq!(super::cm(&table, 1101.0), None);
        assert_eq!(super::cm(&[], 1.0), None);
    }
}
