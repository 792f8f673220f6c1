//! The list as a page, with the way to each field's report.

use super::needs::Source;
use crate::cli::relative;
use crate::findings::{Fault, Outcome, Place};
use crate::job::Language;
use crate::report::{self, CoverField};
use crate::tally::farm_order::{Line, Wanted};
use crate::units::M2_PER_HA;
use crate::write;
use std::path::Path;

/// A field of the page; `page` is the page's own path.
pub(super) fn field(
    path: &Path,
    source: &Source,
    wanted: &[Wanted],
    page: Option<&Path>,
) -> CoverField {
    let folder = if path.is_dir() {
        Some(path)
    } else {
        path.parent()
    };
    let report = folder.map(|folder| folder.join(report::FILE));
    let report = report.filter(|file| file.is_file());
    let link = report
        .zip(page)
        .and_then(|(file, page)| relative::way(page.parent()?, &file));
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

/// Writes the page.
pub(super) fn write(
    file: &Path,
    fields: &[CoverField],
    lines: &[Line],
    language: Language,
) -> Outcome<()> {
    let ending = file.extension().unwrap_or_default();
    // So that a slip does not overwrite a job file, nor the report of a plan.
    if !ending.eq_ignore_ascii_case("html") || file.ends_with(report::FILE) {
        return Err(Fault::input(
            "order.page_name",
            Place::file(file),
            "this is no name for the page",
            "a file name that ends in .html, and is not report.html",
            "name it, for example, index.html",
        ));
    }
    write::save(file, &report::cover(fields, lines, language)?).map_err(|error| {
        Fault::machine(
            "order.page_not_written",
            Place::file(file),
            format!("the page cannot be written: {error}"),
            "a file in a folder that you may write to",
            "check the folder, permissions and the disk",
        )
    })
}
