//! XML text to an element tree, with limits, so that no file makes the program run out of memory.

use super::{Element, Name};
use crate::codec::room::{PER_PIECE, Room};
use crate::codec::xml::{BadXml, decoded, line_of};
use quick_xml::XmlVersion;
use quick_xml::events::{BytesStart, Event};
use quick_xml::reader::Reader;

/// Most elements of a document. A large task file with all outlines has some hundred thousand.
pub const MOST_ELEMENTS: usize = 2_000_000;
/// Most attributes of one element. The largest element of the standard's schemas has about twenty; comparing
/// each name with all others would take ages for very many.
pub const MOST_ATTRIBUTES: usize = 200;
/// Most attributes of a document.
const MOST_ATTRIBUTES_TOGETHER: usize = 10_000_000;
/// Deepest nesting. The deepest path of the standard's schemas has about ten steps.
pub const DEEPEST: usize = 64;

/// Names of elements that are read, and those that they come with in number.
const TAGS: [&str; 35] = [
    "CTR",
    "DET",
    "DLV",
    "DOR",
    "DPD",
    "DPT",
    "DVC",
    "DVP",
    "FRM",
    "GAN",
    "GGP",
    "GPN",
    "GRD",
    "ISO11783_TaskData",
    "LSG",
    "PAN",
    "PDT",
    "PDV",
    "PFD",
    "PLN",
    "PNT",
    "PTN",
    "STP",
    "TCC",
    "TIM",
    "TLG",
    "TSK",
    "TZN",
    "VPN",
    "WAN",
    "WKR",
    "XFR",
    "CPC",
    "CTP",
    "OTP",
];
/// Names of attributes: one letter, all but a few.
const LETTERS: &str = "ABCDEFGHIJKLMNOPQRSTUVWXYZ";

fn tag_name(name: &str) -> Name {
    let known = TAGS.iter().find(|tag| **tag == name);
    known.map_or_else(|| name.to_string().into(), |tag| (*tag).into())
}

fn attribute_name(name: &str) -> Name {
    let known = LETTERS.find(name).filter(|_| name.len() == 1);
    let known = known.and_then(|at| LETTERS.get(at..=at));
    known.map_or_else(|| name.to_string().into(), Name::from)
}

/// Bytes that a name takes beyond its place.
fn of_name(name: &Name) -> usize {
    match name {
        Name::Borrowed(_) => 0,
        Name::Owned(text) => text.len() + PER_PIECE,
    }
}

/// Bytes that an element takes without its children; its place counts half as much again, for a list that grows has places
/// to spare.
fn held(element: &Element) -> usize {
    let attributes = element.attributes.iter();
    let of_attributes = attributes
        .map(|(name, value)| size_of::<(Name, String)>() + of_name(name) + value.len() + PER_PIECE);
    size_of::<Element>() * 3 / 2 + of_name(&element.tag) + PER_PIECE + of_attributes.sum::<usize>()
}

/// The root element of a document. Texts between elements, comments and processing instructions are
/// left out: task data carries everything in attributes. Entities other than those of XML itself are
/// not expanded but refused.
///
/// # Errors
/// The text is no well-formed XML, is cut off, is in an encoding that is not known, exceeds
/// [`MOST_ELEMENTS`] or [`DEEPEST`], or has more elements and attributes than a text of its size may.
pub fn parse(bytes: &[u8]) -> Result<Element, BadXml> {
    parse_within(bytes, &mut Room::of(bytes.len()))
}

/// The same for one of several documents that share their room.
///
/// # Errors
/// As [`parse`].
pub fn parse_within(bytes: &[u8], room: &mut Room) -> Result<Element, BadXml> {
    let text = decoded(bytes)?;
    let mut reader = Reader::from_str(&text);
    let mut open: Vec<Element> = Vec::new();
    let mut root: Option<Element> = None;
    let mut count = 0_usize;
    let mut attributes = 0_usize;
    loop {
        let event = reader.read_event();
        let at = usize::try_from(reader.buffer_position()).unwrap_or(usize::MAX);
        let bad = |what: String| BadXml {
            line: line_of(&text, at),
            what,
        };
        let event = event.map_err(|error| bad(error.to_string()))?;
        if matches!(event, Event::Start(_) | Event::Empty(_)) {
            count += 1;
            if count > MOST_ELEMENTS {
                return Err(bad(format!("there are more than {MOST_ELEMENTS} elements")));
            }
            if root.is_some() {
                return Err(bad("something follows the end of the root element".into()));
            }
        }
        if attributes > MOST_ATTRIBUTES_TOGETHER {
            return Err(bad(format!(
                "there are more than {MOST_ATTRIBUTES_TOGETHER} attributes"
            )));
        }
        let mut taken = |start: &BytesStart| {
            let made = element(start)?;
            attributes += made.attributes.len();
            match room.take(held(&made)) {
                true => Ok(made),
                false => Err(format!(
                    "its elements and attributes take more memory than a text of {} bytes may",
                    bytes.len()
                )),
            }
        };
        match event {
            Event::Start(start) => {
                if open.len() >= DEEPEST {
                    return Err(bad(format!("elements lie more than {DEEPEST} deep")));
                }
                open.push(taken(&start).map_err(bad)?);
            }
            Event::Empty(start) => {
                let made = taken(&start).map_err(bad)?;
                put(made, &mut open, &mut root);
            }
            Event::End(_) => {
                // The reader has checked that names match, so there is one.
                if let Some(mut made) = open.pop() {
                    made.children.shrink_to_fit();
                    put(made, &mut open, &mut root);
                }
            }
            Event::Eof => break,
            _ => {}
        }
    }
    let end = |what: String| BadXml {
        line: line_of(&text, text.len()),
        what,
    };
    match (root, open.last()) {
        (Some(root), None) => Ok(root),
        (_, Some(left)) => Err(end(format!(
            "the text ends inside the element '{}'",
            left.tag
        ))),
        (None, None) => Err(end("there is no element".to_string())),
    }
}

