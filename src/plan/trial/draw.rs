//! Which treatment comes to which plot of a block: drawn by lot, the same for the same number.

use crate::job::{Trial, TrialOrder};
use sha2::{Digest, Sha256};

/// The treatment of each plot of a block, by their numbers; `turn` is where the block begins if they take turns.
pub(super) fn order(trial: &Trial, treatments: usize, block: usize, turn: usize) -> Vec<usize> {
    let mut order: Vec<usize> = (0..treatments).collect();
    match trial.order {
        TrialOrder::Systematic => order.rotate_left(turn % treatments.max(1)),
        TrialOrder::Random => {
            let mut lots = Lots::of(trial, block);
            // Fisher and Yates, as Durstenfeld gave it (Communications of the ACM 7:420, 1964; from memory).
            for last in (1..order.len()).rev() {
                order.swap(last, lots.below(last + 1));
            }
        }
    }
    order
}

/// Numbers by lot: the hash of name, draw, block and count, so that one block more or less leaves the others as they were.
struct Lots {
    begin: Sha256,
    count: u64,
}

impl Lots {
    fn of(trial: &Trial, block: usize) -> Self {
        let mut begin = Sha256::new();
        begin.update(trial.name.as_bytes());
        begin.update(u64::from(trial.draw).to_le_bytes());
        begin.update((block as u64).to_le_bytes());
        Self { begin, count: 0 }
    }

    /// A number from 0 below `end`, each as likely as the others to one in 2^57.
    fn below(&mut self, end: usize) -> usize {
        let mut digest = self.begin.clone();
        digest.update(self.count.to_le_bytes());
        self.count += 1;
        let mut first = [0_u8; 8];
        for (to, from) in first.iter_mut().zip(digest.finalize()) {
            *to = from;
        }
        (u64::from_le_bytes(first) % end.max(1) as u64) as usize
    }
}
