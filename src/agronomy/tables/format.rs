//! The file form of a recommendation table, and its checks. Every fault names the line.

use super::{Amounts, Between, Crop, Index, Recommendations, Straw};
use crate::agronomy::text;
use crate::agronomy::toml_words::plain;
use crate::codec::toml_form;
use crate::findings::{Fault, Outcome, Place};
use crate::job::Nutrient;
use crate::units;
use serde::Deserialize;
use std::collections::BTreeMap;
use std::path::Path;
use toml::Spanned;

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct FileForm {
    title: Spanned<String>,
    publisher: Spanned<String>,
    edition: Spanned<String>,
    region: Spanned<String>,
    /// Where to look for a newer edition; for people.
    #[serde(default, rename = "address")]
    _address: String,
    #[serde(default, rename = "note")]
    _note: String,
    index: Vec<IndexForm>,
    crop: Vec<CropForm>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct IndexForm {
    name: Spanned<String>,
    quantity: Spanned<String>,
    unit: Spanned<String>,
    source: Spanned<String>,
    between: Between,
    between_source: Spanned<String>,
    classes: Spanned<Vec<ClassForm>>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct ClassForm {
    name: Spanned<String>,
    from: Spanned<f64>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct CropForm {
    name: Spanned<String>,
    straw: Straw,
    #[serde(default)]
    yield_t_per_ha: Option<Spanned<f64>>,
    source: Spanned<String>,
    #[serde(default)]
    offtake_source: Option<Spanned<String>>,
    #[serde(default)]
    n: Option<AmountsForm>,
    #[serde(default)]
    p2o5: Option<AmountsForm>,
    #[serde(default)]
    k2o: Option<AmountsForm>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct AmountsForm {
    index: Spanned<String>,
    unit: Spanned<String>,
    amounts: Spanned<BTreeMap<String, Spanned<f64>>>,
    /// For all classes above the highest one named.
    #[serde(default)]
    above: Option<Spanned<f64>>,
    #[serde(default)]
    offtake_kg_per_t: Option<Spanned<f64>>,
}

/// A file's text, to turn offsets into lines.
struct Text<'a> {
    text: &'a str,
    file: &'a Path,
}

impl Text<'_> {
    fn fault(&self, offset: usize, found: String, allowed: &str, next: &str) -> Box<Fault> {
        let before = self.text.as_bytes().iter().take(offset);
        let line = 1 + before.filter(|byte| **byte == b'\n').count();
        Fault::input(
            "tables.form",
            Place::file(self.file).line(line),
            found,
            allowed,
            next,
        )
    }

    /// Text that says something.
    fn said(&self, name: &str, value: &Spanned<String>) -> Outcome<String> {
        let text = value.get_ref().trim();
        if text.is_empty() {
            let found = format!("'{name}' is empty");
            return Err(self.fault(
                value.span().start,
                found,
                "a text",
                "Say it: a table without it cannot be trusted.",
            ));
        }
        Ok(text.to_owned())
    }

    /// A number of 0 or more.
    fn number(&self, name: &str, value: &Spanned<f64>) -> Outcome<f64> {
        let number = *value.get_ref();
        if number.is_finite() && number >= 0.0 {
            return Ok(number);
        }
        let found = format!("{name} is {number}");
        Err(self.fault(
            value.span().start,
            found,
            "a number of 0 or more",
            "Correct the number.",
        ))
    }
}

impl Recommendations {
    /// Reads a table; `file` is for messages.
    ///
    /// # Errors
    /// One fault that names file and line: not TOML, a key that is missing or unknown, an empty text, classes
    /// that do not ascend, an index or class that is not there or lacks an amount, a number that is negative or
    /// not finite, an unknown unit, a crop that is there twice.
    pub fn parse(text: &str, file: &Path) -> Outcome<Self> {
        let at = Text { text, file };
        let form: FileForm = toml_form::read(text).map_err(|wrong| {
            let next = "Compare with the form in docs/methods/recommendation-tables.md.";
            at.fault(
                wrong.at,
                plain(&wrong.what),
                "a table in the documented form",
                next,
            )
        })?;
        let mut indices: Vec<Index> = Vec::new();
        for index in &form.index {
            let new = read_index(&at, index)?;
            if indices.iter().any(|other| other.name == new.name) {
                let found = format!("the index '{}' is there twice", new.name);
                return Err(at.fault(
                    index.name.span().start,
                    found,
                    "each index once",
                    "Rename one.",
                ));
            }
            indices.push(new);
        }
        let mut crops: Vec<Crop> = Vec::new();
        for crop in &form.crop {
            let new = read_crop(&at, crop, &indices)?;
            // A crop with one straw and the same crop with any straw would both answer one question.
            let twice = |other: &&Crop| {
                other.name == new.name
                    && (other.straw == new.straw || [other.straw, new.straw].contains(&Straw::Any))
            };
            if crops.iter().find(twice).is_some() {
                let found = format!("the crop '{}' is there twice for the same straw", new.name);
                return Err(at.fault(
                    crop.name.span().start,
                    found,
                    "each crop once per straw",
                    "Remove one.",
                ));
            }
            crops.push(new);
        }
        Ok(Self {
            title: at.said("title", &form.title)?,
            publisher: at.said("publisher", &form.publisher)?,
            edition: at.said("edition", &form.edition)?,
            region: at.said("region", &form.region)?,
            indices,
            crops,
        })
    }
}

fn read_index(at: &Text, form: &IndexForm) -> Outcome<Index> {
    let between_source = at.said("between_source", &form.between_source)?;
    let mut classes: Vec<(String, f64)> = Vec::new();
    for class in form.classes.get_ref() {
        let name = at.said("name", &class.name)?;
        let from = at.number("from", &class.from)?;
        if let Some((last, lower)) = classes.last()
            && from <= *lower
        {
            let found =
                format!("class '{name}' begins at {from}, and '{last}' before it at {lower}");
            return Err(at.fault(
                class.from.span().start,
                found,
                "classes that ascend",
                "Put them in order.",
            ));
        }
        if classes.iter().any(|(other, _)| *other == name) {
            let found = format!("the class '{name}' is there twice");
            return Err(at.fault(
                class.name.span().start,
                found,
                "each class once",
                "Rename one.",
            ));
        }
        classes.push((name, from));
    }
    if classes.first().is_none_or(|(_, from)| *from != 0.0) {
        let found = "the first class does not begin at 0".to_owned();
        return Err(at.fault(
            form.classes.span().start,
            found,
            "classes from 0 up",
            "Add the lowest class.",
        ));
    }
    Ok(Index {
        name: at.said("name", &form.name)?,
        quantity: at.said("quantity", &form.quantity)?,
        unit: at.said("unit", &form.unit)?,
        source: at.said("source", &form.source)?,
        between: form.between,
        between_source,
        classes,
    })
}

fn read_crop(at: &Text, form: &CropForm, indices: &[Index]) -> Outcome<Crop> {
    let yield_t_per_ha = match &form.yield_t_per_ha {
        Some(value) if *value.get_ref() == 0.0 => {
            return Err(at.fault(
                value.span().start,
                "yield_t_per_ha is 0".to_owned(),
                "the yield that the amounts are for, above 0",
                "Correct it, or leave it out if the source names no yield.",
            ));
        }
        Some(value) => Some(at.number("yield_t_per_ha", value)?),
        None => None,
    };
    let mut amounts = Vec::new();
    for (nutrient, part) in [
        (Nutrient::N, &form.n),
        (Nutrient::P2o5, &form.p2o5),
        (Nutrient::K2o, &form.k2o),
    ] {
        let Some(part) = part else { continue };
        if let Some(offtake) = &part.offtake_kg_per_t
            && (yield_t_per_ha.is_none() || form.offtake_source.is_none())
        {
            let found =
                "'offtake_kg_per_t' stands without 'yield_t_per_ha' or 'offtake_source'".to_owned();
            let next = "Add both to the crop, or leave the offtake out.";
            return Err(at.fault(
                offtake.span().start,
                found,
                "an offtake with yield and source",
                next,
            ));
        }
        amounts.push((nutrient, read_amounts(at, part, indices)?));
    }
    if amounts.is_empty() {
        let found = format!("the crop '{}' has no amounts", form.name.get_ref());
        return Err(at.fault(
            form.name.span().start,
            found,
            "at least one of n, p2o5 and k2o",
            "Add one.",
        ));
    }
    if let Some(source) = &form.offtake_source {
        at.said("offtake_source", source)?;
    }
    Ok(Crop {
        name: at.said("name", &form.name)?,
        straw: form.straw,
        yield_t_per_ha,
        source: at.said("source", &form.source)?,
        amounts,
    })
}

fn read_amounts(at: &Text, form: &AmountsForm, indices: &[Index]) -> Outcome<Amounts> {
    let names = || indices.iter().map(|index| index.name.as_str());
    let wanted = form.index.get_ref();
    let Some((place, index)) = indices
        .iter()
        .enumerate()
        .find(|(_, index)| index.name == *wanted)
    else {
        let found = format!("there is no index '{wanted}' in this file");
        let allowed = text::list(names());
        return Err(at.fault(
            form.index.span().start,
            found,
            &allowed,
            "Name one of these, or add the index.",
        ));
    };
    let to_kg_per_ha: fn(f64) -> f64 = match form.unit.get_ref().as_str() {
        "kg/ha" => |kg_per_ha| kg_per_ha,
        "lb/ac" => units::kg_per_ha_from_lb_per_acre,
        other => {
            let found = format!("the unit is '{other}'");
            return Err(at.fault(
                form.unit.span().start,
                found,
                "kg/ha or lb/ac",
                "Use one of these.",
            ));
        }
    };
    let named = form.amounts.get_ref();
    let known = || index.classes.iter().map(|(name, _)| name.as_str());
    for (class, amount) in named {
        if !known().any(|name| name == class) {
            let found = format!("index '{wanted}' has no class '{class}'");
            return Err(at.fault(
                amount.span().start,
                found,
                &text::list(known()),
                "Correct the class.",
            ));
        }
    }
    let highest = index
        .classes
        .iter()
        .rposition(|(name, _)| named.contains_key(name));
    let mut kg_per_ha = Vec::with_capacity(index.classes.len());
    for (number, (class, _)) in index.classes.iter().enumerate() {
        let above = form
            .above
            .as_ref()
            .filter(|_| highest.is_some_and(|highest| number > highest));
        let Some(amount) = named.get(class).or(above) else {
            let found = format!("class '{class}' of index '{wanted}' has no amount");
            let next = "Add it, or set 'above' for all classes above the highest one named.";
            return Err(at.fault(
                form.amounts.span().start,
                found,
                "an amount for every class",
                next,
            ));
        };
        kg_per_ha.push(to_kg_per_ha(at.number("an amount", amount)?));
    }
    let offtake_kg_per_t = match &form.offtake_kg_per_t {
        Some(value) => Some(at.number("offtake_kg_per_t", value)?),
        None => None,
    };
    Ok(Amounts {
        index: place,
        kg_per_ha,
        offtake_kg_per_t,
    })
}
