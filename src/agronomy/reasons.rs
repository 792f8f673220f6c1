//! A rate on its way: its value so far and the reasons for it.

use super::{MOST_KG_PER_HA, Rate, Reason, Rule, Why, text};
use crate::findings::{Fault, Outcome, Place};
use crate::texts::Words;
use std::borrow::Cow;

/// A rate on its way through the rules.
#[derive(Debug, Default)]
pub(super) struct RateSoFar {
    kg_per_ha: f64,
    reasons: Vec<Reason>,
    /// How the steps are said.
    words: Words,
}

/// What a rule gives: everything of a [`Reason`], which has its words.
pub(super) struct Step<'a> {
    pub rule: Rule,
    pub why: Why,
    pub inputs: &'a [(&'a str, f64)],
    pub kg_per_ha: f64,
    pub source: Option<Cow<'static, str>>,
}

impl RateSoFar {
    /// A rate before its first step, whose steps are said like this.
    pub fn new(words: Words) -> Self {
        Self {
            words,
            ..Self::default()
        }
    }

    /// A finished rate that goes on its way again, without the steps of a rule.
    pub fn again(rate: &Rate, without: Rule, words: Words) -> Self {
        let reasons = rate.reasons.iter().filter(|reason| reason.rule != without);
        Self {
            kg_per_ha: rate.kg_per_ha,
            reasons: reasons.cloned().collect(),
            words,
        }
    }

    /// The rate so far, in kg/ha.
    pub fn kg_per_ha(&self) -> f64 {
        self.kg_per_ha
    }

    /// Writes a step down and takes its rate over.
    ///
    /// # Errors
    /// A rate that is negative, not finite or beyond what any drill delivers.
    pub fn take(&mut self, step: Step) -> Outcome<()> {
        // Also false for a rate that is not a number.
        if !(0.0..=MOST_KG_PER_HA).contains(&step.kg_per_ha) {
            let inputs: Vec<String> = step
                .inputs
                .iter()
                .map(|(name, value)| format!("{name} = {}", text::given(*value)))
                .collect();
            return Err(Fault::input(
                "agronomy.absurd_rate",
                Place::nowhere(),
                format!(
                    "rule {} gives {} kg/ha from {}",
                    step.rule,
                    text::rate(step.kg_per_ha),
                    inputs.join(", ")
                ),
                format!("0 to {MOST_KG_PER_HA} kg/ha"),
                "Check the unit of each of these numbers: its key in the job names the unit.",
            ));
        }
        self.kg_per_ha = step.kg_per_ha;
        self.reasons.push(reason(step, self.words));
        Ok(())
    }

    /// Writes a step down before all others; the rate stays.
    pub fn lead(&mut self, step: Step) {
        self.reasons.insert(0, reason(step, self.words));
    }

    /// The finished rate.
    pub fn finish(self) -> Rate {
        Rate {
            kg_per_ha: self.kg_per_ha,
            reasons: self.reasons,
            seed_safe: Vec::new(),
            balance: None,
            lot: None,
            stand: None,
            share: None,
            asked: None,
        }
    }
}

fn reason(step: Step, words: Words) -> Reason {
    let inputs = step.inputs.iter();
    Reason {
        rule: step.rule,
        text: words.say(&step.why),
        inputs: inputs
            .map(|(name, value)| ((*name).to_owned(), *value))
            .collect(),
        kg_per_ha: step.kg_per_ha,
        source: step.source,
    }
}
