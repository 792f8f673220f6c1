//! Text of longitudes and latitudes.

use std::fmt::Write;

/// Decimals of longitude and latitude: 0.1 mm on the ground.
pub(super) const DECIMALS: i32 = 9;
const SCALE: f64 = 1e9;

/// Appends a number that is rounded to nine decimals, with no more digits than it needs.
///
/// The text is the one that `Display` gives: below 1000 such a number has at most twelve digits, and two
/// numbers of up to fifteen digits are never the same `f64`, so that the shortest text that reads
/// back as the number is its own digits. Taking them from an integer is some ten times as fast.
pub(super) fn push(out: &mut String, value: f64) {
    let billionths = (value * SCALE).round();
    if !(value.abs() < 1000.0 && billionths / SCALE == value) {
        let _ = write!(out, "{value}");
        return;
    }
    if value.is_sign_negative() {
        out.push('-');
    }
    // Below 1e12, so within 64 bits.
    let all = billionths.abs() as u64;
    let (whole, mut part) = (all / 1_000_000_000, all % 1_000_000_000);
    let mut digits = [b'0'; 13];
    let mut end = 0;
    for unit in [100, 10, 1] {
        if whole >= unit || unit == 1 {
            digits[end] = b'0' + (whole / unit % 10) as u8;
            end += 1;
        }
    }
    if part > 0 {
        digits[end] = b'.';
        for place in (end + 1..end + 10).rev() {
            digits[place] = b'0' + (part % 10) as u8;
            part /= 10;
        }
        end += 10;
        while digits[end - 1] == b'0' {
            end -= 1;
        }
    }
    out.extend(digits[..end].iter().map(|&digit| char::from(digit)));
}

#[cfg(test)]
mod tests {
    use super::*;

    fn pushed(value: f64) -> String {
        let mut text = String::new();
        push(&mut text, value);
        text
    }

    #[test]
    fn the_text_is_that_of_the_standard_library() {
        let rounded = |value: f64| (value * SCALE).round() / SCALE;
        for value in [
            0.0,
            -0.0,
            1e-9,
            -1e-9,
            0.1,
            7.0,
            10.0,
            -180.0,
            179.999_999_999,
            0.000_000_01,
            52.04,
            999.999_999_999,
            1000.5,
            1e300,
            f64::NAN,
            f64::INFINITY,
            0.123_456_789_012,
        ] {
            assert_eq!(pushed(value), value.to_string());
        }
        // A fixed walk through all of the range.
        let mut state = 1u64;
        for _ in 0..200_000 {
            state = state
                .wrapping_mul(6_364_136_223_846_793_005)
                .wrapping_add(1_442_695_040_888_963_407);
            let value = rounded((state >> 11) as f64 / (1u64 << 53) as f64 * 720.0 - 360.0);
            let short = rounded((value * 100.0).trunc() / 100.0);
            for value in [value, short] {
                assert_eq!(pushed(value), value.to_string());
            }
        }
    }
}
