//! What the trial says.

use super::clean::Cleaned;
use super::judged::{alone, blocks, pairs, rates};
use super::plots::Plots;
use super::second::{self, Second};
use crate::findings::{Fault, Outcome, Place};
use crate::trial::Estimate;
use serde::Serialize;

/// What things cost; one currency.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Money {
    /// Price of grain per t: low, expected, high.
    pub per_t: Option<[f64; 3]>,
    /// What a treatment costs per ha beyond the others, by its name.
    pub per_ha: Vec<(String, f64)>,
    /// What a unit of rate costs.
    pub per_unit: f64,
    /// What drying costs per t.
    pub drying_per_t: f64,
}

impl Money {
    /// What a treatment costs per ha.
    pub(super) fn cost(&self, treatment: &str) -> f64 {
        let own = self
            .per_ha
            .iter()
            .find(|(name, _)| name == treatment)
            .map_or(0.0, |(_, cost)| *cost);
        own + self.per_unit * treatment.parse::<f64>().unwrap_or(0.0)
    }
}

/// How plots are held against each other.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Design {
    /// Two treatments side by side in each block: paired t.
    Pairs,
    /// Several treatments in blocks: analysis of variance.
    Blocks,
    /// Rates: a response curve.
    Rates,
    /// No blocks: likeness of neighbours (restricted maximum likelihood).
    Plots,
}

/// A difference with its doubt, kg/ha.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Effect {
    /// The difference.
    pub kg_per_ha: f64,
    /// 95 % interval.
    pub from: f64,
    /// 95 % interval.
    pub to: f64,
    /// Two-sided probability of so much where nothing is there.
    pub p: f64,
    /// Degrees of freedom.
    pub degrees_of_freedom: f64,
}

impl From<Estimate> for Effect {
    fn from(of: Estimate) -> Self {
        Self {
            kg_per_ha: of.value,
            from: of.interval[0],
            to: of.interval[1],
            p: of.p,
            degrees_of_freedom: of.degrees_of_freedom,
        }
    }
}

/// What the difference is worth at one price, per ha, all costs taken off.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Worth {
    /// Price per t.
    pub price_per_t: f64,
    /// Gain per ha.
    pub per_ha: f64,
    /// 95 % interval.
    pub from: f64,
    /// 95 % interval.
    pub to: f64,
    /// Of rates: the rate that pays best at this price.
    pub best_rate: Option<f64>,
}

/// The response curve.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Response {
    /// Form.
    pub shape: &'static str,
    /// `constant + slope rate + bend rate^2`, kg/ha.
    pub constant: f64,
    /// As above.
    pub slope: f64,
    /// As above.
    pub bend: f64,
    /// Rate from which it is level; none without a plateau.
    pub join: Option<f64>,
    /// The rate that pays best at the expected price; the rate with most yield without a price.
    pub best_rate: f64,
    /// The best lies at an end of what was tried.
    pub at_end: bool,
    /// 95 % set of best rates; none where the data do not bound it.
    pub set: Option<[f64; 2]>,
}

/// The answer.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Answer {
    /// How it was judged.
    pub design: Design,
    /// What is compared with what.
    pub treatment: String,
    /// What it is compared with.
    pub base: String,
    /// Plots, and pairs or blocks.
    pub plots: usize,
    /// Blocks with both; 0 without blocks.
    pub blocks: usize,
    /// The difference.
    pub effect: Effect,
    /// Whether the interval leaves 0 out (of several treatments: and the F of the whole is significant at 5 %).
    pub shown: bool,
    /// Mean yield of the base, kg/ha.
    pub base_kg_per_ha: f64,
    /// Mean of each treatment over its plots, kg/ha, and the plots.
    pub means: Vec<(String, f64, usize)>,
    /// Least significant difference at 5 %, kg/ha, of several treatments in blocks.
    pub least_significant_difference: Option<f64>,
    /// Probability of the F of all treatments.
    pub p_of_all: Option<f64>,
    /// The curve, of rates.
    pub response: Option<Response>,
    /// What it is worth at the low, expected and high price.
    pub worth: Vec<Worth>,
    /// Price per t from which it pays; none where it costs nothing more, or gives nothing.
    pub break_even_per_t: Option<f64>,
    /// A difference that would matter, kg/ha, and the pairs that see it in 8 of 10 years, where pairs were compared.
    pub to_see: Option<(f64, Option<usize>)>,
    /// The same from single readings, errors on a lattice.
    pub second: Option<Second>,
}

