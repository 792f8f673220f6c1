//! A rate on its way: its value so far and the reasons for it.

use super::{MOST_KG_PER_HA, Rate, Reason, Rule, text};
use crate::findings::{Fault, Outcome, Place};
use std::borrow::Cow;

/// A rate on its way through the rules.
#[derive(Debug, Default)]
pub(super) struct RateSoFar {
    kg_per_ha: f64,
    reasons: Vec<Reason>,
}

/// What a rule gives: everything of a [`Reason`].
pub(super) struct Step<'a> {
    pub rule: Rule,
    pub text: String,
    pub inputs: &'a [(&'a str, f64)],
    pub kg_per_ha: f64,
    pub source: Option<Cow<'static, str>>,
}

impl RateSoFar {
    /// A finished rate that goes on its way again, without the steps of a rule.
    pub fn again(rate: &Rate, without: Rule) -> Self {
        let reasons = rate.reasons.iter().filter(|reason| reason.rule != without);
        Self {
            kg_per_ha: rate.kg_per_ha,
            reasons: reasons.cloned().collect(),
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
        self.reasons.push(reason(step));
        Ok(())
    }

    /// Writes a step down before all others; the rate stays.
    pub fn lead(&mut self, step: Step) {
        self.reasons.insert(0, reason(step));
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

fn reason(step: Step) -> Reason {
    let inputs = step.inputs.iter();
    Reason {
        rule: step.rule,
        text: step.text,
        inputs: inputs
            .map(|(name, value)| ((*name).to_owned(), *value))
            .collect(),
        kg_per_ha: step.kg_per_ha,
        source: step.source,
    }
}
