//! Colours of rates: perceptually even schemes that people with colour-blindness can read, light for little
//! and dark for much, so that a black-and-white print keeps their order.
//!
//! The schemes are the open ones viridis, cividis, plasma and magma, as the crate `colorous` has them.

use colorous::Gradient;

/// Colours of one map.
#[derive(Debug, Clone, Copy)]
pub struct Scale {
    gradient: Gradient,
    low: f64,
    high: f64,
}

/// The part of a scheme that is used: the ends are too dark for a label and too near to white paper.
const LIGHTEST: f64 = 0.97;
const DARKEST: f64 = 0.22;

/// Rates that differ by less than this share of the highest do not get the whole scheme, lest small
/// differences look large.
const LEAST_SPAN: f64 = 0.3;

impl Scale {
    /// A scheme for the map of product number `nth`, for rates from `low` to `high`.
    pub fn of_product(nth: usize, low: f64, high: f64) -> Self {
        let gradient = match nth {
            0 => colorous::VIRIDIS,
            1 => colorous::PLASMA,
            _ => colorous::MAGMA,
        };
        Self::new(gradient, low, high)
    }

    /// The scheme for what is left to broadcast.
    pub fn of_balance(low: f64, high: f64) -> Self {
        Self::new(colorous::CIVIDIS, low, high)
    }

    fn new(gradient: Gradient, low: f64, high: f64) -> Self {
        let span = (high - low).max(high * LEAST_SPAN).max(f64::MIN_POSITIVE);
        let middle = (low + high) / 2.0;
        Self {
            gradient,
            low: middle - span / 2.0,
            high: middle + span / 2.0,
        }
    }

    /// The colour of a rate above 0, as `#rrggbb`.
    pub fn colour(&self, rate: f64) -> String {
        format!("#{:x}", self.eval(rate))
    }

    /// The same as red, green and blue, each from 0 to 255.
    pub fn rgb(&self, rate: f64) -> [u8; 3] {
        let colorous::Color { r, g, b } = self.eval(rate);
        [r, g, b]
    }

    fn eval(&self, rate: f64) -> colorous::Color {
        let share = ((rate - self.low) / (self.high - self.low)).clamp(0.0, 1.0);
        let at = LIGHTEST + share * (DARKEST - LIGHTEST);
        self.gradient.eval_continuous(at)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Relative luminance of sRGB, WCAG 2.2 (definition of relative luminance).
    fn luminance(colour: &str) -> f64 {
        let part = |from: usize| {
            let byte = u8::from_str_radix(&colour[from..from + 2], 16).unwrap();
            let share = f64::from(byte) / 255.0;
            match share <= 0.04045 {
                true => share / 12.92,
                false => ((share + 0.055) / 1.055).powf(2.4),
            }
        };
        0.2126 * part(1) + 0.7152 * part(3) + 0.0722 * part(5)
    }

    #[test]
    fn more_is_darker_in_every_scheme() {
        let scales = [
            Scale::of_product(0, 100.0, 200.0),
            Scale::of_product(1, 100.0, 200.0),
            Scale::of_product(2, 100.0, 200.0),
            Scale::of_balance(100.0, 200.0),
        ];
        for scale in scales {
            let steps: Vec<f64> = (0..=10)
                .map(|step| luminance(&scale.colour(100.0 + 10.0 * f64::from(step))))
                .collect();
            assert!(steps.windows(2).all(|pair| pair[1] < pair[0]), "{steps:?}");
        }
    }

    #[test]
    fn rates_that_are_nearly_alike_look_nearly_alike() {
        let near = Scale::of_product(0, 100.0, 102.0);
        let far = Scale::of_product(0, 100.0, 200.0);
        let step =
            |scale: Scale, to: f64| luminance(&scale.colour(100.0)) - luminance(&scale.colour(to));
        assert!(step(near, 102.0) < step(far, 200.0) / 5.0);
        assert_eq!(Scale::of_product(0, 5.0, 5.0).colour(5.0).len(), 7);
    }
}
