//! k-means: classes of points that differ least from their class's mean.

/// Starts that are tried; the best result counts.
const STARTS: u64 = 10;
/// Rounds of one start at most.
const ROUNDS: usize = 300;
/// Points that centres are looked for with; of more, every so many.
const MOST_POINTS: usize = 20_000;
/// Where the random numbers begin, so that every run gives the same classes.
const SEED: u64 = 20_261_125;

/// Centres of classes, by their first coordinate from low to high.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Clusters {
    pub centres: Vec<Vec<f64>>,
}

impl Clusters {
    /// The class of a point: that of the nearest centre, of equals the lower one.
    pub(super) fn nearest(&self, point: &[f64]) -> usize {
        nearest(&self.centres, point).0
    }

    /// Share of the variance that the classes explain, 0 to 1.
    pub(super) fn explained(&self, points: &[Vec<f64>]) -> f64 {
        let within: f64 = points
            .iter()
            .map(|point| nearest(&self.centres, point).1)
            .sum();
        let mean = mean(points.iter());
        let all: f64 = points.iter().map(|point| square(point, &mean)).sum();
        1.0 - within / all
    }
}

/// Looks for `count` classes: starts by D. Arthur and S. Vassilvitskii, "k-means++: the advantages of
/// careful seeding" (2007), each followed by rounds of S. P. Lloyd, "Least squares quantization in PCM"
/// (1982), until nothing changes. `None` if there are fewer different points than classes.
pub(super) fn clusters(points: &[Vec<f64>], count: usize) -> Option<Clusters> {
    let step = points.len().div_ceil(MOST_POINTS).max(1);
    let points: Vec<&Vec<f64>> = points.iter().step_by(step).collect();
    let mut best: Option<(f64, Vec<Vec<f64>>)> = None;
    for start in 0..STARTS {
        let mut random = Random(SEED + start);
        let centres = settled(&points, seeded(&points, count, &mut random)?);
        let within: f64 = points.iter().map(|point| nearest(&centres, point).1).sum();
        if best.as_ref().is_none_or(|(least, _)| within < *least) {
            best = Some((within, centres));
        }
    }
    let (_, mut centres) = best?;
    centres.sort_by(|a, b| {
        let mut pairs = a.iter().zip(b);
        pairs
            .find_map(|(a, b)| Some(a.total_cmp(b)).filter(|order| order.is_ne()))
            .unwrap_or(std::cmp::Ordering::Equal)
    });
    Some(Clusters { centres })
}

/// First centres: each next one is a point drawn with its squared distance from those before as weight.
fn seeded(points: &[&Vec<f64>], count: usize, random: &mut Random) -> Option<Vec<Vec<f64>>> {
    let first = (random.next() * points.len() as f64) as usize;
    let mut centres = vec![(*points.get(first)?).clone()];
    let mut away: Vec<f64> = points.iter().map(|p| square(p, &centres[0])).collect();
    while centres.len() < count {
        let mut left = random.next() * away.iter().sum::<f64>();
        let drawn = away.iter().position(|away| {
            left -= away;
            *away > 0.0 && left <= 0.0
        });
        // Rounding may leave a little over: then the last point that can be drawn.
        let drawn = drawn.or_else(|| away.iter().rposition(|away| *away > 0.0))?;
        let centre = points[drawn].clone();
        for (away, point) in away.iter_mut().zip(points) {
            *away = away.min(square(point, &centre));
        }
        centres.push(centre);
    }
    Some(centres)
}

/// Moves each centre to the mean of its points until none moves.
fn settled(points: &[&Vec<f64>], mut centres: Vec<Vec<f64>>) -> Vec<Vec<f64>> {
    for _ in 0..ROUNDS {
        let mut groups: Vec<Vec<&Vec<f64>>> = vec![Vec::new(); centres.len()];
        for point in points {
            groups[nearest(&centres, point).0].push(point);
        }
        let mut moved = false;
        for (centre, group) in centres.iter_mut().zip(&groups) {
            // A class that has lost all its points stays where it is.
            if !group.is_empty() {
                let mean = mean(group.iter().copied());
                moved |= mean != *centre;
                *centre = mean;
            }
        }
        if !moved {
            break;
        }
    }
    centres
}

fn mean<'a>(points: impl Iterator<Item = &'a Vec<f64>>) -> Vec<f64> {
    let (mut sums, mut count) = (Vec::new(), 0.0);
    for point in points {
        sums.resize(point.len(), 0.0);
        sums.iter_mut().zip(point).for_each(|(sum, at)| *sum += at);
        count += 1.0;
    }
    sums.iter().map(|sum| sum / count).collect()
}

fn square(a: &[f64], b: &[f64]) -> f64 {
    a.iter().zip(b).map(|(a, b)| (a - b) * (a - b)).sum()
}

/// The nearest centre, and its squared distance.
fn nearest(centres: &[Vec<f64>], point: &[f64]) -> (usize, f64) {
    let mut best = (0, f64::INFINITY);
    for (n, centre) in centres.iter().enumerate() {
        let away = square(centre, point);
        if away < best.1 {
            best = (n, away);
        }
    }
    best
}

/// SplitMix64 by G. L. Steele, D. Lea and C. H. Flood (2014): numbers from 0 to below 1.
struct Random(u64);

impl Random {
    fn next(&mut self) -> f64 {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        ((z ^ (z >> 31)) >> 11) as f64 / (1_u64 << 53) as f64
    }
}
