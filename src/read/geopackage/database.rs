//! Opening the SQLite file without touching it or anything beside it.

use crate::findings::{Fault, Outcome, Place};
use rusqlite::limits::Limit;
use rusqlite::{Connection, ErrorCode, OpenFlags};
use std::fmt::Write;
use std::fs;
use std::path::{Path, PathBuf};

/// An open file and its name, for messages.
pub(super) struct Database {
    pub(super) connection: Connection,
    pub(super) path: PathBuf,
    /// Bytes of the file.
    pub(super) bytes: u64,
}

/// Steps of SQLite's machine that any file may take, and more for each of its bytes. Reading a row takes a step or two
/// for each value; a view can be written that never ends.
const STEPS: u64 = 200_000_000;
const STEPS_PER_BYTE: u64 = 20;
/// So many steps are counted at a time.
const AT_A_TIME: i32 = 100_000;
/// A value may have so many bytes, or as many as its file.
const LONGEST: u64 = 1_000_000;

impl Database {
    /// Opens read-only and as immutable: SQLite then takes no locks and makes no journal files.
    pub(super) fn open(path: &Path) -> Outcome<Self> {
        no_pending_changes(path)?;
        let bytes = fs::metadata(path).map_or(0, |about| about.len());
        let flags = OpenFlags::SQLITE_OPEN_READ_ONLY
            | OpenFlags::SQLITE_OPEN_URI
            | OpenFlags::SQLITE_OPEN_NO_MUTEX;
        let opened = Connection::open_with_flags(uri(path), flags).and_then(|connection| {
            // A damaged file may carry any schema: none of its functions may do anything, and
            // the layout of each page is checked before it is used.
            connection
                .execute_batch("PRAGMA trusted_schema = OFF; PRAGMA cell_size_check = ON;")?;
            // Views and defaults can make values out of nothing; what is stored is no longer than the file.
            let longest = i32::try_from(bytes.max(LONGEST)).unwrap_or(i32::MAX);
            connection.set_limit(Limit::SQLITE_LIMIT_LENGTH, longest)?;
            let most = STEPS.saturating_add(bytes.saturating_mul(STEPS_PER_BYTE));
            let mut left = most / AT_A_TIME as u64;
            let is_over = move || {
                left = left.saturating_sub(1);
                left == 0
            };
            connection.progress_handler(AT_A_TIME, Some(is_over));
            connection.query_row("SELECT count(*) FROM sqlite_master", [], |_| Ok(()))?;
            Ok(connection)
        });
        match opened {
            Ok(connection) => Ok(Self {
                connection,
                path: path.to_path_buf(),
                bytes,
            }),
            Err(error) => Err(Fault::input(
                "read.not_geopackage",
                Place::file(path),
                format!("The file cannot be opened as a GeoPackage ({error})"),
                "a GeoPackage, which is an SQLite database",
                "Check that it is the right file, or export it again.",
            )),
        }
    }

    /// The fault for a query that failed: the file is damaged or not built as the standard says.
    pub(super) fn damaged(&self, what: &str, error: &rusqlite::Error) -> Box<Fault> {
        if matches!(
            error.sqlite_error_code(),
            Some(ErrorCode::OperationInterrupted | ErrorCode::TooBig)
        ) {
            return Fault::input(
                "read.geopackage_work",
                Place::file(&self.path),
                format!(
                    "{what} takes more work than a file of {} bytes can need, or makes larger values ({error})",
                    self.bytes
                ),
                "tables, or views that only choose rows and columns of tables",
                "If it is a view, save what it gives as a table of its own in a GIS; else export the layer again.",
            );
        }
        Fault::input(
            "read.damaged",
            Place::file(&self.path),
            format!("{what} cannot be read ({error})"),
            "a whole GeoPackage (OGC 12-128)",
            "Copy it again, or export the layer again from a GIS.",
        )
    }

