//! What a job file says about a trial: `[[trial]]`.

use super::land::Source;
use super::product::{Kind, Product};
use super::rules::{Check, at};
use super::terminal::PlaceKeys;
use super::types::Job;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use std::collections::BTreeSet;

/// A trial that is laid out in the map: strips along the bouts with other rates, drawn by lot and read back by
/// `twinsow harvest`.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Trial {
    /// What people call it; it stands in every output.
    #[schemars(length(min = 1))]
    pub name: String,
    /// What is held against what.
    pub design: TrialDesign,
    /// Id of the product that is tried. Without it: all that the drill sows (`map_against_flat`, `flat_stamps`), or the second of them
    /// (`with_and_without`).
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub product: Option<String>,
    /// The flat rate of `product`; without it the mean of its map, by its step and limits.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schemars(range(min = 0.0, max = 5000.0))]
    pub flat_kg_per_ha: Option<f64>,
    /// With `rates`: the rates of `product`, two or more. 0 leaves it out.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    #[schemars(inner(range(min = 0.0, max = 5000.0)))]
    pub rates_kg_per_ha: Vec<f64>,
    /// With `with_and_without`: id of the seed that is sown at two rates; without it the first seed of the job.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub seed: Option<String>,
    /// With `with_and_without`: how far its two rates are apart, percent of the rate that the map has there.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schemars(range(min = 5.0, max = 100.0))]
    pub seed_rates_apart_percent: Option<f64>,
    /// Blocks, each with every treatment once: pairs with two treatments. With `flat_stamps` in each zone. Without it 6 for
    /// `map_against_flat`, else 4.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schemars(range(min = 2, max = 200))]
    pub blocks: Option<u32>,
    /// Blocks without a gap between them, across and along the bouts, instead of `blocks` in long strips: `length_m` is then that of a
    /// cell, without it the least that answers.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub chessboard: Option<Chessboard>,
    /// Width of the header of the combine that will cut it.
    #[schemars(range(min = 1.0, max = 25.0))]
    pub header_width_m: f64,
    /// Length of a plot; without it as long as there is room, up to 305 m (`flat_stamps`: the least that answers).
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schemars(range(min = 20.0, max = 2000.0))]
    pub length_m: Option<f64>,
    /// Whether treatments are drawn by lot in each block, or take turns.
    #[serde(default)]
    pub order: TrialOrder,
    /// Another number gives another draw; the same number always the same one.
    #[serde(default = "one")]
    #[schemars(range(min = 1, max = 1_000_000))]
    pub draw: u32,
    /// Where the blocks lie, if `near` does not say it. Without it `spread` for `map_against_flat` and `flat_stamps`, else `least_cost`.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub place: Option<TrialPlace>,
    /// A place in the field: blocks are the nearest to it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub near: Option<PlaceKeys>,
    /// Name of a `[[special_area]]` that all plots lie in; it may change no rate (`percent = {}`).
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub here: Option<String>,
    /// Polygons of a file that all plots lie in, instead of `here`.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub here_source: Option<Source>,
    /// The difference in yield that would change what you do next year. 200 kg/ha is common practice, no source.
    #[serde(default = "two_hundred")]
    #[schemars(range(min = 1.0, max = 5000.0))]
    pub should_see_kg_per_ha: f64,
    /// How far yields of equal plots beside each other deviate, as a standard deviation; without it a published one by
    /// length of plot.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schemars(range(min = 1.0, max = 5000.0))]
    pub plot_variation_kg_per_ha: Option<f64>,
}

fn one() -> u32 {
    1
}

fn two_hundred() -> f64 {
    200.0
}

/// A chessboard: blocks side by side and behind each other, without a gap.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Chessboard {
    /// Blocks side by side.
    #[schemars(range(min = 1, max = 100))]
    pub blocks_across: u32,
    /// Blocks behind each other along the bouts.
    #[schemars(range(min = 1, max = 100))]
    pub blocks_along: u32,
    /// Cells of a block side by side, the others behind them; the treatments divide by it. Without it what makes blocks nearest to a
    /// square.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schemars(range(min = 1, max = 100))]
    pub cells_across: Option<u32>,
}

/// What is held against what.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum TrialDesign {
    /// Pairs: one strip by the map, one at a flat rate.
    MapAgainstFlat,
    /// The second product yes or no, each at two seed rates.
    WithAndWithout,
    /// In each zone some plots at the flat rate, each beside one by the map.
    FlatStamps,
    /// Rates of your own.
    Rates,
}

/// How treatments come to the plots of a block.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum TrialOrder {
    /// By lot.
    #[default]
    Random,
    /// In turns: each block begins with the next treatment.
    Systematic,
}

/// Where blocks lie.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum TrialPlace {
    /// Evenly over the field.
    Spread,
    /// Where the rates of the trial are nearest to those of the map, in money where prices are known.
    LeastCost,
}

