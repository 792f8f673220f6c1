//! Ids that stay from plan to plan, so that a terminal knows a field again, and that differ from field to field.

use super::Variant;
use super::crop::crop;
use crate::codec::taskdata::designator;
use crate::job::Job;
use crate::plan::{KnownField, Plan};
use crate::write::product_names::product_names;
use sha2::{Digest, Sha256};

/// The ids of one data set.
pub(super) struct Ids {
    pub customer: String,
    pub farm: String,
    pub partfield: String,
    /// Of the group of guidance lines and of the line in it.
    pub guidance: String,
    pub pattern: String,
    /// Of the crop.
    pub crop: String,
    products: Vec<String>,
    plan: u32,
}

/// Customer, farm and field as they are shown. All three are there even if the job names only the field, for some
/// terminals list tasks by nothing else.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct Owners {
    pub customer: String,
    pub farm: String,
    pub field: String,
}

impl Owners {
    /// The names of the job; one that is missing is that of the next one known. The fields of a job with `split_by` have
    /// the job's name in common.
    pub fn of(job: &Job, plan_id: &str) -> Self {
        let field = &job.field;
        let all = job.split_value.as_ref().and_then(|value| {
            let name = job.plain_name().strip_suffix(value.as_str())?;
            Some(name.trim_end())
        });
        let all = all.unwrap_or_default();
        let first = |texts: &[&str]| {
            let mut named = texts.iter().map(|text| designator(text));
            let named = named.find(|text| !text.is_empty());
            named.unwrap_or_else(|| plan_id.to_owned())
        };
        Self {
            customer: first(&[&field.customer, &field.farm, all, &field.name]),
            farm: first(&[&field.farm, &field.customer, all, &field.name]),
            field: first(&[&field.name, job.plain_name(), &field.farm]),
        }
    }
}

impl Ids {
    /// Customer, farm and field as the terminal knows them, else by their names; products by their ids in the job and what
    /// the terminal is told of them, tasks by the plan's id, the guidance line by where it lies. The ids of one form are
    /// not those of another, for a terminal may keep what it has first been given under an id.
    pub fn of(plan: &Plan, variant: Variant) -> Self {
        let number = |texts: &[&str]| number_in(variant, texts);
        let field = &plan.job.field;
        let mut products: Vec<u32> = Vec::new();
        let names = product_names(&plan.job);
        for (product, names) in plan.job.products.iter().zip(&names) {
            let said = [
                product.bulk_density_kg_per_l,
                product.thousand_grain_weight_g,
            ];
            let [density, weight] =
                said.map(|value| value.map_or(String::new(), |v| v.to_string()));
            let mut number = number(&["product", &product.id, &names.task_data, &density, &weight]);
            while products.contains(&number) {
                number += 1;
            }
            products.push(number);
        }
        let known = plan.land.on_terminal.field.as_ref();
        let owner = |pick: fn(&KnownField) -> &Option<(String, String)>| {
            let own = known.and_then(|field| pick(field).as_ref());
            own.map(|(id, _)| id.clone())
        };
        let [customer, farm, partfield] = by_names(&plan.job, &plan.id, variant);
        let crop = crop(&plan.job).unwrap_or_default();
        let line = format!("{:?}", plan.land.guide);
        let line = number(&["guidance", &field.customer, &field.farm, &field.name, &line]);
        Self {
            customer: owner(|field| &field.customer).unwrap_or(customer),
            farm: owner(|field| &field.farm).unwrap_or(farm),
            partfield: known.map_or(partfield, |field| field.id.clone()),
            guidance: format!("GGP{line}"),
            pattern: format!("GPN{line}"),
            crop: format!("CTP{}", number(&["crop", crop])),
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

/// Ids of customer, farm and field by their names alone, where no terminal has given them any.
fn by_names(job: &Job, plan_id: &str, variant: Variant) -> [String; 3] {
    let (field, shown) = (&job.field, Owners::of(job, plan_id));
    let given = |own: &str, shown: &str| match own.trim() {
        "" => shown.to_owned(),
        _ => own.to_owned(),
    };
    let customer = given(&field.customer, &shown.customer);
    let farm = given(&field.farm, &shown.farm);
    let number = |texts: &[&str]| number_in(variant, texts);
    [
        format!("CTR{}", number(&["customer", &customer])),
        format!("FRM{}", number(&["farm", &customer, &farm])),
        // By what the job says alone: a field stays the same where it is one of many and where it is planned by itself.
        format!(
            "PFD{}",
            number(&["field", &field.customer, &field.farm, &field.name])
        ),
    ]
}

/// A number of these texts in a form of task data. The usual form has no word of its own, so that what terminals hold
/// already stays known.
fn number_in(variant: Variant, texts: &[&str]) -> u32 {
    match variant == Variant::USUAL_READY {
        true => number(texts),
        false => number(&[texts, &[variant.folder().as_str()]].concat()),
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
