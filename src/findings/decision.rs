//! Every decision that the program asks for, and what may settle it: the one home of both.
//!
//! A plan with an open decision has no file that a terminal could load (docs/methods/decisions.md). A new decision is a
//! variant here; the compiler then asks for its code and for what settles it.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// What somebody is asked to decide. Outputs and jobs name it by its code.
#[derive(
    Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize, JsonSchema,
)]
pub enum Decision {
    /// The figures of a product are expected ones, not those of its label.
    #[serde(rename = "agronomy.label_pending")]
    LabelPending,
    /// A log holds nothing of a product of the plan.
    #[serde(rename = "compare.no_product")]
    LogLacksProduct,
    /// The crop of a seed is not named, so none of its numbers could be held against what is usual.
    #[serde(rename = "crops.not_named")]
    CropNotNamed,
    /// Nothing is published here about the number of a seed that sets its rate.
    #[serde(rename = "crops.no_range")]
    CropWithoutRange,
    /// A thousand-grain weight outside all that is published for the crop.
    #[serde(rename = "crops.thousand_grain_weight")]
    UnusualGrainWeight,
    /// Plants per area outside all that is published for the crop.
    #[serde(rename = "crops.plants")]
    UnusualPlants,
    /// Seeds per area outside all that is published for the crop.
    #[serde(rename = "crops.seeds")]
    UnusualSeeds,
    /// A seed rate outside all that is published for the crop.
    #[serde(rename = "crops.rate")]
    UnusualSeedRate,
    /// A depth outside all that is published for the crop.
    #[serde(rename = "crops.depth")]
    UnusualDepth,
    /// A germination outside all that is published for the crop.
    #[serde(rename = "crops.germination")]
    UnusualGermination,
    /// A fertiliser brings far more of a nutrient than any built-in table recommends.
    #[serde(rename = "nutrient.unusual_need")]
    UnusualNeed,
    /// Bouts lay a product inside a strip that a setback keeps free of it.
    #[serde(rename = "drive.product_in_setback")]
    ProductInSetback,
    /// The air stream cannot carry what the products need at the fastest speed.
    #[serde(rename = "drill.air_stream_full")]
    AirStreamFull,
    /// No rotor of a hopper delivers every rate of the map.
    #[serde(rename = "drill.no_rotor")]
    NoRotor,
    /// An exclusion does not touch the field.
    #[serde(rename = "land.exclusion_outside")]
    ExclusionOutside,
    /// A setback does not reach the land.
    #[serde(rename = "land.setback_outside")]
    SetbackOutside,
    /// The grade of a product does not go with its name.
    #[serde(rename = "grade.doubtful")]
    GradeDoubtful,
    /// Counts say that more or fewer plants came up than can be.
    #[serde(rename = "establishment.beyond")]
    EstablishmentBeyond,
    /// With what is broadcast more comes to the land than a limit of the place allows.
    #[serde(rename = "place.above")]
    AbovePlaceLimit,
    /// The field is sown in a closed period of a product.
    #[serde(rename = "place.closed")]
    ClosedPeriod,
    /// A product has a closed period, and the job no sowing date.
    #[serde(rename = "place.no_date")]
    ClosedPeriodWithoutDate,
    /// The field lies across the 180th meridian.
    #[serde(rename = "plan.across_180")]
    Across180,
    /// The terminal controls fewer channels at once than the task has maps.
    #[serde(rename = "plan.channels")]
    TooFewChannels,
    /// The part of the machine that meters a product takes no mass per area.
    #[serde(rename = "plan.element_rate")]
    ElementTakesNoMass,
    /// The terminal shows two products by the same name.
    #[serde(rename = "plan.names_alike")]
    NamesAlike,
    /// More lies with the seed than a limit allows, and the job lets it be.
    #[serde(rename = "seed_safe.above")]
    AboveSeedRowLimit,
    /// No table covers the fertiliser that lies with the seed.
    #[serde(rename = "seed_safe.not_covered")]
    SeedRowNotCovered,
    /// The dates that a rate goes by are of another season than the sowing date.
    #[serde(rename = "sowing_date.another_season")]
    DatesOfAnotherSeason,
    /// A layer leaves more land without a class than the job lets pass.
    #[serde(rename = "zones.gaps_large")]
    GapsLarge,
    /// Zones of a layer lie over each other on more land than the job lets pass.
    #[serde(rename = "zones.overlaps_large")]
    OverlapsLarge,
    /// A special area does not touch the land.
    #[serde(rename = "zones.special_area_outside")]
    SpecialAreaOutside,
}

/// What settles a decision.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Settled {
    /// Only another job: a label, a distance, a closed period or a name is no matter of opinion.
    ByChange,
    /// Another job, or a person who signs for this one under `[[accepted]]`.
    ByChangeOrSignature,
}

impl Decision {
    /// All of them, in order of their codes within each part of the program.
    pub const ALL: [Self; 31] = [
        Self::LabelPending,
        Self::LogLacksProduct,
        Self::CropNotNamed,
        Self::CropWithoutRange,
        Self::UnusualGrainWeight,
        Self::UnusualPlants,
        Self::UnusualSeeds,
        Self::UnusualSeedRate,
        Self::UnusualDepth,
        Self::UnusualGermination,
        Self::ProductInSetback,
        Self::AirStreamFull,
        Self::NoRotor,
        Self::EstablishmentBeyond,
        Self::GradeDoubtful,
        Self::ExclusionOutside,
        Self::SetbackOutside,
        Self::UnusualNeed,
        Self::AbovePlaceLimit,
        Self::ClosedPeriod,
        Self::ClosedPeriodWithoutDate,
        Self::Across180,
        Self::TooFewChannels,
        Self::ElementTakesNoMass,
        Self::NamesAlike,
        Self::AboveSeedRowLimit,
        Self::SeedRowNotCovered,
        Self::DatesOfAnotherSeason,
        Self::GapsLarge,
        Self::OverlapsLarge,
        Self::SpecialAreaOutside,
    ];

