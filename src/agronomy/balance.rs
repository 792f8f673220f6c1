//! What is not placed with the seed: the balance to broadcast.

use super::chain::Draft;
use super::reasons::Step;
use super::{Rate, Rule, Why, nutrient, seed_row};
use crate::findings::Outcome;
use crate::job::{AboveLimit, Grade, Job, Product};
use crate::texts::quantity;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use std::borrow::Cow;

/// What is left to broadcast on land with these facts.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Balance {
    /// The nutrient the rate is for, as people write it; none where the rate is a plain one.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub nutrient: Option<Cow<'static, str>>,
    /// kg/ha of that nutrient.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub nutrient_kg_per_ha: Option<f64>,
    /// kg/ha of the product that is broadcast.
    pub kg_per_ha: f64,
}

/// Whether a product can leave a balance: fertiliser with the seed that a share, a cap or a product for the balance is set for,
/// or that may be left out for want of a limit. A signed limit of one's own alone is a most like any other.
pub fn has_balance(job: &Job, product: &Product) -> bool {
    let caps = job
        .seed_safe
        .iter()
        .any(|limit| limit.above == AboveLimit::Cap);
    let set = product.balance.is_some() || product.rate.placed_percent.is_some();
    let signed = !seed_row::is_sown(job)
        || job
            .own_seed_limits
            .iter()
            .any(|own| own.product == product.id);
    seed_row::is_placed(product) && (caps || set || !signed)
}

/// Name of what is broadcast for the balance of a product.
pub fn balance_name(product: &Product) -> &str {
    let other = product
        .balance
        .as_ref()
        .map(|balance| balance.name.as_str());
    other.unwrap_or(&product.name)
}

/// Nutrients of what is broadcast for the balance of a product.
pub fn balance_grade(product: &Product) -> Option<Grade> {
    let other = product.balance.as_ref().and_then(|balance| balance.grade);
    other.or(product.grade)
}

/// What land with this rate gets of a product in all, drilled and broadcast, kg/ha of the placed product.
pub fn in_all_kg_per_ha(product: &Product, rate: &Rate) -> f64 {
    let Some(balance) = &rate.balance else {
        return rate.kg_per_ha;
    };
    let other = product.balance.as_ref().and_then(|balance| balance.grade);
    let of = nutrient::NUTRIENTS
        .into_iter()
        .find(|of| balance.nutrient.as_deref() == Some(nutrient::symbol(*of)));
    let need = balance.nutrient_kg_per_ha.filter(|need| *need > 0.0);
    let left = match (other, of, need, &product.grade) {
        (Some(_), Some(of), Some(need), Some(grade)) => {
            nutrient::product_kg_per_ha(need, grade, of).unwrap_or(balance.kg_per_ha)
        }
        _ => balance.kg_per_ha,
    };
    rate.kg_per_ha + left
}

/// Takes stock of what the limits and the share left over. Nothing is left where the whole rate is placed,
/// or where the product is off.
///
/// # Errors
/// The product for the balance has none of the nutrient.
pub(super) fn settle(job: &Job, draft: &mut Draft) -> Outcome<Option<Balance>> {
    let product = draft.product;
    if !has_balance(job, product) {
        return Ok(None);
    }
    // Where no balance is set, only what lies beside the seed no more is left: a most of the job's own is just that.
    let set = product.balance.is_some()
        || product.rate.placed_percent.is_some()
        || !job.seed_safe.is_empty()
        || draft
            .asked
            .is_some_and(|asked| asked.in_all_kg_per_ha.is_some());
    let whole = match set {
        true => draft.full_kg_per_ha,
        false => draft.limited.at_most(draft.full_kg_per_ha),
    };
    let left = match draft.off || !draft.left_over || !set && draft.cap.is_none() {
        true => 0.0,
        false => (whole - draft.sown()).max(0.0),
    };
    let grade = product.grade.unwrap_or_default();
    let of = draft.needed.deciding;
    let nutrient_kg_per_ha = of.map(|of| nutrient::supply_kg_per_ha(left, &grade, of));
    let other = product.balance.as_ref().and_then(|balance| balance.grade);
    let kg_per_ha = match (other, of, nutrient_kg_per_ha) {
        (Some(other), Some(of), Some(need)) if need > 0.0 => {
            nutrient::product_kg_per_ha(need, &other, of)?
        }
        _ => left,
    };
    let balance = Balance {
        nutrient: of.map(|of| nutrient::symbol(of).into()),
        nutrient_kg_per_ha,
        kg_per_ha,
    };
    if kg_per_ha > 0.0 {
        let name = balance_name(product).to_owned();
        let why = match (of, nutrient_kg_per_ha) {
            (Some(of), Some(need)) => Why::BalanceOfNeed {
                need: quantity::Rate(need),
                symbol: nutrient::symbol(of),
                rate: quantity::Rate(kg_per_ha),
                name,
            },
            _ => Why::Balance {
                rate: quantity::Rate(kg_per_ha),
                name,
            },
        };
        let sown = draft.sown();
        draft.so_far.take(Step {
            rule: Rule::BalanceBroadcast,
            why,
            inputs: &[
                ("whole rate kg/ha", draft.full_kg_per_ha),
                ("placed kg/ha", sown),
                ("balance kg/ha", kg_per_ha),
            ],
            kg_per_ha: sown,
            source: None,
        })?;
    }
    Ok(Some(balance))
}
