//! The crop of the field.

use super::ids::Ids;
use crate::agronomy::crop_list::Crop;
use crate::codec::taskdata::{Element, designator};
use crate::job::{Job, Kind};

/// The crop that all seeds of a job are, by its name; `None` where a seed has none, or two differ: a partfield has one crop.
pub(super) fn crop(job: &Job) -> Option<&str> {
    let seeds = job.products.iter().map(Crop::named_by);
    let kinds = job.products.iter().map(|product| product.kind);
    let mut crops = seeds.zip(kinds).filter(|(_, kind)| *kind == Kind::Seed);
    let (first, _) = crops.next()?;
    first.filter(|first| crops.all(|(other, _)| other == Some(*first)))
}

/// The element that the partfield refers to.
pub(super) fn element(job: &Job, ids: &Ids) -> Option<Element> {
    let element = Element::new("CTP").with("A", &ids.crop);
    crop(job).map(|name| element.with("B", designator(name)))
}
