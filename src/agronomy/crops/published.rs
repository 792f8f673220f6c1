//! The table of published ranges: its form and its numbers in the program's units.

use crate::agronomy::crop_list::Crop;
use crate::agronomy::text;
use crate::agronomy::toml_words::plain;
use crate::codec::toml_form;
use crate::findings::{Decision, Fault, Outcome, Place};
use crate::job::Country;
use crate::units::{self, UnitSystem};
use serde::Deserialize;
use std::collections::BTreeMap;
use std::sync::OnceLock;

/// All crops, with the sources of their numbers.
#[derive(Debug, Clone, PartialEq)]
pub struct Published {
    /// Sources by the key that ranges name.
    pub sources: BTreeMap<String, Source>,
    pub crops: Vec<Usual>,
}

/// The form of the table.
#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Document {
    source: BTreeMap<String, Source>,
    crop: Vec<Entry>,
}

/// Who printed a number.
#[derive(Debug, Clone, PartialEq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Source {
    pub publisher: String,
    pub title: String,
    pub year: String,
    /// The country whose usage it is.
    pub country: String,
    /// Where to look; for people.
    pub address: String,
}

/// What is printed about a crop and its kinds.
#[derive(Debug, Clone, PartialEq)]
pub struct Usual {
    pub crop: Crop,
    /// Cereals, oilseeds and so on.
    pub group: String,
    /// None where nothing was found in print.
    pub ranges: Vec<Range>,
}

/// The form of an entry of the table.
#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Entry {
    name: String,
    group: String,
    ranges: Vec<Range>,
}

/// What a range is about.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Quantity {
    /// g per thousand seeds.
    ThousandGrainWeight,
    /// Plants per m2.
    Plants,
    /// Seeds per m2.
    Seeds,
    /// Seed sown alone, kg/ha.
    Rate,
    /// Depth of the seed, mm.
    Depth,
    /// Germination, %.
    Germination,
}

/// A unit of measure that publishers print.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Deserialize)]
enum Unit {
    #[serde(rename = "g")]
    Gram,
    #[serde(rename = "seeds/lb")]
    SeedsPerLb,
    #[serde(rename = "per m2")]
    PerM2,
    #[serde(rename = "per ft2")]
    PerFt2,
    #[serde(rename = "per acre")]
    PerAcre,
    #[serde(rename = "kg/ha")]
    KgPerHa,
    #[serde(rename = "lb/ac")]
    LbPerAcre,
    #[serde(rename = "mm")]
    Millimetre,
    #[serde(rename = "cm")]
    Centimetre,
    #[serde(rename = "in")]
    Inch,
    #[serde(rename = "%")]
    Percent,
}

/// What one source prints about one quantity.
#[derive(Debug, Clone, PartialEq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Range {
    pub of: Quantity,
    #[serde(default)]
    from: Option<f64>,
    #[serde(default)]
    to: Option<f64>,
    /// A single number that is printed, instead of a range.
    #[serde(default)]
    figure: Option<f64>,
    /// A least number that is printed, of percent.
    #[serde(default)]
    at_least: Option<f64>,
    unit: Unit,
    /// Key of its source.
    pub source: String,
    /// Page, table or section.
    pub at: String,
}

impl Source {
    /// The country whose usage it is.
    pub fn country(&self) -> Option<Country> {
        Country::of_name(&self.country)
    }
}

impl Quantity {
    /// All of them.
    pub const ALL: [Self; 6] = [
        Self::ThousandGrainWeight,
        Self::Plants,
        Self::Seeds,
        Self::Rate,
        Self::Depth,
        Self::Germination,
    ];

    /// Its name and the unit that the program uses.
    pub fn words(self) -> (&'static str, &'static str) {
        match self {
            Self::ThousandGrainWeight => ("thousand-grain weight", "g"),
            Self::Plants => ("plants", "per m2"),
            Self::Seeds => ("seeds", "per m2"),
            Self::Rate => ("seed rate", "kg/ha"),
            Self::Depth => ("depth", "mm"),
            Self::Germination => ("germination", "%"),
        }
    }

