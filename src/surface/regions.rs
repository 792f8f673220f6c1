//! Connected pixels of one class, and joining the small ones to a neighbour.

use crate::geometry::UnionFind;
use crate::job::Join;
use std::cmp::Reverse;
use std::collections::{BTreeMap, BinaryHeap};

/// No class, or no region.
pub(super) const NONE: u32 = u32::MAX;

/// Pixels in regions: connected over pixel sides, one class each.
pub(super) struct Regions {
    pub columns: usize,
    pub rows: usize,
    /// Per pixel: its region, numbered in reading order, or [`NONE`].
    pub region: Vec<u32>,
    /// Per region: its class.
    pub class: Vec<u32>,
}

impl Regions {
    /// Finds the regions of a grid of classes ([`NONE`] for no class).
    pub(super) fn of(classes: &[u32], columns: usize, rows: usize) -> Self {
        let runs = runs(classes, columns);
        let mut sets = joined(&runs, classes, columns);
        let mut region = vec![NONE; classes.len()];
        let mut class_of = Vec::new();
        let mut number = vec![NONE; runs.len()];
        for (at, run) in runs.iter().enumerate() {
            // The first run of a set comes before all others of it.
            let root = sets.find(at as u32) as usize;
            if root == at {
                number[at] = class_of.len() as u32;
                class_of.push(run.class(classes));
            }
            region[run.start as usize..run.end as usize].fill(number[root]);
        }
        Self {
            columns,
            rows,
            region,
            class: class_of,
        }
    }
}

/// Pixels of one class beside each other in a row, by their places in the grid. No grid has 2^32.
struct Run {
    start: u32,
    end: u32,
}

impl Run {
    fn class(&self, classes: &[u32]) -> u32 {
        classes[self.start as usize]
    }
}

/// The runs of a grid, in reading order; none where no class is.
fn runs(classes: &[u32], columns: usize) -> Vec<Run> {
    let mut runs = Vec::new();
    let mut start = 0;
    for row in classes.chunks(columns.max(1)) {
        for same in row.chunk_by(|a, b| a == b) {
            let end = start + same.len() as u32;
            if same.first() != Some(&NONE) {
                runs.push(Run { start, end });
            }
            start = end;
        }
    }
    runs
}

/// Runs of one class that share a side, united.
fn joined(runs: &[Run], classes: &[u32], columns: usize) -> UnionFind {
    let mut sets = UnionFind::new(runs.len());
    let columns = columns as u32;
    let mut above = 0;
    for (at, run) in runs.iter().enumerate() {
        // What ends before this run in the row above meets none of the later ones either.
        while runs[above].end + columns <= run.start {
            above += 1;
        }
        for (other, over) in (above..).zip(&runs[above..at]) {
            if over.start + columns >= run.end {
                break;
            }
            if over.class(classes) == run.class(classes) {
                sets.unite(other as u32, at as u32);
            }
        }
    }
    sets
}

/// What joining goes by.
pub(super) struct Rule<'a> {
    /// Regions with fewer pixels on the field than this join a neighbour.
    pub least_pixels: f64,
    pub join: Join,
    /// Per pixel: whether it lies on the field.
    pub inside: &'a [bool],
    /// Per pixel: its value.
    pub values: &'a [f64],
    /// Width and height of a pixel, metres.
    pub pixel_m: [f64; 2],
}

struct Group {
    class: u32,
    /// Pixels on the field.
    on_field: u64,
    /// Pixels with a value, and the sum of these.
    pixels: u64,
    sum: f64,
    /// Neighbours and the length of the shared border, metres.
    borders: BTreeMap<u32, f64>,
}

impl Group {
    fn mean(&self) -> f64 {
        self.sum / self.pixels.max(1) as f64
    }
}

/// Joins regions that are too small, the smallest first, and gives the class of each pixel then. A
/// region without neighbours stays.
pub(super) fn join_small(regions: &Regions, rule: &Rule) -> Vec<u32> {
    let mut groups = groups(regions, rule);
    let mut now: Vec<u32> = (0..groups.len() as u32).collect();
    let mut queue: BinaryHeap<Reverse<(u64, u32)>> = groups
        .iter()
        .enumerate()
        .map(|(n, group)| Reverse((group.on_field, n as u32)))
        .collect();
    while let Some(Reverse((on_field, small))) = queue.pop() {
        if on_field as f64 >= rule.least_pixels {
            break;
        }
        let group = &groups[small as usize];
        // An entry that is out of date: the region has grown or has gone.
        if now[small as usize] != small || group.on_field != on_field {
            continue;
        }
        let Some(target) = target(small, &groups, rule.join) else {
            continue;
        };
        let class = groups[target as usize].class;
        let mut joined: Vec<u32> = group
            .borders
            .keys()
            .copied()
            .filter(|&other| other != target && groups[other as usize].class == class)
            .collect();
        joined.push(small);
        for gone in joined {
            absorb(&mut groups, gone, target);
            now[gone as usize] = target;
        }
        queue.push(Reverse((groups[target as usize].on_field, target)));
    }
    let mut class_of = Vec::with_capacity(now.len());
    for region in 0..now.len() as u32 {
        let mut at = region;
        while now[at as usize] != at {
            at = now[at as usize];
        }
        // So that long chains are walked once.
        now[region as usize] = at;
        class_of.push(groups[at as usize].class);
    }
    regions
        .region
        .iter()
        .map(|&region| match region {
            NONE => NONE,
            region => class_of[region as usize],
        })
        .collect()
}

