//! Seeded fields with a known truth: how often the 95 % interval holds it, how often a trial cries wolf.
//!
//! Errors come from patches with an edge (sums of cones: likeness ends at a distance), a trend and noise that the harvester
//! smears along the strip. No model here fits that: plot models fit rational quadratic or exponential likeness, lattices a
//! share of the neighbours.

use super::*;

/// Seeded numbers (splitmix64: G. Steele and others, 2014).
pub(super) struct Numbers(u64);

impl Numbers {
    pub(super) fn uniform(&mut self) -> f64 {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        ((z ^ (z >> 31)) >> 11) as f64 / (1u64 << 53) as f64
    }

    /// Standard normal (Box and Muller).
    pub(super) fn normal(&mut self) -> f64 {
        let radius = (-2.0 * (1.0 - self.uniform()).ln()).sqrt();
        radius * (2.0 * std::f64::consts::PI * self.uniform()).cos()
    }

    fn below(&mut self, n: usize) -> usize {
        ((self.uniform() * n as f64) as usize).min(n - 1)
    }

    fn shuffled(&mut self, n: usize) -> Vec<usize> {
        let mut order: Vec<usize> = (0..n).collect();
        for at in (1..n).rev() {
            order.swap(at, self.below(at + 1));
        }
        order
    }
}

const WIDE_M: f64 = 12.0;
const STEP_M: f64 = 10.0;

/// Errors of `strips` strips of `steps` readings, t/ha.
fn errors(numbers: &mut Numbers, strips: usize, steps: usize) -> Vec<Vec<f64>> {
    let [wide, long] = [strips as f64 * WIDE_M, steps as f64 * STEP_M];
    let patches: Vec<[f64; 4]> = (0..60)
        .map(|_| {
            let radius = 25.0 + 35.0 * numbers.uniform();
            let x = -60.0 + (wide + 120.0) * numbers.uniform();
            let y = -60.0 + (long + 120.0) * numbers.uniform();
            [x, y, radius, 0.5 * numbers.normal()]
        })
        .collect();
    let trend = [numbers.normal() / wide, numbers.normal() / long];
    (0..strips)
        .map(|strip| {
            let raw: Vec<f64> = (0..steps)
                .map(|step| {
                    let [x, y] = [(strip as f64 + 0.5) * WIDE_M, (step as f64 + 0.5) * STEP_M];
                    let of_patches: f64 = patches
                        .iter()
                        .map(|[px, py, radius, high]| {
                            high * (1.0 - (x - px).hypot(y - py) / radius).max(0.0)
                        })
                        .sum();
                    of_patches + trend[0] * x + trend[1] * y + 0.25 * numbers.normal()
                })
                .collect();
            // The harvester mixes some 30 m of travel.
            (0..steps)
                .map(|n| {
                    let near = &raw[n.saturating_sub(1)..(n + 2).min(steps)];
                    near.iter().sum::<f64>() / near.len() as f64
                })
                .collect()
        })
        .collect()
}

fn mean(values: &[f64]) -> f64 {
    values.iter().sum::<f64>() / values.len() as f64
}

/// Whether the interval holds the truth, one field after the other.
fn held(fields: u64, one: impl Fn(&mut Numbers) -> Estimate, truth: f64) -> f64 {
    let holds = |seed: u64| {
        let found = one(&mut Numbers(seed * 7_919 + 1)).interval;
        found[0] <= truth && truth <= found[1]
    };
    (0..fields).filter(|&seed| holds(seed)).count() as f64 / fields as f64
}

/// Random pairs of strips.
fn pairs(numbers: &mut Numbers, count: usize, effect: f64) -> Estimate {
    let strips = errors(numbers, 2 * count, 30);
    let differences: Vec<f64> = strips
        .chunks(2)
        .map(|pair| {
            let first = if numbers.uniform() < 0.5 { 1.0 } else { -1.0 };
            effect + first * (mean(&pair[0]) - mean(&pair[1]))
        })
        .collect();
    paired(&differences).unwrap().difference
}

/// Four rates in random blocks: the first two compared.
fn blocks(numbers: &mut Numbers, count: usize, effect: f64) -> Estimate {
    let strips = errors(numbers, 4 * count, 30);
    let (mut yields, mut block, mut rate) = (Vec::new(), Vec::new(), Vec::new());
    for (nth, of_block) in strips.chunks(4).enumerate() {
        for (strip, level) in of_block.iter().zip(numbers.shuffled(4)) {
            yields.push(mean(strip) + if level == 1 { effect } else { 0.0 });
            block.push(nth);
            rate.push(level);
        }
    }
    let factors = [
        Factor {
            name: "block",
            levels: block,
        },
        Factor {
            name: "rate",
            levels: rate,
        },
    ];
    let found = analysis(&yields, &factors, &[&[0], &[1]]).unwrap();
    let mut weights = vec![0.0; found.fit.coefficients.len()];
    weights[count] = 1.0;
    let (value, variance) = found.fit.combined(&weights);
    Estimate::of(
        value,
        (variance * found.error_mean_square).sqrt(),
        found.error_degrees_of_freedom as f64,
    )
    .unwrap()
}

