//! A harvested field made up by rule, seeded: what the monitor would have written, and what was sown wrong into it.

use super::clean::Step;
use super::readings::{Reading, Readings};

/// Seeded numbers between 0 and 1 (splitmix64: G. Steele and others, 2014).
pub(super) struct Numbers(pub u64);

impl Numbers {
    pub(super) fn uniform(&mut self) -> f64 {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        ((z ^ (z >> 31)) >> 11) as f64 / (1u64 << 53) as f64
    }

    /// About normal: twelve uniform numbers.
    pub(super) fn normal(&mut self) -> f64 {
        (0..12).map(|_| self.uniform()).sum::<f64>() - 6.0
    }
}

pub(super) const WIDTH_M: f64 = 9.0;
const SPEED_M_S: f64 = 1.8;

/// The field and what was sown wrong: per reading the step that should take it.
pub(super) struct Field {
    pub readings: Readings,
    pub wrong: Vec<Option<Step>>,
    /// True yield at the place, kg/ha.
    pub truth: Vec<f64>,
}

/// The true yield: a trend, waves and patches with edges, kg/ha.
fn truth([x, y]: [f64; 2]) -> f64 {
    let waves = (x / 31.0).sin() * (y / 43.0).cos();
    let patch = if (x - 120.0).hypot(y - 150.0) < 45.0 {
        -900.0
    } else {
        0.0
    };
    8_000.0 + 2.0 * y + 700.0 * waves + patch
}

/// Passes up and down, `delay_s` between cutter bar and sensor, one reading a second-interval.
pub(super) fn field(
    seed: u64,
    passes: usize,
    rows: usize,
    delay_s: f64,
    interval_s: f64,
    with_wrong: bool,
) -> Field {
    let mut numbers = Numbers(seed);
    let mut readings = Readings {
        is_flow: true,
        machines: vec![String::new()],
        loads: vec![String::new()],
        ..Readings::default()
    };
    let (mut wrong, mut truths) = (Vec::new(), Vec::new());
    let mut time_s = 0.0;
    for pass in 0..passes {
        let up = pass % 2 == 0;
        let x = (pass as f64 + 0.5) * WIDTH_M;
        let step = SPEED_M_S * interval_s;
        let at = |row: f64| {
            [
                x,
                if up {
                    row * step
                } else {
                    (rows as f64 - row) * step
                },
            ]
        };
        let first = readings.of.len();
        for row in 0..rows {
            // What the sensor feels was cut earlier; before the pass nothing was.
            let cut = row as f64 - delay_s / interval_s;
            let here = truth(at(row as f64));
            let flow_of = |kg_per_ha: f64| kg_per_ha * WIDTH_M * SPEED_M_S / 10_000.0 / 0.8 * 0.855;
            let felt = if cut < 0.0 {
                0.0
            } else {
                flow_of(truth(at(cut))) * (1.0 + 0.04 * numbers.normal())
            };
            readings.of.push(Reading {
                xy: at(row as f64),
                time_s,
                grain: felt,
                moisture_percent: 20.0 + 0.3 * numbers.normal(),
                distance_m: step,
                width_m: WIDTH_M,
                interval_s,
                speed_m_s: f64::NAN,
                outside: false,
                header_up: false,
                machine: 0,
                load: 0,
                treatment: u16::MAX,
                block: u16::MAX,
            });
            truths.push(here);
            wrong.push(None);
            time_s += interval_s;
        }
        time_s += 20.0 * interval_s;
        if with_wrong {
            let inner = first + 25..readings.of.len() - 25;
            for (at, kind) in inner.clone().zip(&mut wrong[inner]) {
                let Some(step) = sown(&mut numbers) else {
                    continue;
                };
                let before = readings.of[at - 1].xy;
                let reading = &mut readings.of[at];
                match step {
                    Step::HeaderUp => reading.header_up = true,
                    Step::Speed => reading.speed_m_s = 9.0,
                    Step::Distance => reading.distance_m *= 9.0,
                    Step::Moisture => reading.moisture_percent = 75.0,
                    Step::Local => reading.grain *= if numbers.uniform() < 0.5 { 0.3 } else { 1.9 },
                    _ => reading.xy = before,
                }
                *kind = Some(step);
            }
        }
    }
    Field {
        readings,
        wrong,
        truth: truths,
    }
}

/// One of a hundred of each kind.
fn sown(numbers: &mut Numbers) -> Option<Step> {
    const KINDS: [Step; 6] = [
        Step::HeaderUp,
        Step::Speed,
        Step::Distance,
        Step::Moisture,
        Step::Local,
        Step::SamePlace,
    ];
    let kind = (numbers.uniform() * 100.0) as usize;
    KINDS.get(kind).copied()
}
