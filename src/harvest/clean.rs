//! The steps of cleaning, in their order. Each reading that does not count keeps the first step that took it.

use super::at_moisture;
use super::delay::{self, Delay};
use super::ground::new_share;
use super::limits::Limits;
use super::outliers::outliers;
use super::passes::{Pass, headings, median, passes};
use super::readings::Reading;
use crate::units::M2_PER_HA;

/// Why a reading does not count.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Step {
    /// Outside the land of the plan.
    Outside,
    /// The header was up, or nothing was cut.
    HeaderUp,
    /// The harvester filled up.
    PassStart,
    /// The harvester emptied itself, or the delay leaves no reading.
    PassEnd,
    /// Speed outside what is usual on this field.
    Speed,
    /// Distance or time between readings outside what is usual.
    Distance,
    /// Moisture outside what is usual.
    Moisture,
    /// Less than half of the width was new land.
    Narrow,
    /// Yield outside what is usual on this field, or above what the crop can give.
    Yield,
    /// Unlike all around it.
    Local,
    /// On the place of another reading.
    SamePlace,
}

impl Step {
    /// All, in their order.
    pub const ALL: [Self; 11] = [
        Self::Outside,
        Self::HeaderUp,
        Self::PassStart,
        Self::PassEnd,
        Self::Speed,
        Self::Distance,
        Self::Moisture,
        Self::SamePlace,
        Self::Narrow,
        Self::Yield,
        Self::Local,
    ];

    /// Its key in files.
    pub fn key(self) -> &'static str {
        match self {
            Self::Outside => "outside",
            Self::HeaderUp => "header_up",
            Self::PassStart => "pass_start",
            Self::PassEnd => "pass_end",
            Self::Speed => "speed",
            Self::Distance => "distance",
            Self::Moisture => "moisture",
            Self::Narrow => "narrow",
            Self::Yield => "yield",
            Self::Local => "local",
            Self::SamePlace => "same_place",
        }
    }

    /// What it means, for people.
    pub fn words(self) -> &'static str {
        match self {
            Self::Outside => "Outside the land of the plan",
            Self::HeaderUp => "Header up, or nothing cut",
            Self::PassStart => "Start of a pass: the harvester fills up",
            Self::PassEnd => "End of a pass: the harvester empties itself",
            Self::Speed => "Speed unlike the rest of the field",
            Self::Distance => "Distance or time between readings unlike the rest",
            Self::Moisture => "Moisture unlike the rest of the field",
            Self::Narrow => "More than half of the land was cut already",
            Self::Yield => "Yield unlike the rest of the field, or above what the crop can give",
            Self::Local => "Yield unlike all readings around it",
            Self::SamePlace => "On the place of another reading",
        }
    }
}

/// What one step took.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct StepCount {
    /// The step.
    pub step: Step,
    /// Readings that it took.
    pub readings: usize,
    /// Least and most that count, where the step goes by limits: m/s, m, %, kg/ha.
    pub limits: Option<[f64; 2]>,
}

/// What the user says about cleaning.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Settings {
    /// Moisture that yields are given at, %.
    pub basis_percent: f64,
    /// Moisture that the yield column stands at; `None` for as harvested. Flows are always as harvested.
    pub yield_at_percent: Option<f64>,
    /// The most that the crop can give, kg/ha.
    pub most_kg_per_ha: Option<f64>,
    /// The delay to take off, s; found from the data without.
    pub delay_s: Option<f64>,
}

