//! All sets of a stick, its page and its record, into a folder.

use super::field::{Field, Gathered};
use super::ids::Ids;
use super::merge::{self, Share};
use super::page::{self, FormOnPage};
use super::parts::{Limits, Part, parts};
use super::record::{FILE, OnStick, Record};
use super::spreaders::other_machine;
use crate::audit::audit_tasks;
use crate::codec::taskdata::{Element, MOST_CHARACTERS, designator};
use crate::findings::{Fault, Outcome, Place};
use crate::write::{self, Written};
use std::collections::{BTreeMap, BTreeSet};
use std::path::{Path, PathBuf};

/// What was made.
pub struct Made {
    /// The record as it was written.
    pub record: Record,
    /// The files.
    pub written: Vec<Written>,
    /// How many fields; two plans for the two seedbeds of one are one.
    pub count: usize,
    /// How many sets the ready form has.
    pub parts: usize,
    /// Fields that another form does not have.
    pub not_in_form: Vec<NotInForm>,
    /// Products that one name stands for.
    pub same_name: Vec<SameProduct>,
    /// Names of customers, farms and fields that are too long for the screen, with what it shows of them.
    pub cut: Vec<(String, String)>,
    /// Fields that look alike on the screen, by what it shows: their plan ids.
    pub alike: Vec<SameName>,
}

/// A field whose plan does not come in a form.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct NotInForm {
    /// The form.
    pub form: String,
    /// The field in words.
    pub field: String,
}

/// Several things with one name on the screen.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct SameName {
    /// The name.
    pub name: String,
    /// Ids of those that have it.
    pub ids: Vec<String>,
}

/// Several products with one name on the screen, and by what they differ.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct SameProduct {
    /// The name.
    pub name: String,
    /// Ids of those that have it.
    pub ids: Vec<String>,
    /// The jobs have other units, and the screen shows their amounts in them.
    pub by_units: bool,
    /// Kind, grain mass or density differs.
    pub by_grains: bool,
}

impl SameProduct {
    /// By what they differ, in words.
    pub fn differs(&self) -> &'static str {
        match (self.by_units, self.by_grains) {
            (true, false) => "their unit differs",
            (true, true) => "their unit, and their grain mass or density differ",
            (false, _) => "their grain mass or density differs",
        }
    }
}

/// Fills an empty folder. `known` is the record of the stick that lay there before.
///
/// # Errors
/// A stick of the other machine; a field that does not come in the ready form; what a terminal cannot hold; sets that do not read back as the plans say; the disk.
pub fn fill(
    folder: &Path,
    gathered: &Gathered,
    ready: &str,
    limits: Limits,
    known: Option<&Record>,
    made_at: &str,
) -> Outcome<Made> {
    let fields = gathered.fields.as_slice();
    if let Some(without) = fields.iter().find(|field| !field.sets.contains_key(ready)) {
        return Err(not_ready(without, ready));
    }
    let machine = gathered.machine();
    let of_known = known.and_then(|record| record.machine);
    if let Some((own, there)) = machine.zip(of_known).filter(|(own, there)| own != there) {
        return Err(other_machine(folder, there, own));
    }
    let mut ids = Ids::of(known.map_or(&[], |record| record.ids.as_slice()));
    let mut made = Made {
        record: Record {
            machine,
            limits,
            ..Record::new(made_at, ready)
        },
        written: Vec::new(),
        count: gathered.count(),
        parts: 0,
        not_in_form: Vec::new(),
        same_name: Vec::new(),
        cut: cut(fields),
        alike: alike(fields),
    };
    let forms: BTreeSet<&str> = fields
        .iter()
        .flat_map(|field| field.sets.keys().map(String::as_str))
        .collect();
    let others = forms.into_iter().filter(|form| *form != ready);
    let mut on_page = Vec::new();
    for form in [ready].into_iter().chain(others) {
        let mut shares = Vec::new();
        for (at, field) in fields.iter().enumerate() {
            match merge::share(field, form, &mut ids)? {
                Some(share) => shares.push((at, share)),
                None => made.not_in_form.push(NotInForm {
                    form: form.to_owned(),
                    field: field.words(),
                }),
            }
        }
        let sets = parts(&root(fields, form), fields, &shares, limits)?;
        let top = match form == ready {
            true => PathBuf::new(),
            false => Path::new("fallback").join(form),
        };
        for (nth, set) in sets.iter().enumerate() {
            let inside = match sets.len() {
                1 => top.join("TASKDATA"),
                _ => top.join(format!("part-{}", nth + 1)).join("TASKDATA"),
            };
            written_and_read(folder, &inside, set, fields, &mut made.written)?;
            if form == ready {
                let on_stick = set.fields.iter().filter_map(|at| fields.get(*at));
                let on_stick = on_stick.map(|field| OnStick::of(field, nth + 1));
                made.record.fields.extend(on_stick);
            }
        }
        if form == ready {
            made.parts = sets.len();
            made.same_name = same_names(&shares);
        } else {
            made.record.other_forms.push(form.to_owned());
        }
        on_page.push(FormOnPage {
            form: form.to_owned(),
            parts: sets.len(),
            fields: shares.len(),
        });
    }
    if let Some(known) = known {
        made.record.replaces(known);
    }
    made.record.ids = ids.given();
    let page = page::text(fields, &made, &on_page);
    let what = "what is on the stick, and what to look at on the screen";
    let file = write::extra(folder, "README.txt", page.as_bytes(), what)?;
    made.written.push(file);
    let text = made.record.text()?;
    let what = "the record: the next stick in this folder keeps its ids";
    let file = write::extra(folder, FILE, text.as_bytes(), what)?;
    made.written.push(file);
    Ok(made)
}

