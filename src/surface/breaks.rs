//! Values between classes, from the values themselves. A value on an edge belongs to the class below.

use std::ops::{Range, RangeInclusive};

/// Beyond this many different values they are rounded to this many steps of their range before
/// natural breaks are looked for.
const MOST_DISTINCT: usize = 65_536;

/// Sorted different values, each with how often it occurs.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Sample {
    pub values: Vec<f64>,
    pub counts: Vec<f64>,
}

impl Sample {
    pub(super) fn low(&self) -> f64 {
        self.values.first().copied().unwrap_or(f64::NAN)
    }

    pub(super) fn high(&self) -> f64 {
        self.values.last().copied().unwrap_or(f64::NAN)
    }

    fn count(&self) -> f64 {
        self.counts.iter().sum()
    }

    /// Edges of classes with the same number of values each: linear between the two values that a
    /// quantile falls between.
    pub(super) fn quantiles(&self, classes: usize) -> Vec<f64> {
        let last = self.count() - 1.0;
        let nth = |n: f64| {
            let mut passed = 0.0;
            for (value, count) in self.values.iter().zip(&self.counts) {
                passed += count;
                if n < passed {
                    return *value;
                }
            }
            self.high()
        };
        (1..classes)
            .map(|part| {
                let at = last * part as f64 / classes as f64;
                let (below, above) = (nth(at.floor()), nth(at.ceil()));
                below + (above - below) * at.fract()
            })
            .collect()
    }

    /// Edges in equal steps.
    pub(super) fn equal_interval(&self, classes: usize) -> Vec<f64> {
        let step = (self.high() - self.low()) / classes as f64;
        (1..classes)
            .map(|part| self.low() + step * part as f64)
            .collect()
    }

    /// Edges of the classes with the least sum of squared differences from the classes' means, exactly
    /// (the optimum of W. D. Fisher, "On grouping for maximum homogeneity", 1958, which G. F. Jenks
    /// uses for maps): dynamic programming, with the split points found by divide and conquer, since
    /// they never move back. An edge is the highest value of the class below. Fewer than `classes`
    /// different values give fewer edges.
    pub(super) fn natural_breaks(&self, classes: usize) -> Vec<f64> {
        self.natural_breaks_up_to(classes).pop().unwrap_or_default()
    }

    /// The same for 2, 3, ... up to `most` classes.
    pub(super) fn natural_breaks_up_to(&self, most: usize) -> Vec<Vec<f64>> {
        let sample = self.coarse();
        let costs = Costs::of(&sample);
        let count = sample.values.len();
        let mut cost: Vec<f64> = (0..count).map(|end| costs.of_range(0, end)).collect();
        // Per number of classes from 2 and per last value: where the last class starts.
        let mut starts: Vec<Vec<u32>> = Vec::new();
        let mut breaks = Vec::new();
        for classes in 2..=most.min(count) {
            let mut next = vec![f64::INFINITY; count];
            let mut start = vec![0_u32; count];
            split(
                &costs,
                &cost,
                &mut next,
                &mut start,
                classes - 1..count,
                classes - 1..=count - 1,
                0,
            );
            cost = next;
            starts.push(start);
            let mut edges = Vec::new();
            let mut end = count - 1;
            for start in starts.iter().rev() {
                let first = start[end] as usize;
                end = first - 1;
                edges.push(sample.values[end]);
            }
            edges.reverse();
            breaks.push(edges);
        }
        breaks
    }

    fn coarse(&self) -> Self {
        if self.values.len() <= MOST_DISTINCT {
            return self.clone();
        }
        let step = (self.high() - self.low()) / MOST_DISTINCT as f64;
        let mut coarse = Self {
            values: Vec::new(),
            counts: Vec::new(),
        };
        let mut last = usize::MAX;
        for (value, count) in self.values.iter().zip(&self.counts) {
            let at = ((value - self.low()) / step) as usize;
            match coarse.counts.last_mut() {
                Some(sum) if at == last => *sum += count,
                _ => {
                    coarse.values.push(self.low() + (at as f64 + 1.0) * step);
                    coarse.counts.push(*count);
                    last = at;
                }
            }
        }
        coarse
    }

    /// Share of the variance that classes with these edges explain, 0 to 1.
    pub(super) fn explained(&self, edges: &[f64]) -> f64 {
        let mean = |from: usize, to: usize| {
            let count: f64 = self.counts[from..to].iter().sum();
            let sum: f64 = (from..to).map(|n| self.values[n] * self.counts[n]).sum();
            sum / count
        };
        let squares = |from: usize, to: usize| -> f64 {
            let mean = mean(from, to);
            (from..to)
                .map(|n| (self.values[n] - mean).powi(2) * self.counts[n])
                .sum()
        };
        let all = squares(0, self.values.len());
        if all == 0.0 {
            return 1.0;
        }
        let mut within = 0.0;
        let mut from = 0;
        for edge in edges.iter().copied().chain([f64::INFINITY]) {
            let to = self.values.partition_point(|&value| value <= edge);
            if to > from {
                within += squares(from, to);
                from = to;
            }
        }
        1.0 - within / all
    }
}

/// The number of the class of a value, from 0.
pub(super) fn class_of(value: f64, edges: &[f64]) -> usize {
    edges.partition_point(|&edge| edge < value)
}

/// Sums from which the cost of any class follows.
struct Costs {
    count: Vec<f64>,
    sum: Vec<f64>,
    squares: Vec<f64>,
}