/// Judges plots. `base` is what the others are held against: without it the lowest rate, or the first treatment by name.
///
/// # Errors
/// Fewer than two treatments; a base that is none; too few plots for any doubt.
pub fn answer(
    cleaned: &Cleaned,
    plots: &Plots,
    base: Option<&str>,
    money: &Money,
) -> Outcome<Answer> {
    let names = treatments(plots);
    if names.len() < 2 {
        return Err(few(
            &format!(
                "Fewer than two treatments have plots with readings that count: {}",
                counted(plots)
            ),
            "plots of two or more treatments with readings; where a plot holds no whole swath, or is shorter than twice --ends, none of its readings count",
        ));
    }
    let base = match base {
        None => names[0].clone(),
        Some(base) => names
            .iter()
            .find(|name| *name == base)
            .cloned()
            .ok_or_else(|| {
                few(
                    &format!("No plot has the treatment '{base}'"),
                    &format!("one of: {}", names.join(", ")),
                )
            })?,
    };
    for (name, _) in &money.per_ha {
        if !names.contains(name) {
            return Err(few(
                &format!("A cost is given for '{name}', which no plot has"),
                &format!("one of: {}", names.join(", ")),
            ));
        }
    }
    let has_blocks = plots.of.iter().all(|plot| !plot.block.is_empty());
    let are_rates = names.len() > 2
        && names
            .iter()
            .all(|name| name.parse::<f64>().is_ok_and(f64::is_finite));
    let judged = match (are_rates, names.len(), has_blocks) {
        (true, ..) => rates(plots, &base, money, has_blocks),
        (_, 2, true) => pairs(plots, &names, &base),
        (_, _, true) => blocks(plots, &names, &base),
        _ => alone(plots, &names, &base),
    };
    let mut answer = judged.ok_or_else(|| {
        few("The plots are too few to tell a difference from chance", "at least two blocks with both treatments, or three plots of each without blocks; better four to six (Washington State University, on-farm test design, 1994)")
    })?;
    answer.means = names.iter().map(|name| mean_of(plots, name)).collect();
    answer.base_kg_per_ha = mean_of(plots, &answer.base).1;
    answer.second = second::second(cleaned, plots, &answer);
    answer.valued(money);
    Ok(answer)
}

/// The readings that count of each plot, at most so many plots.
fn counted(plots: &Plots) -> String {
    const MOST: usize = 12;
    let name = |treatment: &str, block: &str, readings: usize| match block.is_empty() {
        true => format!("'{treatment}' has {readings}"),
        false => format!("'{treatment}' of block '{block}' has {readings}"),
    };
    let with = plots.of.iter();
    let with = with.map(|plot| name(&plot.treatment, &plot.block, plot.readings));
    let empty = plots.empty.iter();
    let empty = empty.map(|[treatment, block]| name(treatment, block, 0));
    let mut all: Vec<String> = with.chain(empty).collect();
    if all.is_empty() {
        return "there are no plots".to_owned();
    }
    if all.len() > MOST {
        let more = all.len() - MOST;
        all.truncate(MOST);
        all.push(format!("and {more} more plots"));
    }
    all.join(", ")
}

/// Treatments: numbers by size, else by name.
fn treatments(plots: &Plots) -> Vec<String> {
    let mut names: Vec<String> = plots.of.iter().map(|plot| plot.treatment.clone()).collect();
    names.sort();
    names.dedup();
    let number = |name: &String| name.parse::<f64>().unwrap_or(f64::MAX);
    names.sort_by(|a, b| number(a).total_cmp(&number(b)));
    names
}

pub(super) fn mean_of(plots: &Plots, name: &str) -> (String, f64, usize) {
    let own: Vec<f64> = plots
        .of
        .iter()
        .filter(|plot| plot.treatment == name)
        .map(|plot| plot.kg_per_ha)
        .collect();
    (
        name.to_owned(),
        own.iter().sum::<f64>() / own.len().max(1) as f64,
        own.len(),
    )
}

/// Numbers of the blocks, and how many there are.
pub(super) fn block_numbers(plots: &Plots) -> (Vec<usize>, usize) {
    let mut names: Vec<&str> = plots.of.iter().map(|plot| plot.block.as_str()).collect();
    names.sort_unstable();
    names.dedup();
    let of = plots
        .of
        .iter()
        .map(|plot| names.binary_search(&plot.block.as_str()).unwrap_or(0));
    (of.collect(), names.len())
}

impl Answer {
    /// Puts prices on the effect of treatments by name, and says from which price it pays.
    fn valued(&mut self, money: &Money) {
        let cost = money.cost(&self.treatment) - money.cost(&self.base);
        if let (Some(prices), true) = (money.per_t, self.worth.is_empty()) {
            for per_t in prices {
                let net = (per_t - money.drying_per_t) / 1_000.0;
                let [per_ha, from, to] = [self.effect.kg_per_ha, self.effect.from, self.effect.to]
                    .map(|kg| kg * net - cost);
                self.worth.push(Worth {
                    price_per_t: per_t,
                    per_ha,
                    from,
                    to,
                    best_rate: None,
                });
            }
        }
        if cost > 0.0 && self.effect.kg_per_ha > 0.0 {
            self.break_even_per_t =
                Some(cost / self.effect.kg_per_ha * 1_000.0 + money.drying_per_t);
        }
    }
}

fn few(found: &str, allowed: &str) -> Box<Fault> {
    Fault::input(
        "harvest.trial",
        Place::nowhere(),
        found,
        allowed,
        "Correct the plots or the options, or leave the trial out with --no-trial: yields are cleaned and mapped without it.",
    )
}
