//! What a trial tries: its treatments, and what each asks for on land with some rates of the map.

use crate::agronomy::{self, Asked, Rate};
use crate::findings::number;
use crate::job::{Job, LandPart, Trial, TrialDesign};
use crate::plan::Combination;

/// What a treatment asks for of a product.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) enum Want {
    /// What the map has.
    Map,
    /// One rate on all land, kg/ha, and what its land gets in all, drilled and broadcast, where that is more than what a strip asks for.
    KgPerHa(f64, Option<f64>),
    /// So many times what the map has.
    TimesMap(f64),
}

/// A treatment with its wants, in job order.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Treatment {
    pub name: String,
    pub wants: Vec<Want>,
}

impl Treatment {
    /// Whether it goes by the map in everything.
    pub fn is_map(&self) -> bool {
        self.wants.iter().all(|want| *want == Want::Map)
    }

    /// What it asks for on land with these rates of the map.
    pub fn asked(&self, map: &[f64]) -> Vec<Option<Asked>> {
        let each = self.wants.iter().zip(map);
        each.map(|(want, map)| {
            let (kg_per_ha, in_all_kg_per_ha) = match want {
                Want::Map => return None,
                Want::KgPerHa(rate, in_all) => (*rate, *in_all),
                Want::TimesMap(times) => (times * map, None),
            };
            Some(Asked {
                kg_per_ha,
                in_all_kg_per_ha,
            })
        })
        .collect()
    }
}

/// A trial with what it tries.
pub(super) struct Tried<'a> {
    pub trial: &'a Trial,
    pub treatments: Vec<Treatment>,
    /// The products whose rates differ, by their places in the job.
    pub products: Vec<usize>,
    /// Whether each of these has to differ in every block, or one is enough.
    pub all_differ: bool,
    /// Whether a block lies in one zone: land where the map has the same rates of these products.
    pub by_zone: bool,
    /// The special area that all plots lie in, by its place in the job.
    pub here: Option<usize>,
    /// Plots that stand behind each of the two means of the question, per block.
    pub plots_per_mean: usize,
}

impl<'a> Tried<'a> {
    /// `rows` are the rate table of the map.
    pub fn of(trial: &'a Trial, job: &Job, rows: &[Combination]) -> Self {
        let plain = |name: &str| Treatment {
            name: name.to_owned(),
            wants: vec![Want::Map; job.products.len()],
        };
        let products = trial.tried(job);
        let with = |mut treatment: Treatment, product: usize, want: Want| {
            if let Some(own) = treatment.wants.get_mut(product) {
                *own = want;
            }
            treatment
        };
        let tried = Self {
            trial,
            treatments: Vec::new(),
            products: products.clone(),
            all_differ: true,
            // Rates of a chessboard are the same in all zones; what goes by the map is not.
            by_zone: trial.chessboard.is_none() || trial.design == TrialDesign::WithAndWithout,
            here: trial.here.as_ref().and_then(|name| {
                let mut areas = job.special_areas.iter();
                areas.position(|area| area.name == *name)
            }),
            plots_per_mean: 1,
        };
        match trial.design {
            TrialDesign::MapAgainstFlat | TrialDesign::FlatStamps => {
                let mut flat = plain("flat");
                for product in &products {
                    let rate = trial.flat_kg_per_ha;
                    let rate = rate.unwrap_or_else(|| mean_of_map(job, *product, rows));
                    // A rate above the mean leaves nothing.
                    let in_all = in_all_of_map(job, *product, rows);
                    let in_all = in_all.map(|in_all| in_all.max(rate));
                    flat = with(flat, *product, Want::KgPerHa(rate, in_all));
                }
                Self {
                    treatments: vec![plain("map"), flat],
                    all_differ: false,
                    by_zone: trial.design == TrialDesign::FlatStamps,
                    ..tried
                }
            }
            TrialDesign::WithAndWithout => {
                let half = trial.seed_rates_apart_percent() / 2.0;
                let seed = trial.seed(job);
                let mut treatments = Vec::new();
                for (said, without) in [("with", false), ("without", true)] {
                    for (more, times) in
                        [("less", 1.0 - half / 100.0), ("more", 1.0 + half / 100.0)]
                    {
                        let id = |nth: Option<&usize>| {
                            let product = nth.and_then(|nth| job.products.get(*nth));
                            product.map_or("", |product| product.id.as_str())
                        };
                        let name = format!(
                            "{said} {}, {} % {more} {}",
                            id(products.first()),
                            number(half),
                            id(seed.as_ref())
                        );
                        let mut treatment = plain(&name);
                        if let Some(seed) = seed {
                            treatment = with(treatment, seed, Want::TimesMap(times));
                        }
                        if let Some(product) = products.first().filter(|_| without) {
                            treatment = with(treatment, *product, Want::KgPerHa(0.0, None));
                        }
                        treatments.push(treatment);
                    }
                }
                let mut tried_both: Vec<usize> = products.into_iter().chain(seed).collect();
                tried_both.sort_unstable();
                Self {
                    treatments,
                    products: tried_both,
                    plots_per_mean: 2,
                    ..tried
                }
            }
            TrialDesign::Rates => {
                let product = products.first().copied().unwrap_or(0);
                let rates = trial.rates_kg_per_ha.iter();
                let treatments = rates
                    .map(|rate| with(plain(&number(*rate)), product, Want::KgPerHa(*rate, None)));
                Self {
                    treatments: treatments.collect(),
                    ..tried
                }
            }
        }
    }
}

/// The mean of the map of a product in the interior, where no setback lies, by its step and limits, kg/ha.
fn mean_of_map(job: &Job, product: usize, rows: &[Combination]) -> f64 {
    let open = open_land(rows).filter_map(|row| Some((row.area_m2, row.rates.get(product)?)));
    let open: Vec<(f64, f64)> = open.map(|(m2, rate)| (m2, rate.kg_per_ha)).collect();
    agronomy::base_rate(job, product, &open)
}

/// The mean of what the same land gets of a product in all, drilled and broadcast, kg/ha of the placed product; `None` where the map
/// leaves nothing of it to broadcast.
fn in_all_of_map(job: &Job, product: usize, rows: &[Combination]) -> Option<f64> {
    let of = job.products.get(product)?;
    let (mut m2, mut mass, mut left) = (0.0, 0.0, 0.0);
    for row in open_land(rows) {
        let Some(rate) = row.rates.get(product) else {
            continue;
        };
        let in_all = agronomy::in_all_kg_per_ha(of, rate);
        m2 += row.area_m2;
        mass += in_all * row.area_m2;
        left += (in_all - rate.kg_per_ha) * row.area_m2;
    }
    (left > 0.0 && m2 > 0.0).then(|| mass / m2)
}

/// Land of the interior where no setback lies and no other trial.
fn open_land(rows: &[Combination]) -> impl Iterator<Item = &Combination> {
    let open = |row: &&Combination| {
        row.facts.part == LandPart::Interior
            && row.facts.setbacks.is_empty()
            && !row.rates.iter().any(in_strip)
    };
    rows.iter().filter(open)
}

/// Whether a rate is that of a strip of a trial.
pub(super) fn in_strip(rate: &Rate) -> bool {
    let mut reasons = rate.reasons.iter();
    reasons.any(|reason| reason.rule == agronomy::Rule::TrialStrip)
}