/// Readings cleaned, one entry per reading of the files.
#[derive(Debug, Clone, PartialEq)]
pub struct Cleaned {
    /// Readings with distance, time and speed filled in.
    pub readings: Vec<Reading>,
    /// Yield at the basis, kg/ha, where the reading stands; not a number where the data give none.
    pub kg_per_ha: Vec<f64>,
    /// Land that the reading stands for, m2; where no width is known, metres of travel.
    pub weight: Vec<f64>,
    /// The step that took it.
    pub taken: Vec<Option<Step>>,
    /// Metres of travel within its pass so far.
    pub travelled_m: Vec<f64>,
    /// First and past-last reading of each pass.
    pub passes: Vec<std::ops::Range<usize>>,
    /// What each step took.
    pub steps: Vec<StepCount>,
    /// The delay that was found, where it could be looked for.
    pub delay: Option<Delay>,
    /// Whether the land is known: width and distance.
    pub has_land: bool,
    /// Whether moistures are known.
    pub has_moisture: bool,
    /// Land cut twice that was taken off, m2.
    pub overlap_m2: f64,
}

impl Cleaned {
    /// Readings that count.
    pub fn counting(&self) -> impl Iterator<Item = usize> {
        (0..self.taken.len()).filter(|&at| self.taken[at].is_none())
    }

    /// Mean yield of readings, weighted with their land, kg/ha.
    pub fn mean(&self, of: impl Iterator<Item = usize>) -> Option<f64> {
        let sums = of.fold([0.0; 2], |[kg, land], at| {
            [
                kg + self.kg_per_ha[at] * self.weight[at],
                land + self.weight[at],
            ]
        });
        (sums[1] > 0.0).then_some(sums[0] / sums[1])
    }
}

/// The ramp of a pass ends where its readings reach this share of what the rest of the pass has (common practice, no source).
const FULL: f64 = 0.95;
/// A reading mixes some 30 m of travel (J. Knight and B. Pettitt, 2003): a ramp is not looked for beyond.
const RAMP_M: f64 = 30.0;
/// Slower than this nothing is harvested (common practice, no source), m/s.
const SLOWEST_M_S: f64 = 0.2;
/// Grain is between these moistures, or the sensor is wrong (common practice, no source), %.
const MOISTURES: [f64; 2] = [2.0, 60.0];
/// A reading that did not drive so far has no land, m (common practice, no source).
const LEAST_STEP_M: f64 = 0.05;
/// Nearer than this to another reading is the same place, m (common practice, no source).
const SAME_M: f64 = 0.15;

/// Cleans readings, in the order of their files; `is_flow` says what their grain is ([`super::Readings::is_flow`]).
pub fn clean(mut of: Vec<Reading>, is_flow: bool, settings: &Settings) -> Cleaned {
    let passes = passes(&mut of);
    let delay = match settings.delay_s {
        Some(seconds) => Some(Delay {
            seconds,
            pairs: 0,
            disagreement_percent: [f64::NAN; 2],
        }),
        None => delay::find(&of, &passes),
    };
    let first =
        |reading: &Reading| match (reading.outside, reading.header_up || reading.grain <= 0.0) {
            (true, _) => Some(Step::Outside),
            (_, true) => Some(Step::HeaderUp),
            _ => None,
        };
    let mut taken: Vec<Option<Step>> = of.iter().map(first).collect();
    shift(
        &mut of,
        &passes,
        delay.map_or(0.0, |delay| delay.seconds),
        &mut taken,
    );
    let has_land = of.iter().any(|r| r.width_m > 0.0 && r.distance_m > 0.0);
    let has_moisture = of.iter().any(|r| r.moisture_percent.is_finite());
    let mut cleaning = Cleaned {
        kg_per_ha: of.iter().map(|r| yield_of(r, is_flow, settings)).collect(),
        weight: of
            .iter()
            .map(|r| {
                if has_land {
                    r.distance_m * r.width_m
                } else {
                    r.distance_m
                }
            })
            .collect(),
        travelled_m: travelled(&of, &passes),
        readings: of,
        taken,
        passes,
        steps: Vec::new(),
        delay,
        has_land,
        has_moisture,
        overlap_m2: 0.0,
    };
    cleaning.ramps();
    let speeds = cleaning.within(Step::Speed, |r| r.speed_m_s, [SLOWEST_M_S, f64::INFINITY]);
    let distances = cleaning.within(
        Step::Distance,
        |r| r.distance_m,
        [LEAST_STEP_M, f64::INFINITY],
    );
    let moistures = cleaning.within(Step::Moisture, |r| r.moisture_percent, MOISTURES);
    cleaning.same_places();
    cleaning.land();
    let most = settings.most_kg_per_ha.unwrap_or(f64::INFINITY);
    let yields = cleaning.yields(most);
    cleaning.local();
    cleaning.steps = Step::ALL
        .into_iter()
        .map(|step| StepCount {
            step,
            readings: cleaning
                .taken
                .iter()
                .filter(|taken| **taken == Some(step))
                .count(),
            limits: match step {
                Step::Speed => speeds,
                Step::Distance => distances,
                Step::Moisture => moistures,
                Step::Yield => yields,
                _ => None,
            },
        })
        .collect();
    cleaning
}

