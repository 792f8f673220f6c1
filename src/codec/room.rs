//! How much memory what is read may take: so much always, and so much for each byte that was read. One home for both
//! numbers, so that nothing a small file states makes it take more.

/// Bytes that what is read may take, whatever its size.
pub const ALWAYS: usize = 100_000_000;
/// Bytes that it may take beyond those, for each byte that was read (unpacked).
pub const TIMES: usize = 10;
/// What the system's allocator adds to each piece that it hands out, roughly.
pub const PER_PIECE: usize = 24;

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