    /// Checks that a query goes through rows as they are stored. A view that sorts, groups, joins without an index or
    /// calls itself keeps rows in files of its own, of which nobody knows the end.
    ///
    /// # Errors
    /// It does not; the table is damaged.
    pub(super) fn keeps_nothing(&self, table: &str, query: &str) -> Outcome<()> {
        let failed = |error| self.damaged(&format!("The table '{table}'"), &error);
        let mut program = self
            .connection
            .prepare(&format!("EXPLAIN {query}"))
            .map_err(failed)?;
        let steps = program.query_map([], |step| step.get::<_, String>(1));
        for step in steps.map_err(failed)? {
            let step = step.map_err(failed)?;
            if ["SorterOpen", "OpenEphemeral", "OpenAutoindex"].contains(&step.as_str()) {
                return Err(Fault::input(
                    "read.geopackage_work",
                    Place::file(&self.path).layer(table),
                    "This is a view that sorts, groups, repeats or joins rows while it is read",
                    "tables, or views that only choose rows and columns of tables",
                    "Save what the view gives as a table of its own in a GIS, and name that table.",
                ));
            }
        }
        Ok(())
    }

    /// Whether a table or view of this name exists.
    pub(super) fn has_table(&self, name: &str) -> Outcome<bool> {
        self.connection
            .query_row(
                "SELECT count(*) FROM sqlite_master WHERE type IN ('table', 'view') AND name = ?1 COLLATE NOCASE",
                [name],
                |row| row.get::<_, i64>(0),
            )
            .map(|count| count > 0)
            .map_err(|error| self.damaged("The list of tables", &error))
    }
}

/// A name in double quotes for use in a query.
pub(super) fn quoted(name: &str) -> String {
    format!("\"{}\"", name.replace('"', "\"\""))
}

/// Changes that a program has not yet written into the file lie beside it. An immutable file is
/// read without them, so there must be none.
fn no_pending_changes(path: &Path) -> Outcome<()> {
    for suffix in ["-wal", "-journal"] {
        let mut name = path.as_os_str().to_os_string();
        name.push(suffix);
        let beside = PathBuf::from(name);
        if fs::metadata(&beside).is_ok_and(|about| about.is_file() && about.len() > 0) {
            return Err(Fault::input(
                "read.pending_changes",
                Place::file(path),
                format!(
                    "Changes that are not yet in the file lie beside it, in '{}'",
                    beside.display()
                ),
                "a GeoPackage that no program is writing to",
                "Close the program that has it open, so that it finishes writing, and try again.",
            ));
        }
    }
    Ok(())
}

/// The path as an SQLite URI: every byte that could mean something in a URI is escaped.
fn uri(path: &Path) -> String {
    let mut bytes = path.as_os_str().as_encoded_bytes().to_vec();
    if std::path::MAIN_SEPARATOR == '\\' {
        bytes
            .iter_mut()
            .filter(|byte| **byte == b'\\')
            .for_each(|byte| *byte = b'/');
    }
    let mut uri = String::from("file:");
    // A drive letter or a server name must not be taken for the authority of the URI.
    if path.is_absolute() {
        uri.push_str(if bytes.starts_with(b"/") { "//" } else { "///" });
    }
    for byte in bytes {
        match byte {
            b'a'..=b'z' | b'A'..=b'Z' | b'0'..=b'9' | b'/' | b'.' | b'-' | b'_' => {
                uri.push(char::from(byte));
            }
            // Writing to a String cannot fail.
            _ => drop(write!(uri, "%{byte:02X}")),
        }
    }
    uri.push_str("?mode=ro&immutable=1");
    uri
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn special_characters_are_escaped() {
        assert_eq!(
            uri(Path::new("a b?#%.gpkg")),
            "file:a%20b%3F%23%25.gpkg?mode=ro&immutable=1"
        );
        assert_eq!(
            uri(Path::new("å.gpkg")),
            "file:%C3%A5.gpkg?mode=ro&immutable=1"
        );
    }

    #[test]
    fn names_are_quoted() {
        assert_eq!(quoted("a\"b"), "\"a\"\"b\"");
    }
}
