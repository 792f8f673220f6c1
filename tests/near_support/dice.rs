//! Choices, from a seed or from the bytes of a fuzzer.

/// Where choices come from.
pub struct Dice<'a> {
    state: u64,
    bytes: Option<&'a [u8]>,
}

impl<'a> Dice<'a> {
    pub fn seeded(seed: u64) -> Self {
        let mut dice = Self {
            state: seed.wrapping_mul(0x9e37_79b9_7f4a_7c15) ^ 0x51_7c_c1_b7,
            bytes: None,
        };
        // Neighbouring seeds begin alike.
        for _ in 0..4 {
            dice.unit();
        }
        dice
    }

    /// Takes every choice from two bytes, and the lowest where there are none left: few bytes make a plain job.
    pub fn of_bytes(bytes: &'a [u8]) -> Self {
        Self {
            state: 0,
            bytes: Some(bytes),
        }
    }

    /// From 0, below 1.
    pub fn unit(&mut self) -> f64 {
        if let Some(bytes) = &mut self.bytes {
            let (two, rest) = bytes.split_at(bytes.len().min(2));
            *bytes = rest;
            let number = two
                .iter()
                .fold(0u32, |sum, byte| sum << 8 | u32::from(*byte));
            return f64::from(number) / 65_536.0;
        }
        self.state = self
            .state
            .wrapping_mul(6_364_136_223_846_793_005)
            .wrapping_add(1_442_695_040_888_963_407);
        (self.state >> 11) as f64 / (1u64 << 53) as f64
    }

    pub fn between(&mut self, low: f64, high: f64) -> f64 {
        low + (high - low) * self.unit()
    }

    /// Every order of magnitude is as likely.
    pub fn magnitude(&mut self, low: f64, high: f64) -> f64 {
        self.between(low.ln(), high.ln()).exp()
    }

    pub fn below(&mut self, count: usize) -> usize {
        ((self.unit() * count as f64) as usize).min(count.saturating_sub(1))
    }

    pub fn one_in(&mut self, count: usize) -> bool {
        self.below(count) == count - 1
    }

    pub fn of<T: Copy>(&mut self, list: &[T]) -> T {
        list[self.below(list.len())]
    }
}
