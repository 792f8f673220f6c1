//! Words with named places: `{rate}`, `{rate:number}`, `{rate:unit}`.

use super::{Spoken, Words};

/// What of a quantity stands in a place.
#[derive(Debug, Clone, Copy, PartialEq)]
enum Form {
    Whole,
    Number,
    Unit,
}

#[derive(Debug, PartialEq)]
enum Piece {
    Words(String),
    Place(String, Form),
}

/// The words of a sentence.
#[derive(Debug)]
pub(super) struct Template {
    text: String,
    pieces: Vec<Piece>,
}

impl Template {
    /// A text of a file.
    ///
    /// # Errors
    /// A place that is not closed, or of an unknown form; no text.
    pub fn parsed(value: &toml::Value) -> Result<Self, String> {
        let text = value.as_str().ok_or("a sentence is no text")?;
        let mut pieces = Vec::new();
        let mut rest = text;
        while let Some((words, after)) = rest.split_once('{') {
            let (place, after) = after
                .split_once('}')
                .ok_or_else(|| format!("a place without end: {text}"))?;
            let (name, form) = match place.split_once(':') {
                None => (place, Form::Whole),
                Some((name, "number")) => (name, Form::Number),
                Some((name, "unit")) => (name, Form::Unit),
                Some(_) => return Err(format!("an unknown form of a place: {text}")),
            };
            if !words.is_empty() {
                pieces.push(Piece::Words(words.to_owned()));
            }
            pieces.push(Piece::Place(name.to_owned(), form));
            rest = after;
        }
        if !rest.is_empty() {
            pieces.push(Piece::Words(rest.to_owned()));
        }
        Ok(Self {
            text: text.to_owned(),
            pieces,
        })
    }

    /// As the file has it.
    pub fn text(&self) -> &str {
        &self.text
    }

    /// The names of its places.
    #[cfg(test)]
    pub fn names(&self) -> impl Iterator<Item = &str> {
        self.pieces.iter().filter_map(|piece| match piece {
            Piece::Place(name, _) => Some(name.as_str()),
            Piece::Words(_) => None,
        })
    }

    /// With its parts in their places; numbers and units as the language writes them.
    pub fn filled(&self, parts: &[(&str, &dyn Spoken)], words: Words) -> String {
        let mut said = String::with_capacity(self.text.len() + 16);
        for piece in &self.pieces {
            let (name, form) = match piece {
                Piece::Words(words) => {
                    said.push_str(words);
                    continue;
                }
                Piece::Place(name, form) => (name, form),
            };
            let Some((_, part)) = parts.iter().find(|(known, _)| known == name) else {
                continue;
            };
            if *form != Form::Unit {
                let number = part.number(words.units);
                match part.is_number() {
                    true => said.push_str(&words.language.number(&number)),
                    false => said.push_str(&number),
                }
            }
            let unit = words.language.unit(part.unit(words.units));
            if *form == Form::Whole && !unit.is_empty() {
                said.push(' ');
            }
            if *form != Form::Number {
                said.push_str(unit);
            }
        }
        said
    }
}

#[cfg(test)]
mod tests {
    use super::super::quantity::Rate;
    use super::*;
    use crate::job::Language;
    use crate::units::UnitSystem;

    #[test]
    fn places_are_filled_in_the_units_asked_for() {
        let parsed = |text: &str| Template::parsed(&toml::Value::String(text.to_owned()));
        let template = parsed("{why}: {rate} ({rate:number}; {rate:unit}).").expect("words");
        let (why, rate) = ("so".to_owned(), Rate(112.085_1));
        let parts: [(&str, &dyn Spoken); 2] = [("why", &why), ("rate", &rate)];
        let words = |language, units| Words { language, units };
        assert_eq!(
            template.filled(&parts, words(Language::En, UnitSystem::Metric)),
            "so: 112.1 kg/ha (112.1; kg/ha)."
        );
        // CLDR: a decimal comma; ДСТУ 3651: кг, га.
        assert_eq!(
            template.filled(&parts, words(Language::Uk, UnitSystem::Metric)),
            "so: 112,1 кг/га (112,1; кг/га)."
        );
        // 1 lb/ac is 1.120851 kg/ha (NIST Handbook 44, Appendix C).
        assert_eq!(
            template.filled(&parts, words(Language::En, UnitSystem::UsCustomary)),
            "so: 100 lb/ac (100; lb/ac)."
        );
        assert!(parsed("{why").is_err());
        assert!(parsed("{why:large}").is_err());
    }
}
