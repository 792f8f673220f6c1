//! What a raster holds, as values for the page: its values in colours, coarse enough to be drawn at once.

use super::super::describe_raster;
use super::super::survey::{crs_to_name, ground_of};
use super::file::told;
use crate::edit::view::shades::Shades;
use crate::findings::Outcome;
use crate::frame::{Crs, Near};
use crate::job::Source;
use crate::read::{Layer, Raster, Window, Xy};
use serde_json::{Value, json};
use std::path::Path;

/// So many pixels on a side are drawn at most; of more every so many.
const MOST_SIDE: u32 = 160;

/// Rasters with more pixels than this are not drawn before they are part of the job.
const MOST_PIXELS: u64 = 25_000_000;

/// What there is to say and to draw.
///
/// # Errors
/// A raster that cannot be read.
pub(super) fn described(source: &Source, near: Option<&Near>) -> Outcome<Value> {
    let (text, fault) = describe_raster::described(&source.file, source.crs.as_deref(), near)?;
    let bare = Source {
        file: source.file.clone(),
        ..Source::default()
    };
    let raster = Raster::open(&bare, Path::new(""))?;
    let mut value = json!({
        "text": text,
        "bands": raster.bands,
        "fault": fault.as_deref().map(told),
    });
    if fault.is_none()
        && let Some(picture) = picture(&raster, source.crs.as_deref())?
        && let (Some(value), Value::Object(picture)) = (value.as_object_mut(), picture)
    {
        value.extend(picture);
    }
    Ok(value)
}

/// Its first band in colours, with the four corners of what is drawn in degrees.
fn picture(raster: &Raster, crs: Option<&str>) -> Outcome<Option<Value>> {
    if u64::from(raster.columns) * u64::from(raster.rows) > MOST_PIXELS {
        return Ok(None);
    }
    let outline = Layer {
        findings: Vec::new(),
        ..raster.outline()
    };
    let crs = Crs::of(&outline, crs_to_name(&outline, crs))?;
    let window = Window {
        column: 0,
        row: 0,
        columns: raster.columns,
        rows: raster.rows,
    };
    let values = raster.pixels(1, window)?.values;
    let every = raster.columns.max(raster.rows).div_ceil(MOST_SIDE).max(1);
    let (columns, rows) = (raster.columns.div_ceil(every), raster.rows.div_ceil(every));
    let at = |row: u32, column: u32| {
        // The middle of those that one drawn pixel stands for.
        let middle = |nth: u32, most: u32| (nth * every + every / 2).min(most.saturating_sub(1));
        let row = u64::from(middle(row, raster.rows));
        let place = row * u64::from(raster.columns) + u64::from(middle(column, raster.columns));
        let place = usize::try_from(place).ok();
        place.and_then(|place| values.get(place)).copied()
    };
    let drawn = (0..rows).flat_map(|row| (0..columns).map(move |column| (row, column)));
    let drawn: Vec<f64> = drawn
        .map(|(row, column)| at(row, column).unwrap_or(f64::NAN))
        .collect();
    let Some(shades) = Shades::of(drawn.iter().copied()) else {
        return Ok(None);
    };
    let [right, low] = [f64::from(columns * every), f64::from(rows * every)];
    let corners: Vec<Xy> = [[0.0, 0.0], [right, 0.0], [0.0, low]]
        .map(|corner| raster.at(corner))
        .to_vec();
    let corners = crs.to_wgs84(&corners)?;
    let extent = ground_of(&outline, &crs)?.extent;
    Ok(Some(json!({
        "columns": columns,
        "rows": rows,
        "steps": drawn.iter().map(|value| shades.nth(*value)).collect::<Vec<_>>(),
        "legend": shades.legend(),
        "corners": [corners],
        "extent": extent.map(|[low, high]| [low[0], low[1], high[0], high[1]]),
    })))
}
