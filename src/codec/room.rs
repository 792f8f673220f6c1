//! How much memory what is read may take: so much always, and so much for each byte that was read. One home for all these
//! numbers, so that nothing a small file states makes it take more.
//!
//! A whole plan makes much of little: a job of a thousand bytes can ask for a million cells, or for a hundred thousand bouts. So what it takes
//! beyond that goes by what the land and the job ask for: cells, points on borders, bouts with their sections, and
//! places where bouts cross borders. They are counted before any of it is made (`plan/asked.rs`), and more than
//! [`MOST_OF_A_PLAN`] is refused. `tests/input_bounds.rs` holds plans of many shapes to it.

/// Bytes that what is read may take, whatever its size.
pub const ALWAYS: usize = 100_000_000;
/// Bytes that it may take beyond those, for each byte that was read (unpacked).
pub const TIMES: usize = 10;
/// What the system's allocator adds to each piece that it hands out, roughly.
pub const PER_PIECE: usize = 24;

/// Bytes of a plan in all its forms for each cell of its grids, and for each product in it.
pub const PER_CELL: usize = 120;
/// The same for each cell and product.
pub const PER_CELL_AND_PRODUCT: usize = 60;
/// Bytes for each point on the borders of the land and of its zones, where they are cut at each other.
pub const PER_POINT: usize = 2_500;
/// Bytes for each section of a bout, and of each straight piece of a headland ring.
pub const PER_PART: usize = 3_000;
/// Bytes for each bend of a curve in each section of each bout along it: of the guide line before its parallels are made, of these afterwards, for
/// beside a line that winds they have more. Measured of 6 m bouts on 40 ha: up to 180, all else included, to 250 points and 12 sections.
pub const PER_BEND: usize = 300;
/// Bytes for each place where a bout crosses a border.
pub const PER_CROSSING: usize = 3_000;
/// Bytes that a plan may ask for by all of these.
pub const MOST_OF_A_PLAN: usize = 4_000_000_000;

/// Bytes that may be held of what was read from so many.
pub const fn most(read: usize) -> usize {
    ALWAYS.saturating_add(read.saturating_mul(TIMES))
}

/// Counts down while something is read.
#[derive(Debug, Clone)]
pub struct Room {
    left: usize,
    read: usize,
}

impl Room {
    /// Room for what comes from so many bytes.
    pub const fn of(read: usize) -> Self {
        Self {
            left: most(read),
            read,
        }
    }

    /// So many more bytes have been read.
    pub const fn read(&mut self, more: usize) {
        self.left = self.left.saturating_add(more.saturating_mul(TIMES));
        self.read = self.read.saturating_add(more);
    }

    /// Bytes that were read so far.
    pub const fn bytes(&self) -> usize {
        self.read
    }

    /// Takes room for so many bytes; false, and nothing taken, where there is less.
    pub const fn take(&mut self, bytes: usize) -> bool {
        match self.left.checked_sub(bytes) {
            Some(left) => {
                self.left = left;
                true
            }
            None => false,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn room_ends_and_grows_with_what_is_read() {
        let mut room = Room::of(5);
        assert!(room.take(ALWAYS) && room.take(50) && !room.take(1));
        room.read(2);
        assert_eq!(room.bytes(), 7);
        assert!(!room.take(21) && room.take(20) && !room.take(1));
        room.read(usize::MAX);
        assert!(room.take(usize::MAX));
    }
}
