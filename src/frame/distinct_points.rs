//! The distinct points among many, so that each is put through an operation once.

use crate::read::Xy;

/// Points by number, each mostly there once. What comes again long after is taken for a new point: that costs an
/// operation, and a memory of all points would cost more.
pub(super) struct DistinctPoints {
    pub(super) points: Vec<Xy>,
    /// Numbers of points that came lately, by a part of their hash, each with another part of it.
    lately: Vec<[u32; 2]>,
}

/// Slots for points that came lately; a power of two. They stay in the processor's own memory.
const SLOTS: usize = 1 << 15;

/// A number that has none beside it: before the first point of a path.
pub(super) const PATH_START: u32 = u32::MAX - 1;

impl DistinctPoints {
    /// Room for about so many points.
    pub(super) fn with_room_for(points: usize) -> Self {
        Self {
            points: Vec::with_capacity(points),
            lately: vec![[u32::MAX; 2]; SLOTS.min(points.next_power_of_two())],
        }
    }

    /// The number of the point after another on a path. Where two rings have a border in common, the second
    /// finds it beside the one before, as the first has left it.
    pub(super) fn number_after(&mut self, before: u32, point: Xy) -> u32 {
        for beside in [before.wrapping_sub(1), before.wrapping_add(1)] {
            if self.is(beside, point) {
                return beside;
            }
        }
        let [slot, mark] = hash(point);
        let slot = slot as usize & (self.lately.len() - 1);
        let [number, marked] = self.lately[slot];
        if marked == mark && self.is(number, point) {
            return number;
        }
        let number = self.points.len() as u32;
        self.points.push(point);
        self.lately[slot] = [number, mark];
        number
    }

    /// Whether this is the point with a number, to the last bit.
    fn is(&self, number: u32, point: Xy) -> bool {
        let own = self.points.get(number as usize);
        let [x, y] = point;
        own.is_some_and(|own| own[0].to_bits() == x.to_bits() && own[1].to_bits() == y.to_bits())
    }
}

/// Two parts of a hash.
fn hash([x, y]: Xy) -> [u32; 2] {
    const MIX: u64 = 0x9E37_79B9_7F4A_7C15;
    let mixed = (x.to_bits().wrapping_mul(MIX).rotate_left(29) ^ y.to_bits()).wrapping_mul(MIX);
    // The high bits are the well mixed ones.
    [(mixed >> 32) as u32, (mixed >> 16) as u32]
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_point_keeps_its_number_and_no_other_gets_it() {
        let mut distinct = DistinctPoints::with_room_for(10);
        let ring = [[0.0, 0.0], [1.0, 0.0], [1.0, 1.0], [0.0, -0.0]];
        let mut before = PATH_START;
        let mut number = |distinct: &mut DistinctPoints, point| {
            before = distinct.number_after(before, point);
            before
        };
        let there: Vec<u32> = ring.map(|point| number(&mut distinct, point)).to_vec();
        assert_eq!(there, [0, 1, 2, 3]);
        // Back again, beside the one before.
        assert_eq!(number(&mut distinct, [1.0, 1.0]), 2);
        assert_eq!(number(&mut distinct, [1.0, 0.0]), 1);
        // Many points, of which some are forgotten: a number always stands for its point.
        for round in 0..3 * SLOTS {
            let point = [(round % 700) as f64, (round / 7) as f64];
            let number = number(&mut distinct, point);
            assert_eq!(distinct.points[number as usize], point);
        }
    }
}