fn groups(regions: &Regions, rule: &Rule) -> Vec<Group> {
    let mut groups: Vec<Group> = regions
        .class
        .iter()
        .map(|&class| Group {
            class,
            on_field: 0,
            pixels: 0,
            sum: 0.0,
            borders: BTreeMap::new(),
        })
        .collect();
    let [wide, high] = rule.pixel_m;
    for (at, &region) in regions.region.iter().enumerate() {
        if region == NONE {
            continue;
        }
        let group = &mut groups[region as usize];
        group.on_field += u64::from(rule.inside[at]);
        group.pixels += 1;
        group.sum += rule.values[at];
        let mut meet = |other: u32, length: f64| {
            if other != NONE && other != region {
                *groups[region as usize].borders.entry(other).or_default() += length;
                *groups[other as usize].borders.entry(region).or_default() += length;
            }
        };
        if at % regions.columns > 0 {
            meet(regions.region[at - 1], high);
        }
        if at >= regions.columns {
            meet(regions.region[at - regions.columns], wide);
        }
    }
    groups
}

/// The neighbour to join; of equals the one that comes first.
fn target(small: u32, groups: &[Group], join: Join) -> Option<u32> {
    let own = &groups[small as usize];
    let better = |(a, border_a): (u32, f64), (b, border_b): (u32, f64)| {
        let gap = |n: u32| (groups[n as usize].mean() - own.mean()).abs();
        match join {
            Join::LongestBorder => border_b > border_a,
            Join::MostAlike => gap(b) < gap(a) || (gap(b) == gap(a) && border_b > border_a),
        }
    };
    own.borders
        .iter()
        .map(|(&other, &border)| (other, border))
        .reduce(|best, next| if better(best, next) { next } else { best })
        .map(|(other, _)| other)
}

/// Takes `gone` into `target`.
fn absorb(groups: &mut [Group], gone: u32, target: u32) {
    let borders = std::mem::take(&mut groups[gone as usize].borders);
    for (other, length) in borders {
        groups[other as usize].borders.remove(&gone);
        if other != target {
            *groups[other as usize].borders.entry(target).or_default() += length;
            *groups[target as usize].borders.entry(other).or_default() += length;
        }
    }
    let (on_field, pixels, sum) = {
        let gone = &groups[gone as usize];
        (gone.on_field, gone.pixels, gone.sum)
    };
    let target = &mut groups[target as usize];
    target.on_field += on_field;
    target.pixels += pixels;
    target.sum += sum;
}

#[cfg(test)]
mod tests {
    use super::*;

    fn joined(classes: &[u32], columns: usize, least: f64, join: Join) -> Vec<u32> {
        let regions = Regions::of(classes, columns, classes.len() / columns);
        let values: Vec<f64> = classes.iter().map(|&class| f64::from(class)).collect();
        let rule = Rule {
            least_pixels: least,
            join,
            inside: &vec![true; classes.len()],
            values: &values,
            pixel_m: [1.0, 1.0],
        };
        join_small(&regions, &rule)
    }

    #[test]
    fn regions_hang_together_over_sides_not_corners() {
        let regions = Regions::of(&[1, 2, 2, 1], 2, 2);
        assert_eq!(regions.region, [0, 1, 2, 3]);
        let regions = Regions::of(&[1, 1, NONE, 1], 2, 2);
        assert_eq!(regions.region, [0, 0, NONE, 0]);
    }

    #[test]
    fn a_small_region_joins_by_border_or_by_likeness() {
        #[rustfmt::skip]
        let grid = [
            1, 1, 1, 1,
            1, 8, 8, 1,
            9, 9, 9, 9,
        ];
        let border = joined(&grid, 4, 3.0, Join::LongestBorder);
        assert_eq!(border[5..7], [1, 1]);
        let alike = joined(&grid, 4, 3.0, Join::MostAlike);
        assert_eq!(alike[5..7], [9, 9]);
    }

    #[test]
    fn what_a_joined_region_parted_grows_together() {
        // Two halves of two pixels, parted by one; together they are large enough.
        assert_eq!(
            joined(&[1, 1, 5, 1, 1], 5, 2.5, Join::LongestBorder),
            [1; 5]
        );
        // The only region stays however small it is.
        assert_eq!(joined(&[4], 1, 10.0, Join::LongestBorder), [4]);
    }
}
