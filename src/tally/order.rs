//! From the map total to the order: each step a line.

use super::words::Line;
use super::{Step, StepName};
use crate::drive::as_driven::DrivenProduct;
use crate::job::Product;
use crate::texts::Words;
use crate::texts::quantity::{Given, GivenMass};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// What is needed and how it is bought.
pub(super) struct Need<'a> {
    pub(super) map_kg: f64,
    pub(super) reserve_percent: f64,
    /// What the drive makes of it, where it is known.
    pub(super) driven: Option<&'a DrivenProduct>,
    /// Without a drive: what closed tramline rows do not sow, kg.
    pub(super) tramline_kg: f64,
    /// What the meter cannot empty.
    pub(super) residue_kg: f64,
    pub(super) pack: Option<Pack>,
    /// Of a balance with a spreader: what its steps and its setbacks change, kg.
    pub(super) spreader: [f64; 2],
    /// How the steps are said.
    pub(super) words: Words,
}

/// What a product is sold in.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Pack {
    /// Kilograms.
    Kg(f64),
    /// Seeds, and grams per thousand of them.
    Seeds(f64, f64),
}

impl Pack {
    /// The pack of a product; none without one, or where its seeds cannot be weighed.
    pub fn of(product: &Product) -> Option<Self> {
        match (product.seeds_per_pack, product.thousand_grain_weight_g) {
            (Some(seeds), Some(weight)) => Some(Self::Seeds(seeds, weight)),
            _ => product.pack_kg.map(Self::Kg),
        }
    }

    /// What one holds, kg.
    pub fn kg(self) -> f64 {
        match self {
            Self::Kg(kg) => kg,
            Self::Seeds(seeds, weight) => seeds * weight / 1e6,
        }
    }

    /// The step from what is wanted, kg, to so many packs.
    pub(super) fn rounded_up(self, packs: f64, wanted_kg: f64, words: Words) -> Step {
        Step {
            step: StepName::Packs,
            text: words.say(&match self {
                Self::Kg(kg) => Line::PacksOfMass {
                    packs: Given(packs),
                    mass: GivenMass(kg),
                },
                Self::Seeds(seeds, _) => Line::PacksOfSeeds {
                    packs: Given(packs),
                    seeds: Given(seeds),
                },
            }),
            kg: packs * self.kg() - wanted_kg,
        }
    }
}

/// Seeds in so many kilograms of this thousand-grain weight in g.
pub fn seeds_of_kg(kg: f64, thousand_grain_weight_g: f64) -> f64 {
    kg * 1e6 / thousand_grain_weight_g
}

/// An order of one pack less, where only the reserve asks for the last one.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct OnePackLess {
    /// Packs of that order.
    pub packs: u64,
    /// What they hold, kg.
    pub order_kg: f64,
    /// What is left of the reserve, kg.
    pub reserve_kg: f64,
    /// The same in percent of what is sown.
    pub reserve_percent: f64,
}

impl OnePackLess {
    /// Where one pack less holds what is sown and what the meter cannot empty, and less than half of the last pack is
    /// asked for: what it would leave of the reserve. `None` otherwise.
    pub fn of(sown_kg: f64, residue_kg: f64, wanted_kg: f64, pack_kg: f64) -> Option<Self> {
        let packs = packs(wanted_kg, pack_kg) - 1.0;
        let order_kg = packs * pack_kg;
        let reserve_kg = order_kg - sown_kg - residue_kg;
        let holds = packs >= 1.0 && reserve_kg >= 0.0 && wanted_kg - order_kg < pack_kg / 2.0;
        holds.then(|| Self {
            packs: packs as u64,
            order_kg,
            reserve_kg,
            reserve_percent: reserve_kg / sown_kg * 100.0,
        })
    }
}

/// The order of one product.
pub(super) struct Ordered {
    pub(super) steps: Vec<Step>,
    /// What leaves the outlets: the map and its corrections, kg.
    pub(super) sown_kg: f64,
    pub(super) kg: f64,
    pub(super) packs: Option<u64>,
    pub(super) one_pack_less: Option<OnePackLess>,
}

/// Packs that differ from a whole number by less than this share of a pack are that number: the
/// kilograms come out of a sum of floating-point products.
const WHOLE: f64 = 1e-9;

/// Whole packs that hold these kilograms.
pub fn packs(kg: f64, pack_kg: f64) -> f64 {
    // Nothing has no sign: the larger of 0 and -0 is either.
    (kg / pack_kg - WHOLE).ceil().max(0.0) + 0.0
}

/// Adds reserve and residue and rounds up to packs. Nothing needed is nothing ordered.
pub(super) fn order(need: &Need) -> Ordered {
    let step = |step, line: Line, kg| Step {
        step,
        text: need.words.say(&line),
        kg,
    };
    // A sum of nothing is -0.
    let mut steps = vec![step(StepName::Map, Line::OnMap, need.map_kg + 0.0)];
    steps.extend(corrections(need));
    let sown_kg: f64 = steps.iter().map(|step| step.kg).sum();
    let reserve_kg = sown_kg * need.reserve_percent / 100.0;
    // Nothing sown, nothing left in the hopper.
    let residue_kg = if need.map_kg > 0.0 {
        need.residue_kg
    } else {
        0.0
    };
    let wanted = sown_kg + reserve_kg + residue_kg;
    let reserve = Line::Reserve {
        percent: Given(need.reserve_percent),
    };
    steps.push(step(StepName::Reserve, reserve, reserve_kg));
    if residue_kg > 0.0 {
        steps.push(step(StepName::Residue, Line::Residue, residue_kg));
    }
    let Some(pack) = need.pack else {
        return Ordered {
            steps,
            sown_kg,
            kg: wanted,
            packs: None,
            one_pack_less: None,
        };
    };
    let packs = packs(wanted, pack.kg());
    let kg = packs * pack.kg();
    steps.push(pack.rounded_up(packs, wanted, need.words));
    Ordered {
        steps,
        sown_kg,
        kg,
        packs: Some(packs as u64),
        one_pack_less: OnePackLess::of(sown_kg, residue_kg, wanted, pack.kg()),
    }
}

