//! The other nutrients: what the product brings against what the crop needs.

use super::balance::Balance;
use super::chain::{Draft, job_file, who};
use super::reasons::Step;
use super::{Rule, Why, nutrient};
use crate::findings::{Finding, Outcome};
use crate::job::{Job, Nutrient};
use crate::texts::Words;
use crate::texts::quantity::Rate;
use crate::zones::Facts;

/// Below this difference a need counts as met, kg/ha. Common practice, no source: tables are in steps of 5.
const MET_KG_PER_HA: f64 = 2.5;

/// Compares what is placed and broadcast with every need but the deciding one, and says it where the job
/// gives such needs.
///
/// # Errors
/// None: the rate stays.
pub(super) fn compare(
    job: &Job,
    facts: &Facts,
    draft: &mut Draft,
    balance: Option<&Balance>,
    findings: &mut Vec<Finding>,
) -> Outcome<()> {
    let product = draft.product;
    let deciding = draft.needed.deciding;
    let needs: Vec<(Nutrient, f64)> = draft
        .needed
        .all
        .iter()
        .filter(|(of, _)| Some(*of) != deciding)
        .copied()
        .collect();
    if needs.is_empty() || draft.off {
        return Ok(());
    }
    let grade = product.grade.unwrap_or_default();
    let spread = product.balance.as_ref().and_then(|other| other.grade);
    let spread = spread.unwrap_or(grade);
    let spread_kg_per_ha = balance.map_or(0.0, |balance| balance.kg_per_ha);
    let words = Words::of(job);
    let mut parts = Vec::new();
    let mut inputs = Vec::new();
    for (of, need) in needs {
        let brought = nutrient::supply_kg_per_ha(draft.sown(), &grade, of)
            + nutrient::supply_kg_per_ha(spread_kg_per_ha, &spread, of);
        let symbol = nutrient::symbol(of);
        let over = brought - need;
        let end = if over.abs() <= MET_KG_PER_HA {
            Why::NeedMet
        } else if over > 0.0 {
            Why::NeedOver { over: Rate(over) }
        } else {
            Why::NeedShort { short: Rate(-over) }
        };
        let part = words.say(&Why::OtherNeed {
            symbol,
            brought: Rate(brought),
            need: Rate(need),
            end: words.say(&end),
        });
        if over.abs() > MET_KG_PER_HA {
            findings.push(Finding::note(
                if over > 0.0 {
                    "nutrient.oversupplied"
                } else {
                    "nutrient.short"
                },
                job_file(job),
                format!("{}: {part}", who(job, product, Some(facts))),
            ));
        }
        parts.push(part);
        inputs.push((format!("{symbol} needed kg/ha"), need));
        inputs.push((format!("{symbol} brought kg/ha"), brought));
    }
    let inputs: Vec<(&str, f64)> = inputs
        .iter()
        .map(|(name, value)| (name.as_str(), *value))
        .collect();
    let kg_per_ha = draft.so_far.kg_per_ha();
    draft.so_far.take(Step {
        rule: Rule::NutrientOthers,
        why: Why::OtherNeeds {
            needs: parts.join("; "),
        },
        inputs: &inputs,
        kg_per_ha,
        source: Some(nutrient::SOURCE_GRADE.into()),
    })
}
