//! The language of this machine's user.

use crate::job::Language;
use std::env;

/// The language that the environment names, English where it names none that there are texts in. POSIX, Base Definitions, 8.2: the
/// first of these that is set and not empty holds for messages.
pub(super) fn language() -> Language {
    let mut names = ["LC_ALL", "LC_MESSAGES", "LANG"].into_iter();
    let set = names.find_map(|name| env::var(name).ok().filter(|value| !value.is_empty()));
    set.and_then(|locale| Language::of_locale(&locale))
        .unwrap_or_default()
}
