//! The forms in which a plan is handed over, and which of them are wanted.

use std::collections::BTreeSet;

/// Files that belong together: written all or none.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Form {
    /// GeoJSON (RFC 7946).
    Geojson,
    /// GeoPackage.
    Geopackage,
    /// KML, with colours.
    Kml,
    /// Shapefile.
    Shapefile,
    /// GeoTIFF.
    Geotiff,
    /// The task data that lie ready for the terminal.
    TaskData,
    /// Other forms of task data and Shapefiles, for other terminals.
    Fallback,
    /// The order and the rate table as CSV.
    Tables,
    /// The field report.
    Report,
}

impl Form {
    /// All forms with the word for each.
    pub const WORDS: [(Self, &'static str); 9] = [
        (Self::Geojson, "geojson"),
        (Self::Geopackage, "geopackage"),
        (Self::Kml, "kml"),
        (Self::Shapefile, "shapefile"),
        (Self::Geotiff, "geotiff"),
        (Self::TaskData, "task-data"),
        (Self::Fallback, "fallback"),
        (Self::Tables, "tables"),
        (Self::Report, "report"),
    ];

    /// The form that a word names.
    pub fn of_word(word: &str) -> Option<Self> {
        let named = Self::WORDS.iter().find(|(_, known)| *known == word);
        named.map(|(form, _)| *form)
    }

    fn is_map(self) -> bool {
        !matches!(self, Self::Tables | Self::Report | Self::Kml)
    }
}

/// The forms that are wanted. `plan.json` is written whichever they are.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Forms(BTreeSet<Form>);

impl Forms {
    /// Every form: what a plan is written in unless somebody asks for less.
    pub fn all() -> Self {
        Self(Form::WORDS.iter().map(|(form, _)| *form).collect())
    }

    /// These forms; all without any.
    pub fn only(forms: impl IntoIterator<Item = Form>) -> Self {
        let forms: BTreeSet<Form> = forms.into_iter().collect();
        if forms.is_empty() {
            return Self::all();
        }
        Self(forms)
    }

    /// Whether a form is wanted.
    pub fn has(&self, form: Form) -> bool {
        self.0.contains(&form)
    }

    /// Whether something is wanted that carries rates on land and is read back: KML is to look at alone.
    pub fn has_map(&self) -> bool {
        self.0.iter().any(|form| form.is_map())
    }

    /// The words of the wanted forms; `None` where all are wanted.
    pub(super) fn words_if_not_all(&self) -> Option<Vec<&'static str>> {
        let wanted = Form::WORDS.iter().filter(|(form, _)| self.has(*form));
        let words: Vec<&str> = wanted.map(|(_, word)| *word).collect();
        (words.len() < Form::WORDS.len()).then_some(words)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn words_name_forms_and_none_means_all() {
        for (form, word) in Form::WORDS {
            assert_eq!(Form::of_word(word), Some(form));
        }
        assert_eq!(Form::of_word("GeoJSON"), None);
        assert_eq!(Forms::only([]), Forms::all());
        assert_eq!(Forms::all().words_if_not_all(), None);
        let few = Forms::only([Form::Geotiff, Form::Geojson]);
        assert_eq!(few.words_if_not_all(), Some(vec!["geojson", "geotiff"]));
        assert!(few.has_map() && !few.has(Form::Report));
        assert!(!Forms::only([Form::Report, Form::Tables]).has_map());
    }
}
