//! What lies just west of a place.

use super::steps;
use crate::geometry::csr::Csr;
use crate::geometry::grid_index::GridIndex;
use crate::geometry::point::Pt;

/// Places for which a pass over all chains is cheaper than an index of their steps.
const FEW_PLACES: usize = 256;

/// Per place the half-edge with, on its left, the face just west of it: the first chain met on the way
/// west, a hair above the place so that no point of a chain is ever met. Steps that begin at a place do
/// not count for it.
pub(super) fn first_west(ways: &Csr<Pt>, places: &[Pt]) -> Vec<Option<u32>> {
    let mut nearest: Vec<Nearest> = places.iter().map(|_| None).collect();
    if places.len() <= FEW_PLACES {
        let mut by_height: Vec<usize> = (0..places.len()).collect();
        by_height.sort_by_key(|&nth| places[nth].y);
        // Places from `low` on and below `high`.
        let between = |low: i64, high: i64| {
            let from = by_height.partition_point(|&nth| places[nth].y < low);
            let beyond = by_height[from..]
                .iter()
                .position(|&nth| places[nth].y >= high);
            &by_height[from..beyond.map_or(by_height.len(), |count| from + count)]
        };
        for (way, chain) in ways.lists().zip(0..) {
            let heights = way.iter().map(|point| point.y);
            let [low, high] = [heights.clone().min(), heights.max()];
            let (Some(low), Some(high)) = (low, high) else {
                continue;
            };
            if between(low, high).is_empty() {
                continue;
            }
            for [first, second] in steps(way) {
                for &nth in between(first.y.min(second.y), first.y.max(second.y)) {
                    look_west([first, second], chain, places[nth], &mut nearest[nth]);
                }
            }
        }
    } else {
        let points = ways.items();
        let placed = |step: u32| [points[step as usize], points[step as usize + 1]];
        let mut is_step = vec![true; points.len()];
        ways.ranges()
            .for_each(|range| is_step[range.end as usize - 1] = false);
        // The last point of a chain begins no step.
        let of_step = |step: u32| is_step[step as usize].then(|| placed(step)).into_iter();
        let grid = GridIndex::new(points.len(), of_step);
        for (&place, nearest) in places.iter().zip(&mut nearest) {
            for (columns, cell) in grid.leftwards(place).enumerate() {
                for &step in cell {
                    look_west(placed(step), ways.list_of(step) as u32, place, nearest);
                }
                let border = grid.left_border(columns as i64, place);
                if nearest.is_some_and(|(best, _)| !best.is_west_of(border)) {
                    break;
                }
            }
        }
    }
    nearest
        .into_iter()
        .map(|of| of.map(|(_, half_edge)| half_edge))
        .collect()
}

/// The step met first so far, and its half-edge with the place's side on its left.
type Nearest = Option<(Crossed, u32)>;

/// Keeps a step that is met on the way west before the one known.
fn look_west([first, second]: [Pt; 2], chain: u32, place: Pt, nearest: &mut Nearest) {
    let upwards = first.y <= place.y && second.y > place.y;
    let downwards = second.y <= place.y && first.y > place.y;
    if !upwards && !downwards {
        return;
    }
    let crossed = match upwards {
        true => Crossed::new(first, second, place.y),
        false => Crossed::new(second, first, place.y),
    };
    if !crossed.is_west_of(place.x) {
        return;
    }
    // East of an upward step is its right side: the left of the half-edge that runs down.
    let half_edge = 2 * chain + u32::from(upwards);
    if nearest.is_none_or(|(best, _)| best.is_west_of_other(&crossed)) {
        *nearest = Some((crossed, half_edge));
    }
}

/// Where a step crosses a horizontal line: x = numerator / rise, and the run on the way up.
#[derive(Clone, Copy)]
struct Crossed {
    numerator: i128,
    rise: i128,
    run: i128,
}

impl Crossed {
    fn new(low: Pt, high: Pt, y: i64) -> Self {
        let rise = i128::from(high.y - low.y);
        let run = i128::from(high.x - low.x);
        let numerator = i128::from(low.x) * rise + i128::from(y - low.y) * run;
        Self {
            numerator,
            rise,
            run,
        }
    }

    fn is_west_of(&self, x: i64) -> bool {
        self.numerator < i128::from(x) * self.rise
    }

    /// Compares a hair above the line, so that steps from one point are told apart.
    fn is_west_of_other(&self, other: &Self) -> bool {
        let [here, there] = [self.numerator * other.rise, other.numerator * self.rise];
        here < there || (here == there && self.run * other.rise < other.run * self.rise)
    }
}