    /// The unit in which the job's pages show it.
    pub fn unit(self, units: UnitSystem) -> &'static str {
        match (units, self) {
            (UnitSystem::Metric, _) | (_, Self::Germination) => self.words().1,
            (UnitSystem::UsCustomary, Self::ThousandGrainWeight) => "seeds per lb",
            (UnitSystem::UsCustomary, Self::Plants | Self::Seeds) => "per ft2",
            (UnitSystem::UsCustomary, Self::Rate) => "lb/ac",
            (UnitSystem::UsCustomary, Self::Depth) => "in",
        }
    }

    /// A value of the program's unit in that one.
    pub fn shown(self, value: f64, units: UnitSystem) -> f64 {
        match (units, self) {
            (UnitSystem::Metric, _) | (_, Self::Germination) => value,
            (UnitSystem::UsCustomary, Self::ThousandGrainWeight) => {
                units::seeds_per_lb_from_thousand_grain_weight_g(value)
            }
            (UnitSystem::UsCustomary, Self::Plants | Self::Seeds) => {
                units::per_ft2_from_per_m2(value)
            }
            (UnitSystem::UsCustomary, Self::Rate) => units::lb_per_acre_from_kg_per_ha(value),
            (UnitSystem::UsCustomary, Self::Depth) => units::inches_from_m(value / 1_000.0),
        }
    }

    /// The decision about a value outside all that is published.
    pub(super) fn decision(self) -> Decision {
        match self {
            Self::ThousandGrainWeight => Decision::UnusualGrainWeight,
            Self::Plants => Decision::UnusualPlants,
            Self::Seeds => Decision::UnusualSeeds,
            Self::Rate => Decision::UnusualSeedRate,
            Self::Depth => Decision::UnusualDepth,
            Self::Germination => Decision::UnusualGermination,
        }
    }
}

impl Unit {
    /// What it measures.
    fn measures(self, of: Quantity) -> bool {
        match self {
            Self::Gram | Self::SeedsPerLb => of == Quantity::ThousandGrainWeight,
            Self::PerM2 | Self::PerFt2 | Self::PerAcre => {
                matches!(of, Quantity::Plants | Quantity::Seeds)
            }
            Self::KgPerHa | Self::LbPerAcre => of == Quantity::Rate,
            Self::Millimetre | Self::Centimetre | Self::Inch => of == Quantity::Depth,
            Self::Percent => of == Quantity::Germination,
        }
    }

    /// A printed number in the program's unit.
    fn to_own(self, printed: f64) -> f64 {
        match self {
            Self::Gram | Self::PerM2 | Self::KgPerHa | Self::Millimetre | Self::Percent => printed,
            Self::SeedsPerLb => units::thousand_grain_weight_g_from_seeds_per_lb(printed),
            Self::PerFt2 => units::per_m2_from_per_ft2(printed),
            Self::PerAcre => units::per_m2_from_per_acre(printed),
            Self::LbPerAcre => units::kg_per_ha_from_lb_per_acre(printed),
            Self::Centimetre => printed * 10.0,
            Self::Inch => units::m_from_inches(printed) * 1_000.0,
        }
    }

    fn word(self) -> &'static str {
        match self {
            Self::Gram => "g",
            Self::SeedsPerLb => "seeds/lb",
            Self::PerM2 => "per m2",
            Self::PerFt2 => "per ft2",
            Self::PerAcre => "per acre",
            Self::KgPerHa => "kg/ha",
            Self::LbPerAcre => "lb/ac",
            Self::Millimetre => "mm",
            Self::Centimetre => "cm",
            Self::Inch => "in",
            Self::Percent => "%",
        }
    }
}

impl Range {
    /// First and last printed number; `None` where none is printed, or several ways at once.
    fn printed(&self) -> Option<[f64; 2]> {
        match (self.from, self.to, self.figure, self.at_least) {
            (Some(from), Some(to), None, None) if from < to => Some([from, to]),
            (None, None, Some(figure), None) => Some([figure, figure]),
            (None, None, None, Some(least)) if self.unit == Unit::Percent && least < 100.0 => {
                Some([least, 100.0])
            }
            _ => None,
        }
    }

    /// Lowest and highest in the program's unit; alike where a single number is printed.
    pub fn span(&self) -> [f64; 2] {
        let [a, b] = self
            .printed()
            .unwrap_or_default()
            .map(|own| self.unit.to_own(own));
        [a.min(b), a.max(b)]
    }

    /// Whether a single number is printed.
    pub fn is_figure(&self) -> bool {
        self.figure.is_some()
    }

    /// As it is printed, with its unit: `12812 to 26374 seeds/lb`.
    pub fn as_printed(&self) -> String {
        let unit = self.unit.word();
        match (self.printed(), self.at_least) {
            (_, Some(least)) => format!("at least {} {unit}", text::given(least)),
            (Some([from, to]), _) if from < to => {
                format!("{} to {} {unit}", text::given(from), text::given(to))
            }
            (Some([figure, _]), _) => format!("{} {unit}", text::given(figure)),
            (None, _) => String::new(),
        }
    }
}

impl Usual {
    /// Its name in messages.
    pub fn name(&self) -> &'static str {
        self.crop.name()
    }

    /// What is printed about one quantity.
    pub fn of(&self, quantity: Quantity) -> impl Iterator<Item = &Range> {
        self.ranges.iter().filter(move |range| range.of == quantity)
    }
}