impl Trial {
    /// Blocks, or blocks in each zone.
    pub fn blocks(&self) -> usize {
        if let Some(board) = &self.chessboard {
            return board.blocks_across as usize * board.blocks_along as usize;
        }
        let usual = match self.design {
            TrialDesign::MapAgainstFlat => 6,
            TrialDesign::WithAndWithout | TrialDesign::FlatStamps | TrialDesign::Rates => 4,
        };
        self.blocks.unwrap_or(usual) as usize
    }

    /// How many treatments it has.
    pub fn treatments(&self) -> usize {
        match self.design {
            TrialDesign::MapAgainstFlat | TrialDesign::FlatStamps => 2,
            TrialDesign::WithAndWithout => 4,
            TrialDesign::Rates => self.rates_kg_per_ha.len(),
        }
    }

    /// Where blocks lie, if no place is named.
    pub fn place(&self) -> TrialPlace {
        let usual = match self.design {
            TrialDesign::MapAgainstFlat | TrialDesign::FlatStamps => TrialPlace::Spread,
            TrialDesign::WithAndWithout | TrialDesign::Rates => TrialPlace::LeastCost,
        };
        self.place.unwrap_or(usual)
    }

    /// How far apart the two seed rates are, percent.
    pub fn seed_rates_apart_percent(&self) -> f64 {
        self.seed_rates_apart_percent.unwrap_or(30.0)
    }

    /// The products that are tried, by their places in the job: those whose map is held against a flat rate, the one with rates of its own,
    /// or the one that is left out. Empty where the job has none such.
    pub fn tried(&self, job: &Job) -> Vec<usize> {
        let in_stream = || {
            let products = job.products.iter().enumerate();
            products.filter(|(_, product)| !product.surface_applied)
        };
        let named = |id: &String| in_stream().find(|(_, product)| product.id == *id);
        let one =
            |found: Option<(usize, &Product)>| found.map(|(nth, _)| nth).into_iter().collect();
        match (&self.product, self.design) {
            (Some(id), _) => one(named(id)),
            (None, TrialDesign::WithAndWithout) => one(in_stream().nth(1)),
            (None, _) => in_stream().map(|(nth, _)| nth).collect(),
        }
    }

    /// Rates above 0 that it asks for of a product by their number, kg/ha that leave the drill.
    pub fn kg_per_ha_of(&self, product: &Product) -> Vec<f64> {
        if self.product.as_ref() != Some(&product.id) {
            return Vec::new();
        }
        let rates = self.rates_kg_per_ha.iter().chain(&self.flat_kg_per_ha);
        rates.copied().filter(|rate| *rate > 0.0).collect()
    }

    /// So many times what the map has it sows of a product, less and more; none where it does not go by the map times something.
    pub fn times_map_of(&self, job: &Job, product: &Product) -> Option<[f64; 2]> {
        let seed = job.products.get(self.seed(job)?)?;
        let half = self.seed_rates_apart_percent() / 200.0;
        let crossed = self.design == TrialDesign::WithAndWithout && seed.id == product.id;
        crossed.then_some([1.0 - half, 1.0 + half])
    }

    /// The seed that is sown at two rates, by its place in the job.
    pub fn seed(&self, job: &Job) -> Option<usize> {
        job.products.iter().position(|product| match &self.seed {
            Some(id) => product.id == *id && !product.surface_applied,
            None => product.kind == Kind::Seed && !product.surface_applied,
        })
    }
}

/// Trials that can be laid out.
pub(super) fn check(check: &mut Check<'_>) {
    let job = check.job;
    let mut names = BTreeSet::new();
    for (n, trial) in job.trials.iter().enumerate() {
        if job.drive.is_none() {
            check.add(
                at!["trial", n],
                format!("the trial '{}' lies along the bouts, and the job does not say how the field is driven", trial.name),
                "a [drive] beside a [[trial]]",
                "add [drive]",
            );
        }
        if !names.insert(&trial.name) {
            check.add(
                at!["trial", n, "name"],
                format!("a second trial is called '{}'", trial.name),
                "a name of its own for each trial",
                "rename one of them",
            );
        }
        if job.mixture.is_some() {
            check.add(
                at!["trial", n],
                format!("the trial '{}' gives rates of its own, and two seeds are tied in a [mixture]: their shares would part", trial.name),
                "a [[trial]] without [mixture]",
                "remove one of the two",
            );
        }
        for (key, id) in [("product", &trial.product), ("seed", &trial.seed)] {
            let Some(id) = id else { continue };
            check.known_product(at!["trial", n, key], id);
            let surface = job
                .products
                .iter()
                .any(|product| product.id == *id && product.surface_applied);
            if surface {
                check.add(
                    at!["trial", n, key],
                    format!("'{id}' is spread by a unit of its own, whose width is not that of the bouts"),
                    "a product that the drill sows",
                    "name another product",
                );
            }
        }
        design(check, n, trial);
    }
}

