//! What the crops of the list bear beside their seed: their groups, which of two bears less, and for which crops a limit
//! holds. An unknown crop is covered by no table.

use super::crop_list::key;
pub use super::crop_list::{Crop, all};

/// Crops that bear about the same beside their seed. The order is that of sensitivity, the hardiest first.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Group {
    Cereals,
    MaizeAndSorghum,
    /// Oilseeds, pulses, small-seeded legumes and beet.
    Tender,
    /// No published table speaks of them: nothing may be concluded from their limits for others, and whatever a hardier group
    /// may have is a ceiling for them.
    Untried,
}

impl Crop {
    /// The crops that bear about the same.
    pub fn group(self) -> Group {
        match self {
            Self::Oats
            | Self::Barley
            | Self::WinterBarley
            | Self::SpringBarley
            | Self::Wheat
            | Self::WinterWheat
            | Self::SpringWheat
            | Self::DurumWheat
            | Self::Spelt
            | Self::Rye
            | Self::Triticale => Group::Cereals,
            Self::Maize | Self::Sorghum => Group::MaizeAndSorghum,
            Self::Sunflower
            | Self::Rape
            | Self::Mustard
            | Self::Camelina
            | Self::Flax
            | Self::Safflower
            | Self::Peas
            | Self::Lentil
            | Self::Chickpea
            | Self::FabaBean
            | Self::DryBean
            | Self::Soybean
            | Self::Lupin
            | Self::Buckwheat
            | Self::Lucerne
            | Self::Clover
            | Self::RedClover
            | Self::WhiteClover
            | Self::AlsikeClover
            | Self::CrimsonClover
            | Self::BirdsfootTrefoil
            | Self::HairyVetch
            | Self::CommonVetch
            | Self::SugarBeet => Group::Tender,
            Self::PerennialRyegrass
            | Self::ItalianRyegrass
            | Self::Timothy
            | Self::Cocksfoot
            | Self::TallFescue
            | Self::SmoothBrome
            | Self::MeadowGrass
            | Self::ReedCanaryGrass
            | Self::OilseedRadish
            | Self::StubbleTurnips => Group::Untried,
        }
    }

    /// Whether it is known to bear less beside its seed than another crop. Two of which neither is known to bear less, as
    /// two pulses, do not compare: published tables put them in different orders.
    ///
    /// Sources: Manitoba Agriculture, *Guidelines for safely applying fertilizer with seed* (oats a little hardier
    /// than barley, barley than wheat); South Dakota State University Extension, *Fertilizer placed with seeds in dry
    /// soil conditions* (cereals and maize hardier than oilseeds); sorghum between maize and soybean: a note on
    /// in-furrow practice on the Great Plains. That rye and triticale stand with wheat, and pulses with oilseeds: common
    /// practice, no source.
    pub fn bears_less_than(self, other: Self) -> bool {
        self.group() != Group::Untried && self.sensitivity() > other.sensitivity()
    }

    /// Whether it bears less than another crop, or may do so for all that is published: then what the other may have is a
    /// ceiling for it.
    pub fn may_bear_less_than(self, other: Self) -> bool {
        self.sensitivity() > other.sensitivity()
    }

    /// Whether all that is said here of one of the two holds for the other.
    pub fn bears_like(self, other: Self) -> bool {
        self.group() == other.group() && self.sensitivity() == other.sensitivity()
    }

    /// From the hardiest up; equal numbers do not compare.
    fn sensitivity(self) -> u8 {
        match self.group() {
            Group::Cereals => match self {
                Self::Oats => 0,
                Self::Barley | Self::WinterBarley | Self::SpringBarley => 1,
                _ => 2,
            },
            Group::MaizeAndSorghum => match self {
                Self::Maize => 3,
                _ => 4,
            },
            Group::Tender => 5,
            Group::Untried => 6,
        }
    }
}

