//! Seeds to order before the label is there: no grain weight is known, so only seeds are counted.

use crate::job::{Job, Limits};

/// Grams per thousand seeds to count with: 100 makes 1 kg/ha of 1 seed/m2, so that the kilograms of the
/// plan are seeds under another name. It stands for no crop.
const NOMINAL_G: f64 = 100.0;

/// The job with the nominal weight where a product waits for its label, and the ids of those products.
///
/// What goes by weight cannot hold before the weight is known: limits in kg/ha and the residue, which is in
/// litres, are left out for such a product.
pub(super) fn by_seeds(job: Job) -> (Job, Vec<String>) {
    let mut counted = job;
    let mut ids = Vec::new();
    for product in &mut counted.products {
        let lots = product.lots.iter().flat_map(|lots| &lots.each);
        let weights: Vec<Option<f64>> = lots.map(|lot| lot.thousand_grain_weight_g).collect();
        let own = product.thousand_grain_weight_g.is_some();
        let known = own || !weights.is_empty() && weights.iter().all(Option::is_some);
        if known || !product.label_pending {
            continue;
        }
        ids.push(product.id.clone());
        product.thousand_grain_weight_g = Some(NOMINAL_G);
        product.bulk_density_kg_per_l = None;
        product.limits = Limits::default();
        product.fallback_kg_per_ha = None;
        for lot in product.lots.iter_mut().flat_map(|lots| &mut lots.each) {
            lot.thousand_grain_weight_g = None;
            lot.bulk_density_kg_per_l = None;
        }
    }
    (counted, ids)
}
