//! Jobs that a command writes and a person then works on. The last line tells whether anybody has, whatever has become since
//! of the job that they were made from.

use super::targets::Known;
use crate::read::sha256_of;
use std::fs;
use std::path::Path;

/// How the last line begins; the hash follows.
const LAST_LINE: &str = "# As twinsow wrote it, while this is the SHA-256 of all lines above: ";

/// An earlier result that nobody has changed.
pub(super) const SEALED: Known<'static> = Known::Seen(&is_as_written);

/// The text, with the line that tells it from one that was worked on.
pub(super) fn sealed(text: &str) -> String {
    let end = if text.ends_with('\n') { "" } else { "\n" };
    let text = format!("{text}{end}");
    format!("{text}{LAST_LINE}{}\n", sha256_of(&text))
}

fn is_as_written(file: &Path) -> bool {
    let there = fs::read_to_string(file).unwrap_or_default();
    let parts = there.rsplit_once(LAST_LINE);
    parts.is_some_and(|(text, hash)| hash.trim_end() == sha256_of(text))
}
