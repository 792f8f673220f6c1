//! What is open and what somebody has signed for: at the beginning of the page, on the operator's sheet and the adviser's.

use crate::findings::{Concerns, Settled, Signature};
use crate::job::Language;
use crate::plan::{Case, Plan};
use serde_json::{Value, json};

pub(super) fn of(plan: &Plan, language: Language) -> Value {
    let open: Vec<Value> = plan
        .open()
        .iter()
        .map(|case| one(plan, case, language))
        .collect();
    let signed: Vec<Value> = plan
        .signed()
        .iter()
        .map(|case| one(plan, case, language))
        .collect();
    json!({
        "cases": open,
        "signed": signed,
        "ready": !plan.holds_any_back(),
    })
}

fn one(plan: &Plan, case: &Case, language: Language) -> Value {
    let concerned = match &case.concerns {
        Concerns::Field => Vec::new(),
        Concerns::Products(ids) => {
            let own = plan.job.products.iter().filter(|of| ids.contains(&of.id));
            own.map(|product| product.name.as_str()).collect()
        }
    };
    json!({
        "message": case.message,
        "code": case.decision.code(),
        "products": concerned,
        "may_be_signed": case.decision.settled() == Settled::ByChangeOrSignature,
        "accepted": case.accepted.as_ref().map(|own| signed(own, language)),
    })
}

/// A signature, with its day as it is written in a language.
pub(super) fn signed(own: &Signature, language: Language) -> Value {
    json!({ "by": own.by, "on": language.date(&own.on), "why": own.why })
}
