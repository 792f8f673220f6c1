//! The same change for many fields: what it would change in each is told first; then each job file is written as a whole, and
//! all of it can be taken back.

use super::Commands;
use super::action::Action;
use super::desk::{Desk, keep};
use super::key::{self, KeyPath};
use super::state::Edit;
use super::view;
use crate::findings::{Fault, Outcome, Place};
use crate::read::sha256_of;
use serde::{Deserialize, Serialize};
use serde_json::{Value as Json, json};
use std::fs;
use std::path::{Path, PathBuf};
use toml_edit::{DocumentMut, Item};

/// A change that many jobs can have alike.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(tag = "what", rename_all = "snake_case", deny_unknown_fields)]
pub enum Change {
    /// Gives a key of the job a value, such as the sowing date.
    Setting {
        /// The key.
        path: KeyPath,
        /// Its value.
        value: Json,
    },
    /// Gives a key of a product a value, such as its lot.
    Product {
        /// The product's name or id.
        product: String,
        /// The key, from the product on.
        path: KeyPath,
        /// Its value.
        value: Json,
    },
    /// Gives a product one rate, where its job has one number for the whole field.
    Rate {
        /// The product's name or id.
        product: String,
        /// The key of the rate that the number is meant for, such as `kg_per_ha`: a job with another is refused.
        key: String,
        /// The number, in the unit of that key.
        value: f64,
    },
}

/// Keys of a rate that can be one number, each in a unit of its own.
const RATES: [&str; 8] = [
    "kg_per_ha",
    "lb_per_acre",
    "seeds_per_m2",
    "seeds_per_ft2",
    "plants_per_m2",
    "plants_per_ft2",
    "need_kg_per_ha",
    "need_lb_per_acre",
];

/// A change of one job.
pub struct Tried {
    file: PathBuf,
    action: Action,
    path: KeyPath,
    before: String,
    after: String,
}

impl Change {
    /// What it makes of a job.
    ///
    /// # Errors
    /// A file that cannot be read; a job without the product or with another kind of rate; what would be no job.
    pub fn tried(&self, file: &Path, commands: &Commands) -> Outcome<Tried> {
        let text = (commands.text)(file)?;
        let job = key::document(&text, file)?;
        let (path, value) = match self {
            Self::Setting { path, value } => (path.clone(), value.clone()),
            Self::Product {
                product,
                path,
                value,
            } => {
                let mut steps = product_path(&job, product, file)?;
                steps.0.extend(path.0.iter().cloned());
                (steps, value.clone())
            }
            Self::Rate {
                product,
                key,
                value,
            } => (rate_path(&job, product, key, file)?, Json::from(*value)),
        };
        let action = match value {
            Json::Null if key::at(&job, &path).is_none() => {
                // Nothing stands there, and nothing shall.
                return Ok(Tried {
                    file: file.to_path_buf(),
                    action: Action::Unset { path: path.clone() },
                    path,
                    before: text.clone(),
                    after: text,
                });
            }
            Json::Null => Action::Unset { path: path.clone() },
            value => Action::Set {
                path: path.clone(),
                value,
            },
        };
        let tried = Edit::of(file.to_path_buf(), &text).tried(&action, &commands.text)?;
        Ok(Tried {
            file: file.to_path_buf(),
            action,
            path,
            before: text,
            after: tried.text,
        })
    }
}

impl Tried {
    /// For the page: what stands there, what would, and which text this was told of.
    pub fn told(&self) -> Json {
        let value = |text: &str| {
            let job = key::document(text, &self.file).ok()?;
            key::at(&job, &self.path).map(shown)
        };
        json!({
            "before": value(&self.before),
            "after": value(&self.after),
            "changes": self.before != self.after,
            "sha256": sha256_of(&self.before),
        })
    }

    /// Whether this is what was told before.
    fn is_of(&self, sha256: &str) -> Outcome<()> {
        match sha256_of(&self.before) == sha256 {
            true => Ok(()),
            false => Err(changed(&self.file)),
        }
    }
}

/// A change of many jobs that was made, for taking it back.
pub struct Done {
    /// For people.
    pub words: String,
    files: Vec<(PathBuf, String, String)>,
}

