//! Connected pixels of one class, and joining the small ones to a neighbour.

use super::spans::Spans;
use crate::geometry::{Csr, UnionFind};
use crate::job::Join;
use crate::read::{Code, Stored};
use rayon::prelude::*;
use std::cmp::Reverse;
use std::collections::{BTreeMap, BinaryHeap};

/// No region.
pub(super) const NONE: u32 = u32::MAX;
/// No class.
pub(super) const NO_CLASS: u8 = u8::MAX;

/// Rows that are looked through in one go.
const ROWS: usize = 16;

/// Pixels in regions: connected over pixel sides, one class each.
pub(super) struct Regions<'a> {
    pub columns: usize,
    pub rows: usize,
    /// Per pixel: its class, or [`NO_CLASS`].
    pub classes: &'a [u8],
    /// Per region, numbered in reading order: its class.
    pub class: Vec<u8>,
    /// In reading order; none where no class is.
    runs: Vec<Run>,
    /// Where the runs of each row start, and an end.
    first: Vec<u32>,
}

/// Pixels of one class beside each other in a row, by their places in the grid. No grid has 2^32.
struct Run {
    start: u32,
    end: u32,
    region: u32,
}

impl<'a> Regions<'a> {
    /// Finds the regions of a grid of classes.
    pub(super) fn of(classes: &'a [u8], columns: usize, rows: usize) -> Self {
        let (runs, first) = runs(classes, columns);
        let mut own = Self {
            columns,
            rows,
            classes,
            class: Vec::new(),
            runs,
            first,
        };
        let mut sets = own.joined();
        for at in 0..own.runs.len() {
            // The first run of a set comes before all others of it.
            let root = sets.find(at as u32) as usize;
            own.runs[at].region = if root == at {
                own.class.push(own.class_of(&own.runs[at]));
                own.class.len() as u32 - 1
            } else {
                own.runs[root].region
            };
        }
        own
    }

    fn class_of(&self, run: &Run) -> u8 {
        self.classes[run.start as usize]
    }

    /// Runs of one class that share a side, united.
    fn joined(&self) -> UnionFind {
        let mut sets = UnionFind::new(self.runs.len());
        let mut above = 0;
        for (at, run) in self.runs.iter().enumerate() {
            for (other, over) in self.over(at, &mut above) {
                if self.class_of(over) == self.class_of(run) {
                    sets.unite(other as u32, at as u32);
                }
            }
        }
        sets
    }

    /// The runs in the row above that have a column in common with this one, with their numbers. `above` is where
    /// the search starts, 0 for the first run; what ends before this run meets none of the later ones either.
    fn over(&self, at: usize, above: &mut usize) -> impl Iterator<Item = (usize, &Run)> {
        let run = &self.runs[at];
        let columns = self.columns as u32;
        while self.runs[*above].end + columns <= run.start {
            *above += 1;
        }
        let over = (*above..).zip(&self.runs[*above..at]);
        over.take_while(move |(_, over)| over.start + columns < run.end)
    }

    /// The region of a pixel, by its place in the grid; [`NONE`] for none.
    pub(super) fn region_at(&self, place: usize) -> u32 {
        let row = place / self.columns;
        let runs = &self.runs[self.first[row] as usize..self.first[row + 1] as usize];
        let after = runs.partition_point(|run| run.start as usize <= place);
        let run = after.checked_sub(1).map(|at| &runs[at]);
        run.filter(|run| place < run.end as usize)
            .map_or(NONE, |run| run.region)
    }

    /// Per pixel: its region, or [`NONE`].
    pub(super) fn grid(&self) -> Vec<u32> {
        let mut grid = vec![NONE; self.classes.len()];
        for run in &self.runs {
            grid[run.start as usize..run.end as usize].fill(run.region);
        }
        grid
    }

    /// How many pixels each region has.
    pub(super) fn sizes(&self) -> Vec<usize> {
        let mut sizes = vec![0; self.class.len()];
        for run in &self.runs {
            sizes[run.region as usize] += (run.end - run.start) as usize;
        }
        sizes
    }

    /// Per region: the places from which stretches of pixels start that have another region, or none, above
    /// all of them. In reading order.
    pub(super) fn tops(&self) -> Csr<u32> {
        let mut pairs = Vec::with_capacity(self.runs.len());
        let mut above = 0;
        for (at, run) in self.runs.iter().enumerate() {
            let mut from = run.start;
            let over = self.over(at, &mut above);
            for (_, over) in over.filter(|(_, over)| over.region == run.region) {
                if from < over.start + self.columns as u32 {
                    pairs.push((run.region, from));
                }
                from = over.end + self.columns as u32;
            }
            if from < run.end {
                pairs.push((run.region, from));
            }
        }
        Csr::from_pairs(self.class.len(), &pairs)
    }
}

