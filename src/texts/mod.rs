//! Sentences for people: what the engine says, in the language and the units of a job.
//!
//! Who has something to say makes a value of it: a sentence of an enum (`sentences!`) with typed quantities
//! ([`quantity`]). The words stand in one file for each language, `en.toml`, with named places:
//!
//! ```toml
//! [reason]
//! rate_direct = "{rate} as set{place}"
//! seed_seeds = "{seeds:number} seeds/{seeds:unit}{on} x {weight:number} g per thousand = {rate}"
//! [reason.us_customary]   # where a sentence reads otherwise in pounds and acres
//! seed_seeds = "{seeds:number} seeds/{seeds:unit}{on} / {weight} = {rate}"
//! ```
//!
//! `{rate}` is the quantity with its unit, `{rate:number}` and `{rate:unit}` are its parts. Each enum has a test that calls
//! `checked`: a sentence without words, words without a sentence and a place that does not exist fail it, in every language.

pub mod quantity;
mod sentence;
mod template;

pub use quantity::Spoken;
pub use sentence::Sentence;
pub(crate) use sentence::sentences;

use crate::job::{Job, Language};
use crate::units::UnitSystem;
use std::collections::BTreeMap;
use std::sync::OnceLock;
use template::Template;

/// In which language and units something is said.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub struct Words {
    /// The language.
    pub language: Language,
    /// The units.
    pub units: UnitSystem,
}

impl Words {
    /// As the pages of a job are.
    pub fn of(job: &Job) -> Self {
        Self {
            language: job.report.language,
            units: job.report.units,
        }
    }

    /// A sentence in words.
    pub fn say<S: Sentence>(self, sentence: &S) -> String {
        match file(self.language).template(S::SECTION, sentence.key(), self.units) {
            Some(template) => template.filled(&sentence.parts(), self),
            // `checked` finds each of these before anybody reads it.
            None => format!("[{}.{}]", S::SECTION, sentence.key()),
        }
    }

    /// A quantity with its unit.
    pub fn amount(self, of: &dyn Spoken) -> String {
        let number = of.number(self.units);
        match of.unit(self.units) {
            "" => number.into_owned(),
            unit => format!("{number} {unit}"),
        }
    }

    /// A sentence without quantities, as the file has it.
    pub fn text<S: Sentence>(self, sentence: &S) -> &'static str {
        file(self.language)
            .template(S::SECTION, sentence.key(), self.units)
            .map_or("", Template::text)
    }
}

/// The sentences of a section: those for all units, and those that read otherwise in US units.
#[derive(Default)]
struct Section {
    all: BTreeMap<String, Template>,
    us: BTreeMap<String, Template>,
}

/// The texts of a language.
#[derive(Default)]
struct Sentences(BTreeMap<String, Section>);

impl Sentences {
    fn template(&self, section: &str, key: &str, units: UnitSystem) -> Option<&Template> {
        let section = self.0.get(section)?;
        let us = match units {
            UnitSystem::UsCustomary => section.us.get(key),
            UnitSystem::Metric => None,
        };
        us.or_else(|| section.all.get(key))
    }

    fn parsed(text: &str) -> Result<Self, String> {
        let table: toml::Table = toml::from_str(text).map_err(|wrong| wrong.to_string())?;
        let mut file = Self::default();
        for (name, section) in &table {
            let of = file.0.entry(name.clone()).or_default();
            for (key, value) in section.as_table().ok_or("a section is no table")? {
                match value {
                    toml::Value::Table(us) if key == "us_customary" => {
                        for (key, value) in us {
                            of.us.insert(key.clone(), Template::parsed(value)?);
                        }
                    }
                    _ => {
                        of.all.insert(key.clone(), Template::parsed(value)?);
                    }
                }
            }
        }
        Ok(file)
    }
}

/// The files with all words of a language.
pub struct Files {
    /// What the engine says: the sentences of this module.
    pub engine: &'static str,
    /// The words of the report and its sheets.
    pub report: &'static str,
    /// The words of the page of `edit`.
    pub page: &'static str,
}

/// Names the files of a language.
macro_rules! files_of {
    ($engine:literal, $tag:literal) => {
        Files {
            engine: include_str!($engine),
            report: include_str!(concat!("../report/texts/", $tag, ".toml")),
            page: include_str!(concat!("../edit/texts/", $tag, ".toml")),
        }
    };
}

