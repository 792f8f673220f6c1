//! Why a rate is what it is, as values; the words are in `src/texts`.

use crate::job::MeasuredFrom;
use crate::texts::quantity::{
    Density, Given, GivenDensity, GivenLength, GivenRate, GrainWeight, Number, Offtake, Rate,
    RowLoad, TenthDensity, TenthRate, Yield,
};
use crate::texts::sentences;

sentences! {
    /// The sentence of a step on the way to a rate, and the parts that such sentences share.
    pub(crate) enum Why of "reason" {
        // Where a number holds.
        WholeField = "whole_field",
        OnClass = "on_class" { layer: String, class: String },
        OnCurve = "on_curve" { layer: String, class: String },
        ByRule = "by_rule" { nth: usize, when: String },
        Everywhere = "everywhere",
        NoRule = "no_rule",
        OnDate = "on_date" { on: String, before: GivenDensity, more: TenthDensity, date: String },
        And = "and",
        Or = "or",

        // The base.
        RateDirect = "rate_direct" { rate: GivenRate, place: String },
        SeedSeeds = "seed_seeds" { seeds: GivenDensity, on: String, weight: GrainWeight, rate: Rate },
        SeedPopulation = "seed_population" { plants: GivenDensity, weight: GrainWeight, per_seed: String, rate: Rate, on: String },
        NoPlants = "no_plants" { plants: GivenDensity, place: String, rate: Rate },
        Multiplied = "multiplied" { germination: Given, establishment: Given },
        Subtracted = "subtracted" { germination: Given, lost: Given },
        Included = "included" { establishment: Given },
        Recommendation = "recommendation" { index: String, need: String, decided: String },
        Decided = "decided" { count: usize, symbol: &'static str },
        Index = "index" { quantity: String, value: Given, unit: String, name: String, source: String, rule: String, rule_source: String },
        IndexNearest = "index_nearest",
        IndexLower = "index_lower",
        Need = "need" { table: Rate, symbol: &'static str, crop: String, class: String },
        NeedAtAnyYield = "need_at_any_yield" { table: Rate, symbol: &'static str, crop: String, class: String },
        NeedForYield = "need_for_yield" { table: Rate, symbol: &'static str, crop: String, class: String, sign: &'static str, yields: Yield, offtake: Offtake, need: Rate },
        Grade = "grade" { need: GivenRate, symbol: &'static str, on: String, percent: Given, rate: Rate, also: String },
        LessPlaced = "less_placed" { need: GivenRate, symbol: &'static str, placed: GivenRate, layers: String, left: GivenRate },
        Also = "also" { brought: String },
        Brought = "brought" { supply: TenthRate, symbol: &'static str },

        // Lots, percentages, strips.
        Lot = "lot" { lot: String, layer: String, class: String, facts: String },
        LotWeight = "lot_weight" { weight: GrainWeight },
        LotGermination = "lot_germination" { germination: Given },
        LotDressing = "lot_dressing" { dressing: String },
        Percent = "percent" { because: String, percent: Given, before: Rate, rate: Rate },
        OnHeadland = "on_headland",
        InInterior = "in_interior",
        SpecialArea = "special_area" { name: String },
        Strip = "strip" { trial: String, asked: GivenRate, before: Rate },
        StripByMap = "strip_by_map" { trial: String },

        // Mixtures.
        Share = "share" { percent: Given, full: Rate, why: String, rate: Rate },
        Alone = "alone",
        Replacement = "replacement" { companion: String },
        Additive = "additive" { on: String, companion: String },
        Beside = "beside" { on: String, main: String },
        NotSown = "not_sown" { main: String },
        SharesSown = "shares_sown" { rate: Rate, share: Number, together: Number },

        // Rules of the place.
        Closed = "closed" { name: String, first: String, last: String, day: String, rate: Rate },
        PlaceLimit = "place_limit" { name: String, most: GivenRate, what: String, given: GivenRate, wanted: Rate, before: Rate, rate: Rate },
        OfProduct = "of_product" { id: String },

        // What is placed, and limits.
        LeastForZero = "least_for_zero" { least: GivenRate },
        Placed = "placed" { percent: Given, placed: Rate },
        ZeroStays = "zero_stays" { least: GivenRate },
        AboveLabel = "above_label" { before: Rate, most: GivenRate },
        AboveMost = "above_most" { before: Rate, most: GivenRate },
        BelowLeast = "below_least" { before: Rate, least: GivenRate },
        ToStep = "to_step" { before: Rate, step: GivenRate, rate: Rate },
        DownToStep = "down_to_step" { before: Rate, rate: Rate },
        BelowTheDrill = "below_the_drill" { before: Rate },

        // Beside the seed.
        RowNotCovered = "row_not_covered" { before: Rate, cell: String },
        CountsProduct = "counts_product",
        RowCap = "row_cap" { before: Rate, wanted: Rate, counts: String, limit: Rate, cell: String, rate: Rate },
        CheckNotCovered = "check_not_covered" { cell: String },
        CheckNotUsed = "check_not_used" { cell: String },
        CheckAbove = "check_above" { placed: Rate, counts: String, limit: Rate, cell: String },
        CheckWithin = "check_within" { placed: Rate, counts: String, limit: Rate, cell: String, margin: Rate, load: RowLoad },

        // The end.
        BalanceOfNeed = "balance_of_need" { need: Rate, symbol: &'static str, rate: Rate, name: String },
        Balance = "balance" { rate: Rate, name: String },
        OtherNeeds = "other_needs" { needs: String },
        OtherNeed = "other_need" { symbol: &'static str, brought: Rate, need: Rate, end: String },
        NeedMet = "need_met",
        NeedOver = "need_over" { over: Rate },
        NeedShort = "need_short" { short: Rate },
        Setback = "setback" { names: String, rate: Rate },
        SetbackOf = "setback_of" { name: String, distance: GivenLength },
        SetbackFrom = "setback_from" { name: String, distance: GivenLength, from: &'static str },
        Piece = "piece" { rate: GivenRate, before: GivenRate, why: String },
        PieceHeld = "piece_held",
        PieceNearest = "piece_nearest",
        OneRate = "one_rate" { percent: Given, before: GivenRate, lowest: GivenRate },
        Stand = "stand" { rate: Rate, lb_per_acre: Number, seeds: Density, per_ft2: Number, per_lb: Number },
        StandPlants = "stand_plants" { seeds: String, share: String, plants: Density, per_ft2: Number },
        InBrackets = "in_brackets" { share: String },
    }
}

sentences! {
    /// From where the distance of a setback is measured, as a part of a sentence.
    pub(crate) enum SetbackStart of "measured_from" {
        TopOfBank = "top_of_bank",
        EdgeOfWater = "edge_of_water",
        CentreOfWatercourse = "centre_of_watercourse",
        WellOrSpring = "well_or_spring",
        FieldBorder = "field_border",
    }
}

impl SetbackStart {
    pub(crate) const fn of(from: MeasuredFrom) -> Self {
        match from {
            MeasuredFrom::TopOfBank => Self::TopOfBank,
            MeasuredFrom::EdgeOfWater => Self::EdgeOfWater,
            MeasuredFrom::CentreOfWatercourse => Self::CentreOfWatercourse,
            MeasuredFrom::WellOrSpring => Self::WellOrSpring,
            MeasuredFrom::FieldBorder => Self::FieldBorder,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::{SetbackStart, Why};

    #[test]
    fn every_reason_has_its_words() {
        assert_eq!(crate::texts::checked::<Why>(), Vec::<String>::new());
        assert_eq!(
            crate::texts::checked::<SetbackStart>(),
            Vec::<String>::new()
        );
    }
}
