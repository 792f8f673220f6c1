//! Which of the tables of a file is read, where the kinds of what it holds are its tables.

use super::file::{closest, listed};
use crate::findings::{Fault, Outcome, Place};
use std::path::Path;

/// What the faults say of a format.
pub(super) struct Words {
    /// Its short name.
    pub format: &'static str,
    /// All its tables, "waypoints, routes or tracks".
    pub tables: &'static str,
    /// What tables are: "kinds of things".
    pub kinds: &'static str,
    /// How else a file is told apart, after the list of its tables; may be empty.
    pub hint: &'static str,
    /// Of a file that holds nothing: what it lacks, what is allowed, what to do next.
    pub nothing: [&'static str; 3],
}

/// The only one of the tables that are there, or the one that is wanted.
///
/// # Errors
/// As [`place_of`].
pub(super) fn asked_for<K: Copy>(
    path: &Path,
    wanted: Option<&str>,
    there: &[K],
    name: fn(K) -> &'static str,
    words: &Words,
) -> Outcome<K> {
    let names: Vec<&str> = there.iter().map(|kind| name(*kind)).collect();
    let at = place_of(path, wanted, &names, words)?;
    Ok(there[at])
}

/// The place of the only one of the tables with these names, or of the one that is wanted.
///
/// # Errors
/// None there, several and none named, or a name that is not there.
pub(super) fn place_of(
    path: &Path,
    wanted: Option<&str>,
    there: &[&str],
    words: &Words,
) -> Outcome<usize> {
    let names = || there.iter().copied();
    let format = words.format;
    if let Some(wanted) = wanted {
        let found = names().position(|name| name == wanted);
        return found.ok_or_else(|| {
            Fault::input(
                "read.no_such_table",
                Place::file(path),
                format!("The {format} file holds no '{wanted}'"),
                match there.is_empty() {
                    true => format!("{}; it holds none", words.tables),
                    false => format!("one of {}{}", listed(names()), words.hint),
                },
                match closest(wanted, names()) {
                    Some(near) => format!("Correct `table` in the job; did you mean '{near}'?"),
                    None => "Correct `table` in the job.".to_owned(),
                },
            )
        });
    }
    let [nothing, allowed, next] = words.nothing;
    match there {
        [_] => Ok(0),
        [] => Err(Fault::input(
            "read.nothing_inside",
            Place::file(path),
            format!("The {format} file holds {nothing}"),
            allowed,
            next,
        )),
        _ => Err(Fault::input(
            "read.several_tables",
            Place::file(path),
            format!("The {format} file holds {} {}", there.len(), words.kinds),
            format!("one of {}", listed(names())),
            "Say which one with `table` in the job.",
        )),
    }
}
