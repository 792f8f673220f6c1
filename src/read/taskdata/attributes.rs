//! Attributes of elements as texts and numbers.

use crate::codec::taskdata::Element;

/// Most characters of an attribute that are kept; the standard has up to 64 for a name.
pub(super) const MOST_CHARACTERS: usize = 256;

/// Cuts texts that are far longer than the standard's: a name stands in every feature that is made of its element. Gives
/// how many there were.
pub(super) fn cut_texts(element: &mut Element) -> usize {
    let mut cut = 0;
    for (_, value) in &mut element.attributes {
        if let Some((at, _)) = value.char_indices().nth(MOST_CHARACTERS) {
            value.truncate(at);
            value.shrink_to_fit();
            cut += 1;
        }
    }
    cut + element.children.iter_mut().map(cut_texts).sum::<usize>()
}

/// An attribute as text; empty where it is missing.
pub(super) fn text(element: &Element, name: &str) -> String {
    element.get(name).unwrap_or_default().trim().to_string()
}

/// An attribute as a number; `None` where it is missing or no such number.
pub(super) fn number<T: std::str::FromStr>(element: &Element, name: &str) -> Option<T> {
    element.get(name)?.trim().parse().ok()
}