/// Plots anywhere, no blocks: restricted maximum likelihood.
fn plots(numbers: &mut Numbers, family: Family, effect: f64) -> Estimate {
    let strips = errors(numbers, 8, 48);
    let (mut yields, mut places) = (Vec::new(), Vec::new());
    for (nth, strip) in strips.iter().enumerate() {
        for (part, readings) in strip.chunks(6).enumerate() {
            yields.push(mean(readings));
            places.push([nth as f64 * WIDE_M, part as f64 * 6.0 * STEP_M]);
        }
    }
    let n = yields.len();
    let treated: Vec<f64> = numbers
        .shuffled(n)
        .iter()
        .map(|&at| f64::from(u8::from(at < n / 2)))
        .collect();
    yields
        .iter_mut()
        .zip(&treated)
        .for_each(|(y, t)| *y += effect * t);
    let found = plot_model(family, &[vec![1.0; n], treated], &yields, &places).unwrap();
    found.estimate(&[0.0, 1.0]).unwrap()
}

/// Readings of strips, blocks of two strips: errors on a lattice.
fn readings(numbers: &mut Numbers, effect: f64, per: usize) -> Estimate {
    const STEPS: usize = 20;
    let strips = errors(numbers, 12, STEPS);
    let (mut yields, mut treated, mut links) = (Vec::new(), Vec::new(), Vec::new());
    for (nth, strip) in strips.iter().enumerate() {
        for (step, value) in strip.iter().enumerate() {
            let own = nth * STEPS + step;
            if step > 0 {
                links.push([own - 1, own]);
            }
            if nth > 0 {
                links.push([own - STEPS, own]);
            }
            yields.push(*value);
        }
    }
    for _ in 0..6 {
        let first = if numbers.uniform() < 0.5 {
            [1.0, 0.0]
        } else {
            [0.0, 1.0]
        };
        for t in first {
            treated.extend([t; STEPS]);
        }
    }
    yields
        .iter_mut()
        .zip(&treated)
        .for_each(|(y, t)| *y += effect * t);
    let neighbours = Neighbours::of(yields.len(), &links).unwrap();
    let columns = [vec![1.0; yields.len()], treated];
    let found = lattice(&columns, &yields, &neighbours).unwrap();
    let of: Vec<usize> = (0..yields.len()).map(|n| n / (STEPS * per)).collect();
    let given = lattice::Given {
        columns: &columns,
        values: &yields,
        neighbours: &neighbours,
    };
    found
        .estimate_by(&[0.0, 1.0], &of, per == 2, &given)
        .unwrap()
}

/// Of 1 000 fields each (2026-11-30, TWINSOW_TRIAL_FIELDS=1000): pairs 95.1 %, blocks 95.5 %, plots 96.9 % (exponential; rational quadratic
/// 93.7 %), readings by pair 94.1 %, by strip 93.5 %; readings as witnesses of their own 70.9 %, which is why nobody is shown that.
/// Estimates shift with the effect, so what is missing to 100 % is also the share of false alarms. Fewer fields here: seeded, so exact.
#[test]
fn intervals_hold_the_truth_as_often_as_they_say() {
    let all: Option<u64> = option_env!("TWINSOW_TRIAL_FIELDS").and_then(|text| text.parse().ok());
    let check = |name: &str, fields: u64, one: &dyn Fn(&mut Numbers) -> Estimate, least: f64| {
        let found = held(all.unwrap_or(fields), one, 0.3);
        println!("{name}: {found}");
        assert!((least..=0.985).contains(&found), "{name}: {found}");
    };
    check("pairs", 400, &|r| pairs(r, 6, 0.3), 0.935);
    check("blocks", 400, &|r| blocks(r, 4, 0.3), 0.935);
    check("plots", 20, &|r| plots(r, Family::Exponential, 0.3), 0.9);
    check("readings by pair", 60, &|r| readings(r, 0.3, 2), 0.9);
    check("readings by strip", 60, &|r| readings(r, 0.3, 1), 0.9);
}

#[test]
fn a_trial_without_effect_rarely_cries_wolf() {
    let alarms = 1.0 - held(400, |r| pairs(r, 6, 0.0), 0.0);
    assert!(alarms <= 0.06 + 1e-9, "{alarms}");
    let alarms = 1.0 - held(400, |r| blocks(r, 4, 0.0), 0.0);
    assert!(alarms <= 0.06 + 1e-9, "{alarms}");
}