/// Keys that go with the design.
fn design(check: &mut Check<'_>, n: usize, trial: &Trial) {
    let job = check.job;
    let flat = matches!(
        trial.design,
        TrialDesign::MapAgainstFlat | TrialDesign::FlatStamps
    );
    if trial.flat_kg_per_ha.is_some() && (!flat || trial.product.is_none()) {
        check.add(
            at!["trial", n, "flat_kg_per_ha"],
            "a flat rate is given without the product that it is for, or for a trial that has none",
            "'flat_kg_per_ha' together with 'product', with map_against_flat or flat_stamps",
            "add 'product', or remove 'flat_kg_per_ha'",
        );
    }
    let rates: BTreeSet<u64> = trial
        .rates_kg_per_ha
        .iter()
        .map(|rate| rate.to_bits())
        .collect();
    let by_hand = trial.design == TrialDesign::Rates;
    if by_hand
        && (rates.len() < 2 || rates.len() < trial.rates_kg_per_ha.len() || trial.product.is_none())
    {
        check.add(
            at!["trial", n, "rates_kg_per_ha"],
            "a trial of rates names fewer than two different rates, one twice, or no product",
            "'product', and in 'rates_kg_per_ha' two or more different rates",
            "add them",
        );
    }
    if !by_hand && !trial.rates_kg_per_ha.is_empty() {
        check.add(
            at!["trial", n, "rates_kg_per_ha"],
            "rates are given, and the design has rates of its own",
            "'rates_kg_per_ha' together with design = \"rates\"",
            "remove 'rates_kg_per_ha', or change 'design'",
        );
    }
    let crossed = trial.design == TrialDesign::WithAndWithout;
    if !crossed && (trial.seed.is_some() || trial.seed_rates_apart_percent.is_some()) {
        check.add(
            at!["trial", n],
            "a seed at two rates is named, and the design does not cross rates",
            "'seed' and 'seed_rates_apart_percent' together with design = \"with_and_without\"",
            "remove them, or change 'design'",
        );
    }
    let (tried, seed) = (trial.tried(job), trial.seed(job));
    if crossed && (tried.is_empty() || seed.is_none() || tried.first() == seed.as_ref()) {
        check.add(
            at!["trial", n],
            "a product yes or no at two seed rates takes two products of the drill, and they are not there or are the same",
            "a job whose drill sows a seed and another product",
            "name them in 'seed' and 'product'",
        );
    }
    board(check, n, trial);
    if trial.here.is_some() && trial.here_source.is_some() {
        check.add(
            at!["trial", n, "here_source"],
            "both 'here' and 'here_source' are given",
            "one of them",
            "remove one of the two",
        );
    }
    if let Some(name) = &trial.here {
        let same = job.special_areas.iter().filter(|area| area.name == *name);
        let known = job
            .special_areas
            .iter()
            .map(|area| format!("'{}'", area.name));
        let known: Vec<String> = known.collect();
        if same.count() != 1 {
            check.add(
                at!["trial", n, "here"],
                format!("'{name}' is not the name of one special area"),
                match known.is_empty() {
                    true => "the name of a [[special_area]] of the job, which has none".to_owned(),
                    false => format!("one of: {}", known.join(", ")),
                },
                "correct the name, add a [[special_area]] with it, or name a file in 'here_source'",
            );
        }
    }
    if trial.place.is_some() && trial.near.is_some() {
        check.add(
            at!["trial", n, "near"],
            "both 'place' and 'near' are given",
            "one of them",
            "remove one of the two",
        );
    }
}

/// Keys of a chessboard.
fn board(check: &mut Check<'_>, n: usize, trial: &Trial) {
    let Some(board) = &trial.chessboard else {
        return;
    };
    if trial.blocks.is_some() {
        check.add(
            at!["trial", n, "blocks"],
            "both 'blocks' and 'chessboard' are given",
            "one of them: a chessboard says how many blocks it has across and along",
            "remove one of the two",
        );
    }
    if trial.design == TrialDesign::FlatStamps {
        check.add(
            at!["trial", n, "chessboard"],
            "flat stamps lie in each zone by themselves, and a chessboard is one piece",
            "'chessboard' with map_against_flat, with_and_without or rates",
            "remove it, or change 'design'",
        );
    }
    if !(2..=400).contains(&trial.blocks()) {
        check.add(
            at!["trial", n, "chessboard"],
            format!("a chessboard of {} blocks", trial.blocks()),
            "2 to 400 blocks, across times along",
            "ask for more or fewer",
        );
    }
    let treatments = trial.treatments();
    let across = board.cells_across.map(|across| across as usize);
    if across.is_some_and(|across| across == 0 || !treatments.is_multiple_of(across)) {
        check.add(
            at!["trial", n, "chessboard", "cells_across"],
            format!(
                "blocks of {treatments} cells, and {} side by side",
                across.unwrap_or(0)
            ),
            format!("a divisor of {treatments}, so that each block has every treatment once"),
            "correct it, or leave it out",
        );
    }
    if trial.design == TrialDesign::MapAgainstFlat && across == Some(1) {
        check.add(
            at!["trial", n, "chessboard", "cells_across"],
            "map and flat lie behind each other, and each zone answers by cells beside each other",
            "2, or nothing",
            "leave it out",
        );
    }
}
