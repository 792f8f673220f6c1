//! All fields of a folder on one map: the borders of their jobs, whatever else is open in them, in one plane.

use super::Commands;
use super::view;
use crate::frame::Frame;
use crate::job::Source;
use crate::read::sha256_of;
use crate::report::number::Numbers;
use serde_json::{Value, json};
use std::collections::BTreeMap;
use std::fs;
use std::path::{Path, PathBuf};

/// Borders that were read, by job file, each with what it was read from; none where that gives none.
pub(super) type Borders = BTreeMap<PathBuf, (String, Option<Border>)>;

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
    files: &mut Files,
) -> Option<Border> {
    let job: toml::Table = text.trim_start_matches('\u{feff}').parse().ok()?;
    let boundary = job.get("field")?.get("boundary")?.clone();
    let source: Source = boundary.try_into().ok()?;
    let folder = file.parent().unwrap_or(Path::new(""));
    let source = Source {
        file: folder.join(&source.file),
        ..source
    };
    // A CRS may come later in a file beside it.
    let beside = [source.file.clone(), source.file.with_extension("prj")];
    let changed = beside.map(|file| fs::metadata(file).and_then(|of| of.modified()).ok());
    let of = sha256_of(format!("{source:?} {changed:?}"));
    if let Some((own, border)) = known.get(file)
        && *own == of
    {
        return border.clone();
    }
    let border = match files.field(&source, commands) {
        Some(border) => Some(border),
        None => (commands.describe)(&source, None, commands.language)
            .ok()
            .and_then(whole),
    };
    known.insert(file.to_path_buf(), (of, border.clone()));
    border
}

/// The border that a described file is.
fn whole(mut described: Value) -> Option<Border> {
    let layer = described.pointer_mut("/layers/0")?.take();
    let extent = layer.get("extent")?.as_array()?.iter();
    let extent: Vec<f64> = extent.filter_map(Value::as_f64).collect();
    Some(Border {
        m2: layer.get("m2")?.as_f64()?,
        extent: <[f64; 4]>::try_from(extent).ok()?,
        layer: json!({ "rings": layer.get("rings") }),
    })
}

/// Files that hold the borders of several fields: each is described once for all of its fields.
#[derive(Default)]
pub(super) struct Files(BTreeMap<String, (usize, Option<Value>)>);

impl Files {
    /// The border of one field of a file that was asked for before; none where it has to be described by itself.
    fn field(&mut self, source: &Source, commands: &Commands) -> Option<Border> {
        if source.only.is_empty() {
            return None;
        }
        let all = Source {
            only: BTreeMap::new(),
            ..source.clone()
        };
        let (asked, described) = self.0.entry(format!("{all:?}")).or_default();
        *asked += 1;
        // The first field may be the only one.
        if *asked == 2 {
            let of_all = (commands.describe)(&all, None, commands.language).ok();
            *described =
                of_all.and_then(|mut all| Some(all.pointer_mut("/layers/0/fields")?.take()));
        }
        let fields = described.as_ref()?;
        let by: Vec<&str> = strings(fields.get("attributes")?);
        let wanted = by.iter().map(|name| source.only.get(*name));
        let wanted: Vec<&str> = wanted
            .map(|of| of.map(String::as_str))
            .collect::<Option<_>>()?;
        let all = fields.get("all")?.as_array()?;
        let is_it = |field: &&Value| strings_of(field, "values") == wanted;
        let field = all
            .iter()
            .find(is_it)
            .filter(|_| by.len() == source.only.len())?;
        let rings = field.get("rings")?;
        Some(Border {
            m2: field.get("m2")?.as_f64()?,
            extent: extent(rings)?,
            layer: json!({ "rings": rings }),
        })
    }
}

fn strings(value: &Value) -> Vec<&str> {
    let all = value.as_array().into_iter().flatten();
    all.filter_map(Value::as_str).collect()
}

fn strings_of<'a>(value: &'a Value, key: &str) -> Vec<&'a str> {
    value.get(key).map(strings).unwrap_or_default()
}

/// West, south, east and north of rings, degrees; none without any, and for what lies across the antimeridian.
fn extent(rings: &Value) -> Option<[f64; 4]> {
    let points = rings
        .as_array()?
        .iter()
        .filter_map(Value::as_array)
        .flatten();
    let points = points.filter_map(|at| Some([at.get(0)?.as_f64()?, at.get(1)?.as_f64()?]));
    let found = points.map(|[x, y]| [x, y, x, y]).reduce(|a, b| {
        [
            a[0].min(b[0]),
            a[1].min(b[1]),
            a[2].max(b[2]),
            a[3].max(b[3]),
        ]
    });
    found.filter(|[west, _, east, _]| east - west < 180.0)
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
