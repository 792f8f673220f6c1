//! XML as text: its encoding, and the lines of what is wrong with it.

use encoding_rs::{Encoding, UTF_8};
use std::borrow::Cow;

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