/// The runs of a grid, still without regions, and where those of each row start.
fn runs(classes: &[u8], columns: usize) -> (Vec<Run>, Vec<u32>) {
    let part = |(nth, part): (usize, &[u8])| {
        let mut runs = Vec::new();
        let mut counts = Vec::with_capacity(ROWS);
        let mut start = (nth * ROWS * columns) as u32;
        for row in part.chunks(columns) {
            let before = runs.len();
            let mut rest = row;
            while let Some(class) = rest.first() {
                let same = u8::alike(rest);
                let end = start + same as u32;
                if *class != NO_CLASS {
                    let region = NONE;
                    runs.push(Run { start, end, region });
                }
                (rest, start) = (&rest[same..], end);
            }
            counts.push((runs.len() - before) as u32);
        }
        (runs, counts)
    };
    let parts = classes.par_chunks((ROWS * columns).max(1)).enumerate();
    let parts: Vec<(Vec<Run>, Vec<u32>)> = parts.map(part).collect();
    let mut all = Vec::with_capacity(parts.iter().map(|(runs, _)| runs.len()).sum());
    let mut first = vec![0];
    let mut end = 0;
    for (runs, counts) in parts {
        all.extend(runs);
        for count in counts {
            end += count;
            first.push(end);
        }
    }
    (all, first)
}

/// What joining goes by.
pub(super) struct Rule<'a> {
    /// Regions with fewer pixels on the field than this join a neighbour.
    pub least_pixels: f64,
    pub join: Join,
    /// The pixels on the field.
    pub inside: &'a Spans,
    /// Per pixel: its value.
    pub values: &'a Stored,
    /// Width and height of a pixel, metres.
    pub pixel_m: [f64; 2],
}

struct Group {
    class: u8,
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
pub(super) fn join_small(regions: &Regions, rule: &Rule) -> Vec<u8> {
    let grid = regions.grid();
    let mut groups = groups(regions, &grid, rule);
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
    grid.into_iter()
        .map(|region| match region {
            NONE => NO_CLASS,
            region => class_of[region as usize],
        })
        .collect()
}

fn groups(regions: &Regions, grid: &[u32], rule: &Rule) -> Vec<Group> {
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
    for (at, &region) in grid.iter().enumerate() {
        if region == NONE {
            continue;
        }
        let group = &mut groups[region as usize];
        group.on_field += u64::from(rule.inside.contains(at));
        group.pixels += 1;
        group.sum += rule.values.at(at);
        let mut meet = |other: u32, length: f64| {
            if other != NONE && other != region {
                *groups[region as usize].borders.entry(other).or_default() += length;
                *groups[other as usize].borders.entry(region).or_default() += length;
            }
        };
        if at % regions.columns > 0 {
            meet(grid[at - 1], high);
        }
        if at >= regions.columns {
            meet(grid[at - regions.columns], wide);
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
    use super::super::test_grids::grids;
    use super::*;
    use crate::read::Window;

    fn joined(classes: &[u8], columns: usize, least: f64, join: Join) -> Vec<u8> {
        let regions = Regions::of(classes, columns, classes.len() / columns);
        let values = classes.iter().map(|&class| f64::from(class)).collect();
        let window = Window {
            column: 0,
            row: 0,
            columns: columns as u32,
            rows: regions.rows as u32,
        };
        let rule = Rule {
            least_pixels: least,
            join,
            inside: &Spans::of(columns, classes.len(), |_| true),
            values: &Stored::doubles(window, values),
            pixel_m: [1.0, 1.0],
        };
        join_small(&regions, &rule)
    }

    #[test]
    fn regions_hang_together_over_sides_not_corners() {
        let regions = Regions::of(&[1, 2, 2, 1], 2, 2);
        assert_eq!(regions.grid(), [0, 1, 2, 3]);
        let regions = Regions::of(&[1, 1, NO_CLASS, 1], 2, 2);
        assert_eq!(regions.grid(), [0, 0, NONE, 0]);
        for (classes, columns) in grids() {
            let regions = Regions::of(&classes, columns, classes.len() / columns);
            let grid = regions.grid();
            let mut sizes = vec![0; regions.class.len()];
            for (place, &region) in grid.iter().enumerate() {
                assert_eq!(regions.region_at(place), region);
                let class = regions.class.get(region as usize);
                assert_eq!(class.unwrap_or(&NO_CLASS), &classes[place]);
                if let Some(size) = sizes.get_mut(region as usize) {
                    *size += 1;
                }
            }
            assert_eq!(regions.sizes(), sizes);
        }
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
