//! What the steps to an order are called, as values; the words are in `src/texts`.

use crate::texts::quantity::{Given, GivenMass};
use crate::texts::sentences;

sentences! {
    /// A step from the map to the order.
    pub(super) enum Line of "tally" {
        OnMap = "on_map",
        TramlinesDriven = "tramlines_driven",
        TramlinesByShare = "tramlines_by_share",
        Sections = "sections",
        Overlap = "overlap",
        Missed = "missed",
        Following = "following",
        SpreaderSteps = "spreader_steps",
        SpreaderSetbacks = "spreader_setbacks",
        Reserve = "reserve" { percent: Given },
        Residue = "residue",
        OtherSeedbed = "other_seedbed",
        WithWhatIsBroadcast = "with_what_is_broadcast",
        OrderedWithTheProduct = "ordered_with_the_product",
        PacksOfMass = "packs_of_mass" { packs: Given, mass: GivenMass },
        PacksOfSeeds = "packs_of_seeds" { packs: Given, seeds: Given },
        PacksByLot = "packs_by_lot",
    }
}

#[cfg(test)]
mod tests {
    #[test]
    fn every_step_has_its_words() {
        assert_eq!(crate::texts::checked::<super::Line>(), Vec::<String>::new());
    }
}
