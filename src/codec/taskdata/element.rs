//! An element tree and its XML text.

use super::text::legal;
use quick_xml::events::{BytesDecl, BytesEnd, BytesStart, Event};
use quick_xml::writer::Writer;
use std::borrow::Cow;
use std::io;

/// A name of an element or an attribute: of those that the standard has, only a reference is held, for a file may have
/// millions.
pub type Name = Cow<'static, str>;

/// An element with its attributes and children in document order.
#[derive(Debug, Clone, PartialEq)]
pub struct Element {
    pub tag: Name,
    pub attributes: Vec<(Name, String)>,
    pub children: Vec<Element>,
}

impl Element {
    /// An element without attributes or children.
    pub fn new(tag: impl Into<Name>) -> Self {
        Self {
            tag: tag.into(),
            attributes: Vec::new(),
            children: Vec::new(),
        }
    }

    /// The same element with one more attribute.
    pub fn with(mut self, name: impl Into<Name>, value: impl ToString) -> Self {
        self.attributes.push((name.into(), value.to_string()));
        self
    }

    /// The same element with one more child.
    pub fn child(mut self, child: Element) -> Self {
        self.children.push(child);
        self
    }

    /// The same element with more children.
    pub fn children(mut self, children: impl IntoIterator<Item = Element>) -> Self {
        self.children.extend(children);
        self
    }

    /// The value of an attribute.
    pub fn get(&self, name: &str) -> Option<&str> {
        self.attributes
            .iter()
            .find(|(key, _)| key == name)
            .map(|(_, value)| value.as_str())
    }

    /// The document with this element as its root: UTF-8 with a declaration, no byte order mark,
    /// double quotes, two blanks of indent. Characters that XML 1.0 forbids are left out.
    pub fn document(&self) -> io::Result<Vec<u8>> {
        let mut writer = Writer::new_with_indent(Vec::new(), b' ', 2);
        writer.write_event(Event::Decl(BytesDecl::new("1.0", Some("UTF-8"), None)))?;
        self.write(&mut writer)?;
        let mut bytes = writer.into_inner();
        bytes.push(b'\n');
        Ok(bytes)
    }

    fn write(&self, writer: &mut Writer<Vec<u8>>) -> io::Result<()> {
        let mut start = BytesStart::new(self.tag.as_ref());
        for (name, value) in &self.attributes {
            let value = legal(value);
            start.push_attribute((name.as_ref(), &*value));
        }
        if self.children.is_empty() {
            return writer.write_event(Event::Empty(start));
        }
        writer.write_event(Event::Start(start))?;
        for child in &self.children {
            child.write(writer)?;
        }
        writer.write_event(Event::End(BytesEnd::new(self.tag.as_ref())))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn text_is_escaped_and_forbidden_characters_go() {
        let root = Element::new("CTR")
            .with("A", "CTR1")
            .with("B", "A & \"B\" <C>\u{1}\u{FFFE}é");
        let text = String::from_utf8(root.document().unwrap()).unwrap();
        assert_eq!(
            text,
            "<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n<CTR A=\"CTR1\" B=\"A &amp; &quot;B&quot; &lt;C&gt;é\"/>\n"
        );
    }

    #[test]
    fn children_are_nested() {
        let root = Element::new("TZN")
            .with("A", 1)
            .child(Element::new("PDV").with("A", "0006"));
        let text = String::from_utf8(root.document().unwrap()).unwrap();
        assert!(
            text.ends_with("<TZN A=\"1\">\n  <PDV A=\"0006\"/>\n</TZN>\n"),
            "{text}"
        );
        assert_eq!(root.get("A"), Some("1"));
    }
}