/// Takes the delay off grain and moisture; what is left without is the end of its pass.
fn shift(readings: &mut [Reading], passes: &[Pass], seconds: f64, taken: &mut [Option<Step>]) {
    let interval = median(readings.iter().map(|reading| reading.interval_s).collect());
    let known = seconds > 0.0 && interval > 0.0;
    if !known {
        return;
    }
    let rows = seconds / interval;
    for pass in passes {
        let column = |of: fn(&Reading) -> f64| -> Vec<f64> {
            pass.clone()
                .map(|at| delay::later(|n| of(&readings[n]), pass, at, rows))
                .collect()
        };
        let [grain, moisture] = [column(|r| r.grain), column(|r| r.moisture_percent)];
        for ((at, grain), moisture) in pass.clone().zip(grain).zip(moisture) {
            readings[at].grain = grain;
            readings[at].moisture_percent = moisture;
            if grain.is_nan() && taken[at].is_none() {
                taken[at] = Some(Step::PassEnd);
            }
        }
    }
}

fn yield_of(reading: &Reading, is_flow: bool, settings: &Settings) -> f64 {
    let has = match settings.yield_at_percent {
        Some(percent) if !is_flow => percent,
        _ => reading.moisture_percent,
    };
    let per_ha = match is_flow {
        true => {
            reading.grain * reading.interval_s / (reading.distance_m * reading.width_m) * M2_PER_HA
        }
        false => reading.grain,
    };
    at_moisture(per_ha, has, settings.basis_percent)
}

fn travelled(readings: &[Reading], passes: &[Pass]) -> Vec<f64> {
    let mut travelled = vec![0.0; readings.len()];
    for pass in passes {
        let mut metres = 0.0;
        for at in pass.clone() {
            metres += if readings[at].distance_m > 0.0 {
                readings[at].distance_m
            } else {
                0.0
            };
            travelled[at] = metres;
        }
    }
    travelled
}

impl Cleaned {
    fn take(&mut self, at: usize, step: Step) {
        self.taken[at].get_or_insert(step);
    }

    /// Start and end of passes: how many readings they take to fill up is told by all passes together.
    fn ramps(&mut self) {
        let step_m = median(self.readings.iter().map(|r| r.distance_m).collect());
        if step_m.is_nan() || step_m <= 0.0 {
            return;
        }
        let most = (RAMP_M / step_m).ceil() as usize;
        // What each pass has where it runs full.
        let full: Vec<f64> = self
            .passes
            .iter()
            .map(|pass| {
                median(
                    pass.clone()
                        .filter(|&at| self.taken[at].is_none())
                        .map(|at| self.readings[at].grain)
                        .collect(),
                )
            })
            .collect();
        for (from_start, step) in [(true, Step::PassStart), (false, Step::PassEnd)] {
            // The n-th reading of those that count.
            let nth = |pass: &Pass, n: usize| {
                let mut counting = pass.clone().filter(|&at| self.taken[at].is_none());
                match from_start {
                    true => counting.nth(n),
                    false => counting.rev().nth(n),
                }
            };
            let share = |n: usize| {
                let long = self
                    .passes
                    .iter()
                    .zip(&full)
                    .filter(|(pass, _)| pass.len() > 3 * most.max(1));
                median(
                    long.filter_map(|(pass, full)| Some(self.readings[nth(pass, n)?].grain / full))
                        .collect(),
                )
            };
            let ramp = (0..most)
                .find(|&n| share(n).is_nan() || share(n) >= FULL)
                .unwrap_or(most);
            let takes: Vec<usize> = self
                .passes
                .iter()
                .flat_map(|pass| (0..ramp).filter_map(|n| nth(pass, n)).collect::<Vec<_>>())
                .collect();
            for at in takes {
                self.take(at, step);
            }
        }
    }

