//! Numbers as people read them.

/// With a blank between groups of three digits: `12 345.6`. The blank does not break.
pub(in crate::cli) fn grouped(number: f64, decimals: usize) -> String {
    let plain = format!("{:.*}", decimals, number.abs());
    let (whole, fraction) = plain
        .split_once('.')
        .map_or((plain.as_str(), None), |(w, f)| (w, Some(f)));
    let mut text = String::new();
    for (n, digit) in whole.chars().enumerate() {
        if n > 0 && (whole.len() - n).is_multiple_of(3) {
            text.push('\u{a0}');
        }
        text.push(digit);
    }
    if let Some(fraction) = fraction {
        text.push('.');
        text.push_str(fraction);
    }
    let is_zero = plain.bytes().all(|byte| matches!(byte, b'0' | b'.'));
    if number < 0.0 && !is_zero {
        format!("-{text}")
    } else {
        text
    }
}

/// Square metres as hectares, to 0.01 ha; smaller land to the square metre.
pub(in crate::cli) fn hectares(m2: f64) -> String {
    let decimals = if m2.abs() < 1000.0 && m2 != 0.0 { 4 } else { 2 };
    grouped(m2 / 10_000.0, decimals)
}

/// Kilograms: whole ones, below 10 kg to 0.1 kg.
pub(in crate::cli) fn kilograms(kg: f64) -> String {
    grouped(kg, usize::from(kg.abs() < 10.0 && kg != 0.0))
}

/// A rate with the decimals it has, at most two.
pub(in crate::cli) fn rate(kg_per_ha: f64) -> String {
    let text = grouped(kg_per_ha, 2);
    text.trim_end_matches('0').trim_end_matches('.').to_owned()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn digits_stand_in_groups() {
        assert_eq!(grouped(1_234_567.891, 1), "1\u{a0}234\u{a0}567.9");
        assert_eq!(grouped(-999.0, 0), "-999");
        assert_eq!(grouped(-0.0001, 1), "0.0");
        assert_eq!(hectares(324_100.0), "32.41");
        assert_eq!(hectares(123.0), "0.0123");
        assert_eq!(kilograms(9.96), "10.0");
        assert_eq!(kilograms(0.0), "0");
        assert_eq!(
            (rate(160.0), rate(57.5), rate(0.0)),
            ("160".into(), "57.5".into(), "0".into())
        );
        assert_eq!(rate(1200.0), "1\u{a0}200");
    }
}
