//! What can be offered where no table covers the case.

use super::Asked;
use super::said::{Said, least_share};
use crate::agronomy::seed_safe::{Answer, Limit};

impl Asked<'_> {
    /// The part of what is wanted that the covered cases next to this one, made stricter, would allow; none where they do not
    /// hold everything.
    pub(super) fn stricter_share(&self, own: &[Said]) -> Option<f64> {
        let made: Vec<Said> = own
            .iter()
            .filter_map(|said| {
                let mut said = said.clone();
                if let Answer::NotCovered(of) = &said.answer {
                    let kg_per_ha = of.stricter_kg_per_ha?;
                    said.answer = Answer::Limit(Limit {
                        kg_per_ha,
                        cell: String::new(),
                        conservative_bound: false,
                    });
                }
                Some(said)
            })
            .collect();
        self.holds_all(&made)
            .then(|| least_share(&made).min(least_share(own)).min(1.0))
    }
}
