//! `twinsow describe` of a raster: size, place, bands and their values.

use super::describe::number;
use super::show::findings;
use super::show::number::{Numbers, hectares};
use super::show::table::{Column, Table};
use super::survey;
use crate::findings::{Fault, Outcome};
use crate::frame::{self, Crs, Near};
use crate::job::Source;
use crate::read::{Layer, Raster, Window, Xy};
use std::fmt::Write as _;
use std::path::Path;

/// Pixels looked at in each band: 2000 x 2000 in the middle of a larger raster.
const MOST_SIDE: u32 = 2_000;
/// Values are taken for classes where there are no more than this.
const MOST_CLASSES: usize = 12;

/// What there is to say, and the fault where the CRS is not known.
///
/// # Errors
/// The file is no raster that can be read, or is damaged.
pub(super) fn described(
    file: &Path,
    crs: Option<&str>,
    near: Option<&Near>,
) -> Outcome<(String, Option<Box<Fault>>)> {
    let source = Source {
        file: file.to_path_buf(),
        ..Source::default()
    };
    let raster = Raster::open(&source, Path::new(""))?;
    let mut text = format!("{}: {}\n", file.display(), raster.format);
    let _ = writeln!(
        text,
        "  pixels      {} columns x {} rows, {} in the CRS's unit",
        raster.columns,
        raster.rows,
        step(raster.step)
    );
    // What reading had to say comes once.
    let outline = Layer {
        findings: Vec::new(),
        ..raster.outline()
    };
    let mut all = raster.findings.clone();
    let fault = match ground(&outline, survey::crs_to_name(&outline, crs)) {
        Ok(ground) => {
            text.push_str(&ground.text);
            all.extend(ground.crs.findings.iter().cloned());
            None
        }
        Err(fault) => {
            text.push_str("  CRS         not known, so neither place nor area is\n");
            Some(frame::with_fits(fault, &outline, near))
        }
    };
    let window = middle(&raster);
    if (window.columns, window.rows) != (raster.columns, raster.rows) {
        let _ = writeln!(
            text,
            "  values      of the {} x {} pixels in the middle",
            window.columns, window.rows
        );
    }
    text.push_str(&bands(&raster, window)?);
    if !all.is_empty() {
        text.push_str(&findings::grouped(&all, Numbers::METRIC));
    }
    text.push('\n');
    Ok((text, fault))
}

fn step([x, y]: Xy) -> String {
    match x.abs() == y.abs() {
        true => number(Some(x.abs())),
        false => format!("{} x {}", number(Some(x.abs())), number(Some(y.abs()))),
    }
}

/// The raster, or a part in its middle that is soon read.
fn middle(raster: &Raster) -> Window {
    let part = |all: u32| {
        let count = all.min(MOST_SIDE);
        ((all - count) / 2, count)
    };
    let ((column, columns), (row, rows)) = (part(raster.columns), part(raster.rows));
    Window {
        column,
        row,
        columns,
        rows,
    }
}

struct Ground {
    crs: Crs,
    text: String,
}

/// Where the raster is.
fn ground(outline: &Layer, crs: Option<&str>) -> Outcome<Ground> {
    let crs = Crs::of(outline, crs)?;
    let mut text = format!("  CRS         {}\n", crs.name);
    let surveyed = survey::ground_of(outline, &crs)?;
    // A raster of half a country has no plane of its own.
    if surveyed.area_m2 > 0.0 {
        let _ = writeln!(text, "  area        {} ha", hectares(surveyed.area_m2));
    }
    if let Some([low, high]) = surveyed.extent {
        let _ = writeln!(
            text,
            "  extent      longitude {:.6} to {:.6}, latitude {:.6} to {:.6}",
            low[0], high[0], low[1], high[1]
        );
    }
    Ok(Ground { crs, text })
}

fn bands(raster: &Raster, window: Window) -> Outcome<String> {
    let mut table = Table::new([
        Column::Left("band"),
        Column::Right("lowest"),
        Column::Right("mean"),
        Column::Right("highest"),
        Column::Right("no value"),
        Column::Left("classes"),
    ]);
    for band in 1..=raster.bands.min(20) {
        let values = raster.pixels(band, window)?.values;
        let without = values.iter().filter(|value| !value.is_finite()).count();
        let range = survey::range(&values);
        table.row([
            band.to_string(),
            number(range.map(|[lowest, ..]| lowest)),
            number(range.map(|[_, mean, _]| mean)),
            number(range.map(|[.., highest]| highest)),
            format!(
                "{:.1} %",
                100.0 * without as f64 / values.len().max(1) as f64
            ),
            classes(values),
        ]);
    }
    Ok(table.text())
}

/// The values of a raster that holds few whole numbers.
fn classes(values: Vec<f64>) -> String {
    match few_whole(values) {
        Some(names) => names.join(", "),
        None => "-".to_owned(),
    }
}

fn few_whole(mut values: Vec<f64>) -> Option<Vec<String>> {
    values.retain(|value| value.is_finite());
    if values.iter().any(|value| value.fract() != 0.0) {
        return None;
    }
    values.sort_unstable_by(f64::total_cmp);
    values.dedup();
    let few = (1..=MOST_CLASSES).contains(&values.len());
    few.then(|| values.iter().map(|value| format!("{value:.0}")).collect())
}

/// The classes of a raster whose first band holds a few whole numbers; none of any other, nor where not all of it is looked at.
///
/// # Errors
/// Damaged data.
pub(super) fn whole_classes(raster: &Raster) -> Outcome<Option<Vec<String>>> {
    let window = middle(raster);
    let all = (window.columns, window.rows) == (raster.columns, raster.rows);
    let several = |names: &Vec<String>| names.len() > 1;
    match all {
        true => Ok(few_whole(raster.pixels(1, window)?.values).filter(several)),
        false => Ok(None),
    }
}
