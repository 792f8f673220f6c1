//! What cleaning the zones of a layer means in kilograms.

use super::Combination;
use crate::findings::{Finding, Place};
use crate::job::Job;
use crate::surface::Cleaned;
use crate::units::M2_PER_HA;

/// Per layer whose zones were cleaned: what each product's total gains or loses, by the mean rate of each
/// class on its land. A class that cleaning took away altogether has no rate; then nothing is said in kg.
pub(super) fn kilograms(
    cleaned: &[Vec<Cleaned>],
    combinations: &[Combination],
    job: &Job,
) -> Vec<Finding> {
    let layers = cleaned.iter().zip(&job.layers).enumerate();
    let said = layers.filter(|(_, (moved, _))| !moved.is_empty());
    said.map(|(n, (moved, layer))| {
        let gains = job.products.iter().enumerate().map(|(product, named)| {
            let of_class = |cleaned: &Cleaned| {
                let mean = mean_rate(combinations, n, &cleaned.class, product)?;
                Some(cleaned.gained_m2 / M2_PER_HA * mean)
            };
            let kg: Option<f64> = moved.iter().map(of_class).sum();
            kg.map(|kg| format!("{} {kg:+.1} kg", named.id))
        });
        let text = match gains.collect::<Option<Vec<String>>>() {
            Some(gains) => format!("by the classes' mean rates that is {}", gains.join(", ")),
            None => "a class has gone altogether, so this has no figure in kilograms".to_owned(),
        };
        let m2: f64 = moved.iter().map(|class| class.gained_m2.max(0.0)).sum();
        Finding::note(
            "zones.cleaning",
            Place::file(job.folder.join(&layer.source.file)),
            format!(
                "cleaning the zones of layer '{}' gave land of some classes to others; {text}",
                layer.name
            ),
        )
        .area(m2)
    })
    .collect()
}

/// Mean rate of a product on the land of a class, kg/ha.
fn mean_rate(
    combinations: &[Combination],
    layer: usize,
    class: &str,
    product: usize,
) -> Option<f64> {
    let (mut kg, mut m2) = (0.0, 0.0);
    for row in combinations {
        if row.facts.classes.get(layer).is_some_and(|own| own == class) {
            kg += row.area_m2 * row.rates.get(product)?.kg_per_ha;
            m2 += row.area_m2;
        }
    }
    (m2 > 0.0).then(|| kg / m2)
}
