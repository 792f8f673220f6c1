//! The fields on the page of the list, with the way to each one's report.

use super::needs::Source;
use crate::cli::relative;
use crate::report::{self, CoverField};
use crate::tally::farm_order::Wanted;
use crate::units::M2_PER_HA;
use std::path::Path;

/// A field of the page; `page` is the page's own path.
pub(super) fn field(path: &Path, source: &Source, wanted: &[Wanted], page: &Path) -> CoverField {
    let folder = if path.is_dir() {
        Some(path)
    } else {
        path.parent()
    };
    let report = folder.map(|folder| folder.join(report::FILE));
    let report = report.filter(|file| file.is_file());
    let link = report.and_then(|file| relative::way(page.parent()?, &file));
    let sown = wanted.iter();
    CoverField {
        field: source.field.clone(),
        farm: source.farm.clone(),
        plan: source.plan.clone(),
        mapped_m2: source.mapped_ha * M2_PER_HA,
        sown: sown
            .filter(|wanted| !wanted.need.broadcast)
            .map(|wanted| (wanted.article.product.clone(), wanted.need.kg.sown))
            .collect(),
        to_decide: source.to_decide,
        report: link,
    }
}
