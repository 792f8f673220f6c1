//! Classes named by the mean of their values, so that a curve can take them as numbers.

use super::zones::Grid;
use crate::findings::without_zeros;

/// Digits that a mean is given with.
const DIGITS: i32 = 4;

/// Per class the mean of its values on the field, with four digits, in place of its name. Pixels without a value
/// count for no mean; a class that has no value on the field keeps its name.
pub(super) fn named_by_mean<P>(grid: &Grid<P>, class_of: &[u8], names: &[String]) -> Vec<String> {
    let mut sums = vec![(0.0, 0_u32); names.len()];
    for place in grid.ground.inside.places() {
        let value = grid.values.at(place);
        // What has no class has a number beyond all of them.
        let sum = sums.get_mut(usize::from(class_of[place]));
        if let Some((sum, count)) = sum.filter(|_| value.is_finite()) {
            *sum += value;
            *count += 1;
        }
    }
    let named = names.iter().zip(sums);
    named
        .map(|(name, (sum, count))| match count {
            0 => name.clone(),
            count => digits(sum / f64::from(count)),
        })
        .collect()
}

/// A number with four digits, all of those before the point, and no needless zeros.
fn digits(value: f64) -> String {
    if value == 0.0 {
        return "0".to_owned();
    }
    let magnitude = value.abs().log10().floor() as i32;
    let decimals = (DIGITS - 1 - magnitude).clamp(0, 12) as usize;
    let text = format!("{value:.decimals$}");
    without_zeros(&text).to_owned()
}

#[cfg(test)]
mod tests {
    use super::digits;

    #[test]
    fn means_have_four_digits() {
        for (value, text) in [
            (23.456_78, "23.46"),
            (123_456.7, "123457"),
            (0.001_234_56, "0.001235"),
            (-7.5, "-7.5"),
            (18.0, "18"),
            (0.0, "0"),
        ] {
            assert_eq!(digits(value), text);
        }
    }
}
