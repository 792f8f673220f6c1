//! Ids that stay from plan to plan, so that a terminal knows a field again, and that differ from field to field.

use crate::plan::{KnownField, Plan};
use sha2::{Digest, Sha256};

/// The ids of one data set.
pub(super) struct Ids {
    pub customer: String,
    pub farm: String,
    pub partfield: String,
    /// Of the group of guidance lines and of the line in it.
    pub guidance: String,
    pub pattern: String,
    products: Vec<String>,
    plan: u32,
}

impl Ids {
    /// Customer, farm and field as the terminal knows them, else by their names; products by their ids in the job,
    /// tasks by the plan's id, the guidance line by where it lies.
    pub fn of(plan: &Plan) -> Self {
        let field = &plan.job.field;
        let mut products: Vec<u32> = Vec::new();
        for product in &plan.job.products {
            let mut number = number(&["product", &product.id]);
            while products.contains(&number) {
                number += 1;
            }
            products.push(number);
        }
        let names = [&field.customer, &field.farm, &field.name].map(String::as_str);
        let known = plan.land.on_terminal.field.as_ref();
        let owner = |pick: fn(&KnownField) -> &Option<(String, String)>| {
            let own = known.and_then(|field| pick(field).as_ref());
            own.map(|(id, _)| id.clone())
        };
        let customer = || format!("CTR{}", number(&["customer", names[0]]));
        let farm = || format!("FRM{}", number(&["farm", names[0], names[1]]));
        let partfield = || format!("PFD{}", number(&["field", names[0], names[1], names[2]]));
        let line = format!("{:?}", plan.land.guide);
        let line = number(&["guidance", names[0], names[1], names[2], &line]);
        Self {
            customer: owner(|field| &field.customer).unwrap_or_else(customer),
            farm: owner(|field| &field.farm).unwrap_or_else(farm),
            partfield: known.map_or_else(partfield, |field| field.id.clone()),
            guidance: format!("GGP{line}"),
            pattern: format!("GPN{line}"),
            products: products.iter().map(|at| format!("PDT{at}")).collect(),
            plan: number(&["plan", &plan.id]),
        }
    }

    /// The id of a product by its place in the job.
    pub fn product(&self, at: usize) -> &str {
        self.products.get(at).map_or("", String::as_str)
    }

    /// The id of a task by its number in the set, from 0.
    pub fn task(&self, nth: usize) -> String {
        format!("TSK{}", u64::from(self.plan) + nth as u64)
    }
}

/// A number from 1 to 999 999 999: readers keep ids as 32-bit integers, and none has a leading zero.
fn number(texts: &[&str]) -> u32 {
    let mut digest = Sha256::new();
    for text in texts {
        digest.update(text);
        digest.update([0]);
    }
    let hash = digest.finalize();
    let value = hash
        .iter()
        .take(8)
        .fold(0_u64, |value, &byte| (value << 8) | u64::from(byte));
    u32::try_from(value % 999_999_999).map_or(1, |value| value + 1)
}

#[cfg(test)]
mod tests {
    use super::number;

    #[test]
    fn the_same_texts_give_the_same_number_and_others_another() {
        assert_eq!(number(&["field", "a"]), number(&["field", "a"]));
        assert_ne!(number(&["field", "a"]), number(&["field", "b"]));
        assert_ne!(number(&["field", "ab", ""]), number(&["field", "a", "b"]));
        assert!((1..=999_999_999).contains(&number(&[])));
    }
}
