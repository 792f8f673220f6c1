//! The published tables that a job names, built in or from the user's own files.

use super::chain::job_file;
use super::seed_safe::{self, Table, equation::Slopes};
use super::tables::{self, Recommendations};
use crate::findings::{Fault, Outcome, Place};
use crate::job::{EQUATION, FromTable, Job, SeedSafe};
use std::borrow::Cow;
use std::collections::BTreeMap;
use std::path::{Path, PathBuf};

/// Every table that a job names.
#[derive(Debug, Clone, Default)]
pub struct Tables {
    recommendations: BTreeMap<Named, Cow<'static, Recommendations>>,
    limits: BTreeMap<Named, SeedSafeTable>,
}

/// A table of seed-safe limits, or the equation in its place.
#[derive(Debug, Clone)]
pub(super) enum SeedSafeTable {
    Limits(Box<Cow<'static, Table>>),
    Equation(Slopes),
}

/// How a job names a table.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord)]
enum Named {
    BuiltIn(String),
    Own(PathBuf),
}

impl Tables {
    /// Reads the tables; `text_of` gives the text of a file the job names, and is asked once per use.
    ///
    /// # Errors
    /// No built-in table of that name; a file that cannot be read, or is not in the documented form (with
    /// file, line and cause); a crop that the table does not have.
    pub fn read(job: &Job, mut text_of: impl FnMut(&Path) -> Outcome<String>) -> Outcome<Self> {
        let mut all = Self::default();
        for product in &job.products {
            let Some(from) = &product.rate.need_from_table else {
                continue;
            };
            let table = match named(&from.table, &from.file) {
                Named::BuiltIn(name) => {
                    Cow::Borrowed(tables::built_in(&name).map_err(|fault| at(job, *fault))?)
                }
                Named::Own(file) => {
                    let path = job.folder.join(&file);
                    Cow::Owned(Recommendations::parse(&text_of(&file)?, &path)?)
                }
            };
            table
                .crop(&from.crop, from.straw)
                .map_err(|fault| at(job, *fault))?;
            all.recommendations
                .insert(named(&from.table, &from.file), table);
        }
        // One that names no table asks all that are built in.
        let names_one = |limit: &&SeedSafe| limit.table.is_some() || limit.file.is_some();
        for limit in job.seed_safe.iter().filter(names_one) {
            let table = match named(&limit.table, &limit.file) {
                Named::BuiltIn(name) if name == EQUATION => {
                    SeedSafeTable::Equation(Slopes::built_in()?)
                }
                Named::BuiltIn(name) => {
                    let table = seed_safe::built_in(&name).map_err(|fault| at(job, *fault))?;
                    SeedSafeTable::Limits(Box::new(Cow::Borrowed(table)))
                }
                Named::Own(file) => {
                    let path = job.folder.join(&file);
                    SeedSafeTable::Limits(Box::new(Cow::Owned(Table::parse(
                        &text_of(&file)?,
                        &path,
                    )?)))
                }
            };
            all.limits.insert(named(&limit.table, &limit.file), table);
        }
        Ok(all)
    }

    /// The table that a need names.
    pub(super) fn recommendations(&self, from: &FromTable) -> Outcome<&Recommendations> {
        let found = self.recommendations.get(&named(&from.table, &from.file));
        found.map(Cow::as_ref).ok_or_else(not_read)
    }

    /// The table that a seed-safe limit names.
    pub(super) fn limits(&self, limit: &SeedSafe) -> Outcome<&SeedSafeTable> {
        let found = self.limits.get(&named(&limit.table, &limit.file));
        found.ok_or_else(not_read)
    }
}

/// The files of tables that a job names, with what each is for, in job order.
pub fn table_files(job: &Job) -> Vec<(String, &Path)> {
    let needs = job.products.iter().filter_map(|product| {
        let file = product.rate.need_from_table.as_ref()?.file.as_deref()?;
        Some((format!("recommendations for '{}'", product.id), file))
    });
    let limits = job.seed_safe.iter().filter_map(|limit| {
        let file = limit.file.as_deref()?;
        Some(("seed-safe limits".to_owned(), file))
    });
    needs.chain(limits).collect()
}

fn named(table: &Option<String>, file: &Option<PathBuf>) -> Named {
    match (table, file) {
        (_, Some(file)) => Named::Own(file.clone()),
        (table, None) => Named::BuiltIn(table.clone().unwrap_or_default()),
    }
}

fn at(job: &Job, mut fault: Fault) -> Box<Fault> {
    fault.place = job_file(job);
    Box::new(fault)
}

fn not_read() -> Box<Fault> {
    Fault::program(
        "agronomy.table_not_read",
        Place::nowhere(),
        "the job names a table that was not read with the other inputs",
        "tables that were there when the job was read",
    )
}
