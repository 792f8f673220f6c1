//! XML as text: its encoding, the lines of what is wrong with it, and a walk over elements and their text.

use encoding_rs::{Encoding, UTF_8};
use quick_xml::XmlVersion;
use quick_xml::events::{BytesStart, Event};
use quick_xml::reader::Reader;
use std::borrow::Cow;

/// Deepest nesting that a walk follows.
const DEEPEST: usize = 64;

/// Text that is no XML, or more of it than is read.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct BadXml {
    /// Line, from 1.
    pub line: usize,
    /// What is wrong there, without a full stop.
    pub what: String,
}

/// The text of a document, by its byte order mark or the encoding that it names; UTF-8 without either. Bytes that the encoding
/// does not have become U+FFFD.
///
/// # Errors
/// An encoding that is not known.
pub fn decoded(bytes: &[u8]) -> Result<Cow<'_, str>, BadXml> {
    let encoding = Encoding::for_bom(bytes).map_or_else(|| declared(bytes), |(known, _)| Ok(known));
    let (text, _, _) = encoding?.decode(bytes);
    Ok(text)
}

/// The encoding that the XML declaration names; UTF-8 without one.
fn declared(bytes: &[u8]) -> Result<&'static Encoding, BadXml> {
    let head = String::from_utf8_lossy(bytes.get(..200).unwrap_or(bytes)).into_owned();
    let Some(label) = head
        .split_once("?>")
        .filter(|(head, _)| head.trim_start().starts_with("<?xml"))
        .and_then(|(head, _)| head.split_once("encoding"))
        .and_then(|(_, rest)| rest.split(['"', '\'']).nth(1))
    else {
        return Ok(UTF_8);
    };
    Encoding::for_label(label.as_bytes()).ok_or_else(|| BadXml {
        line: 1,
        what: format!("the encoding '{label}' is not known"),
    })
}

/// The line, from 1, of a place in a text, in bytes.
pub fn line_of(text: &str, at: usize) -> usize {
    let before = text.as_bytes().get(..at).unwrap_or(text.as_bytes());
    before.iter().filter(|byte| **byte == b'\n').count() + 1
}

/// The local name of the root element, by the beginning of a file; none where it does not begin as XML does.
pub fn root(head: &[u8]) -> Option<String> {
    let text = decoded(head).ok()?;
    if !text
        .trim_start_matches('\u{feff}')
        .trim_start()
        .starts_with('<')
    {
        return None;
    }
    let mut tags = text.split('<').skip(1);
    let first = tags.find(|tag| !tag.starts_with(['?', '!']))?;
    let name = first.split([' ', '\t', '\r', '\n', '>', '/']).next()?;
    Some(local(name).to_owned())
}

/// Whether the beginning of a file has these words, in whatever encoding it is.
pub fn mentions(head: &[u8], words: &str) -> bool {
    decoded(head).is_ok_and(|text| text.contains(words))
}

/// A name without the prefix of its namespace.
pub fn local(name: &str) -> &str {
    name.rsplit(':').next().unwrap_or(name)
}

/// What a walk comes to. In both cases the element is the last of [`Walk::open`].
pub enum Step<'a> {
    /// An element opens.
    Opens(BytesStart<'a>),
    /// It closes, after this text: what stood in it behind the last element inside, entities and CDATA resolved.
    Closes(String),
}

/// A walk over a document, element by element.
pub struct Walk<'a> {
    text: &'a str,
    reader: Reader<&'a [u8]>,
    /// Local names of the open elements.
    open: Vec<String>,
    heard: String,
    /// What was heard before the element that opened last.
    before: String,
    /// The last element of `open` has closed, or closes as soon as it opens.
    closed: bool,
    empty: bool,
}

impl<'a> Walk<'a> {
    /// Over the text of a document.
    pub fn over(text: &'a str) -> Self {
        Self {
            text,
            reader: Reader::from_str(text),
            open: Vec::new(),
            heard: String::new(),
            before: String::new(),
            closed: false,
            empty: false,
        }
    }

    /// Local names of the open elements, the root first.
    pub fn open(&self) -> &[String] {
        &self.open
    }

    /// Where an element has just opened: the text before it, behind the last element inside the same one. With the text of
    /// [`Step::Closes`] it is all the text of an element that others stand in.
    pub fn before(&self) -> &str {
        &self.before
    }