impl Done {
    /// So many jobs.
    pub fn count(&self) -> usize {
        self.files.len()
    }
}

/// Makes a change in all these jobs, each with the SHA-256 of the text that it was told of. The one on the desk is changed there.
///
/// # Errors
/// One that was changed meanwhile, or cannot be changed or written: then none is.
pub fn make(
    change: &Change,
    words: &str,
    files: &[(PathBuf, String)],
    desk: Option<&Desk>,
    commands: &Commands,
) -> Outcome<Done> {
    let mut all = Vec::new();
    for (file, sha256) in files {
        let tried = change.tried(file, commands)?;
        tried.is_of(sha256)?;
        if tried.before != tried.after {
            all.push(tried);
        }
    }
    let mut done = Done {
        words: words.to_owned(),
        files: Vec::new(),
    };
    for tried in all {
        let on_desk = desk.filter(|desk| same(&desk.file(), &tried.file));
        let written = match on_desk {
            Some(desk) => desk.act(tried.action),
            None => keep(&tried.file, &tried.before, &tried.after),
        };
        if let Err(fault) = written {
            // What was written goes back, so that all fields stay alike.
            let back = take_back(&done, desk, commands);
            return Err(with_other(fault, back.err()));
        }
        done.files.push((tried.file, tried.before, tried.after));
    }
    Ok(done)
}

/// Takes a change of many jobs back. One that is as it was before already is done.
///
/// # Errors
/// A job that was changed since: then none is taken back. One that cannot be written: then those before it are as changed again.
pub fn take_back(done: &Done, desk: Option<&Desk>, commands: &Commands) -> Outcome<()> {
    let mut changed_ones = Vec::new();
    for one in &done.files {
        let (file, before, after) = one;
        let text = (commands.text)(file)?;
        if text == *after {
            changed_ones.push(one);
        } else if text != *before {
            return Err(changed(file));
        }
    }
    let mut back = Vec::new();
    for (file, before, after) in changed_ones {
        if let Err(fault) = bring(file, after, before, desk) {
            let again = back
                .into_iter()
                .rev()
                .filter_map(|(file, before, after)| bring(file, before, after, desk).err());
            // All are tried, whatever becomes of one.
            let others: Vec<Box<Fault>> = again.collect();
            return Err(with_other(fault, others.into_iter().next()));
        }
        back.push((file, before, after));
    }
    Ok(())
}

/// Brings a job from one text to another; on the desk as undo or redo where it is one.
fn bring(file: &Path, from: &str, to: &str, desk: Option<&Desk>) -> Outcome<()> {
    let Some(desk) = desk.filter(|desk| same(&desk.file(), file)) else {
        return keep(file, from, to);
    };
    let is = |text: Option<std::sync::Arc<str>>| text.as_deref() == Some(to);
    let (undoes, redoes) = desk.look(|inner| (is(inner.edit.before()), is(inner.edit.after())));
    match (undoes, redoes) {
        (true, _) => desk.undo(),
        (false, true) => desk.redo(),
        (false, false) => desk.act(Action::Text {
            text: to.to_owned(),
        }),
    }
}

/// Says of a fault that putting things back failed as well.
fn with_other(mut fault: Box<Fault>, other: Option<Box<Fault>>) -> Box<Fault> {
    if let Some(other) = other {
        fault.found = format!(
            "{}; fields are not alike now, for one could not be put back: {other}",
            fault.found
        );
    }
    fault
}

fn same(a: &Path, b: &Path) -> bool {
    a == b || fs::canonicalize(a).ok() == fs::canonicalize(b).ok()
}

/// A value as it stands in a job, short.
fn shown(item: &Item) -> String {
    match item.as_str() {
        Some(text) => text.to_owned(),
        None => item.to_string().trim().chars().take(80).collect(),
    }
}

/// The products of a job, each with its name, id and kind, and the key of its rate where that is one number.
pub fn products(text: &str, file: &Path) -> Vec<Json> {
    let Ok(job) = key::document(text, file) else {
        return Vec::new();
    };
    let all = KeyPath::of(&["product"]);
    let there = |nth: &usize| key::at(&job, &all.nth(*nth)).is_some();
    let one = |nth: usize| {
        let text = |name: &str| key::at(&job, &all.nth(nth).key(name)).and_then(Item::as_str);
        json!({
            "id": text("id"),
            "name": text("name").or(text("id")),
            "kind": text("kind"),
            "rate": single_rate(&job, &all.nth(nth)),
        })
    };
    (0..).take_while(there).map(one).collect()
}

