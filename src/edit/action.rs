//! What can be done to a job: each a value that can be listed, named, replayed and undone.

mod words;

use super::border::BorderChange;
use super::by_hand::{Side, redrawn};
use super::draw::{Drawing, Made};
use super::key::{self, KeyPath};
use super::stage::Stage;
use crate::findings::{Fault, Outcome, Place};
use crate::job::Moisture;
use serde::{Deserialize, Serialize};
use serde_json::{Map, Value as Json};
use std::path::Path;
use toml_edit::DocumentMut;

/// A change of a job.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(tag = "do", rename_all = "snake_case", deny_unknown_fields)]
pub enum Action {
    /// Gives a key a value.
    Set {
        /// The key.
        path: KeyPath,
        /// Its value.
        value: Json,
    },
    /// Takes a key away, so that its default holds.
    Unset {
        /// The key.
        path: KeyPath,
    },
    /// Gives an open setting its value.
    Answer {
        /// The key that is "?".
        path: KeyPath,
        /// Its value.
        value: Json,
    },
    /// Gives a product another number of its rate, everywhere or on land of a class.
    Rate {
        /// Id of the product.
        product: String,
        /// Key of its `[product.rate]`.
        key: String,
        /// The class; none for the number that holds everywhere.
        #[serde(default)]
        class: Option<String>,
        /// The number, in the unit of the key.
        value: f64,
    },
    /// Gives a product more or less on a part of the land.
    Part {
        /// Id of the product.
        product: String,
        /// `headland` or `interior`.
        part: String,
        /// Percent of the rate.
        percent: f64,
        /// Why.
        because: String,
    },
    /// Signs for an open decision.
    Sign {
        /// Which, as the state names it.
        decision: String,
        /// Why it is right all the same.
        why: String,
        /// Who says so.
        by: String,
        /// On what day, YYYY-MM-DD; today without it.
        #[serde(default)]
        on: Option<String>,
        /// Of two plans, in which of them it is open; in the one that is looked at without it.
        #[serde(default)]
        seedbed: Option<Moisture>,
        /// The entry under `[[accepted]]` that comes of it; made from the plan.
        #[serde(default)]
        entry: Option<Map<String, Json>>,
    },
    /// Takes a signature back.
    TakeBack {
        /// Which entry of `[[accepted]]`, from 0.
        nth: usize,
    },
    /// Adds an entry to a list of tables.
    Add {
        /// Name of the list.
        table: List,
        /// Its keys.
        entry: Map<String, Json>,
    },
    /// Adds an entry to a list of tables inside another: a rotor of a hopper, a lot of a product.
    AddTo {
        /// The list.
        path: KeyPath,
        /// Its keys.
        entry: Map<String, Json>,
    },
    /// Takes an entry out of a list of tables.
    Remove {
        /// Name of the list.
        table: List,
        /// Which, from 0.
        nth: usize,
    },
    /// Gives a zone another class.
    Class {
        /// Name of the layer.
        layer: String,
        /// Which zone, as the page was told.
        zone: usize,
        /// The class.
        class: String,
        /// The file with the zones after it, made from the plan.
        #[serde(default)]
        file: Option<String>,
    },
    /// Gives what of a zone lies on one side of a line another class.
    Cut {
        /// Name of the layer.
        layer: String,
        /// Which zone.
        zone: usize,
        /// The line: a place, then steps, in what travels.
        line: Vec<i64>,
        /// The side that gets the class.
        side: Side,
        /// The class.
        class: String,
        /// The file with the zones after it, made from the plan.
        #[serde(default)]
        file: Option<String>,
    },
    /// Gives a zone the class of another.
    Join {
        /// Name of the layer.
        layer: String,
        /// Which zone.
        zone: usize,
        /// The other.
        to: usize,
        /// The file with the zones after it, made from the plan.
        #[serde(default)]
        file: Option<String>,
    },
    /// Changes borders between the zones of a layer.
    Border {
        /// Name of the layer.
        layer: String,
        /// How.
        change: BorderChange,
        /// The file with the zones after it, made from the plan.
        #[serde(default)]
        file: Option<String>,
    },
    /// Puts into the job what was drawn on the map.
    Draw {
        /// What.
        drawing: Drawing,
        /// What comes of it, made from the plan.
        #[serde(default)]
        made: Option<Made>,
    },
    /// Replaces the whole job file.
    Text {
        /// Its new text.
        text: String,
    },
}

/// The lists of tables at the top of a job file that grow and shrink by hand.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum List {
    /// Land that is not sown.
    Exclusion,
    /// Land where products are off.
    Setback,
    /// Land with a percentage of its own.
    SpecialArea,
    /// Zones.
    Layer,
    /// What is sown or spread.
    Product,
    /// A table of limits for fertiliser with the seed.
    SeedSafe,
    /// A limit of that kind that somebody signs for.
    OwnSeedLimit,
    /// A trial that is laid out in the map.
    Trial,
}

impl List {
    fn key(self) -> &'static str {
        match self {
            Self::Exclusion => "exclusion",
            Self::Setback => "setback",
            Self::SpecialArea => "special_area",
            Self::Layer => "layer",
            Self::Product => "product",
            Self::SeedSafe => "seed_safe",
            Self::OwnSeedLimit => "own_seed_limit",
            Self::Trial => "trial",
        }
    }
}

