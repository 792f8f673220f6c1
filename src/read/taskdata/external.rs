//! External files: pieces of the main file that lie beside it.

use super::container::Container;
use super::is_stem;
use crate::codec::room::Room;
use crate::codec::taskdata::{Element, parse_within};
use crate::codec::xml::BadXml;
use crate::findings::{Finding, Outcome, Place};
use std::collections::BTreeSet;

/// Puts the content of external files in the place of the references to them. They hold no references
/// of their own: one level is all the standard has, and all that is followed.
pub(super) fn merge_external(
    root: &mut Element,
    container: &mut Container,
    room: &mut Room,
    place: &Place,
    findings: &mut Vec<Finding>,
) -> Outcome<()> {
    let mut children = Vec::new();
    // In capitals: names are looked up in any case.
    let mut seen: BTreeSet<String> = BTreeSet::new();
    for child in std::mem::take(&mut root.children) {
        if child.tag != "XFR" {
            children.push(child);
            continue;
        }
        let name = child.get("A").unwrap_or_default().to_string();
        let mut skipped = |why: &str| {
            findings.push(Finding::warning(
                "read.task_data_external",
                place.clone().feature(name.clone()),
                format!("The external file {why}, so what it holds is missing."),
            ));
        };
        if !is_stem(&name) {
            skipped("has no proper name (three letters, five digits)");
        } else if !seen.insert(name.to_ascii_uppercase()) {
            skipped("is named twice; it was read once");
        } else {
            match container.get(&format!("{name}.XML"))? {
                None => skipped("is not there"),
                Some((_, bytes)) => match within(&bytes, room) {
                    Ok(external) => {
                        let inner = external.children.into_iter();
                        children.extend(inner.filter(|inner| inner.tag != "XFR"));
                    }
                    Err(bad) => skipped(&format!("is no XML (line {}: {})", bad.line, bad.what)),
                },
            }
        }
    }
    root.children = children;
    Ok(())
}

fn within(bytes: &[u8], room: &mut Room) -> Result<Element, BadXml> {
    room.read(bytes.len());
    parse_within(bytes, room)
}
