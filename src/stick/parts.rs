//! The set of a form as one, or as several where a terminal cannot hold it as one.

use super::field::Field;
use super::merge::{SHARED, Share};
use crate::codec::taskdata::Element;
use crate::findings::{Fault, Outcome, Place};
use serde::{Deserialize, Serialize};
use std::collections::{BTreeMap, BTreeSet};

/// What the terminal holds, by its manual. No standard and no maker's library says it, so nothing is assumed.
#[derive(Debug, Clone, Copy, Default, PartialEq, Serialize, Deserialize)]
pub struct Limits {
    /// Most fields in one set.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub fields: Option<usize>,
    /// Most bytes of one set, all its files together.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub bytes: Option<u64>,
}

/// The files of one set.
pub(super) struct Part {
    /// Places of its fields in the list of shares.
    pub fields: Vec<usize>,
    /// Name in the folder `TASKDATA`, and content; the main file first.
    pub files: Vec<(String, Vec<u8>)>,
}

/// Sets that hold all shares in their order, each within the limits.
///
/// # Errors
/// A field that is too large by itself; two machines under one id.
pub(super) fn parts(
    root: &Element,
    fields: &[Field],
    shares: &[(usize, Share)],
    limits: Limits,
) -> Outcome<Vec<Part>> {
    let mut parts = Vec::new();
    let mut open: Vec<&(usize, Share)> = Vec::new();
    let (mut bytes, mut count) = (0, 0);
    // Both plans of a field with two seedbeds lie in one set, to choose from.
    let is_of_same = |one: &(usize, Share), other: &(usize, Share)| {
        let both = fields.get(one.0).zip(fields.get(other.0));
        both.is_some_and(|(one, other)| other.is_other_seedbed_of(one))
    };
    for of_field in shares.chunk_by(is_of_same) {
        let sizes = of_field.iter().map(|(_, share)| size(share));
        let own = sizes.sum::<Outcome<u64>>()?;
        let first = of_field.first().and_then(|(at, _)| fields.get(*at));
        if let Some(most) = limits.bytes.filter(|most| own > *most) {
            return Err(too_large(first, own, most));
        }
        let full = limits.fields.is_some_and(|most| count >= most)
            || limits.bytes.is_some_and(|most| bytes + own > most);
        if full && !open.is_empty() {
            parts.push(part(root, &open)?);
            open.clear();
            (bytes, count) = (0, 0);
        }
        open.extend(of_field);
        bytes += own;
        count += 1;
    }
    if !open.is_empty() {
        parts.push(part(root, &open)?);
    }
    Ok(parts)
}

/// Bytes of a field by itself: what it has in common with others is counted for each, so that a set is never larger than
/// its fields together.
fn size(share: &Share) -> Outcome<u64> {
    let mut bytes = share
        .grids
        .iter()
        .map(|(_, grid)| grid.len())
        .sum::<usize>();
    let elements = share.shared.iter().chain(&share.machines);
    for element in elements.chain(&share.partfields).chain(&share.tasks) {
        bytes += document(element)?.len();
    }
    Ok(bytes as u64)
}

fn part(root: &Element, shares: &[&(usize, Share)]) -> Outcome<Part> {
    let mut root = root.clone();
    for tag in SHARED {
        let mut known = BTreeSet::new();
        let all = shares.iter().flat_map(|(_, share)| &share.shared);
        let mut own: Vec<&Element> = all.filter(|element| element.tag == tag).collect();
        own.retain(|element| known.insert(element.get("A")));
        if tag == "FRM" {
            // Fields stand where the standard's own order has them: behind the farms.
            root.children.extend(own.into_iter().cloned());
            // A field with two plans, for its two seedbeds, stands once.
            let mut known = BTreeSet::new();
            let fields = shares.iter().flat_map(|(_, share)| &share.partfields);
            let fields = fields.filter(|field| known.insert(field.get("A")));
            root.children.extend(fields.cloned());
        } else {
            root.children.extend(own.into_iter().cloned());
        }
    }
    root.children.extend(machines(shares)?);
    let tasks = shares.iter().flat_map(|(_, share)| &share.tasks);
    root.children.extend(tasks.cloned());
    let mut files = vec![("TASKDATA.XML".to_owned(), document(&root)?)];
    let grids = shares.iter().flat_map(|(_, share)| &share.grids);
    files.extend(grids.map(|(name, bytes)| (format!("{name}.bin"), bytes.clone())));
    Ok(Part {
        fields: shares.iter().map(|(at, _)| *at).collect(),
        files,
    })
}

/// The machines, each once.
fn machines(shares: &[&(usize, Share)]) -> Outcome<Vec<Element>> {
    let mut known: Vec<&Element> = Vec::new();
    let mut parts: BTreeMap<&str, &Element> = BTreeMap::new();
    for machine in shares.iter().flat_map(|(_, share)| &share.machines) {
        if known.contains(&machine) {
            continue;
        }
        let ids = machine.children.iter().filter(|child| child.tag == "DET");
        let ids = ids.chain([machine]).filter_map(|element| element.get("A"));
        for id in ids {
            if parts.insert(id, machine).is_some() {
                return Err(two_machines(id));
            }
        }
        known.push(machine);
    }
    Ok(known.into_iter().cloned().collect())
}

fn document(element: &Element) -> Outcome<Vec<u8>> {
    element.document().map_err(|error| {
        Fault::program(
            "stick.task_data",
            Place::nowhere(),
            format!("The XML text could not be made: {error}"),
            "plain text",
        )
    })
}

fn two_machines(id: &str) -> Box<Fault> {
    Fault::input(
        "stick.two_machines",
        Place::nowhere(),
        format!("The id {id} stands for two different machines, or for two states of one"),
        "plans whose [terminal] from is task data of one terminal, copied at one time",
        "Name the newest task data of the terminal in all jobs and plan them again, or make a stick for each machine.",
    )
}

fn too_large(field: Option<&Field>, bytes: u64, most: u64) -> Box<Fault> {
    let name = field.map_or(String::new(), Field::words);
    Fault::input(
        "stick.too_large",
        field.map_or(Place::nowhere(), |field| Place::file(&field.folder)),
        format!(
            "The field '{name}' takes {bytes} bytes by itself, and the terminal is said to hold {most}"
        ),
        "fields that are smaller than --most-mb",
        "Plan it with larger cells (cell_m under [grid]), or correct --most-mb.",
    )
}
