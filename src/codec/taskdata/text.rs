//! Texts and numbers within the limits that the schema sets.

use crate::codec;
use std::borrow::Cow;

/// Most characters (not bytes) of a designator.
pub const MOST_CHARACTERS: usize = 32;

/// A text as a designator: line breaks and other control characters become blanks, runs of blanks
/// become one, and what is longer than 32 characters is cut.
pub fn designator(text: &str) -> String {
    let plain: String = legal(text)
        .chars()
        .map(|c| if c.is_control() { ' ' } else { c })
        .collect();
    let words: Vec<&str> = plain.split_whitespace().collect();
    let cut: String = words.join(" ").chars().take(MOST_CHARACTERS).collect();
    cut.trim_end().to_string()
}

/// A number as a decimal without an exponent and with at most `decimals` digits after the point,
/// such that the text reads back as the same number; `None` if there is no such text.
pub fn decimal(value: f64, decimals: usize) -> Option<String> {
    if value == 0.0 {
        return Some("0".to_string());
    }
    let mut text = String::with_capacity(16);
    if decimals >= 9 && codec::decimal::push_rounded(&mut text, value) {
        return Some(text);
    }
    // Rust prints a f64 without an exponent, as the shortest text that reads back as the same.
    let text = value.to_string();
    let digits = text.split_once('.').map_or(0, |(_, digits)| digits.len());
    let same = text.parse::<f64>().is_ok_and(|read| read == value);
    (value.is_finite() && same && digits <= decimals).then_some(text)
}

/// The text without the characters that XML 1.0 forbids.
pub(super) fn legal(text: &str) -> Cow<'_, str> {
    let is_legal = |c: char| matches!(c, '\t' | '\n' | '\r' | ' '..='\u{FFFD}' | '\u{10000}'..);
    match text.chars().all(is_legal) {
        true => Cow::Borrowed(text),
        false => Cow::Owned(text.chars().filter(|c| is_legal(*c)).collect()),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn designators_are_cut_on_characters() {
        assert_eq!(designator(&"ü".repeat(40)), "ü".repeat(32));
        assert_eq!(designator(" upper\n\t brook\u{7} "), "upper brook");
        assert_eq!(designator(&format!("{} x", "y".repeat(31))), "y".repeat(31));
    }

    #[test]
    fn decimals_read_back_or_are_refused() {
        assert_eq!(decimal(50.123456789, 9).as_deref(), Some("50.123456789"));
        assert_eq!(decimal(50.1234567891, 9), None);
        assert_eq!(decimal(1e-7, 9).as_deref(), Some("0.0000001"));
        assert_eq!(decimal(-0.0, 9).as_deref(), Some("0"));
        assert_eq!(decimal(f64::NAN, 9), None);
        assert_eq!(decimal(f64::INFINITY, 9), None);
    }
}
