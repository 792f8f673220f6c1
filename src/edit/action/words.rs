//! What an action does, said for people: entries of lists by their names, keys as people call them.

use super::{Action, List, product_path};
use crate::edit::assets::field_name;
use crate::edit::key::{self, KeyPath, Step};
use serde_json::{Map, Value as Json};
use std::path::Path;
use toml_edit::DocumentMut;

impl List {
    /// As a person calls an entry of it.
    fn words(self) -> &'static str {
        match self {
            Self::Exclusion => "exclusion",
            Self::Setback => "setback",
            Self::SpecialArea => "special area",
            Self::Layer => "zone layer",
            Self::Product => "product",
            Self::SeedSafe => "limit beside the seed",
            Self::OwnSeedLimit => "own limit beside the seed",
            Self::Trial => "trial",
        }
    }
}

impl Action {
    /// What it does, for people; `text` is the job before it.
    pub fn words(&self, text: &str, file: &Path) -> String {
        let job = key::document(text, file).unwrap_or_default();
        match self {
            Self::Set { path, value } if value.is_object() && path.0.len() == 1 => {
                format!("New entry: {}", called(&job, path))
            }
            Self::Set { path, value } | Self::Answer { path, value } => {
                format!("{}: {}", called(&job, path), short(value))
            }
            Self::Unset { path } => format!("{}: taken out", called(&job, path)),
            Self::Rate {
                product,
                key,
                class,
                value,
            } => {
                let on = class.as_ref().map(|class| format!(" on {class}"));
                let product = product_name(&job, product);
                let key = field_name(key);
                format!("{product}, {key}{}: {value}", on.unwrap_or_default())
            }
            Self::Part {
                product,
                part,
                percent,
                ..
            } => format!("{} on the {part}: {percent} %", product_name(&job, product)),
            Self::Sign { decision, by, .. } => {
                // Behind its code, the key of a decision names the products that it concerns, and what it is about.
                let about = decision.split(['/', ',']).skip(1);
                let about = about.filter(|part| !part.is_empty());
                let about: Vec<String> = about.map(|part| product_name(&job, part)).collect();
                match about.is_empty() {
                    true => format!("Signed by {by}"),
                    false => format!("Signed by {by}: {}", about.join(", ")),
                }
            }
            Self::TakeBack { nth } => format!("Signature {} taken back", nth + 1),
            Self::Add { table, entry } => {
                format!("New {}: {}", table.words(), name_of(entry))
            }
            Self::AddTo { path, entry } => {
                // A new entry mostly has no name yet.
                match name_of(entry) {
                    "?" => format!("New entry: {}", called(&job, path)),
                    name => format!("New entry: {}, {name}", called(&job, path)),
                }
            }
            Self::Remove { table, nth } => {
                let path = KeyPath::of(&[table.key()]).nth(*nth);
                format!("Taken out, {}: {}", table.words(), entry_name(&job, &path))
            }
            Self::Class { layer, class, .. } => format!("Zone of {layer} made {class}"),
            Self::Cut { layer, class, .. } => {
                format!("Zone of {layer} cut, one side made {class}")
            }
            Self::Join { layer, .. } => format!("Zone of {layer} joined to another"),
            Self::Border { layer, change, .. } => change.words(layer),
            Self::Draw { drawing, .. } => drawing.words(),
            Self::Text { .. } => "The job file written anew".to_owned(),
        }
    }
}

fn short(value: &Json) -> String {
    let text = match value {
        Json::String(text) => text.clone(),
        // A table or a list is no value to be read in a line.
        Json::Object(_) | Json::Array(_) => "set".to_owned(),
        other => other.to_string(),
    };
    let cut: String = text.chars().take(60).collect();
    match cut.len() < text.len() {
        true => format!("{cut}..."),
        false => cut,
    }
}

/// A key as a person calls it: an entry of a list by its name.
fn called(job: &DocumentMut, path: &KeyPath) -> String {
    let mut words: Vec<String> = Vec::new();
    for (nth, step) in path.0.iter().enumerate() {
        match step {
            // The class behind it says it.
            Step::Key(key) if key == "by_class" => {}
            Step::Key(key) => words.push(field_name(key).to_owned()),
            Step::Nth(_) => {
                let entry = KeyPath(path.0[..=nth].to_vec());
                words.pop();
                words.push(entry_name(job, &entry));
            }
        }
    }
    words.join(", ")
}

fn entry_name(job: &DocumentMut, path: &KeyPath) -> String {
    let named = ["name", "id"].into_iter().find_map(|key| {
        let item = key::at(job, &path.key(key))?;
        Some(item.as_str()?.to_owned())
    });
    named.unwrap_or_else(|| path.to_string())
}

fn name_of(entry: &Map<String, Json>) -> &str {
    let named = ["name", "id"]
        .into_iter()
        .find_map(|key| entry.get(key)?.as_str());
    named.unwrap_or("without a name")
}

fn product_name(job: &DocumentMut, id: &str) -> String {
    match product_path(job, id) {
        Ok(path) => entry_name(job, &path),
        Err(_) => id.to_owned(),
    }
}
