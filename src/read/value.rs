//! Attribute values as text, for messages and for comparing them with what a job says.

use super::Value;
use std::fmt;

impl fmt::Display for Value {
    /// A missing value is empty text; a number has no more digits than it needs (`12`, `0.1`).
    fn fmt(&self, out: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Missing => Ok(()),
            Self::Text(text) => out.write_str(text),
            Self::Integer(number) => write!(out, "{number}"),
            Self::Number(number) => write!(out, "{number}"),
            Self::Flag(flag) => write!(out, "{flag}"),
        }
    }
}

impl Value {
    /// Whether this is the value that `wanted` means. A number matches any way of writing it: 12
    /// matches "12" and "12.0". A missing value matches nothing.
    pub fn matches(&self, wanted: &str) -> bool {
        let same_number = |own: f64| wanted.trim().parse() == Ok(own);
        match self {
            Self::Missing => false,
            Self::Text(text) => text == wanted,
            Self::Integer(number) => match wanted.trim().parse::<i64>() {
                Ok(wanted) => wanted == *number,
                // The cast is exact below 2^53; beyond, a job would write the integer as such.
                Err(_) => same_number(*number as f64),
            },
            Self::Number(number) => same_number(*number),
            Self::Flag(flag) => wanted.trim().eq_ignore_ascii_case(&flag.to_string()),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn numbers_match_however_they_are_written() {
        assert!(Value::Integer(12).matches("12"));
        assert!(Value::Integer(12).matches("12.0"));
        assert!(Value::Number(12.0).matches("12"));
        assert!(Value::Number(0.5).matches("0.50"));
        assert!(!Value::Integer(12).matches("120"));
        assert!(!Value::Integer(9_007_199_254_740_993).matches("9007199254740992"));
        assert!(!Value::Number(f64::NAN).matches("NaN"));
    }

    #[test]
    fn text_flags_and_nothing() {
        assert!(Value::Text("12".into()).matches("12"));
        assert!(!Value::Text("012".into()).matches("12"));
        assert!(!Value::Text("Clay".into()).matches("clay"));
        assert!(Value::Flag(true).matches("true"));
        assert!(!Value::Missing.matches(""));
    }
}