/// From the map to what leaves the outlets. What changes nothing is no step.
fn corrections(need: &Need) -> Vec<Step> {
    let all = match need.driven {
        Some(driven) => vec![
            (
                StepName::Tramlines,
                Line::TramlinesDriven,
                driven.tramlines_kg,
            ),
            (StepName::Sections, Line::Sections, driven.sections_kg),
            (StepName::Overlap, Line::Overlap, driven.overlap_kg),
            (StepName::Missed, Line::Missed, driven.missed_kg),
            (StepName::Following, Line::Following, driven.following_kg),
        ],
        None => vec![(
            StepName::Tramlines,
            Line::TramlinesByShare,
            -need.tramline_kg,
        )],
    };
    let [steps_kg, setbacks_kg] = need.spreader;
    let of_spreader = [
        (StepName::SpreaderSteps, Line::SpreaderSteps, steps_kg),
        (
            StepName::SpreaderSetbacks,
            Line::SpreaderSetbacks,
            setbacks_kg,
        ),
    ];
    let all = all.into_iter().chain(of_spreader);
    let told = all.filter(|(_, _, kg)| *kg != 0.0);
    told.map(|(step, line, kg)| Step {
        step,
        text: need.words.say(&line),
        kg,
    })
    .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn ordered(map_kg: f64, reserve_percent: f64, pack_kg: Option<f64>) -> Ordered {
        order(&Need {
            map_kg,
            reserve_percent,
            driven: None,
            tramline_kg: 0.0,
            residue_kg: 0.0,
            pack: pack_kg.map(Pack::Kg),
            spreader: [0.0; 2],
            words: Words::default(),
        })
    }

    #[test]
    fn the_residue_is_ordered_only_where_something_is_sown() {
        let need = |map_kg| Need {
            map_kg,
            reserve_percent: 0.0,
            driven: None,
            tramline_kg: 0.0,
            residue_kg: 12.0,
            pack: Some(Pack::Kg(500.0)),
            spreader: [0.0; 2],
            words: Words::default(),
        };
        let order_of = |map_kg| order(&need(map_kg)).packs;
        assert_eq!(
            (order_of(490.0), order_of(488.0), order_of(0.0)),
            (Some(2), Some(1), Some(0))
        );
    }

    /// Iowa State University, Agronomy 212 (calculations, seed per acre): 50 ac x 54.5 lb/ac in bags
    /// of 50 lb; the page gives 2727 lb and 54.5 bags, which are ordered as 55.
    #[test]
    fn packs_are_rounded_up() {
        assert_eq!(ordered(50.0 * 54.5454, 0.0, Some(50.0)).packs, Some(55));
    }

    /// Worked by hand: 6317 kg sown and 3 % of it are 6506.5 kg, 14 packs of 500 kg; 13 hold 6500 kg, so 183 kg or 2.9 %
    /// are left for reserve.
    #[test]
    fn a_pack_that_only_the_reserve_asks_for_is_told() {
        let less = ordered(6_317.0, 3.0, Some(500.0))
            .one_pack_less
            .expect("one pack less");
        assert_eq!((less.packs, less.order_kg), (13, 6_500.0));
        assert!((less.reserve_kg - 183.0).abs() < 1e-9);
        assert!((less.reserve_percent - 2.897).abs() < 1e-3);
        // What is sown needs the pack; most of the pack is asked for; there would be no pack left.
        for (map_kg, reserve, pack) in [
            (6_510.0, 3.0, 500.0),
            (6_300.0, 8.0, 500.0),
            (480.0, 3.0, 500.0),
        ] {
            assert_eq!(
                ordered(map_kg, reserve, Some(pack)).one_pack_less,
                None,
                "{map_kg}"
            );
        }
        assert_eq!(ordered(6_317.0, 0.0, Some(500.0)).one_pack_less, None);
        assert_eq!(ordered(0.0, 3.0, Some(500.0)).one_pack_less, None);
    }

    #[test]
    fn a_whole_number_of_packs_stays_what_it_is() {
        assert_eq!(
            ordered(0.1 * 3.0 * 10_000.0, 0.0, Some(500.0)).packs,
            Some(6)
        );
        assert_eq!(ordered(3000.01, 0.0, Some(500.0)).packs, Some(7));
        assert_eq!(ordered(0.0, 3.0, Some(500.0)).packs, Some(0));
    }

    #[test]
    fn the_steps_add_up_to_the_order() {
        let order = ordered(7_123.4, 3.0, Some(600.0));
        let sum: f64 = order.steps.iter().map(|step| step.kg).sum();
        assert!((sum - order.kg).abs() < 1e-9);
        assert_eq!(order.kg, 7_800.0);
    }
}
