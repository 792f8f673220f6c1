//! Plants counted against published lines below which drilling again is to be thought about, with the land and what it would cost. No
//! published line, no line. Method: docs/methods/establishment.md.

use super::{Asked, Class, class_of};
use crate::agronomy::crop_list::Crop;
use crate::findings::{Finding, Place, number};
use crate::job::{Job, Product};
use crate::plan::Plan;
use crate::tally::Price;
use crate::texts::quantity::{Density, Spoken};
use crate::units::{M2_PER_ACRE, M2_PER_FT2, M2_PER_HA};
use serde::Serialize;

/// A line below which a source has growers think about drilling again.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Line {
    crop: Crop,
    /// Plants per m2.
    pub plants_per_m2: f64,
    /// What it says, as far as it holds for some of the crop alone.
    pub of: &'static str,
    /// Who says so, when and for where.
    pub source: &'static str,
}

const TEAGASC: &str = "Teagasc National Tillage Conference 2024, as Agriland reports it (agriland.ie, tillage farmers urged to take account of cost before replanting), Ireland";

/// The published lines.
const LINES: [Line; 6] = [
    Line {
        crop: Crop::WinterWheat,
        plants_per_m2: 90.0,
        of: "",
        source: TEAGASC,
    },
    // 12 plants per square foot, the lower end of 12 to 14.
    Line {
        crop: Crop::WinterWheat,
        plants_per_m2: 12.0 / M2_PER_FT2,
        of: "",
        source: "Penn State Extension, Wheat Stand Assessment (extension.psu.edu/wheat-stand-assessment): another crop in spring, United States",
    },
    Line {
        crop: Crop::WinterBarley,
        plants_per_m2: 90.0,
        of: "six-row",
        source: TEAGASC,
    },
    Line {
        crop: Crop::WinterBarley,
        plants_per_m2: 150.0,
        of: "two-row",
        source: TEAGASC,
    },
    // 50 000 plants per acre.
    Line {
        crop: Crop::Soybean,
        plants_per_m2: 50_000.0 / M2_PER_ACRE,
        of: "",
        source: "University of Wisconsin, as DTN reports it (dtnpf.com, 2017-05-17, when is it time to make the call), United States",
    },
    // 10 plants per square foot, the lower end of 10 to 12, of a new stand.
    Line {
        crop: Crop::Lucerne,
        plants_per_m2: 10.0 / M2_PER_FT2,
        of: "newly sown",
        source: "Cornell University, Northeast Region Certified Crop Adviser study resources, competency area 6 (nrcca.cals.cornell.edu/crop/CA6), United States",
    },
];

/// Land whose mean count is below a line.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct BelowLine {
    pub class: String,
    /// Mean of the counts.
    pub plants_per_m2: f64,
    pub line_per_m2: f64,
    pub of: &'static str,
    pub source: &'static str,
    /// Land of the class that was sown, m2.
    pub area_m2: f64,
    /// Seed to drill it again as it was planned, kg.
    pub seed_kg: f64,
    /// What that seed costs by the job's price, in its currency; `None` without a price.
    pub seed_cost: Option<f64>,
    /// What drilling costs beside the seed, where somebody has said what a hectare costs.
    pub drilling_cost: Option<f64>,
}

/// What the counts say about drilling again.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Redrill {
    /// How many lines are published here for the crop.
    pub lines: usize,
    pub below: Vec<BelowLine>,
}

/// The published lines of a product's crop.
pub fn lines(product: &Product) -> impl Iterator<Item = &'static Line> {
    let crop = Crop::named_by(product).and_then(Crop::of);
    LINES.iter().filter(move |line| Some(line.crop) == crop)
}

/// Holds the mean of each class against the lines; `per_ha` is what drilling a hectare costs beside the seed.
pub(super) fn held(
    plan: &Plan,
    asked: &Asked,
    product: &Product,
    classes: &[Class],
    per_ha: Option<f64>,
) -> Redrill {
    let mut below = Vec::new();
    for class in classes {
        let Some([mean, ..]) = class.plants_per_m2 else {
            continue;
        };
        for line in lines(product).filter(|line| mean < line.plants_per_m2) {
            let again = Again::of(plan, asked, product, &class.class);
            below.push(BelowLine {
                class: class.class.clone(),
                plants_per_m2: mean,
                line_per_m2: line.plants_per_m2,
                of: line.of,
                source: line.source,
                area_m2: again.area_m2,
                seed_kg: again.seed_kg,
                seed_cost: again.seed_cost,
                drilling_cost: per_ha.map(|cost| cost * again.area_m2 / M2_PER_HA),
            });
        }
    }
    Redrill {
        lines: lines(product).count(),
        below,
    }
}