fn single_rate<'a>(job: &DocumentMut, product: &KeyPath) -> Option<&'a str> {
    let rate = product.key("rate");
    let is_one = |key: &&&str| {
        let own = key::at(job, &rate.key(key));
        own.is_some_and(|own| own.is_value() && !own.is_table_like())
    };
    RATES.iter().find(is_one).copied()
}

/// Whether a product of the job, by its name or id, has this key as the text stands.
///
/// # Errors
/// A text that is no job; a job without the product.
pub fn product_has(text: &str, file: &Path, product: &str, key: &str) -> Outcome<bool> {
    let job = key::document(text, file)?;
    let path = product_path(&job, product, file)?.key(key);
    Ok(key::at(&job, &path).is_some())
}

fn product_path(job: &DocumentMut, product: &str, file: &Path) -> Outcome<KeyPath> {
    let all = KeyPath::of(&["product"]);
    let there = |nth: &usize| key::at(job, &all.nth(*nth)).is_some();
    let is_it = |nth: &usize| {
        ["name", "id"].iter().any(|name| {
            let own = key::at(job, &all.nth(*nth).key(name));
            own.and_then(Item::as_str) == Some(product)
        })
    };
    let found = (0..).take_while(there).find(is_it);
    found.map(|nth| all.nth(nth)).ok_or_else(|| {
        Fault::input(
            "edit.no_product",
            Place::file(file),
            format!("this job has no product '{product}'"),
            "a product of the job, by its name or id",
            "leave this field out, or enter the product there first",
        )
    })
}

fn rate_path(job: &DocumentMut, product: &str, wanted: &str, file: &Path) -> Outcome<KeyPath> {
    let path = product_path(job, product, file)?;
    match single_rate(job, &path) {
        Some(key) if key == wanted => Ok(path.key("rate").key(key)),
        // The same number is another rate there.
        Some(key) => Err(Fault::input(
            "edit.other_rate",
            Place::file(file),
            format!("this job has the rate of '{product}' in {key}, and the number is in {wanted}"),
            format!("a job with {wanted}"),
            format!("leave this field out, and change those with {key} by a number of their own"),
        )),
        None => Err(Fault::input(
            "edit.rate_by_class",
            Place::file(file),
            format!("the rate of '{product}' is no single number in this job"),
            "one number for the whole field",
            "leave this field out, and change its rates by class under Rates",
        )),
    }
}

fn changed(file: &Path) -> Box<Fault> {
    Fault::input(
        super::desk::CHANGED_OUTSIDE,
        Place::file(file),
        "this job has changed since",
        "the job as it was told of",
        "look at the change again; nothing was written",
    )
}

/// What a change would do in each of these jobs, for the page.
pub fn preview(change: &Change, files: &[(String, PathBuf)], commands: &Commands) -> Vec<Json> {
    let one = |(name, file): &(String, PathBuf)| match change.tried(file, commands) {
        Ok(tried) => {
            let mut told = tried.told();
            told["file"] = json!(name);
            told
        }
        Err(fault) => json!({ "file": name, "fault": view::fault(&fault) }),
    };
    files.iter().map(one).collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::job::Job;

    #[test]
    fn every_rate_that_the_job_knows_can_be_changed_in_many() {
        let schema = Job::schema();
        let rate = schema.pointer("/$defs/RateRule/properties");
        let rate = rate.and_then(Json::as_object).expect("keys of a rate");
        // What a class can have, but for the share that becomes plants, is a rate.
        let is_lookup = |(key, of): &(&String, &Json)| {
            of.to_string().contains("/Lookup") && *key != "establishment_percent"
        };
        let mut keys: Vec<&str> = rate
            .iter()
            .filter(is_lookup)
            .map(|(key, _)| key.as_str())
            .collect();
        keys.sort_unstable();
        let mut known = RATES;
        known.sort_unstable();
        assert_eq!(keys, known);
    }
}