/// The root of a form's set, without children.
fn root(fields: &[Field], form: &str) -> Element {
    let first = fields.iter().find_map(|field| field.sets.get(form));
    let attributes = first.map_or(&[][..], |set| set.root.attributes.as_slice());
    let mut root = Element::new("ISO11783_TaskData");
    for (name, value) in attributes {
        // Plans may be of several versions of the program; the set is of this one.
        let value = match name.as_ref() {
            "ManagementSoftwareVersion" => env!("CARGO_PKG_VERSION"),
            _ => value,
        };
        root = root.with(name.clone(), value);
    }
    root
}

/// Writes a set, reads it back, and holds every task against the plan that it names.
fn written_and_read(
    folder: &Path,
    inside: &Path,
    set: &Part,
    fields: &[Field],
    written: &mut Vec<Written>,
) -> Outcome<()> {
    for (name, bytes) in &set.files {
        let path = inside.join(name);
        let path = path.to_string_lossy().replace('\\', "/");
        written.push(write::extra(
            folder,
            &path,
            bytes,
            "task data of the stick",
        )?);
    }
    let plans = set.fields.iter().filter_map(|at| fields.get(*at));
    let plans: Vec<_> = plans.map(|field| &field.facts).collect();
    let audit = audit_tasks(&folder.join(inside), &plans)?;
    match audit.complaints().first() {
        None => Ok(()),
        Some(first) => Err(Fault::program(
            "stick.read_back",
            Place::nowhere(),
            format!("A set that was just written does not say what the plans say: {first}"),
            "sets that agree with the plans",
        )),
    }
}

/// Names that are longer than the standard takes.
fn cut(fields: &[Field]) -> Vec<(String, String)> {
    let names = fields.iter().flat_map(|field| field.names());
    let long = names.filter(|name| name.chars().count() > MOST_CHARACTERS);
    let long: BTreeSet<&str> = long.collect();
    let shown = long
        .into_iter()
        .map(|name| (name.to_owned(), designator(name)));
    shown.collect()
}

/// Fields that a screen shows alike.
fn alike(fields: &[Field]) -> Vec<SameName> {
    let mut by_shown: BTreeMap<[String; 3], Vec<String>> = BTreeMap::new();
    for (nth, field) in fields.iter().enumerate() {
        // The two plans of one field are told apart by the word in the task's name.
        let before = nth.checked_sub(1).and_then(|at| fields.get(at));
        if before.is_some_and(|before| field.is_other_seedbed_of(before)) {
            continue;
        }
        let shown = field.names().map(designator);
        by_shown
            .entry(shown)
            .or_default()
            .push(field.plan.id.clone());
    }
    let several = by_shown.into_iter().filter(|(_, plans)| plans.len() > 1);
    let several = several.map(|([_, _, name], ids)| SameName { name, ids });
    several.collect()
}

/// Products that differ and have one name.
fn same_names(shares: &[(usize, Share)]) -> Vec<SameProduct> {
    let mut by_name: BTreeMap<&str, BTreeMap<&str, &Element>> = BTreeMap::new();
    let all = shares.iter().flat_map(|(_, share)| &share.shared);
    for product in all.filter(|element| element.tag == "PDT") {
        let name = product.get("B").unwrap_or_default();
        let ids = by_name.entry(name).or_default();
        ids.insert(product.get("A").unwrap_or_default(), product);
    }
    // How its amount is shown, and what else a product says: its group, density and grain mass.
    let differ = |ids: &BTreeMap<&str, &Element>, names: &[&str]| {
        let says = ids
            .values()
            .map(|own| names.iter().map(|name| own.get(name)).collect());
        let says: BTreeSet<Vec<Option<&str>>> = says.collect();
        says.len() > 1
    };
    let several = by_name.into_iter().filter(|(_, ids)| ids.len() > 1);
    let several = several.map(|(name, ids)| SameProduct {
        name: name.to_owned(),
        by_units: differ(&ids, &["D"]),
        by_grains: differ(&ids, &["C", "H", "I"]),
        ids: ids.into_keys().map(str::to_owned).collect(),
    });
    several.collect()
}

fn not_ready(field: &Field, form: &str) -> Box<Fault> {
    let forms: Vec<&str> = field.sets.keys().map(String::as_str).collect();
    Fault::input(
        "stick.form",
        Place::file(&field.folder),
        format!("The plan of '{}' does not come as {form}", field.words()),
        format!(
            "a form that every plan has; this one has: {}",
            forms.join(", ")
        ),
        "Choose another with --form, or plan the field again so that it comes in that form.",
    )
}
