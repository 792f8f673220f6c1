//! The crops that the program knows, by every word for them: the one list, for published ranges of their numbers
//! ([`super::crops`]) and for what they bear beside their seed ([`super::crop_tolerance`]) alike.
//!
//! A word that is not here is an unknown crop: nothing is published about it, and no table covers it.

use crate::job::{Kind, Product};
use std::borrow::Cow;
use std::collections::BTreeMap;
use std::sync::LazyLock;

/// A crop, as far as tables and ranges tell it apart.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Crop {
    Oats,
    /// Barley of which nothing more is said.
    Barley,
    WinterBarley,
    SpringBarley,
    /// Wheat of which nothing more is said, and cereals of which no more is said: the tenderest of them that tables know.
    Wheat,
    WinterWheat,
    SpringWheat,
    DurumWheat,
    Spelt,
    Rye,
    Triticale,
    Maize,
    Sorghum,
    Sunflower,
    Rape,
    Mustard,
    Camelina,
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
    /// Clover of which nothing more is said.
    Clover,
    RedClover,
    WhiteClover,
    AlsikeClover,
    CrimsonClover,
    BirdsfootTrefoil,
    HairyVetch,
    CommonVetch,
    SugarBeet,
    PerennialRyegrass,
    ItalianRyegrass,
    Timothy,
    Cocksfoot,
    TallFescue,
    SmoothBrome,
    MeadowGrass,
    ReedCanaryGrass,
    OilseedRadish,
    StubbleTurnips,
}

/// Every crop with the words for it; the first is its name in messages.
const WORDS: [(Crop, &[&str]); 47] = [
    (
        Crop::Oats,
        &[
            "oats",
            "oat",
            "winter oats",
            "spring oats",
            "common oats",
            "naked oats",
        ],
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
            "common wheat",
            "bread wheat",
            "soft wheat",
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
    (Crop::Spelt, &["spelt", "spelt wheat"]),
    (
        Crop::Rye,
        &[
            "rye",
            "winter rye",
            "hybrid rye",
            "fall rye",
            "cereal rye",
            "grain rye",
        ],
    ),
    (
        Crop::Triticale,
        &["triticale", "winter triticale", "spring triticale"],
    ),
    (
        Crop::Maize,
        &[
            "maize",
            "corn",
            "grain maize",
            "forage maize",
            "silage maize",
        ],
    ),
    (Crop::Sorghum, &["sorghum", "grain sorghum", "milo"]),
    (
        Crop::Sunflower,
        &[
            "sunflower",
            "sunflowers",
            "oilseed sunflower",
            "confection sunflower",
        ],
    ),
    (
        Crop::Rape,
        &[
            "oilseed rape",
            "canola",
            "rape",
            "rapeseed",
            "winter oilseed rape",
            "spring oilseed rape",
            "winter rape",
            "spring rape",
            "osr",
        ],
    ),
    (
        Crop::Mustard,
        &[
            "mustard",
            "white mustard",
            "yellow mustard",
            "brown mustard",
            "oriental mustard",
        ],
    ),
    (Crop::Camelina, &["camelina"]),
    (
        Crop::Flax,
        &[
            "flax",
            "linseed",
            "flaxseed",
            "oilseed flax",
            "winter linseed",
            "spring linseed",
        ],
    ),
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
            "dry peas",
            "winter peas",
            "forage peas",
        ],
    ),
    (
        Crop::Lentil,
        &["lentils", "lentil", "red lentils", "green lentils"],
    ),
    (
        Crop::Chickpea,
        &[
            "chickpeas",
            "chickpea",
            "desi chickpeas",
            "kabuli chickpeas",
        ],
    ),
    (
        Crop::FabaBean,
        &[
            "field beans",
            "field bean",
            "beans",
            "faba bean",
            "faba beans",
            "fababean",
            "fababeans",
            "winter beans",
            "spring beans",
            "broad beans",
            "tick beans",
        ],
    ),
    (
        Crop::DryBean,
        &[
            "dry beans",
            "dry bean",
            "edible bean",
            "edible beans",
            "dry edible beans",
            "pinto bean",
            "pinto beans",
            "navy bean",
            "navy beans",
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
    (
        Crop::Lupin,
        &[
            "lupins",
            "lupin",
            "narrow-leafed lupin",
            "narrow-leafed lupins",
            "sweet lupins",
        ],
    ),
    (Crop::Buckwheat, &["buckwheat"]),
    (Crop::Lucerne, &["lucerne", "alfalfa"]),
    (Crop::Clover, &["clover"]),
    (Crop::RedClover, &["red clover"]),
    (
        Crop::WhiteClover,
        &["white clover", "ladino clover", "dutch clover"],
    ),
    (Crop::AlsikeClover, &["alsike clover", "alsike"]),
    (Crop::CrimsonClover, &["crimson clover"]),
    (Crop::BirdsfootTrefoil, &["birdsfoot trefoil", "trefoil"]),
    (Crop::HairyVetch, &["hairy vetch", "winter vetch"]),
    (
        Crop::CommonVetch,
        &["common vetch", "vetch", "spring vetch"],
    ),
    (
        Crop::SugarBeet,
        &["sugar beet", "sugar beets", "sugarbeet", "fodder beet"],
    ),
    (Crop::PerennialRyegrass, &["perennial ryegrass"]),
    (
        Crop::ItalianRyegrass,
        &[
            "Italian ryegrass",
            "annual ryegrass",
            "westerwolds ryegrass",
        ],
    ),
    (Crop::Timothy, &["timothy", "timothy grass"]),
    (
        Crop::Cocksfoot,
        &["cocksfoot", "orchardgrass", "orchard grass"],
    ),
    (Crop::TallFescue, &["tall fescue"]),
    (
        Crop::SmoothBrome,
        &["smooth brome", "smooth bromegrass", "bromegrass"],
    ),
    (
        Crop::MeadowGrass,
        &["smooth-stalked meadow grass", "kentucky bluegrass"],
    ),
    (
        Crop::ReedCanaryGrass,
        &["reed canary grass", "reed canarygrass"],
    ),
    (
        Crop::OilseedRadish,
        &["oilseed radish", "radish", "forage radish", "fodder radish"],
    ),
    (
        Crop::StubbleTurnips,
        &["stubble turnips", "turnip", "turnips", "forage turnips"],
    ),
];

/// All crops.
pub fn all() -> impl Iterator<Item = Crop> {
    WORDS.iter().map(|(crop, _)| *crop)
}

/// All words.
pub fn words() -> impl Iterator<Item = &'static str> {
    WORDS.iter().flat_map(|(_, words)| words.iter().copied())
}

