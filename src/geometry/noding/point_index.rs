//! Numbers of points: the same point always has the same one.

use crate::geometry::point::Pt;

/// Numbers points in the order they come.
pub(super) struct PointIndex {
    pub(super) points: Vec<Pt>,
    /// Numbers of points by hash, each in its slot or the next free one; a power of two. They are only
    /// looked up, never walked, so their order is nowhere seen.
    slots: Vec<u32>,
}

/// A slot without a point.
const FREE: u32 = u32::MAX;

impl PointIndex {
    /// An index with room for about so many points; it grows if there are more.
    pub(super) fn with_room_for(points: usize) -> Self {
        Self {
            points: Vec::with_capacity(points),
            slots: vec![FREE; (2 * points).next_power_of_two().max(64)],
        }
    }

    /// The number of the point after another on a ring. Where two rings have a border in common, the second
    /// finds it beside the one before, as the first has left it.
    pub(super) fn number_after(&mut self, before: u32, point: Pt) -> u32 {
        for beside in [before.wrapping_sub(1), before.wrapping_add(1)] {
            if self.points.get(beside as usize) == Some(&point) {
                return beside;
            }
        }
        self.number(point)
    }

    /// The number of a point; a new one where it has not come yet.
    pub(super) fn number(&mut self, point: Pt) -> u32 {
        let mut slot = self.slot_of(point);
        loop {
            match self.slots[slot] {
                FREE => break,
                number if self.points[number as usize] == point => return number,
                _ => slot = (slot + 1) & (self.slots.len() - 1),
            }
        }
        let number = self.points.len() as u32;
        self.points.push(point);
        self.slots[slot] = number;
        if 4 * self.points.len() > 3 * self.slots.len() {
            self.grow();
        }
        number
    }

    fn grow(&mut self) {
        self.slots = vec![FREE; 2 * self.slots.len()];
        for number in 0..self.points.len() {
            let mut slot = self.slot_of(self.points[number]);
            while self.slots[slot] != FREE {
                slot = (slot + 1) & (self.slots.len() - 1);
            }
            self.slots[slot] = number as u32;
        }
    }

    /// Where the search for a point starts.
    fn slot_of(&self, point: Pt) -> usize {
        const MIX: u64 = 0x9E37_79B9_7F4A_7C15;
        let mixed =
            ((point.x as u64).wrapping_mul(MIX).rotate_left(29) ^ point.y as u64).wrapping_mul(MIX);
        // The high bits are the well mixed ones.
        (mixed >> 32) as usize & (self.slots.len() - 1)
    }
}