impl Published {
    /// Reads the table; `file` is for messages.
    ///
    /// # Errors
    /// One fault: not TOML, a key that is missing or unknown, an empty text, a crop that is not in the list or twice here, a source that
    /// is not there or that nobody uses, a range that is none or in a unit of something else.
    fn parse(document: &str, file: &str) -> Outcome<Self> {
        let fault = |found: String| {
            Fault::input(
                "crops.form",
                Place::file(file),
                found,
                "the form that stands at the top of the file",
                "Correct the file.",
            )
        };
        let Document {
            source: sources,
            crop,
        } = toml_form::read(document).map_err(|wrong| fault(plain(&wrong.what)))?;
        let mut crops: Vec<Usual> = Vec::new();
        for Entry {
            name,
            group,
            ranges,
        } in crop
        {
            let crop = Crop::of(&name).filter(|crop| crop.name() == name);
            let crop = crop.ok_or_else(|| fault(format!("'{name}' is no crop of the list")))?;
            if crops.iter().any(|known| known.crop == crop) {
                return Err(fault(format!("'{name}' stands here twice")));
            }
            crops.push(Usual {
                crop,
                group,
                ranges,
            });
        }
        let all = Self { sources, crops };
        for (key, source) in &all.sources {
            let parts = [
                &source.publisher,
                &source.title,
                &source.year,
                &source.country,
                &source.address,
            ];
            if parts.iter().any(|part| part.trim().is_empty()) {
                return Err(fault(format!("source '{key}' has an empty text")));
            }
            if source.country().is_none() {
                return Err(fault(format!("source '{key}' is of no country by name")));
            }
        }
        for crop in &all.crops {
            for range in &crop.ranges {
                let sound = range.unit.measures(range.of)
                    && range
                        .printed()
                        .is_some_and(|ends| ends.iter().all(|end| end.is_finite() && *end > 0.0));
                let what = range.of.words().0;
                if !sound || range.at.trim().is_empty() {
                    return Err(fault(format!("{} of {} is no range", what, crop.name())));
                }
                if !all.sources.contains_key(&range.source) {
                    let missing = &range.source;
                    return Err(fault(format!("there is no source '{missing}'")));
                }
            }
        }
        for key in all.sources.keys() {
            let uses = |crop: &Usual| crop.ranges.iter().any(|range| range.source == *key);
            if !all.crops.iter().any(uses) {
                return Err(fault(format!("source '{key}' has no range")));
            }
        }
        Ok(all)
    }

    /// What is held against a crop that any word of the list names: its own entry, or that of the crop it is a kind of.
    pub fn crop(&self, word: &str) -> Option<&Usual> {
        let kinds = std::iter::successors(Crop::of(word), |crop| crop.kind_of());
        let own = |crop: Crop| self.crops.iter().find(|known| known.crop == crop);
        kinds.filter_map(own).next()
    }

    /// A source by its key.
    pub fn source(&self, range: &Range) -> Option<&Source> {
        self.sources.get(&range.source)
    }
}

const FILE: &str = "published.toml";

/// The table that is compiled in.
///
/// # Errors
/// None that a test would not have found: the file is part of the program.
pub fn published() -> Outcome<&'static Published> {
    static ALL: OnceLock<Outcome<Published>> = OnceLock::new();
    ALL.get_or_init(|| Published::parse(include_str!("published.toml"), FILE))
        .as_ref()
        .map_err(Clone::clone)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The document with one part replaced.
    #[track_caller]
    fn refused(good: &str, bad: &str, words: &str) {
        let document = include_str!("published.toml");
        assert!(document.contains(good), "{good}");
        let fault = Published::parse(&document.replacen(good, bad, 1), FILE).expect_err(bad);
        assert!(fault.found.contains(words), "{}", fault.found);
    }

    #[test]
    fn a_range_without_a_source_or_in_a_wrong_unit_is_refused() {
        let row = "{ of = \"plants\", from = 62, to = 140, unit = \"per m2\", source = \"hgca_ts36\", at = \"economic optimum by sowing date\" }";
        refused(
            row,
            &row.replace("source = \"hgca_ts36\", ", ""),
            "'source' is missing",
        );
        refused(
            row,
            &row.replace("hgca_ts36", "a friend"),
            "no source 'a friend'",
        );
        refused(
            row,
            &row.replace("per m2", "kg/ha"),
            "plants of wheat is no range",
        );
        refused(
            row,
            &row.replace("to = 140, ", ""),
            "plants of wheat is no range",
        );
        refused(
            row,
            &row.replace("from = 62", "from = 162"),
            "plants of wheat is no range",
        );
        refused(
            row,
            &row.replace("economic optimum by sowing date", " "),
            "is no range",
        );
        refused(
            "title = \"Topic Sheet 36\"",
            "title = \"\"",
            "'hgca_ts36' has an empty text",
        );
        refused(
            "country = \"Ireland\"",
            "country = \"Freedonia\"",
            "of no country by name",
        );
        refused("\"maize\"", "\"corn\"", "'corn' is no crop of the list");
        refused("\"maize\"", "\"rye\"", "'rye' stands here twice");
    }
}