/// The word that is spelled most like `word`, if one is close enough to be a slip.
pub fn nearest(word: &str) -> Option<&'static str> {
    super::text::nearest(word, words())
}

impl Crop {
    /// The crop that a word of a job means; case, blanks, hyphens and underscores do not matter.
    pub fn of(word: &str) -> Option<Self> {
        static BY_WORD: LazyLock<BTreeMap<Cow<str>, Crop>> = LazyLock::new(|| {
            let each = WORDS.iter();
            each.flat_map(|(crop, words)| words.iter().map(|word| (key(word), *crop)))
                .collect()
        });
        BY_WORD.get(&*key(word)).copied()
    }

    /// Its words, the one for messages first.
    pub fn words(self) -> &'static [&'static str] {
        let found = WORDS.iter().find(|(crop, _)| *crop == self);
        found.map_or(&[], |(_, words)| words)
    }

    /// The name of the crop of a product: what the job calls it, else its id where that is the word for one.
    pub fn named_by(product: &Product) -> Option<&str> {
        let own = product.crop.as_deref().map(str::trim);
        let by_id = || Self::of(&product.id).map(Self::name);
        own.filter(|name| !name.is_empty())
            .or_else(by_id)
            .filter(|_| product.kind == Kind::Seed)
    }

    /// Its name in messages.
    pub fn name(self) -> &'static str {
        self.words().first().copied().unwrap_or("")
    }

    /// The crop it is a kind of: what is said of that one is said of it as well, where nothing nearer is said.
    pub fn kind_of(self) -> Option<Self> {
        match self {
            Self::WinterBarley | Self::SpringBarley => Some(Self::Barley),
            Self::WinterWheat | Self::SpringWheat | Self::DurumWheat | Self::Spelt => {
                Some(Self::Wheat)
            }
            Self::Camelina => Some(Self::Mustard),
            Self::RedClover | Self::WhiteClover | Self::AlsikeClover | Self::CrimsonClover => {
                Some(Self::Clover)
            }
            _ => None,
        }
    }
}

/// What two words have in common that mean the same.
pub(super) fn key(word: &str) -> Cow<'_, str> {
    // Most words are those of a list, and are so already: tables are asked for theirs again and again.
    let (mut before, mut plain) = (b' ', true);
    for byte in word.bytes() {
        plain &=
            byte.is_ascii_lowercase() || byte.is_ascii_digit() || byte == b' ' && before != b' ';
        before = byte;
    }
    if plain && before != b' ' {
        return Cow::Borrowed(word);
    }
    let lower = word.to_lowercase().replace(['-', '_'], " ");
    Cow::Owned(lower.split_whitespace().collect::<Vec<_>>().join(" "))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::agronomy::crops::published;

    #[test]
    fn every_word_means_one_crop_and_every_crop_has_words() {
        let mut seen = Vec::new();
        for (crop, words) in WORDS {
            for word in words {
                assert_eq!(Crop::of(word), Some(crop), "{word}");
                assert!(!seen.contains(&key(word)), "{word} twice");
                seen.push(key(word));
            }
        }
        assert_eq!(all().count(), WORDS.len());
        assert_eq!(Crop::of(" Winter-Wheat "), Some(Crop::WinterWheat));
        assert_eq!(Crop::of("narrow leafed_lupin"), Some(Crop::Lupin));
        assert_eq!(Crop::of("quinoa"), None);
    }

    /// A crop that the published ranges know has its place beside the seed, and the other way round: by the same words.
    #[test]
    fn ranges_and_limits_beside_the_seed_know_the_same_crops() {
        let published = published().expect("the table");
        for crop in all() {
            let of = published.crop(crop.name()).expect("an entry").crop;
            let mut kinds = std::iter::successors(Some(crop), |kind| kind.kind_of());
            assert!(kinds.any(|kind| kind == of), "{crop:?} is held as {of:?}");
            for word in crop.words() {
                assert_eq!(published.crop(word).map(|own| own.crop), Some(of), "{word}");
            }
        }
        for (word, held_as) in [
            ("cereals", Crop::Wheat),
            ("Durum", Crop::Wheat),
            ("hybrid rye", Crop::Rye),
            ("winter barley", Crop::Barley),
            ("canola", Crop::Rape),
            ("white-clover", Crop::WhiteClover),
            // Nothing is published here about these, and they are not held as what they are a kind of.
            ("spelt", Crop::Spelt),
            ("camelina", Crop::Camelina),
        ] {
            assert_eq!(
                published.crop(word).map(|own| own.crop),
                Some(held_as),
                "{word}"
            );
        }
        assert!(published.crop("quinoa").is_none());
    }
}
