//! The description of a machine: what of it a version of the standard takes, unchanged.
//!
//! Attributes, lengths and ranges as in the public schema files, versions 3.3 and 4.3.

use super::Element;
use std::collections::BTreeSet;

/// What an attribute may hold.
#[derive(Clone, Copy)]
enum Is {
    /// The tag with a number, perhaps with a hyphen between them; up to 14 characters.
    Id,
    /// Up to 32 characters; longer ones are cut.
    Text,
    /// So many bytes as hexadecimal digits.
    Hex(usize, usize),
    /// A whole number in this range.
    Whole(i64, i64),
    /// A decimal above 0.
    Scale,
}

type Rules = &'static [(&'static str, bool, Is)];

const OBJECT: Is = Is::Whole(1, 65_534);
const INTEGER: Is = Is::Whole(i32::MIN as i64, i32::MAX as i64);

const DEVICE_3: Rules = &[
    ("A", true, Is::Id),
    ("B", false, Is::Text),
    ("C", false, Is::Text),
    ("D", true, Is::Hex(8, 8)),
    ("E", false, Is::Text),
    ("F", true, Is::Hex(7, 7)),
    ("G", true, Is::Hex(7, 7)),
];
const DEVICE_4: Rules = &[
    ("A", true, Is::Id),
    ("B", false, Is::Text),
    ("C", false, Is::Text),
    ("D", true, Is::Hex(8, 8)),
    ("E", false, Is::Text),
    ("F", true, Is::Hex(7, 39)),
    ("G", true, Is::Hex(7, 7)),
];
const ELEMENT: Rules = &[
    ("A", true, Is::Id),
    ("B", true, OBJECT),
    ("C", true, Is::Whole(1, 7)),
    ("D", false, Is::Text),
    ("E", true, Is::Whole(0, 4095)),
    ("F", true, Is::Whole(0, 65_534)),
];
const OBJECT_REFERENCE: Rules = &[("A", true, OBJECT)];
const PROCESS_DATA_3: Rules = &[
    ("A", true, OBJECT),
    ("B", true, Is::Hex(2, 2)),
    ("C", true, Is::Whole(0, 3)),
    ("D", true, Is::Whole(0, 31)),
    ("E", false, Is::Text),
    ("F", false, OBJECT),
];
const PROCESS_DATA_4: Rules = &[
    ("A", true, OBJECT),
    ("B", true, Is::Hex(2, 2)),
    ("C", true, Is::Whole(0, 7)),
    ("D", true, Is::Whole(0, 31)),
    ("E", false, Is::Text),
    ("F", false, OBJECT),
];
const PROPERTY: Rules = &[
    ("A", true, OBJECT),
    ("B", true, Is::Hex(2, 2)),
    ("C", true, INTEGER),
    ("D", false, Is::Text),
    ("E", false, OBJECT),
];
const PRESENTATION: Rules = &[
    ("A", true, OBJECT),
    ("B", true, INTEGER),
    ("C", true, Is::Scale),
    ("D", true, Is::Whole(0, 7)),
    ("E", false, Is::Text),
];

fn rules(tag: &str, major: u8) -> Option<Rules> {
    Some(match (tag, major) {
        ("DVC", 4) => DEVICE_4,
        ("DVC", _) => DEVICE_3,
        ("DET", _) => ELEMENT,
        ("DOR", _) => OBJECT_REFERENCE,
        ("DPD", 4) => PROCESS_DATA_4,
        ("DPD", _) => PROCESS_DATA_3,
        ("DPT", _) => PROPERTY,
        ("DVP", _) => PRESENTATION,
        _ => return None,
    })
}

/// The device with everything that version `major` (3 or 4) of the standard knows, in document order. What the
/// standard does not know is left out; hexadecimal digits become upper case.
///
/// # Errors
/// What does not fit that version, in words: an attribute that is missing or out of range, an id given twice.
pub fn device(found: &Element, major: u8) -> Result<Element, String> {
    let mut ids = BTreeSet::new();
    known(found, major, &mut ids)?
        .filter(|made| made.tag == "DVC")
        .ok_or_else(|| format!("'{}' is no device", found.tag))
}

