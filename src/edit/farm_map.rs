//! All fields of a folder on one map: the borders of their jobs, whatever else is open in them, in one plane.

use super::Commands;
use super::view;
use crate::frame::Frame;
use crate::job::{Source, UnitSystem};
use crate::read::sha256_of;
use crate::report::number::Numbers;
use serde_json::{Value, json};
use std::collections::BTreeMap;
use std::fs;
use std::path::{Path, PathBuf};

/// Borders that were read, by job file, each with what it was read from.
pub(super) type Borders = BTreeMap<PathBuf, (String, Border)>;

/// The border of one job.
#[derive(Clone)]
pub(super) struct Border {
    /// As drawn, m2.
    m2: f64,
    /// West, south, east and north, degrees.
    extent: [f64; 4],
    /// What was described, outlines in degrees.
    layer: Value,
}

/// The border of a job by its text; none where it is not known or cannot be read.
pub(super) fn border(
    text: &str,
    file: &Path,
    commands: &Commands,
    known: &mut Borders,
) -> Option<Border> {
    let job: toml::Table = text.trim_start_matches('\u{feff}').parse().ok()?;
    let boundary = job.get("field")?.get("boundary")?.clone();
    let source: Source = boundary.try_into().ok()?;
    let folder = file.parent().unwrap_or(Path::new(""));
    let source = Source {
        file: folder.join(&source.file),
        ..source
    };
    let changed = fs::metadata(&source.file).and_then(|of| of.modified()).ok();
    let of = sha256_of(format!("{source:?} {changed:?}"));
    if let Some((own, border)) = known.get(file)
        && *own == of
    {
        return Some(border.clone());
    }
    let mut described = (commands.describe)(&source).ok()?;
    let layer = described.pointer_mut("/layers/0")?.take();
    let extent: Vec<f64> = layer
        .get("extent")?
        .as_array()?
        .iter()
        .filter_map(Value::as_f64)
        .collect();
    let border = Border {
        m2: layer.get("m2")?.as_f64()?,
        extent: <[f64; 4]>::try_from(extent).ok()?,
        layer: json!({ "rings": layer.get("rings") }),
    };
    known.insert(file.to_path_buf(), (of, border.clone()));
    Some(border)
}

/// The units that a job is read in.
pub(super) fn numbers(text: &str) -> Numbers {
    let job: Option<toml::Table> = text.parse().ok();
    let units = job.and_then(|job| job.get("report")?.get("units").cloned());
    let units = units.and_then(|units| units.try_into::<UnitSystem>().ok());
    Numbers::of(units.unwrap_or_default())
}

/// A plane about all these borders, and the extent of them in it as it travels; none without any.
pub(super) fn plane(borders: &[Option<Border>]) -> Option<Frame> {
    let all = || borders.iter().flatten().map(|border| border.extent);
    let low = |at: usize| all().map(|extent| extent[at]).reduce(f64::min);
    let high = |at: usize| all().map(|extent| extent[at]).reduce(f64::max);
    let (west, east) = (low(0)?, high(2)?);
    let (south, north) = (low(1)?, high(3)?);
    Some(Frame::about((west + east) / 2.0, (south + north) / 2.0))
}

/// What of a border is drawn, in this plane.
pub(super) fn drawn(border: &Border, frame: &Frame, numbers: &Numbers) -> Value {
    let mut value = json!({ "layers": [border.layer] });
    view::described(&mut value, "", Some(frame.clone()));
    json!({
        "rings": value.pointer("/layers/0/rings"),
        "m2": border.m2,
        "area_text": view::area(numbers, border.m2),
    })
}
