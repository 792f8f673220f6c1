//! The delays of a job's products.

use super::flow::Delays;
use crate::job::Job;

impl Delays {
    /// Per product, in job order: its own, else those of its hopper.
    pub fn of(job: &Job) -> Vec<Self> {
        let of_product = |product: &crate::job::Product| {
            let mut hoppers = job.drill.hoppers.iter();
            let hopper = hoppers.find(|hopper| hopper.name == product.hopper);
            let own = product.delays.or(hopper.map(|hopper| hopper.delays));
            let own = own.unwrap_or_default();
            Self {
                start_s: own.start_s,
                stop_s: own.stop_s,
                step_up_s: own.step_up_s,
                step_down_s: own.step_down_s,
                ahead_m: job.drill.reference_to_outlets_m,
            }
        };
        job.products.iter().map(of_product).collect()
    }
}