    /// The value of an attribute of an element, by its local name; without the blanks around it.
    ///
    /// # Errors
    /// Attributes that are no XML.
    pub fn attribute(&self, start: &BytesStart, name: &str) -> Result<Option<String>, BadXml> {
        for found in start.attributes() {
            let found = found.map_err(|error| self.bad(error.to_string()))?;
            if local(found.key.as_ref()) == name {
                let value = found.normalized_value(XmlVersion::Implicit1_0);
                let value = value.map_err(|error| self.bad(error.to_string()))?;
                return Ok(Some(value.trim().to_owned()));
            }
        }
        Ok(None)
    }

    /// The byte of the text behind what was read last.
    pub fn position(&self) -> usize {
        usize::try_from(self.reader.buffer_position()).unwrap_or(usize::MAX)
    }

    /// What is wrong where the walk is now.
    pub fn bad(&self, what: String) -> BadXml {
        self.bad_at(self.position(), what)
    }

    /// What is wrong at a byte of the text.
    pub fn bad_at(&self, at: usize, what: String) -> BadXml {
        BadXml {
            line: line_of(self.text, at),
            what,
        }
    }

    /// The next step; none at the end.
    ///
    /// # Errors
    /// What is no XML; an entity that XML does not know; elements too deep; a text that ends inside an element.
    pub fn step(&mut self) -> Result<Option<Step<'a>>, BadXml> {
        if self.closed {
            self.open.pop();
            self.closed = false;
        }
        if self.empty {
            self.empty = false;
            return Ok(Some(self.closes()));
        }
        loop {
            match self
                .reader
                .read_event()
                .map_err(|error| self.bad(error.to_string()))?
            {
                Event::Start(start) => return self.opens(start).map(Some),
                Event::Empty(start) => {
                    self.empty = true;
                    return self.opens(start).map(Some);
                }
                Event::End(_) => return Ok(Some(self.closes())),
                Event::Text(more) => self.heard.push_str(&more),
                Event::CData(more) => self.heard.push_str(&more),
                Event::GeneralRef(name) => {
                    let meant = of_entity(&name);
                    let no_entity =
                        || self.bad(format!("'&{};' is no entity of XML", name.escape_debug()));
                    let meant = meant.ok_or_else(no_entity)?;
                    self.heard.push_str(&meant);
                }
                Event::Eof => break,
                _ => {}
            }
        }
        match self.open.last() {
            Some(left) => Err(self.bad_at(
                self.text.len(),
                format!("the text ends inside the element '{}'", left.escape_debug()),
            )),
            None => Ok(None),
        }
    }

    fn opens(&mut self, start: BytesStart<'a>) -> Result<Step<'a>, BadXml> {
        if self.open.len() >= DEEPEST {
            return Err(self.bad(format!("elements lie more than {DEEPEST} deep")));
        }
        self.before = std::mem::take(&mut self.heard);
        self.open.push(local(start.name().as_ref()).to_owned());
        Ok(Step::Opens(start))
    }

    fn closes(&mut self) -> Step<'a> {
        self.closed = true;
        Step::Closes(std::mem::take(&mut self.heard))
    }
}

/// What an entity of XML itself stands for.
fn of_entity(name: &str) -> Option<String> {
    if let Some(number) = name.strip_prefix('#') {
        let code = match number.strip_prefix('x') {
            Some(digits) => u32::from_str_radix(digits, 16),
            None => number.parse(),
        };
        return code.ok().and_then(char::from_u32).map(String::from);
    }
    quick_xml::escape::resolve_predefined_entity(name).map(str::to_owned)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_document_is_known_by_its_root() {
        let named = |text: &str| root(text.as_bytes());
        let commented = "\u{feff}<!-- made by hand --><g:gpx xmlns:g='x'>";
        assert_eq!(named(commented).as_deref(), Some("gpx"));
        assert_eq!(
            named("<?xml version='1.0'?>\n<kml><gpx/></kml>").as_deref(),
            Some("kml")
        );
        assert_eq!(named("{\"a\": \"<gpx>\"}"), None);
        assert_eq!(named(""), None);
    }

    #[test]
    fn text_is_what_stands_behind_the_last_element_inside() {
        let mut walk = Walk::over("<a>x<b> 1 &amp; <![CDATA[<2>]]>&#66;</b>y<c/>z</a>");
        let mut heard = Vec::new();
        while let Some(step) = walk.step().unwrap() {
            if let Step::Closes(text) = step {
                heard.push((walk.open().join("/"), text));
            }
        }
        let heard: Vec<(&str, &str)> = heard
            .iter()
            .map(|(at, text)| (at.as_str(), text.as_str()))
            .collect();
        assert_eq!(heard, [("a/b", " 1 & <2>B"), ("a/c", ""), ("a", "z")]);
    }
}
