//! The rules of agronomy: the stable id of each, and what is asked about it elsewhere.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use std::fmt;

/// The rule of one step on the way to a rate. Outputs name it by its id, such as `seed.population`.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
pub enum Rule {
    #[serde(rename = "rate.direct")]
    RateDirect,
    #[serde(rename = "seed.population")]
    SeedPopulation,
    #[serde(rename = "seed.seeds")]
    SeedSeeds,
    #[serde(rename = "seed.lot")]
    SeedLot,
    #[serde(rename = "seed.stand")]
    SeedStand,
    #[serde(rename = "nutrient.recommendation")]
    NutrientRecommendation,
    #[serde(rename = "nutrient.placed")]
    NutrientPlaced,
    #[serde(rename = "nutrient.grade")]
    NutrientGrade,
    #[serde(rename = "nutrient.others")]
    NutrientOthers,
    #[serde(rename = "adjust.percent")]
    AdjustPercent,
    #[serde(rename = "special_area.percent")]
    SpecialAreaPercent,
    #[serde(rename = "mixture.main")]
    MixtureMain,
    #[serde(rename = "mixture.companion")]
    MixtureCompanion,
    #[serde(rename = "mixture.sown")]
    MixtureSown,
    #[serde(rename = "place.closed")]
    PlaceClosed,
    #[serde(rename = "place.limit")]
    PlaceLimit,
    #[serde(rename = "zero.least_rate")]
    ZeroLeastRate,
    #[serde(rename = "balance.placed")]
    BalancePlaced,
    #[serde(rename = "balance.broadcast")]
    BalanceBroadcast,
    #[serde(rename = "limit.max")]
    LimitMax,
    #[serde(rename = "limit.label")]
    LimitLabel,
    #[serde(rename = "limit.min")]
    LimitMin,
    #[serde(rename = "limit.step")]
    LimitStep,
    #[serde(rename = "limit.step_down")]
    LimitStepDown,
    #[serde(rename = "limit.zero")]
    LimitZero,
    #[serde(rename = "seed_safe.cap")]
    SeedSafeCap,
    #[serde(rename = "seed_safe.not_covered")]
    SeedSafeNotCovered,
    #[serde(rename = "seed_safe.check")]
    SeedSafeCheck,
    #[serde(rename = "setback.off")]
    SetbackOff,
    #[serde(rename = "drill.one_rate")]
    DrillOneRate,
    #[serde(rename = "drill.piece")]
    DrillPiece,
    #[serde(rename = "trial.strip")]
    TrialStrip,
}

/// What a rule does to a rate, as far as others ask.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Effect {
    /// It is a limit from above, and the rate was higher.
    HoldsDown,
    /// It switches the product off, whatever other rules left.
    SwitchesOff,
    Other,
}

impl Rule {
    /// Every rule is decided here: a new one does not compile without it.
    pub fn effect(self) -> Effect {
        match self {
            Self::LimitMax
            | Self::LimitLabel
            | Self::PlaceLimit
            | Self::SeedSafeCap
            | Self::SeedSafeNotCovered => Effect::HoldsDown,
            Self::SetbackOff | Self::PlaceClosed => Effect::SwitchesOff,
            Self::RateDirect
            | Self::SeedPopulation
            | Self::SeedSeeds
            | Self::SeedLot
            | Self::SeedStand
            | Self::NutrientRecommendation
            | Self::NutrientPlaced
            | Self::NutrientGrade
            | Self::NutrientOthers
            | Self::AdjustPercent
            | Self::SpecialAreaPercent
            | Self::MixtureMain
            | Self::MixtureCompanion
            | Self::MixtureSown
            | Self::ZeroLeastRate
            | Self::BalancePlaced
            | Self::BalanceBroadcast
            // The least of the job raises; a step only rounds, as a cap is rounded down.
            | Self::LimitMin
            | Self::LimitStep
            | Self::LimitStepDown
            | Self::LimitZero
            | Self::SeedSafeCheck
            | Self::DrillOneRate
            | Self::DrillPiece
            // A strip may ask for more or less than the map.
            | Self::TrialStrip => Effect::Other,
        }
    }

    /// Whether it is a limit from above that made the rate lower: of the job, the label, the place, or beside the seed.
    pub fn holds_down(self) -> bool {
        self.effect() == Effect::HoldsDown
    }
}

impl fmt::Display for Rule {
    /// The id.
    fn fmt(&self, out: &mut fmt::Formatter<'_>) -> fmt::Result {
        self.serialize(out)
    }
}
