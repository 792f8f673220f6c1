//! Limits of a rate: most, least and step. A rate of 0 stays 0 and is never rounded up.

use crate::findings::{Fault, Outcome, Place};
use crate::job::Limits;

/// Smallest step that is believed, in kg/ha: a tenth of what task data can say (1 mg/m2).
const LEAST_STEP: f64 = 0.001;

/// Limits that have been checked: some rate above 0 fits, or the most is 0.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Limited {
    /// Least rate above 0, in kg/ha; 0 for none.
    pub min: f64,
    /// Most, in kg/ha; infinite for none.
    pub max: f64,
    /// Whether the most is that of the label.
    pub by_label: bool,
    /// Step, in kg/ha.
    pub step: Option<f64>,
}

impl Limited {
    /// # Errors
    /// A limit that is negative or not finite; a step that is too small; a least rate above the most; no
    /// multiple of the step between them.
    pub fn new(limits: &Limits) -> Outcome<Self> {
        let checked = |name: &str, value: Option<f64>, least: f64| match value {
            Some(value) if !(value.is_finite() && value >= least) => Err(Fault::input(
                "agronomy.limit",
                Place::nowhere(),
                format!("limits.{name} is {value}"),
                format!("{least} kg/ha or more"),
                format!("Correct limits.{name}, or leave it out."),
            )),
            other => Ok(other),
        };
        let min = checked("min_kg_per_ha", limits.min_kg_per_ha, 0.0)?.unwrap_or(0.0);
        let own = checked("max_kg_per_ha", limits.max_kg_per_ha, 0.0)?.unwrap_or(f64::INFINITY);
        let label = checked("label_max_kg_per_ha", limits.label_max_kg_per_ha, 0.0)?;
        let max = label.map_or(own, |label| own.min(label));
        let step = checked("step_kg_per_ha", limits.step_kg_per_ha, LEAST_STEP)?;
        let by_label = label.is_some_and(|label| label <= own);
        let limited = Self {
            min,
            max,
            by_label,
            step,
        };
        if min > max {
            return Err(Fault::input(
                "agronomy.limit",
                Place::nowhere(),
                format!("the least rate {min} kg/ha is above the most, {max} kg/ha"),
                "min_kg_per_ha up to max_kg_per_ha",
                "Correct one of the two.",
            ));
        }
        if let Some(step) = step
            && max > 0.0
        {
            let (first, last) = limited.multiples(step);
            if first > last {
                return Err(Fault::input(
                    "agronomy.limit",
                    Place::nowhere(),
                    format!(
                        "no multiple of the step {step} kg/ha lies above 0 and between {min} and {max} kg/ha"
                    ),
                    "limits with at least one multiple of the step between them",
                    "Take a smaller step, or limits that are multiples of it.",
                ));
            }
        }
        Ok(limited)
    }

    /// First and last allowed multiple of the step: above 0, inside the limits. The last may be infinite.
    fn multiples(&self, step: f64) -> (f64, f64) {
        // A limit such as 0.3 with a step of 0.1 is a multiple, though 0.3 / 0.1 is not 3 in binary.
        let slack = 1e-9;
        (
            (self.min / step - slack).ceil().max(1.0),
            (self.max / step + slack).floor(),
        )
    }

    /// A rate above 0, at most the most.
    pub fn at_most(&self, kg_per_ha: f64) -> f64 {
        kg_per_ha.min(self.max)
    }

    /// A rate above 0, at least the least; 0 stays 0.
    pub fn at_least(&self, kg_per_ha: f64) -> f64 {
        if kg_per_ha == 0.0 {
            0.0
        } else {
            kg_per_ha.max(self.min)
        }
    }

    /// The multiple of the step nearest to a rate, inside the limits; 0 stays 0, and a rate above 0 never
    /// becomes 0 (a whole class would be left bare for the sake of a round number).
    pub fn rounded(&self, kg_per_ha: f64) -> f64 {
        match self.step {
            Some(step) if kg_per_ha > 0.0 && self.max > 0.0 => {
                let (first, last) = self.multiples(step);
                let multiple = (kg_per_ha / step).round().clamp(first, last) * step;
                // Takes the binary dust off, so that 3 x 0.1 prints as 0.3; and no dust passes a limit.
                ((multiple * 1e9).round() / 1e9).clamp(self.min, self.max)
            }
            _ => kg_per_ha,
        }
    }

    /// The highest multiple of the step, or the rate itself without one, that is at most `kg_per_ha`; 0 where
    /// that is less than the least.
    pub fn rounded_down(&self, kg_per_ha: f64) -> f64 {
        let down = match self.step {
            // A rate such as 0.3 with a step of 0.1 is a multiple, though 0.3 / 0.1 is not 3 in binary.
            Some(step) => {
                let multiple = (kg_per_ha / step + 1e-9).floor() * step;
                ((multiple * 1e9).round() / 1e9).min(kg_per_ha)
            }
            None => kg_per_ha,
        };
        if down < self.min { 0.0 } else { down }
    }

    /// All three in order: most, least, step.
    pub fn apply(&self, kg_per_ha: f64) -> f64 {
        self.rounded(self.at_least(self.at_most(kg_per_ha)))
    }
}
