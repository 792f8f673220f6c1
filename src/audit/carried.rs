//! Which product a file means: by the names that the plan or the job gives its products, never by what a name looks like.

use super::Delivered;
use crate::job::UnitSystem;
use crate::write::{ProductNames, only_rate};

/// What a file calls its products by.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(in crate::audit) enum Carrier {
    TaskData,
    /// Columns with names of ten characters, or one product that the name of the file says.
    Shapefile,
    /// Columns or bands with whole names.
    Whole,
}

/// One kind of names.
type Names = fn(&ProductNames) -> Option<&String>;

/// The place of the product that `name` stands for in a file; `None` where it stands for none.
pub(super) fn product(file: &Delivered, name: &str, names: &[ProductNames]) -> Option<usize> {
    let by = |test: &dyn Fn(&ProductNames) -> bool| names.iter().position(test);
    if file.carrier == Carrier::TaskData {
        return by(&|own| own.task_data == name);
    }
    let alone = |units| only_rate(units).eq_ignore_ascii_case(name);
    let alone = alone(UnitSystem::Metric) || alone(UnitSystem::UsCustomary);
    if file.carrier == Carrier::Shapefile && alone {
        let front = front(&file.file);
        let is =
            |own: &ProductNames| front.is_some_and(|front| own.file.eq_ignore_ascii_case(front));
        if let Some(alone) = by(&is) {
            return Some(alone);
        }
    }
    // Another program may have written a map with whole names as a Shapefile, and the other way round; but a file has
    // names of one kind, for the short name of one product may be the whole one of another.
    let mut kinds: [Names; 3] = [
        |own| Some(&own.column),
        |own| Some(&own.short_column),
        |own| own.terminal_column.as_ref(),
    ];
    if file.carrier == Carrier::Shapefile {
        kinds.rotate_left(1);
    }
    let find = |kind: &Names, name: &str| {
        by(&|own| kind(own).is_some_and(|known| known.eq_ignore_ascii_case(name)))
    };
    let all = |kind: &&Names| {
        file.products
            .iter()
            .all(|sown| find(kind, &sown.name).is_some())
    };
    match kinds.iter().find(all) {
        Some(kind) => find(kind, name),
        None => kinds.iter().find_map(|kind| find(kind, name)),
    }
}

/// The name of a file without folders, ending and id of the plan.
fn front(file: &str) -> Option<&str> {
    let name = file.rsplit(['/', '\\']).next()?;
    let (stem, _) = name.split_once('.')?;
    let (front, _) = stem.rsplit_once('_')?;
    Some(front)
}
