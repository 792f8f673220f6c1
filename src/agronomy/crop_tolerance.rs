//! The crops that tables of seed-safe limits speak of: their words, their groups, and which bears less beside its seed.
//!
//! The one home of all three. A word that is not here is an unknown crop, and an unknown crop is covered by no table.

/// A crop, as far as tables tell it apart.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Crop {
    Oats,
    Barley,
    WinterBarley,
    SpringBarley,
    /// Wheat of which nothing more is said.
    Wheat,
    WinterWheat,
    SpringWheat,
    DurumWheat,
    Rye,
    Triticale,
    Maize,
    Sorghum,
    Sunflower,
    Canola,
    Mustard,
    Flax,
    Safflower,
    Peas,
    Lentil,
    Chickpea,
    FabaBean,
    DryBean,
    Soybean,
    Lupin,
    Buckwheat,
    Lucerne,
    Clover,
    SugarBeet,
}

/// Crops that bear about the same beside their seed. The order is that of sensitivity, the hardiest first.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Group {
    Cereals,
    MaizeAndSorghum,
    /// Oilseeds, pulses, small-seeded legumes and beet.
    Tender,
}

/// Every crop with the words for it; the first is its name in messages.
const WORDS: [(Crop, &[&str]); 28] = [
    (
        Crop::Oats,
        &["oats", "oat", "winter oats", "spring oats", "naked oats"],
    ),
    (Crop::Barley, &["barley", "malting barley", "feed barley"]),
    (Crop::WinterBarley, &["winter barley"]),
    (Crop::SpringBarley, &["spring barley"]),
    (
        Crop::Wheat,
        &[
            "wheat",
            "cereals",
            "cereal",
            "small grains",
            "small grain",
            "spelt",
        ],
    ),
    (
        Crop::WinterWheat,
        &["winter wheat", "hard red winter wheat", "soft winter wheat"],
    ),
    (
        Crop::SpringWheat,
        &["spring wheat", "hard red spring wheat"],
    ),
    (Crop::DurumWheat, &["durum wheat", "durum"]),
    (Crop::Rye, &["rye", "winter rye", "hybrid rye", "fall rye"]),
    (
        Crop::Triticale,
        &["triticale", "winter triticale", "spring triticale"],
    ),
    (
        Crop::Maize,
        &["maize", "corn", "grain maize", "forage maize"],
    ),
    (Crop::Sorghum, &["sorghum", "grain sorghum", "milo"]),
    (Crop::Sunflower, &["sunflower", "sunflowers"]),
    (
        Crop::Canola,
        &[
            "canola",
            "rape",
            "oilseed rape",
            "winter oilseed rape",
            "spring oilseed rape",
            "rapeseed",
            "winter rape",
            "spring rape",
        ],
    ),
    (
        Crop::Mustard,
        &["mustard", "white mustard", "brown mustard", "camelina"],
    ),
    (Crop::Flax, &["flax", "linseed"]),
    (Crop::Safflower, &["safflower"]),
    (
        Crop::Peas,
        &[
            "peas",
            "pea",
            "field peas",
            "field pea",
            "combining peas",
            "vining peas",
        ],
    ),
    (Crop::Lentil, &["lentil", "lentils"]),
    (Crop::Chickpea, &["chickpea", "chickpeas"]),
    (
        Crop::FabaBean,
        &[
            "faba bean",
            "faba beans",
            "field bean",
            "field beans",
            "spring beans",
            "winter beans",
        ],
    ),
    (
        Crop::DryBean,
        &[
            "dry bean",
            "dry beans",
            "edible bean",
            "edible beans",
            "pinto bean",
            "navy bean",
        ],
    ),
    (
        Crop::Soybean,
        &[
            "soybean",
            "soybeans",
            "soya bean",
            "soya beans",
            "soya",
            "soy",
        ],
    ),
    (Crop::Lupin, &["lupin", "lupins"]),
    (Crop::Buckwheat, &["buckwheat"]),
    (Crop::Lucerne, &["lucerne", "alfalfa"]),
    (
        Crop::Clover,
        &["clover", "red clover", "white clover", "crimson clover"],
    ),
    (
        Crop::SugarBeet,
        &["sugar beet", "sugar beets", "sugarbeet", "fodder beet"],
    ),
];

/// All crops.
pub fn all() -> impl Iterator<Item = Crop> {
    WORDS.iter().map(|(crop, _)| *crop)
}

impl Crop {
    /// The crop that a word of a job means; case, blanks at the ends, hyphens and underscores do not matter. 'Cereals' is
    /// wheat, the tenderest of them.
    pub fn of(word: &str) -> Option<Self> {
        let wanted = key(word);
        let found = WORDS
            .iter()
            .find(|(_, words)| words.contains(&wanted.as_str()));
        found.map(|(crop, _)| *crop)
    }

    /// Its name in messages.
    pub fn name(self) -> &'static str {
        let found = WORDS.iter().find(|(crop, _)| *crop == self);
        found
            .and_then(|(_, words)| words.first())
            .copied()
            .unwrap_or("")
    }

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
            | Self::Rye
            | Self::Triticale => Group::Cereals,
            Self::Maize | Self::Sorghum => Group::MaizeAndSorghum,
            Self::Sunflower
            | Self::Canola
            | Self::Mustard
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
            | Self::SugarBeet => Group::Tender,
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
        self.sensitivity() > other.sensitivity()
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
        }
    }

    /// The crop it is a kind of.
    fn kind_of(self) -> Option<Self> {
        match self {
            Self::WinterBarley | Self::SpringBarley => Some(Self::Barley),
            Self::WinterWheat | Self::SpringWheat | Self::DurumWheat => Some(Self::Wheat),
            _ => None,
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
    if ["cereals", "cereal", "small grains", "small grain"].contains(&table.as_str()) {
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

fn key(word: &str) -> String {
    word.trim().to_lowercase().replace(['-', '_'], " ")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_word_means_one_crop_and_every_crop_has_words() {
        let mut seen = Vec::new();
        for (crop, words) in WORDS {
            for word in words {
                assert_eq!(Crop::of(word), Some(crop), "{word}");
                assert!(!seen.contains(word), "{word} twice");
                seen.push(word);
            }
            assert!(!crop.bears_less_than(crop));
        }
        assert_eq!(all().count(), WORDS.len());
        assert_eq!(Crop::of("Winter-Wheat "), Some(Crop::WinterWheat));
        assert_eq!(Crop::of("quinoa"), None);
    }

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
            ("cereals", "ryegrass", false, false),
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
        assert!(
            !Crop::Peas.bears_less_than(Crop::Canola) && !Crop::Canola.bears_less_than(Crop::Peas)
        );
    }
}
