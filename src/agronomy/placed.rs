//! What land got in the same season before, by a ledger: it comes off the need. Method: docs/methods/ledger.md.
//!
//! A layer with `placed_since` has as the class of its land what the land got, so that land with other amounts is other
//! land, exactly.

use super::chain::job_file;
use super::reasons::{RateSoFar, Step};
use super::{Rule, Why, nutrient, text};
use crate::findings::{Fault, Outcome};
use crate::job::{Grade, Job, NOTHING_PLACED, Nutrient};
use crate::texts::quantity::GivenRate;
use crate::zones::Facts;

/// Attributes of a ledger's land: what happened there, on which day, by which plan and tasks.
pub const WHAT: &str = "what";
/// The day, YYYY-MM-DD.
pub const DATE: &str = "date";
/// Id of the plan.
pub const PLAN: &str = "plan";
/// Tasks of the log.
pub const TASKS: &str = "tasks";
/// Signs of the logs themselves: by these a log is known again.
pub const LOGS: &str = "logs";
/// Nutrients that came, kg/ha; null where nobody knows. The first three are those of [`nutrient::NUTRIENTS`].
pub const AMOUNTS: [&str; 4] = [
    "n_kg_per_ha",
    "p2o5_kg_per_ha",
    "k2o_kg_per_ha",
    "s_kg_per_ha",
];
/// What happened: products were laid, by a log.
pub const PLACED: &str = "placed";
/// What happened: a crop was taken off.
pub const HARVESTED: &str = "harvested";

/// Nutrients that land got, kg/ha, in the order of [`nutrient::NUTRIENTS`]; none where nobody knows.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub struct Placed(pub [Option<f64>; 3]);

/// What stands for an amount that nobody knows.
const NOT_KNOWN: &str = "?";

impl Placed {
    /// The class of land that got this in a pass, such as `N 12.5 P2O5 40 K2O 0 kg/ha by 3f2a`.
    pub fn class(&self, pass: &str) -> String {
        let amounts = nutrient::NUTRIENTS.into_iter().zip(self.0);
        let amounts = amounts.map(|(of, amount)| {
            let amount = amount.map_or(NOT_KNOWN.to_owned(), |amount| text::number(amount, 3));
            format!("{} {amount}", nutrient::symbol(of))
        });
        let amounts: Vec<String> = amounts.collect();
        format!("{} kg/ha by {pass}", amounts.join(" "))
    }

    /// What a class of [`Self::class`] says; `None` for any other text.
    fn of_class(class: &str) -> Option<Self> {
        if class == NOTHING_PLACED {
            return Some(Self([Some(0.0); 3]));
        }
        let mut words = class.split(' ');
        let mut amounts = [None; 3];
        for (of, amount) in nutrient::NUTRIENTS.into_iter().zip(&mut amounts) {
            if words.next() != Some(nutrient::symbol(of)) {
                return None;
            }
            *amount = match words.next()? {
                NOT_KNOWN => None,
                number => Some(number.parse().ok()?),
            };
        }
        Some(Self(amounts))
    }
}

/// What land with these facts got of a nutrient this season, kg/ha, and the layers that say so; `None` where the job
/// names no ledger.
///
/// # Errors
/// An amount that nobody knows.
pub(super) fn of_nutrient(
    job: &Job,
    facts: &Facts,
    wanted: Nutrient,
) -> Outcome<Option<(f64, String)>> {
    let layers = job.layers.iter().zip(&facts.classes);
    let ledgers: Vec<_> = layers
        .filter(|(layer, _)| layer.placed_since.is_some())
        .collect();
    if ledgers.is_empty() {
        return Ok(None);
    }
    let mut sum = 0.0;
    for (layer, class) in &ledgers {
        let placed = Placed::of_class(class).unwrap_or_default();
        let amounts = nutrient::NUTRIENTS.into_iter().zip(placed.0);
        let amount = amounts
            .filter(|(of, _)| *of == wanted)
            .find_map(|(_, amount)| amount);
        sum += amount.ok_or_else(|| not_known(job, &layer.name, wanted))?;
    }
    let names = text::list(ledgers.iter().map(|(layer, _)| &layer.name));
    Ok(Some((sum, names)))
}

/// What is left of a need once that is taken off, and the step that says so; `None` where the job names no ledger.
///
/// # Errors
/// As [`of_nutrient`].
pub(super) fn left(
    job: &Job,
    facts: &Facts,
    of: Nutrient,
    need_kg_per_ha: f64,
) -> Outcome<Option<Left>> {
    let placed = of_nutrient(job, facts, of)?;
    Ok(placed.map(|(placed_kg_per_ha, layers)| Left {
        of,
        need_kg_per_ha,
        placed_kg_per_ha,
        left_kg_per_ha: (need_kg_per_ha - placed_kg_per_ha).max(0.0),
        layers,
    }))
}

/// A need less what was placed.
pub(super) struct Left {
    of: Nutrient,
    need_kg_per_ha: f64,
    placed_kg_per_ha: f64,
    pub left_kg_per_ha: f64,
    layers: String,
}

impl Left {
    /// Writes it down among the steps of a rate.
    ///
    /// # Errors
    /// The grade holds none of the nutrient.
    pub(super) fn say(&self, grade: &Grade, so_far: &mut RateSoFar) -> Outcome<()> {
        so_far.take(Step {
            rule: Rule::NutrientPlaced,
            why: Why::LessPlaced {
                need: GivenRate(self.need_kg_per_ha),
                symbol: nutrient::symbol(self.of),
                placed: GivenRate(self.placed_kg_per_ha),
                layers: self.layers.clone(),
                left: GivenRate(self.left_kg_per_ha),
            },
            inputs: &[
                ("need kg/ha", self.need_kg_per_ha),
                ("placed kg/ha", self.placed_kg_per_ha),
            ],
            kg_per_ha: nutrient::product_kg_per_ha(self.left_kg_per_ha, grade, self.of)?,
            source: Some("the farm's ledger".into()),
        })
    }
}

fn not_known(job: &Job, layer: &str, of: Nutrient) -> Box<Fault> {
    Fault::input(
        "agronomy.placed_not_known",
        job_file(job),
        format!(
            "the ledger of layer '{layer}' does not know how much {} some land got",
            nutrient::symbol(of)
        ),
        "a number for what was placed on all land of the layer",
        "give the product that was placed its grade and write the ledger again, or fill in the empty cells of its land",
    )
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_class_says_what_the_land_got() {
        let placed = Placed([Some(12.5), None, Some(0.0)]);
        let class = placed.class("3f2a TSK1");
        assert_eq!(class, "N 12.5 P2O5 ? K2O 0 kg/ha by 3f2a TSK1");
        assert_eq!(Placed::of_class(&class), Some(placed));
        assert_eq!(
            Placed::of_class(NOTHING_PLACED),
            Some(Placed([Some(0.0); 3]))
        );
        assert_eq!(Placed::of_class("clay"), None);
    }
}