/// The files of a language: the one place, beside the variant, where a new language is named.
pub fn files(language: Language) -> Files {
    match language {
        Language::En => files_of!("en.toml", "en"),
        Language::De => files_of!("de.toml", "de"),
        Language::Fr => files_of!("fr.toml", "fr"),
        Language::Es => files_of!("es.toml", "es"),
        Language::Pl => files_of!("pl.toml", "pl"),
        Language::Uk => files_of!("uk.toml", "uk"),
    }
}

/// The sentences of a language, read once.
fn file(language: Language) -> &'static Sentences {
    static READ: [OnceLock<Sentences>; Language::ALL.len()] =
        [const { OnceLock::new() }; Language::ALL.len()];
    // The tests read every file whole.
    READ[language as usize]
        .get_or_init(|| Sentences::parsed(files(language).engine).unwrap_or_default())
}

/// For the test of an enum of sentences: what is missing, left over or misspelt in the files of all languages.
#[cfg(test)]
pub(crate) fn checked<S: Sentence>() -> Vec<String> {
    let mut faults = Vec::new();
    for language in Language::ALL {
        let file = Sentences::parsed(files(language).engine).expect("a file of texts");
        let Some(section) = file.0.get(S::SECTION) else {
            faults.push(format!("{language:?}: no section [{}]", S::SECTION));
            continue;
        };
        let mut fault = |key: &str, what: &str| {
            faults.push(format!("{language:?}: [{}] {key}: {what}", S::SECTION));
        };
        for (key, parts) in S::ALL {
            match section.all.get(*key) {
                None => fault(key, "no words"),
                Some(words) => {
                    for part in parts
                        .iter()
                        .filter(|part| !words.names().any(|name| name == **part))
                    {
                        fault(key, &format!("{{{part}}} is not said"));
                    }
                }
            }
            for words in [section.all.get(*key), section.us.get(*key)]
                .into_iter()
                .flatten()
            {
                for name in words.names().filter(|name| !parts.contains(name)) {
                    fault(key, &format!("there is no {{{name}}}"));
                }
            }
        }
        for key in section.all.keys().chain(section.us.keys()) {
            if !S::ALL.iter().any(|(known, _)| known == key) {
                fault(key, "nobody says this");
            }
        }
    }
    faults
}

#[cfg(test)]
mod tests {
    use super::quantity::Rate;
    use super::*;

    sentences! {
        enum Tried of "reason" {
            Missing = "no_such_key",
            Direct = "rate_direct" { rate: Rate, elsewhere: String },
        }
    }

    #[test]
    fn the_check_finds_what_is_missing_left_over_or_misspelt() {
        let faults = checked::<Tried>();
        for wanted in [
            "[reason] no_such_key: no words",
            "[reason] rate_direct: {elsewhere} is not said",
            "[reason] rate_direct: there is no {place}",
            "[reason] seed_seeds: nobody says this",
        ] {
            assert!(
                faults.iter().any(|fault| fault.contains(wanted)),
                "{wanted}: {faults:?}"
            );
        }
        // What nobody would see in a page is at least no blank.
        assert_eq!(
            Words::default().say(&Tried::Missing),
            "[reason.no_such_key]"
        );
        let direct = Tried::Direct {
            rate: Rate(150.0),
            elsewhere: String::new(),
        };
        assert_eq!(Words::default().say(&direct), "150 kg/ha as set");
    }

    /// Every section of the files belongs to an enum, which its own test checks.
    #[test]
    fn every_section_is_that_of_an_enum() {
        fn sources(folder: &std::path::Path, all: &mut String) {
            for entry in std::fs::read_dir(folder).expect("a folder") {
                let path = entry.expect("an entry").path();
                if path.is_dir() {
                    sources(&path, all);
                } else if path.extension().is_some_and(|of| of == "rs") {
                    all.push_str(&std::fs::read_to_string(&path).expect("a source"));
                }
            }
        }
        let mut all = String::new();
        sources(
            &std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("src"),
            &mut all,
        );
        for language in Language::ALL {
            for section in Sentences::parsed(files(language).engine)
                .expect("texts")
                .0
                .keys()
            {
                let named = format!(" of \"{section}\" {{");
                assert!(
                    all.contains(&named),
                    "{language:?}: no enum has [{section}]"
                );
            }
        }
    }
}
