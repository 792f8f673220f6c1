//! Values in colours, with a legend: for samples and rasters, before any class or rate is made of them.

use crate::map::Scale;
use serde_json::{Value, json};

/// So many colours, and of values that differ less often, one for each.
const MOST_SHADES: usize = 5;

/// Values in steps of the same height, each with its colour.
pub struct Shades {
    /// Lower ends of the steps, from low to high.
    from: Vec<f64>,
    highest: f64,
    /// Each value is a step of its own.
    apart: bool,
    counts: Vec<usize>,
}

impl Shades {
    /// Of these values; none where none is a number.
    pub fn of(values: impl Iterator<Item = f64> + Clone) -> Option<Self> {
        let finite = || values.clone().filter(|value| value.is_finite());
        let lowest = finite().reduce(f64::min)?;
        let highest = finite().reduce(f64::max)?;
        let mut few: Vec<f64> = Vec::new();
        for value in finite() {
            if few.len() > MOST_SHADES {
                break;
            }
            if !few.contains(&value) {
                few.push(value);
            }
        }
        few.sort_by(f64::total_cmp);
        let apart = few.len() <= MOST_SHADES;
        let step = (highest - lowest) / MOST_SHADES as f64;
        let from = match apart {
            true => few,
            false => (0..MOST_SHADES)
                .map(|nth| lowest + step * nth as f64)
                .collect(),
        };
        let mut shades = Self {
            counts: vec![0; from.len()],
            from,
            highest,
            apart,
        };
        for value in finite() {
            if let Some(count) = shades.nth(value).and_then(|nth| shades.counts.get_mut(nth)) {
                *count += 1;
            }
        }
        Some(shades)
    }

    /// The step of a value, from 0.
    pub fn nth(&self, value: f64) -> Option<usize> {
        let below = self.from.partition_point(|from| *from <= value);
        (value.is_finite() && below > 0).then(|| below - 1)
    }

    /// The steps from low to high: colour, words, how many values.
    pub fn legend(&self) -> Vec<Value> {
        let last = self.from.len().saturating_sub(1).max(1) as f64;
        // Light for little, dark for much, in a scheme that no rate is drawn in.
        let scale = Scale::of_balance(1.0, 2.0);
        let ends = self.from.iter().skip(1).chain([&self.highest]);
        let steps = self.from.iter().zip(ends).zip(&self.counts).enumerate();
        let one = |(nth, ((from, to), count)): (usize, ((&f64, &f64), &usize))| {
            json!({
                "colour": scale.colour(1.0 + nth as f64 / last),
                "text": match self.apart {
                    true => short(*from),
                    false => format!("{} \u{2013} {}", short(*from), short(*to)),
                },
                "count": count,
            })
        };
        steps.map(one).collect()
    }
}

/// A number with three digits that count.
fn short(value: f64) -> String {
    let places = match value.abs() {
        0.0 => 0,
        size => (2 - size.log10().floor() as i32).clamp(0, 6),
    };
    let text = format!("{value:.*}", places.unsigned_abs() as usize);
    match text.contains('.') {
        true => text.trim_end_matches('0').trim_end_matches('.').to_owned(),
        false => text,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Five steps of the same height between the lowest and the highest value, the highest in the last: the definition of a
    /// histogram with five bins.
    #[test]
    fn values_fall_into_steps_of_the_same_height() {
        let values = [10.0, 12.0, 14.0, 16.0, 18.0, 20.0, f64::NAN];
        let shades = Shades::of(values.into_iter()).expect("values");
        let nth = |value: f64| shades.nth(value);
        assert_eq!(nth(10.0), Some(0));
        assert_eq!(nth(11.9), Some(0));
        assert_eq!(nth(12.0), Some(1));
        assert_eq!(nth(20.0), Some(4));
        assert_eq!(nth(f64::NAN), None);
        let legend = shades.legend();
        let counts: Vec<_> = legend.iter().map(|step| step["count"].clone()).collect();
        assert_eq!(counts, [1, 1, 1, 1, 2]);
        assert_eq!(legend[0]["text"], "10 \u{2013} 12");
        let colours: std::collections::BTreeSet<String> = legend
            .iter()
            .map(|step| step["colour"].to_string())
            .collect();
        assert_eq!(colours.len(), 5, "each step has a colour of its own");
    }

    #[test]
    fn few_values_are_steps_of_their_own_and_none_is_none() {
        let shades = Shades::of([3.0, 1.0, 3.0].into_iter()).expect("values");
        let texts: Vec<_> = shades
            .legend()
            .iter()
            .map(|step| step["text"].clone())
            .collect();
        assert_eq!(texts, ["1", "3"]);
        assert!(Shades::of([f64::NAN].into_iter()).is_none());
    }

    #[test]
    fn numbers_are_short() {
        for (value, text) in [
            (6.48, "6.48"),
            (1234.4, "1234"),
            (0.0123, "0.0123"),
            (-2.5, "-2.5"),
            (0.0, "0"),
            (300.0, "300"),
        ] {
            assert_eq!(short(value), text);
        }
    }
}