impl Costs {
    fn of(sample: &Sample) -> Self {
        // About the mean, so that large values far from zero lose no digits.
        let total = sample.count();
        let mean = sample
            .values
            .iter()
            .zip(&sample.counts)
            .map(|(value, count)| value * count)
            .sum::<f64>()
            / total;
        let mut costs = Self {
            count: vec![0.0],
            sum: vec![0.0],
            squares: vec![0.0],
        };
        let (mut count_so_far, mut sum, mut squares) = (0.0, 0.0, 0.0);
        for (value, count) in sample.values.iter().zip(&sample.counts) {
            let value = value - mean;
            count_so_far += count;
            sum += count * value;
            squares += count * value * value;
            costs.count.push(count_so_far);
            costs.sum.push(sum);
            costs.squares.push(squares);
        }
        costs
    }

    /// Sum of squared differences from the mean of the values `from..=to`.
    fn of_range(&self, from: usize, to: usize) -> f64 {
        let part = |sums: &[f64]| sums[to + 1] - sums[from];
        let (count, sum, squares) = (part(&self.count), part(&self.sum), part(&self.squares));
        (squares - sum * sum / count).max(0.0)
    }
}

/// Fills `next` and `start` for these last values, whose last class can start only within `starts`.
fn split(
    costs: &Costs,
    before: &[f64],
    next: &mut [f64],
    start: &mut [u32],
    values: Range<usize>,
    starts: RangeInclusive<usize>,
    depth: u32,
) {
    if values.is_empty() || depth > 64 {
        return;
    }
    let (first, last) = (*starts.start(), *starts.end());
    let middle = values.start + values.len() / 2;
    let (mut best, mut at) = (f64::INFINITY, first);
    for from in first..=last.min(middle) {
        let cost = before[from - 1] + costs.of_range(from, middle);
        if cost < best {
            (best, at) = (cost, from);
        }
    }
    next[middle] = best;
    start[middle] = at as u32;
    split(
        costs,
        before,
        next,
        start,
        values.start..middle,
        first..=at,
        depth + 1,
    );
    split(
        costs,
        before,
        next,
        start,
        middle + 1..values.end,
        at..=last,
        depth + 1,
    );
}

#[cfg(test)]
mod tests {
    use super::super::counted::sample;
    use super::*;

    #[test]
    fn natural_breaks_are_the_best_of_all() {
        // Every way of cutting these into three classes is tried.
        let values = [
            4.0, 5.0, 9.0, 10.0, 10.5, 12.0, 20.0, 21.0, 21.0, 30.0, 31.0,
        ];
        let sample = sample(&values);
        for classes in 2..=4 {
            let found = sample.explained(&sample.natural_breaks(classes));
            let distinct = &sample.values;
            let mut best: f64 = 0.0;
            for mask in 0_u32..1 << (distinct.len() - 1) {
                if mask.count_ones() as usize == classes - 1 {
                    let edges: Vec<f64> = (0..distinct.len() - 1)
                        .filter(|n| mask >> n & 1 == 1)
                        .map(|n| distinct[n])
                        .collect();
                    best = best.max(sample.explained(&edges));
                }
            }
            assert!((found - best).abs() < 1e-12, "{classes}: {found} {best}");
        }
    }

    #[test]
    fn values_on_an_edge_belong_to_the_class_below() {
        assert_eq!(
            [9.0, 10.0, 10.1, 20.0, 21.0].map(|value| class_of(value, &[10.0, 20.0])),
            [0, 0, 1, 1, 2]
        );
    }

    #[test]
    fn few_or_equal_values_give_fewer_classes() {
        assert!(sample(&[3.0, 3.0]).natural_breaks(4).is_empty());
        assert_eq!(sample(&[3.0, 5.0, 5.0]).natural_breaks(4), [3.0]);
        assert_eq!(sample(&[3.0, 3.0]).explained(&[]), 1.0);
    }

    /// Edges by mapclassify (see `tests/figures/breaks.py`), to the digits it gives.
    #[test]
    fn edges_agree_with_a_statistics_library() {
        let text = include_str!("../../tests/figures/breaks.json");
        let figures: serde_json::Value = serde_json::from_str(text).unwrap();
        let numbers = |value: &serde_json::Value| -> Vec<f64> {
            serde_json::from_value(value.clone()).unwrap()
        };
        let near = |own: &[f64], wanted: &[f64], what: &str| {
            assert_eq!(own.len(), wanted.len(), "{what}");
            for (own, wanted) in own.iter().zip(wanted) {
                assert!(
                    (own - wanted).abs() < 1e-9 * wanted.abs(),
                    "{what}: {own} {wanted}"
                );
            }
        };
        for (name, series) in figures["series"].as_object().unwrap() {
            let values = numbers(&series["values"]);
            let sample = sample(&values);
            for case in series["cases"].as_array().unwrap() {
                let classes = case["classes"].as_u64().unwrap() as usize;
                let what = format!("{name}, {classes} classes");
                let natural = sample.natural_breaks(classes);
                near(&natural, &numbers(&case["natural_breaks"]), &what);
                near(
                    &[sample.explained(&natural)],
                    &[case["explained"].as_f64().unwrap()],
                    &what,
                );
                near(
                    &sample.quantiles(classes),
                    &numbers(&case["quantiles"]),
                    &what,
                );
                let steps = sample.equal_interval(classes);
                near(&steps, &numbers(&case["equal_interval"]), &what);
                let mut counts = vec![0.0; classes];
                values
                    .iter()
                    .for_each(|value| counts[class_of(*value, &steps)] += 1.0);
                near(&counts, &numbers(&case["counts_equal_interval"]), &what);
            }
        }
    }
}