    /// Its code, as findings, `plan.json` and the job's `[[accepted]]` carry it.
    pub const fn code(self) -> &'static str {
        match self {
            Self::LabelPending => "agronomy.label_pending",
            Self::LogLacksProduct => "compare.no_product",
            Self::CropNotNamed => "crops.not_named",
            Self::CropWithoutRange => "crops.no_range",
            Self::UnusualGrainWeight => "crops.thousand_grain_weight",
            Self::UnusualPlants => "crops.plants",
            Self::UnusualSeeds => "crops.seeds",
            Self::UnusualSeedRate => "crops.rate",
            Self::UnusualDepth => "crops.depth",
            Self::UnusualGermination => "crops.germination",
            Self::ProductInSetback => "drive.product_in_setback",
            Self::AirStreamFull => "drill.air_stream_full",
            Self::NoRotor => "drill.no_rotor",
            Self::EstablishmentBeyond => "establishment.beyond",
            Self::GradeDoubtful => "grade.doubtful",
            Self::ExclusionOutside => "land.exclusion_outside",
            Self::SetbackOutside => "land.setback_outside",
            Self::UnusualNeed => "nutrient.unusual_need",
            Self::AbovePlaceLimit => "place.above",
            Self::ClosedPeriod => "place.closed",
            Self::ClosedPeriodWithoutDate => "place.no_date",
            Self::Across180 => "plan.across_180",
            Self::TooFewChannels => "plan.channels",
            Self::ElementTakesNoMass => "plan.element_rate",
            Self::NamesAlike => "plan.names_alike",
            Self::AboveSeedRowLimit => "seed_safe.above",
            Self::SeedRowNotCovered => "seed_safe.not_covered",
            Self::DatesOfAnotherSeason => "sowing_date.another_season",
            Self::GapsLarge => "zones.gaps_large",
            Self::OverlapsLarge => "zones.overlaps_large",
            Self::SpecialAreaOutside => "zones.special_area_outside",
        }
    }

    /// The decision with this code; none for other findings.
    pub fn of_code(code: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|known| known.code() == code)
    }

    /// What settles it. The reasons are in docs/methods/decisions.md.
    pub const fn settled(self) -> Settled {
        match self {
            Self::LabelPending
            | Self::LogLacksProduct
            | Self::ProductInSetback
            | Self::EstablishmentBeyond
            | Self::AbovePlaceLimit
            | Self::ClosedPeriod
            | Self::ClosedPeriodWithoutDate
            | Self::Across180
            | Self::ElementTakesNoMass
            | Self::NamesAlike => Settled::ByChange,
            Self::AirStreamFull
            | Self::NoRotor
            | Self::TooFewChannels
            | Self::GradeDoubtful
            | Self::ExclusionOutside
            | Self::SetbackOutside
            | Self::UnusualNeed
            | Self::AboveSeedRowLimit
            | Self::SeedRowNotCovered
            | Self::CropNotNamed
            | Self::CropWithoutRange
            | Self::UnusualGrainWeight
            | Self::UnusualPlants
            | Self::UnusualSeeds
            | Self::UnusualSeedRate
            | Self::UnusualDepth
            | Self::UnusualGermination
            | Self::DatesOfAnotherSeason
            | Self::OverlapsLarge
            | Self::GapsLarge
            | Self::SpecialAreaOutside => Settled::ByChangeOrSignature,
        }
    }
}

/// What a decision concerns: no file for it leaves the desk while the decision is open.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum Concerns {
    /// The whole field: every product.
    Field,
    /// Ids of products, in job order.
    Products(Vec<String>),
}

/// How far the case of a decision goes, where hectares alone do not say it.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum Extent {
    /// Beyond what can be had, percent of it.
    Percent(f64),
    /// What was not judged, kg/ha.
    KgPerHa(f64),
}

impl Extent {
    /// The further of two of one kind; of two kinds the first.
    pub fn further(self, other: Self) -> Self {
        match (self, other) {
            (Self::Percent(a), Self::Percent(b)) => Self::Percent(a.max(b)),
            (Self::KgPerHa(a), Self::KgPerHa(b)) => Self::KgPerHa(a.max(b)),
            _ => self,
        }
    }
}

/// Who has signed for a decision.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
pub struct Signature {
    /// The person.
    pub by: String,
    /// The day, YYYY-MM-DD.
    pub on: String,
    /// The reason.
    pub why: String,
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_decision_has_one_code_in_findings_and_in_jobs() {
        for decision in Decision::ALL {
            let in_job = serde_json::to_value(decision).expect("a word");
            assert_eq!(in_job, decision.code());
            assert_eq!(Decision::of_code(decision.code()), Some(decision));
        }
        assert_eq!(Decision::of_code("zones.gap"), None);
    }

    /// No signature lifts a label's most, a legal distance or a closed period.
    #[test]
    fn law_and_label_are_not_signed_away() {
        for decision in [
            Decision::LabelPending,
            Decision::ProductInSetback,
            Decision::AbovePlaceLimit,
            Decision::ClosedPeriod,
            Decision::ClosedPeriodWithoutDate,
            // No file of the standard can hold it.
            Decision::Across180,
        ] {
            assert_eq!(decision.settled(), Settled::ByChange, "{decision:?}");
        }
    }
}
