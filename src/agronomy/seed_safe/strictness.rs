//! Which case is the stricter one: the order of textures and of forms. That of crops is in [`crate::agronomy::crops`].
//!
//! A stricter case never gets a higher limit. Where a table has no column for a case, a stricter column of it is a bound on
//! the safe side, and a milder one a ceiling.

use super::Form;
use crate::job::FertiliserForm;

/// Texture of a soil, the one that bears least first.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Texture {
    Light,
    Medium,
    Heavy,
}

/// All textures, the one that bears least first.
pub const TEXTURES: [Texture; 3] = [Texture::Light, Texture::Medium, Texture::Heavy];

/// Words for textures. Manitoba Agriculture, *Guidelines for safely applying fertilizer with seed*: light is sandy loam,
/// medium loam to clay loam, heavy clay to heavy clay. Sandier soils stand with the light ones, silts and sandy clay
/// loams with the medium ones: common practice, no source.
const WORDS: [(Texture, &[&str]); 3] = [
    (
        Texture::Light,
        &[
            "light",
            "coarse",
            "sandy",
            "sand",
            "sands",
            "loamy sand",
            "sandy loam",
        ],
    ),
    (
        Texture::Medium,
        &[
            "medium",
            "loam",
            "silt",
            "silt loam",
            "sandy clay loam",
            "silty clay loam",
            "clay loam",
        ],
    ),
    (
        Texture::Heavy,
        &[
            "heavy",
            "fine",
            "clay",
            "silty clay",
            "sandy clay",
            "heavy clay",
        ],
    ),
];

impl Texture {
    /// The texture that a word of a job or a table means.
    pub fn of(word: &str) -> Option<Self> {
        let wanted = word.trim().to_lowercase().replace(['-', '_'], " ");
        let found = WORDS
            .iter()
            .find(|(_, words)| words.contains(&wanted.as_str()));
        found.map(|(texture, _)| *texture)
    }

    /// Its word in messages.
    pub fn word(self) -> &'static str {
        match self {
            Self::Light => "light",
            Self::Medium => "medium",
            Self::Heavy => "heavy",
        }
    }
}

/// Whether a form harms a seed at least as much as another, both counted in the same nutrient. Forms that are not named
/// together do not compare.
///
/// Sources: urea above urea with an inhibitor: Canola Council of Canada, *Limit nitrogen in the seed row*; urea above
/// urea ammonium nitrate: the slopes of South Dakota State University per kilogram of N; diammonium above
/// monoammonium phosphate: Perennia, *Cereal Crops Production Guide*; both above triple superphosphate, which brings no
/// ammonia: salt indices 34, 30 and 10 (Soil Science 55, 1943).
pub fn at_least_as_harmful(one: FertiliserForm, other: FertiliserForm) -> bool {
    use FertiliserForm as F;
    one == other
        || matches!(
            (one, other),
            (F::Urea, F::UreaWithInhibitor | F::UreaAmmoniumNitrate)
                | (
                    F::DiammoniumPhosphate,
                    F::MonoammoniumPhosphate | F::TripleSuperphosphate
                )
                | (F::MonoammoniumPhosphate, F::TripleSuperphosphate)
        )
}

/// What a table for one form says about another.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) enum Speaks {
    /// It is for this form, with a factor.
    Of(f64),
    /// It is for a more harmful form: its limit is a bound on the safe side.
    OfAMoreHarmfulOne,
    /// Nothing.
    Not,
}

/// Share of a monoammonium table that diammonium phosphate takes, where it has no table of its own. Perennia (Nova
/// Scotia), *Cereal Crops Production Guide*, text under Table 6: about half where diammonium phosphate supplies the N.
pub const DIAMMONIUM_SHARE: f64 = 0.5;

/// What a table made for `table` says about fertiliser of the form `form`.
pub(super) fn speaks(table: Form, form: FertiliserForm) -> Speaks {
    use FertiliserForm as F;
    match (table, form) {
        (Form::Any, _) => Speaks::Of(1.0),
        (Form::WithoutUrea, F::Urea | F::UreaWithInhibitor | F::UreaAmmoniumNitrate) => Speaks::Not,
        (Form::WithoutUrea, _) => Speaks::Of(1.0),
        (Form::Only(F::MonoammoniumPhosphate), F::DiammoniumPhosphate) => {
            Speaks::Of(DIAMMONIUM_SHARE)
        }
        (Form::Only(of), form) if of == form => Speaks::Of(1.0),
        (Form::Only(of), form) if at_least_as_harmful(of, form) => Speaks::OfAMoreHarmfulOne,
        (Form::Only(_), _) => Speaks::Not,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_word_means_one_texture() {
        for (texture, words) in WORDS {
            for word in words {
                assert_eq!(Texture::of(word), Some(texture), "{word}");
            }
            assert_eq!(Texture::of(texture.word()), Some(texture));
        }
        assert_eq!(Texture::of("Sandy-Loam"), Some(Texture::Light));
        assert_eq!(Texture::of("peat"), None);
        assert!(TEXTURES.is_sorted());
    }

    #[test]
    fn diammonium_phosphate_takes_half_and_triple_superphosphate_no_more_than_monoammonium() {
        use FertiliserForm as F;
        let table = Form::Only(F::MonoammoniumPhosphate);
        assert_eq!(speaks(table, F::DiammoniumPhosphate), Speaks::Of(0.5));
        assert_eq!(
            speaks(table, F::TripleSuperphosphate),
            Speaks::OfAMoreHarmfulOne
        );
        assert_eq!(speaks(table, F::WithoutUrea), Speaks::Not);
        assert_eq!(
            speaks(Form::Only(F::Urea), F::MonoammoniumPhosphate),
            Speaks::Not
        );
        assert_eq!(
            speaks(Form::WithoutUrea, F::UreaAmmoniumNitrate),
            Speaks::Not
        );
    }
}
