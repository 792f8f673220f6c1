//! Which product a file means: by the names that the plan or the job gives its products, never by what a name looks like.

use super::Delivered;
use crate::write::{ONLY_RATE, ProductNames};

/// What a file calls its products by.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(in crate::audit) enum Carrier {
    TaskData,
    /// Columns with names of ten characters, or one product that the name of the file says.
    Shapefile,
    /// Columns or bands with whole names.
    Whole,
}

/// The place of the product that `name` stands for in a file; `None` where it stands for none.
pub(super) fn product(file: &Delivered, name: &str, names: &[ProductNames]) -> Option<usize> {
    let by = |test: &dyn Fn(&ProductNames) -> bool| names.iter().position(test);
    let is = |own: &str| own.eq_ignore_ascii_case(name);
    let whole = || by(&|own| is(&own.column));
    let short = || by(&|own| is(&own.short_column));
    match file.carrier {
        Carrier::TaskData => by(&|own| own.task_data == name),
        Carrier::Shapefile => {
            let front = front(&file.file).filter(|_| is(ONLY_RATE));
            let alone = front.and_then(|front| by(&|own| own.file.eq_ignore_ascii_case(front)));
            // Another program may have written a map with whole names as a Shapefile, and the other way round.
            alone.or_else(short).or_else(whole)
        }
        Carrier::Whole => whole().or_else(short),
    }
}

/// The name of a file without folders, ending and id of the plan.
fn front(file: &str) -> Option<&str> {
    let name = file.rsplit(['/', '\\']).next()?;
    let (stem, _) = name.split_once('.')?;
    let (front, _) = stem.rsplit_once('_')?;
    Some(front)
}