impl Action {
    /// The text of the job once this is done. Nothing is judged here: that is for whoever reads the text.
    ///
    /// # Errors
    /// A place that does not exist, a value that TOML does not hold.
    pub fn apply(&self, text: &str, file: &Path) -> Outcome<String> {
        if let Self::Text { text } = self {
            return Ok(text.clone());
        }
        let mut job = key::document(text, file)?;
        match self {
            Self::Set { path, value } | Self::Answer { path, value } => {
                key::set(&mut job, path, value)?;
            }
            Self::Unset { path } => key::remove(&mut job, path)?,
            Self::Rate {
                product,
                key,
                class,
                value,
            } => {
                let path = rate_path(&job, product, key, class.as_deref())?;
                key::set(&mut job, &path, &Json::from(*value))?;
            }
            Self::Part {
                product,
                part,
                percent,
                because,
            } => part_percent(&mut job, product, part, *percent, because)?,
            Self::Sign { entry, .. } => {
                let entry = entry.as_ref().ok_or_else(unsigned)?;
                key::push(&mut job, &KeyPath::of(&["accepted"]), entry)?;
            }
            Self::TakeBack { nth } => {
                key::remove(&mut job, &KeyPath::of(&["accepted"]).nth(*nth))?;
            }
            Self::Add { table, entry } => {
                key::push(&mut job, &KeyPath::of(&[table.key()]), entry)?;
            }
            Self::AddTo { path, entry } => key::push(&mut job, path, entry)?,
            Self::Remove { table, nth } => {
                key::remove(&mut job, &KeyPath::of(&[table.key()]).nth(*nth))?;
            }
            Self::Class { layer, file, .. }
            | Self::Cut { layer, file, .. }
            | Self::Join { layer, file, .. }
            | Self::Border { layer, file, .. } => {
                let file = file.as_ref().ok_or_else(unsigned)?;
                redrawn(&mut job, layer, file)?;
            }
            Self::Draw { drawing, made } => {
                drawing.enter(&mut job, made.as_ref().ok_or_else(unsigned)?)?;
            }
            Self::Text { .. } => {}
        }
        Ok(job.to_string())
    }

    /// The file that was written for it.
    pub fn drawn_file(&self) -> Option<&str> {
        match self {
            Self::Class { file, .. }
            | Self::Cut { file, .. }
            | Self::Join { file, .. }
            | Self::Border { file, .. } => file.as_deref(),
            Self::Draw { made, .. } => match made {
                Some(Made::File(file)) => Some(file),
                Some(Made::LonLat(_)) | None => None,
            },
            _ => None,
        }
    }

    /// What has to be worked out again.
    pub fn stage(&self) -> Stage {
        match self {
            Self::Set { path, .. } | Self::Unset { path } | Self::Answer { path, .. } => {
                Stage::of_path(path)
            }
            Self::Rate { .. } | Self::Part { .. } | Self::Sign { .. } | Self::TakeBack { .. } => {
                Stage::Rates
            }
            Self::Draw { drawing, .. } => drawing.stage(),
            Self::Add { .. }
            | Self::AddTo { .. }
            | Self::Remove { .. }
            | Self::Class { .. }
            | Self::Cut { .. }
            | Self::Join { .. }
            | Self::Border { .. }
            | Self::Text { .. } => Stage::Land,
        }
    }
}

fn unsigned() -> Box<Fault> {
    Fault::input(
        "edit.no_decision",
        Place::nowhere(),
        "no decision of this plan can be signed for by that name",
        "a decision that is open and may be signed for",
        "look at the list again; it may have been settled meanwhile",
    )
}

/// The place of a number of a rate: by class where the rule goes by class.
fn rate_path(job: &DocumentMut, product: &str, key: &str, class: Option<&str>) -> Outcome<KeyPath> {
    let path = product_path(job, product)?.key("rate").key(key);
    Ok(match class {
        Some(class) => path.key("by_class").key(class),
        None => path,
    })
}

fn product_path(job: &DocumentMut, id: &str) -> Outcome<KeyPath> {
    let all = KeyPath::of(&["product"]);
    let is_it = |nth: &usize| {
        let own = key::at(job, &all.nth(*nth).key("id"));
        own.and_then(toml_edit::Item::as_str) == Some(id)
    };
    let there = |nth: &usize| key::at(job, &all.nth(*nth)).is_some();
    let nth = (0..).take_while(there).find(is_it).ok_or_else(|| {
        Fault::input(
            "edit.no_product",
            Place::nowhere(),
            format!("the job has no product '{id}'"),
            "the id of a product of the job",
            "look at the products of the job",
        )
    })?;
    Ok(all.nth(nth))
}

/// Sets the percentage of the adjustment that is for this part and no layer, or adds one.
fn part_percent(
    job: &mut DocumentMut,
    product: &str,
    part: &str,
    percent: f64,
    because: &str,
) -> Outcome<()> {
    let all = product_path(job, product)?.key("adjust");
    let text = |path: &KeyPath| key::at(job, path).and_then(toml_edit::Item::as_str);
    let is_it = |nth: &usize| {
        let own = all.nth(*nth);
        let plain = key::at(job, &own.key("percent")).is_some_and(|item| !item.is_table_like());
        plain && text(&own.key("land_part")) == Some(part)
    };
    let there = |nth: &usize| key::at(job, &all.nth(*nth)).is_some();
    match (0..).take_while(there).find(is_it) {
        Some(nth) => key::set(job, &all.nth(nth).key("percent"), &Json::from(percent)),
        None => {
            let entry = serde_json::json!({
                "because": because,
                "percent": percent,
                "land_part": part,
            });
            match entry {
                Json::Object(entry) => key::push(job, &all, &entry),
                _ => Ok(()),
            }
        }
    }
}