/// What drilling the land of a class again takes.
struct Again {
    area_m2: f64,
    seed_kg: f64,
    seed_cost: Option<f64>,
}

impl Again {
    fn of(plan: &Plan, asked: &Asked, product: &Product, class: &str) -> Self {
        let mut again = Self {
            area_m2: 0.0,
            seed_kg: 0.0,
            seed_cost: Some(0.0),
        };
        for row in &plan.rates.rows {
            let rate = row.rates.get(asked.product);
            let rate = rate.filter(|rate| rate.kg_per_ha > 0.0);
            let Some(rate) = rate.filter(|_| class_of(&row.facts.classes, asked) == class) else {
                continue;
            };
            let kg = rate.kg_per_ha * row.area_m2 / M2_PER_HA;
            let lot = rate.lot.and_then(|lot| product.each_lot().get(lot));
            let own = lot.map_or_else(|| product.clone(), |lot| product.as_lot(lot));
            let cost = match (Price::of(&own), own.pack_kg) {
                (Some(Price::PerT(price)), _) => Some(price * kg / 1000.0),
                (Some(Price::PerPack(price)), Some(pack)) => Some(price * kg / pack),
                _ => None,
            };
            again.area_m2 += row.area_m2;
            again.seed_kg += kg;
            again.seed_cost = again.seed_cost.zip(cost).map(|(a, b)| a + b);
        }
        again
    }
}

impl BelowLine {
    /// In words and in the units of the job's pages, with what to do first.
    pub(super) fn finding(&self, job: &Job) -> Finding {
        let on = match self.class.is_empty() {
            true => "the field".to_owned(),
            false => format!("'{}'", self.class),
        };
        let of = match self.of {
            "" => String::new(),
            of => format!(" ({of})"),
        };
        let round = |value: f64, to: f64| number((value * to).round() / to);
        let units = job.report.units;
        let plants = |per_m2: f64| {
            let of = Density(per_m2);
            format!("{} plants/{}", of.number(units), of.unit(units))
        };
        let cost = match (self.seed_cost, self.drilling_cost) {
            (None, None) => ", and the job has no price for it".to_owned(),
            (Some(seed), None) => format!(
                ", which costs {} by the job's price; drilling it comes on top",
                round(seed, 100.0)
            ),
            (None, Some(drilling)) => format!(
                ", without a price in the job; drilling it costs {}",
                round(drilling, 100.0)
            ),
            (Some(seed), Some(drilling)) => format!(
                ", which costs {} by the job's price; drilling it costs {}",
                round(seed, 100.0),
                round(drilling, 100.0)
            ),
        };
        Finding::warning(
            "establishment.below_line",
            Place::file(&job.file),
            format!(
                "{on} has {} in the mean, fewer than the {}{of} below which drilling again is to be thought about: {}. That is {}; as planned it takes {} of seed{cost}. Dig first: seed may still come up, and what thinned the stand would thin the next. An even thin stand often yields more than a late one: ask an adviser who sees it.",
                plants(self.plants_per_m2),
                plants(self.line_per_m2),
                self.source,
                units.area(self.area_m2, 2),
                units.mass(self.seed_kg, 0),
            ),
        )
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::path::Path;

    /// As the sources print them: 12 plants per square foot, 50 000 per acre, 10 per square foot.
    #[test]
    fn lines_are_those_of_the_sources() {
        let text = include_str!("../../examples/demo/job.toml");
        let job = Job::parse(text, Path::new("job.toml")).expect("the demo");
        let of = |crop: &str| -> Vec<f64> {
            let mut product = job.products[0].clone();
            product.crop = Some(crop.to_owned());
            lines(&product)
                .map(|line| (line.plants_per_m2 * 10.0).round() / 10.0)
                .collect()
        };
        assert_eq!(of("winter wheat"), [90.0, 129.2]);
        assert_eq!(of("winter barley"), [90.0, 150.0]);
        assert_eq!(of("soybean"), [12.4]);
        assert_eq!(of("lucerne"), [107.6]);
        // Nothing is published here for these, and they are not held against what another crop bears.
        for crop in ["spring barley", "wheat", "spring wheat", "maize"] {
            assert!(of(crop).is_empty(), "{crop}");
        }
    }
}
