//! Sentences as values: an enum whose variants are what can be said, with what is said in them.

use super::Spoken;

/// An enum of sentences; made by `sentences!`.
pub trait Sentence {
    /// Section of the texts.
    const SECTION: &'static str;
    /// Every sentence: its key, and the names of its parts.
    const ALL: &'static [(&'static str, &'static [&'static str])];

    /// Its key in the section.
    fn key(&self) -> &'static str;

    /// Its parts by name.
    fn parts(&self) -> Vec<(&'static str, &dyn Spoken)>;
}

/// Declares an enum of sentences, each with its key in a section of the texts and its parts:
/// `sentences! { pub(super) enum Why of "reason" { RateDirect = "rate_direct" { rate: GivenRate, place: String }, } }`.
macro_rules! sentences {
    (
        $(#[$about:meta])*
        $visible:vis enum $name:ident of $section:literal {
            $($(#[$what:meta])* $variant:ident = $key:literal $({ $($part:ident: $kind:ty),* $(,)? })?,)*
        }
    ) => {
        $(#[$about])*
        #[derive(Debug, Clone, PartialEq)]
        $visible enum $name {
            $($(#[$what])* $variant $({ $($part: $kind),* })?,)*
        }

        impl $crate::texts::Sentence for $name {
            const SECTION: &'static str = $section;
            const ALL: &'static [(&'static str, &'static [&'static str])] =
                &[$(($key, &[$($(stringify!($part)),*)?])),*];

            fn key(&self) -> &'static str {
                match self {
                    $(Self::$variant { .. } => $key,)*
                }
            }

            fn parts(&self) -> Vec<(&'static str, &dyn $crate::texts::Spoken)> {
                match self {
                    $(Self::$variant $({ $($part),* })? => vec![
                        $($((stringify!($part), $part as &dyn $crate::texts::Spoken)),*)?
                    ],)*
                }
            }
        }
    };
}
pub(crate) use sentences;