fn known(
    found: &Element,
    major: u8,
    ids: &mut BTreeSet<String>,
) -> Result<Option<Element>, String> {
    let Some(rules) = rules(&found.tag, major) else {
        return Ok(None);
    };
    let mut made = Element::new(found.tag.clone());
    for &(name, needed, is) in rules {
        let text = found.get(name).map(str::trim).unwrap_or_default();
        if text.is_empty() {
            if needed {
                return Err(format!("{} lacks the attribute {name}", called(found)));
            }
            continue;
        }
        let value = value(text, is, &found.tag).filter(|value| {
            // The first byte of a localization label is reserved and says FF.
            (found.tag.as_ref(), name) != ("DVC", "G") || value.starts_with("FF")
        });
        let Some(value) = value else {
            return Err(format!(
                "{} has {name}=\"{text}\", which version {major} of the standard does not take",
                called(found)
            ));
        };
        if matches!(is, Is::Id) && !ids.insert(value.clone()) {
            return Err(format!("the id {value} is given twice"));
        }
        made = made.with(name, value);
    }
    for child in &found.children {
        made.children.extend(known(child, major, ids)?);
    }
    Ok(Some(made))
}

/// How an element is named in a message.
fn called(element: &Element) -> String {
    format!("{} {}", element.tag, element.get("A").unwrap_or("?"))
}

fn value(text: &str, is: Is, tag: &str) -> Option<String> {
    match is {
        Is::Id => is_id(text, tag).then(|| text.to_string()),
        Is::Text => Some(text.chars().take(super::MOST_CHARACTERS).collect()),
        Is::Hex(least, most) => {
            let digits = text.len();
            let fits = digits.is_multiple_of(2) && (least..=most).contains(&(digits / 2));
            let hex = text.bytes().all(|byte| byte.is_ascii_hexdigit());
            (fits && hex).then(|| text.to_ascii_uppercase())
        }
        Is::Whole(least, most) => {
            let number = text.parse::<i64>().ok()?;
            (least..=most).contains(&number).then(|| number.to_string())
        }
        Is::Scale => {
            let plain = text.bytes().all(|b| b.is_ascii_digit() || b == b'.');
            let number = text.parse::<f64>().ok().filter(|_| plain)?;
            (1e-9..=1e8).contains(&number).then(|| text.to_string())
        }
    }
}

/// Whether a text is an id of the standard with this tag, such as `PFD12` or `PFD-3`.
pub fn is_id(text: &str, tag: &str) -> bool {
    let number = text
        .strip_prefix(tag)
        .map(|rest| rest.strip_prefix('-').unwrap_or(rest));
    number.is_some_and(|digits| {
        !digits.is_empty() && digits.bytes().all(|byte| byte.is_ascii_digit()) && text.len() <= 14
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn drill() -> Element {
        Element::new("DVC")
            .with("A", "DVC-1")
            .with("B", "drill")
            .with("D", "a00086000de0012a")
            .with("F", "41424344454647")
            .with("G", "FF000000006564")
            .with("P094_x", "1")
            .child(
                Element::new("DET")
                    .with("A", "DET-1")
                    .with("B", 1)
                    .with("C", 1)
                    .with("E", 0)
                    .with("F", 0)
                    .child(Element::new("DOR").with("A", 2)),
            )
            .child(
                Element::new("DPD")
                    .with("A", 2)
                    .with("B", "0006")
                    .with("C", 6)
                    .with("D", 9),
            )
            .child(Element::new("XYZ").with("A", 2))
    }

    #[test]
    fn what_the_standard_knows_is_kept_and_the_rest_left_out() {
        let made = device(&drill(), 4).unwrap();
        assert_eq!(made.get("D"), Some("A00086000DE0012A"));
        assert_eq!(made.get("P094_x"), None);
        let tags: Vec<&str> = made.children.iter().map(|c| c.tag.as_ref()).collect();
        assert_eq!(tags, ["DET", "DPD"]);
        assert_eq!(made.children[0].children[0].get("A"), Some("2"));
    }

    #[test]
    fn what_a_version_does_not_take_is_said() {
        // Property 6 has the bit for a control source, which version 3 does not know.
        let said = device(&drill(), 3).unwrap_err();
        assert!(said.contains("DPD 2 has C=\"6\""), "{said}");
        let mut short = drill();
        short.attributes.retain(|(name, _)| name != "F");
        assert!(device(&short, 4).unwrap_err().contains("lacks"));
        let mut twice = drill();
        twice.children.push(twice.children[0].clone());
        assert!(device(&twice, 4).unwrap_err().contains("twice"));
    }

    #[test]
    fn ids_are_told_from_other_texts() {
        assert!(is_id("PFD1", "PFD") && is_id("PFD-12", "PFD"));
        for text in ["PFD", "PFD-", "DET1", "PFD1x", "PFD123456789012", "pfd1"] {
            assert!(!is_id(text, "PFD"), "{text}");
        }
    }
}