    /// Takes what lies outside the fences, or outside hard ends. Gives the limits.
    fn within(&mut self, step: Step, of: fn(&Reading) -> f64, ends: [f64; 2]) -> Option<[f64; 2]> {
        if !self.readings.iter().any(|reading| of(reading).is_finite()) {
            return None;
        }
        let fences = Limits::of(self.counting().map(|at| of(&self.readings[at])));
        let limits = Limits {
            least: fences.least.max(ends[0]),
            most: fences.most.min(ends[1]),
        };
        for at in 0..self.readings.len() {
            if !limits.hold(of(&self.readings[at])) {
                self.take(at, step);
            }
        }
        Some([limits.least, limits.most])
    }

    /// Of readings on one place the first of the file counts, if anything else lets it.
    fn same_places(&mut self) {
        let all = self.readings.iter().enumerate();
        let near = super::near::Near::of(all.map(|(at, reading)| (at as u32, reading.xy)));
        let counting: Vec<usize> = self.counting().collect();
        for at in counting {
            if near
                .within(self.readings[at].xy, SAME_M)
                .any(|other| (other as usize) < at)
            {
                self.take(at, Step::SamePlace);
            }
        }
    }

    /// Land cut already does not count twice: the yield stands on what was new.
    fn land(&mut self) {
        if !self.has_land {
            return;
        }
        let headings = headings(&self.readings, &self.passes);
        let cut: Vec<bool> = self
            .taken
            .iter()
            .map(|taken| {
                !matches!(
                    taken,
                    Some(Step::HeaderUp | Step::SamePlace | Step::Distance)
                )
            })
            .collect();
        let shares = new_share(&self.readings, &self.passes, &headings, &cut);
        for (at, share) in shares.into_iter().enumerate() {
            if share < 0.5 {
                self.take(at, Step::Narrow);
            } else if share < 1.0 && self.taken[at].is_none() {
                self.overlap_m2 += self.weight[at] * (1.0 - share);
                self.kg_per_ha[at] /= share;
                self.weight[at] *= share;
            }
        }
    }

    fn yields(&mut self, most: f64) -> Option<[f64; 2]> {
        let fences = Limits::of(self.counting().map(|at| self.kg_per_ha[at]));
        let limits = Limits {
            least: fences.least.max(0.0),
            most: fences.most.min(most),
        };
        for at in 0..self.readings.len() {
            // What is no number by now had no moisture, no width or no time.
            if !self.kg_per_ha[at].is_finite() || !limits.hold(self.kg_per_ha[at]) {
                self.take(at, Step::Yield);
            }
        }
        Some([limits.least, limits.most])
    }

    fn local(&mut self) {
        let counting: Vec<usize> = self.counting().collect();
        let places: Vec<[f64; 2]> = counting.iter().map(|&at| self.readings[at].xy).collect();
        let values: Vec<f64> = counting.iter().map(|&at| self.kg_per_ha[at]).collect();
        for (at, far) in counting.into_iter().zip(outliers(&places, &values)) {
            if far {
                self.take(at, Step::Local);
            }
        }
    }
}