fn put(made: Element, open: &mut [Element], root: &mut Option<Element>) {
    match open.last_mut() {
        Some(parent) => parent.children.push(made),
        None => *root = Some(made),
    }
}

fn element(start: &BytesStart) -> Result<Element, String> {
    let mut element = Element::new(tag_name(start.name().as_ref()));
    if element.tag.is_empty() || element.tag.contains(['<', '"', '\'', '=', '&']) {
        return Err(format!("'{}' is no name of an element", element.tag));
    }
    for attribute in start.attributes() {
        let attribute = attribute.map_err(|error| error.to_string())?;
        if element.attributes.len() == MOST_ATTRIBUTES {
            return Err(format!(
                "the element '{}' has more than {MOST_ATTRIBUTES} attributes",
                element.tag
            ));
        }
        if attribute.value.contains('<') {
            let name = attribute.key.as_ref();
            return Err(format!(
                "'<' stands in the value of the attribute '{name}', where XML has '&lt;'"
            ));
        }
        let value = attribute
            .normalized_value(XmlVersion::Implicit1_0)
            .map_err(|error| error.to_string())?;
        let key = attribute_name(attribute.key.as_ref());
        let mut value = value.into_owned();
        value.shrink_to_fit();
        element.attributes.push((key, value));
    }
    element.attributes.shrink_to_fit();
    Ok(element)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_document_comes_back() {
        let root = Element::new("TSK")
            .with("A", "TSK1")
            .with("B", "A & \"B\" <C> é")
            .child(Element::new("TZN").with("A", 1).child(Element::new("PDV")));
        assert_eq!(parse(&root.document().unwrap()).unwrap(), root);
    }

    #[test]
    fn other_encodings_are_read() {
        let latin = b"<?xml version='1.0' encoding='ISO-8859-1'?><A B='\xe9'/>";
        assert_eq!(parse(latin).unwrap().get("B"), Some("é"));
        let wide: Vec<u8> = "\u{feff}<A B='é'/>"
            .encode_utf16()
            .flat_map(u16::to_le_bytes)
            .collect();
        assert_eq!(parse(&wide).unwrap().get("B"), Some("é"));
        let unknown = b"<?xml version='1.0' encoding='martian'?><A/>";
        assert!(parse(unknown).unwrap_err().what.contains("martian"));
    }

    #[test]
    fn what_is_no_document_is_refused_with_its_line() {
        for (text, line, what) in [
            ("", 1, "no element"),
            ("<A>\n<B/>\n", 3, "inside the element 'A'"),
            ("<A>\n</B>", 2, ""),
            ("<A>\n<B C='&x;'/></A>", 2, ""),
            ("<A>\n<B C='a<b'/></A>", 2, "'C'"),
            ("<A>\n<></></A>", 2, "no name"),
            ("<A/>\n<B/>", 2, "root"),
        ] {
            let bad = parse(text.as_bytes()).unwrap_err();
            assert_eq!(bad.line, line, "{text:?}: {bad:?}");
            assert!(bad.what.contains(what), "{text:?}: {bad:?}");
        }
        let small = "<B/>".repeat(1_200_000);
        let many = parse(format!("<A>{small}</A>").as_bytes()).unwrap_err();
        assert!(many.what.contains("memory"), "{many:?}");
        let names: String = (0..=MOST_ATTRIBUTES).map(|n| format!(" a{n}=''")).collect();
        let many = parse(format!("<A{names}/>").as_bytes()).unwrap_err();
        assert!(many.what.contains("attributes"), "{many:?}");
        let deep = "<A>".repeat(DEEPEST + 1);
        assert!(parse(deep.as_bytes()).unwrap_err().what.contains("deep"));
    }

    #[test]
    fn no_cut_and_no_damaged_byte_breaks_it() {
        let text = b"<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n<A B=\"1\"><C D=\"&amp;\"/><!-- x --></A>\n";
        for cut in 0..text.len() {
            let _ = parse(&text[..cut]);
            for byte in [0, b'<', b'&', b'"', 0xff] {
                let mut damaged = text.to_vec();
                damaged[cut] = byte;
                let _ = parse(&damaged);
            }
        }
    }
}
