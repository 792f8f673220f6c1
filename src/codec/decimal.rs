//! Text of numbers that have at most nine decimals, as degrees in GeoJSON do.

use crate::units::nearest_whole;
use std::fmt::Write;

/// Steps in 1.
const SCALE: f64 = 1e9;
/// Numbers below this have at most 15 digits with their nine decimals, and so many digits come back from a
/// f64 as they went in: the shortest text that reads back as the number is those digits.
const MOST: f64 = 1e6;

/// Appends the shortest text that reads back as `value`, which has been rounded to nine decimals: the
/// text that `{}` gives, several times as fast.
pub fn push(out: &mut String, value: f64) {
    if !push_rounded(out, value) {
        let _ = write!(out, "{value}");
    }
}

/// Appends the shortest text that reads back as `value`, which then has at most nine decimals, where it is known without trying:
/// true if it is.
pub fn push_rounded(out: &mut String, value: f64) -> bool {
    let steps = nearest_whole(value * SCALE);
    let few_digits = value.abs() < MOST;
    if !few_digits || steps as f64 / SCALE != value {
        return false;
    }
    if value.is_sign_negative() {
        out.push('-');
    }
    let steps = steps.unsigned_abs();
    let (whole, mut part) = (steps / 1_000_000_000, steps % 1_000_000_000);
    // Digits from the last to the first.
    let mut digits = [b'0'; 20];
    let mut at = digits.len();
    let mut put = |digit: u64| {
        at -= 1;
        digits[at] = b'0' + digit as u8;
    };
    let mut rest = whole;
    loop {
        put(rest % 10);
        rest /= 10;
        if rest == 0 {
            break;
        }
    }
    out.extend(digits[at..].iter().map(|digit| char::from(*digit)));
    if part == 0 {
        return true;
    }
    let mut decimals = [b'0'; 9];
    for place in decimals.iter_mut().rev() {
        *place = b'0' + (part % 10) as u8;
        part /= 10;
    }
    let kept = decimals
        .iter()
        .rposition(|digit| *digit != b'0')
        .map_or(0, |last| last + 1);
    out.push('.');
    out.push_str(std::str::from_utf8(&decimals[..kept]).unwrap_or_default());
    true
}

#[cfg(test)]
mod tests {
    use super::push;

    fn rounded(value: f64, scale: f64) -> f64 {
        (value * scale).round() / scale
    }

    #[test]
    fn texts_are_those_of_the_standard_library() {
        let mut values = vec![
            0.0,
            -0.0,
            1.0,
            -1.0,
            9.0,
            10.5,
            1e-9,
            -1e-9,
            179.999999999,
            1e6,
            1e300,
        ];
        values.extend([f64::NAN, f64::INFINITY, 0.1 + 0.2, 1e-10]);
        let mut state = 3u64;
        for n in 0..60_000 {
            state = state.wrapping_mul(6364136223846793005).wrapping_add(1);
            let value = (state >> 11) as f64 / 2f64.powi(53) * 400.0 - 200.0;
            values.push(rounded(value, [1e9, 1e6, 1e3, 1e1][n % 4]));
        }
        for value in values {
            let mut text = String::new();
            push(&mut text, value);
            assert_eq!(text, value.to_string());
        }
    }
}