/// Whether a word of a table stands for the crop that a word of a job means. Words that are in no list agree only where
/// they are the same: a table of the user's own may have crops that no other has.
pub fn stands_for(of_table: &str, of_job: &str) -> bool {
    let table = key(of_table);
    let Some(crop) = Crop::of(of_job) else {
        return table == key(of_job);
    };
    if ["cereals", "cereal", "small grains", "small grain"].contains(&&*table) {
        return crop.group() == Group::Cereals;
    }
    Crop::of(&table).is_some_and(|known| known == crop || crop.kind_of() == Some(known))
}

/// Whether a limit that was made for one crop is none too high for another: the same crop, or of two cereals one that bears
/// no less.
pub fn holds_for(limit: &str, sown: &str) -> bool {
    let cereals = |limit: Crop, sown: Crop| {
        limit.group() == Group::Cereals
            && sown.group() == Group::Cereals
            && !sown.bears_less_than(limit)
    };
    let both = Crop::of(limit).zip(Crop::of(sown));
    stands_for(limit, sown) || both.is_some_and(|(limit, sown)| cereals(limit, sown))
}

/// Whether a limit that was made for one crop is on the safe side for another that bears more.
pub fn is_safe_for(limit: &str, sown: &str) -> bool {
    let both = Crop::of(limit).zip(Crop::of(sown));
    both.is_some_and(|(limit, sown)| limit.bears_less_than(sown))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_table_speaks_of_a_crop_by_any_of_its_words() {
        for (table, job, same) in [
            ("cereals", "wheat", true),
            ("cereals", "Winter Barley", true),
            ("wheat", "cereals", true),
            ("wheat", "durum", true),
            ("winter wheat", "wheat", false),
            ("canola", "winter oilseed rape", true),
            ("cereals", "maize", false),
            ("dry bean", "pinto bean", true),
            ("phacelia", "phacelia", true),
            ("phacelia", "wheat", false),
            ("wheat", "phacelia", false),
        ] {
            assert_eq!(stands_for(table, job), same, "{table} {job}");
        }
    }

    #[test]
    fn a_limit_holds_for_no_crop_that_bears_less() {
        for (limit, sown, holds, safe) in [
            ("cereals", "spring barley", true, true),
            ("wheat", "rye", true, false),
            ("winter wheat", "wheat", true, false),
            ("oats", "wheat", false, false),
            ("cereals", "canola", false, false),
            ("canola", "barley", false, true),
            ("peas", "lentils", false, false),
            ("cereals", "perennial ryegrass", false, false),
            // Nobody published where grasses stand, so that what they bear says nothing about wheat.
            ("perennial ryegrass", "wheat", false, false),
            ("clover", "red clover", true, false),
            ("red clover", "clover", false, false),
            ("wheat", "spelt", true, false),
            ("mustard", "camelina", true, false),
        ] {
            assert_eq!(holds_for(limit, sown), holds, "{limit} {sown}");
            assert_eq!(is_safe_for(limit, sown), safe, "{limit} {sown}");
        }
    }

    #[test]
    fn the_order_is_one_of_the_published_ones() {
        let chain = [
            Crop::Oats,
            Crop::Barley,
            Crop::Wheat,
            Crop::Maize,
            Crop::Sorghum,
            Crop::Soybean,
        ];
        for pair in chain.windows(2) {
            assert!(pair[1].bears_less_than(pair[0]), "{pair:?}");
            assert!(!pair[0].bears_less_than(pair[1]), "{pair:?}");
        }
        assert!(!Crop::Peas.bears_less_than(Crop::Rape) && !Crop::Rape.bears_less_than(Crop::Peas));
        let (grass, peas) = (Crop::Timothy, Crop::Peas);
        assert!(!grass.bears_less_than(peas) && !peas.bears_less_than(grass));
        assert!(grass.may_bear_less_than(peas) && !peas.may_bear_less_than(grass));
        assert!(all().all(|crop| !crop.bears_less_than(crop)));
    }
}
