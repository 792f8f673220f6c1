//! Where a product's rate is 0: what the operator shuts by hand, and how to find out what the terminal does.

use super::{Plan, Rates};
use crate::coordinates::LonLat;
use crate::findings::{Finding, Place};
use crate::job::{AtZero, Job};
use crate::map::RateMap;
use crate::read::Polygon;
use crate::texts::{Words, sentences};
use crate::units::M2_PER_HA;

sentences! {
    /// A line of the yard test; the words are in `src/texts`.
    pub(crate) enum YardTest of "yard_test" {
        Off = "off" { products: String },
        Ready = "ready",
        Set = "set",
        StillAlone = "still_alone",
        Still = "still",
        TurnsOn = "turns_on",
        CannotStand = "cannot_stand",
        Spreader = "spreader",
        SpreaderSet = "spreader_set",
    }
}

/// Land where the operator shuts a product by hand.
pub struct ShutByHand<'a> {
    /// Place of the product in the job.
    pub product: usize,
    /// Its area, m2.
    pub area_m2: f64,
    /// A place on its border, lon/lat.
    pub at: Option<LonLat>,
    /// Where it lies.
    pub polygons: Vec<&'a Polygon<LonLat>>,
    /// What would be sown there at the default rate, kg; the totals do not count it.
    pub at_stake_kg: f64,
}

/// Per product that the job does not let stand still by itself: the land where its rate is 0.
fn by_hand<'a>(rates: &Rates, map: &'a RateMap, job: &Job) -> Vec<ShutByHand<'a>> {
    let mut all = Vec::new();
    for (nth, product) in job.products.iter().enumerate() {
        if product.at_zero == AtZero::Zero {
            continue;
        }
        let is_off = |rates: &[f64]| rates.get(nth) == Some(&0.0);
        let off = || map.zones.iter().filter(|zone| is_off(&zone.kg_per_ha));
        let area_m2: f64 = off().map(|zone| zone.area_m2).sum();
        if area_m2 > 0.0 {
            let polygons: Vec<&Polygon<LonLat>> =
                off().flat_map(|zone| zone.polygons.iter()).collect();
            let default = rates.default_kg_per_ha.get(nth).copied().unwrap_or(0.0);
            all.push(ShutByHand {
                product: nth,
                area_m2,
                at: polygons
                    .first()
                    .and_then(|first| first.exterior.first().copied()),
                polygons,
                at_stake_kg: default * area_m2 / M2_PER_HA,
            });
        }
    }
    all
}

/// A warning per product that the operator has to shut by hand somewhere.
pub(super) fn findings(rates: &Rates, map: &RateMap, job: &Job) -> Vec<Finding> {
    let units = job.report.units;
    let one = |land: ShutByHand| {
        let product = job.products.get(land.product)?;
        let place = Place::file(&job.file);
        let place = land.at.map_or(place.clone(), |at| place.at(at));
        let message = format!(
            "{}: shut it by hand on {} where its rate is 0 (gis/shut-by-hand.geojson); the totals count nothing there, left open it would sow about {}",
            product.name,
            units.area(land.area_m2, 2),
            units.mass(land.at_stake_kg, 0)
        );
        Some(Finding::warning("plan.shut_by_hand", place, message).area(land.area_m2))
    };
    by_hand(rates, map, job)
        .into_iter()
        .filter_map(one)
        .collect()
}

impl Plan {
    /// Per product that the job does not let stand still by itself: the land where its rate is 0.
    pub fn shut_by_hand(&self) -> Vec<ShutByHand<'_>> {
        by_hand(&self.rates, &self.maps.rate, &self.job)
    }

    /// The yard test of a rate of 0, a line each: what to do, what to see, what to set. Empty where no product
    /// has land with rate 0.
    pub fn yard_test(&self) -> Vec<String> {
        let off: Vec<&str> = self
            .job
            .products
            .iter()
            .enumerate()
            .filter(|(nth, _)| {
                let mut zones = self.maps.rate.zones.iter();
                zones.any(|zone| zone.kg_per_ha.get(*nth) == Some(&0.0))
            })
            .map(|(_, product)| product.name.as_str())
            .collect();
        if off.is_empty() {
            return Vec::new();
        }
        let lines = [
            YardTest::Off {
                products: off.join(", "),
            },
            YardTest::Ready,
            YardTest::Set,
            match self.job.products.len() {
                1 => YardTest::StillAlone,
                _ => YardTest::Still,
            },
            YardTest::TurnsOn,
            YardTest::CannotStand,
        ];
        lines.map(|line| Words::of(&self.job).say(&line)).to_vec()
    }
}

#[cfg(test)]
mod tests {
    #[test]
    fn every_line_of_the_yard_test_has_its_words() {
        assert_eq!(
            crate::texts::checked::<super::YardTest>(),
            Vec::<String>::new()
        );
    }
}
