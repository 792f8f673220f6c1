//! The plan's short id: the same inputs and settings give the same id, anything else another.

use super::Input;
use crate::findings::Outcome;
use crate::job::Job;
use sha2::{Digest, Sha256};

/// Letters and digits that are not mistaken for each other on a screen.
const LETTERS: &[u8; 30] = b"23456789ABCDEFGHJKMNPQRSTVWXYZ";

/// Number of characters; 30^6 ids make two plans of a season alike once in millions.
const LENGTH: usize = 6;

/// Six characters from the hash of the inputs' contents and the resolved job.
///
/// # Errors
/// As [`Job::print`].
pub(super) fn short_id(inputs: &[Input], job: &Job) -> Outcome<String> {
    let mut digest = Sha256::new();
    for input in inputs {
        digest.update(&input.sha256);
    }
    digest.update(job.print()?);
    let hash = digest.finalize();
    let letters = hash.iter().take(LENGTH);
    Ok(letters
        .map(|&byte| char::from(LETTERS[usize::from(byte) % 30]))
        .collect())
}

/// Whether a word could be the id of a plan, by its letters and its length.
pub fn is_id(word: &str) -> bool {
    word.len() == LENGTH && word.bytes().all(|letter| LETTERS.contains(&letter))
}
