//! Polygons from a seed.

use super::Ring;

/// Numbers that follow from a seed (a linear congruence, Knuth's MMIX constants; the high bits count).
pub struct Dice(u64);

impl Dice {
    pub fn new(seed: u64) -> Self {
        let mut dice = Self(seed.wrapping_mul(0x9E37_79B9_7F4A_7C15) ^ 0xD1CE);
        dice.below(2);
        dice
    }

    pub fn below(&mut self, bound: i64) -> i64 {
        self.0 = self
            .0
            .wrapping_mul(6_364_136_223_846_793_005)
            .wrapping_add(1_442_695_040_888_963_407);
        ((u128::from(self.0) * bound as u128) >> 64) as i64
    }

    /// From `low` to less than `high`.
    pub fn between(&mut self, low: i64, high: i64) -> i64 {
        low + self.below(high - low)
    }

    /// From 0 to less than 1.
    pub fn share(&mut self) -> f64 {
        self.below(1 << 53) as f64 / (1u64 << 53) as f64
    }

    pub fn shuffle<T>(&mut self, items: &mut [T]) {
        for nth in (1..items.len()).rev() {
            items.swap(nth, self.below(nth as i64 + 1) as usize);
        }
    }
}

/// A ring around a centre, counter-clockwise, with radii from a share of `radius` to all of it.
pub fn star(
    dice: &mut Dice,
    centre: [i64; 2],
    radius: [f64; 2],
    least: f64,
    points: usize,
) -> Ring {
    (0..points)
        .map(|nth| {
            let turn = (nth as f64 + 0.8 * dice.share()) / points as f64 * std::f64::consts::TAU;
            let reach = least + (1.0 - least) * dice.share();
            [
                centre[0] + (turn.cos() * reach * radius[0]) as i64,
                centre[1] + (turn.sin() * reach * radius[1]) as i64,
            ]
        })
        .collect()
}

/// Twice the signed area of a ring.
pub fn ring_area2(ring: &Ring) -> i128 {
    let ends = ring.iter().skip(1).chain(ring.first());
    ring.iter()
        .zip(ends)
        .map(|(a, b)| i128::from(a[0]) * i128::from(b[1]) - i128::from(a[1]) * i128::from(b[0]))
        .sum()
}
