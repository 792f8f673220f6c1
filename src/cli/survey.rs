//! What a vector file holds: for `describe`, and for the job that `new` starts.

use crate::coordinates::{LonLat, PlaneXy};
use crate::findings::{Fault, Finding, Outcome};
use crate::frame::{self, Crs, Frame, Near, ground_m2};
use crate::job::Source;
use crate::read::{self, DeclaredCrs, Geometry, Layer, Polygon, Value, Xy};
use std::collections::BTreeMap;
use std::path::Path;

/// Attributes with more values than this are not taken for classes.
pub(super) const MOST_CLASSES: usize = 40;

/// A layer and everything that is known about it.
pub(super) struct Survey {
    /// As read, in its own CRS.
    pub layer: Layer,
    /// Number of features of each kind, without kinds that do not occur.
    pub kinds: Vec<(&'static str, usize)>,
    /// Where it is, or why that is not known.
    pub ground: Result<Ground, Box<Fault>>,
    pub attributes: Vec<Attribute>,
}

/// Where a layer is, and its areas.
pub(super) struct Ground {
    pub crs: String,
    pub accuracy_m: Option<f64>,
    pub findings: Vec<Finding>,
    /// South-west and north-east, degrees on WGS 84; plain numbers, for east of the antimeridian they go beyond 180.
    pub extent: Option<[[f64; 2]; 2]>,
    /// Sum of the polygons as drawn, m2: land that two of them cover counts twice.
    pub area_m2: f64,
    /// The layer in degrees on WGS 84.
    pub lon_lat: Layer<LonLat>,
}

/// An attribute and its values.
pub(super) struct Attribute {
    pub name: String,
    pub kind: AttributeKind,
    pub distinct: usize,
    pub missing: usize,
    /// Lowest, mean and highest, of numbers.
    pub range: Option<[f64; 3]>,
    /// Empty if there are more than [`MOST_CLASSES`]; largest first.
    pub classes: Vec<Class>,
}

/// What all values of an attribute are.
#[derive(Clone, Copy, PartialEq)]
pub(super) enum AttributeKind {
    Text,
    Whole,
    Number,
    Flag,
    Mixed,
    Empty,
}

impl AttributeKind {
    /// `None` for a missing value.
    fn of(value: &Value) -> Option<Self> {
        match value {
            Value::Missing => None,
            Value::Text(_) => Some(Self::Text),
            Value::Integer(_) => Some(Self::Whole),
            Value::Number(_) => Some(Self::Number),
            Value::Flag(_) => Some(Self::Flag),
        }
    }

    pub(super) fn words(self) -> &'static str {
        match self {
            Self::Text => "text",
            Self::Whole => "whole number",
            Self::Number => "number",
            Self::Flag => "true or false",
            Self::Mixed => "mixed",
            Self::Empty => "empty",
        }
    }
}

/// A value of an attribute.
pub(super) struct Class {
    pub value: String,
    pub features: usize,
    pub area_m2: f64,
}

/// Names of the layers in a file; `None` where the format has no such names.
pub(super) fn tables(path: &Path) -> Outcome<Vec<Option<String>>> {
    Ok(read::tables(path)?
        .into_iter()
        .map(|table| table.name)
        .collect())
}

/// Surveys the features of a layer whose attributes have these values. The file declares its CRS.
///
/// # Errors
/// As [`survey_of`].
pub(super) fn survey_only(
    path: &Path,
    table: Option<&str>,
    only: &BTreeMap<String, String>,
) -> Outcome<Survey> {
    let source = Source {
        file: path.to_path_buf(),
        table: table.map(str::to_owned),
        only: only.clone(),
        ..Source::default()
    };
    survey_of(&source, None)
}

/// Surveys what a source means, its path as it stands; its `crs` counts where the file declares none. `near`: where the layer
/// should lie, as far as that is known.
///
/// # Errors
/// The file cannot be read; no feature has the values that are asked for. A CRS that is not known does not stop it.
pub(super) fn survey_of(source: &Source, near: Option<&Near>) -> Outcome<Survey> {
    let crs = source.crs.as_deref();
    let bare = Source {
        crs: None,
        ..source.clone()
    };
    let with_crs = |crs: &str| Source {
        crs: Some(crs.to_owned()),
        ..source.clone()
    };
    let (layer, refused) = match (read::open(&bare, Path::new("")), crs) {
        (Err(_), Some(crs)) => (read::open(&with_crs(crs), Path::new(""))?, None),
        // What is in it can be told all the same.
        (Err(fault), None) if frame::is_about_crs(&fault) => {
            (read::open(&with_crs(""), Path::new(""))?, Some(fault))
        }
        (layer, _) => (layer?, None),
    };
    let named = crs_to_name(&layer, crs);
    let mut areas = vec![0.0; layer.features.len()];
    let ground = match refused {
        Some(fault) => Err(fault),
        None => ground(&layer, named, &mut areas),
    };
    let ground = ground.map_err(|fault| frame::with_fits(fault, &layer, near));
    let attributes = (0..layer.attributes.len())
        .map(|n| attribute(&layer, n, &areas))
        .collect();
    Ok(Survey {
        kinds: kinds(&layer),
        ground,
        attributes,
        layer,
    })
}

impl Survey {
    pub(super) fn has_polygons(&self) -> bool {
        self.kinds.iter().any(|(kind, _)| *kind == "polygon")
    }

    /// Where other layers should lie if this one is the boundary; `None` where it is not known, or where it holds nothing.
    pub(super) fn near(&self) -> Option<Near> {
        let ground = self.ground.as_ref().ok()?;
        let [low, high] = ground.extent?;
        Some(Near {
            extent: [low, high].map(|[lon, lat]| LonLat::new(lon, lat)),
            crs: ground.crs.clone(),
        })
    }
}

/// Opens what the command line names and brings it into the plane of a field; `option` is the one that names its CRS. Also
/// what there is to say about the CRS.
///
/// # Errors
/// A file that cannot be read or understood; a CRS that is missing or unknown.
pub(super) fn placed(
    source: &Source,
    option: &str,
    frame: &Frame,
) -> Outcome<(Layer<PlaneXy>, Vec<Finding>)> {
    let folder = Path::new("");
    let told = |fault: Box<Fault>| {
        let is_about_crs = frame::is_about_crs(&fault);
        let mut fault = frame::fitted(fault, source, folder, Some(&Near::of_frame(frame)));
        if is_about_crs {
            let here = format!(" (on the command line: {option})");
            fault.next.push_str(&here);
        }
        fault
    };
    let layer = read::open(source, folder).map_err(told)?;
    let crs = Crs::of(&layer, source.crs.as_deref()).map_err(told)?;
    Ok((frame::place(layer, &crs, frame)?, crs.findings))
}

/// The CRS that a job has to name for this layer: none where the file declares its own.
pub(super) fn crs_to_name<'a>(layer: &Layer, crs: Option<&'a str>) -> Option<&'a str> {
    let degrees = |[x, y]: &Xy| x.abs() <= 180.0 && y.abs() <= 90.0;
    let declared = match layer.crs {
        DeclaredCrs::None => false,
        DeclaredCrs::Text(_) => true,
        DeclaredCrs::Wgs84ByStandard => layer
            .features
            .iter()
            .flat_map(|feature| points(&feature.geometry))
            .all(|point| degrees(&point)),
    };
    crs.filter(|_| !declared)
}

fn kinds(layer: &Layer) -> Vec<(&'static str, usize)> {
    let count =
        |is: fn(&Geometry) -> bool| layer.features.iter().filter(|f| is(&f.geometry)).count();
    let all = [
        (
            "polygon",
            count(|geometry| matches!(geometry, Geometry::Polygons(_))),
        ),
        (
            "line",
            count(|geometry| matches!(geometry, Geometry::Lines(_))),
        ),
        (
            "point",
            count(|geometry| matches!(geometry, Geometry::Points(_))),
        ),
        (
            "empty",
            count(|geometry| matches!(geometry, Geometry::Empty)),
        ),
    ];
    all.into_iter().filter(|(_, count)| *count > 0).collect()
}

fn points<P: Copy>(geometry: &Geometry<P>) -> Vec<P> {
    match geometry {
        Geometry::Empty => Vec::new(),
        Geometry::Points(points) => points.clone(),
        Geometry::Lines(lines) => lines.concat(),
        Geometry::Polygons(polygons) => {
            let rings =
                |polygon: &Polygon<P>| [polygon.exterior.clone(), polygon.holes.concat()].concat();
            polygons.iter().flat_map(rings).collect()
        }
    }
}

/// Brings the layer to the ground and fills `areas` (m2 per feature). A layer may span a country.
fn ground(layer: &Layer, crs: Option<&str>, areas: &mut [f64]) -> Outcome<Ground> {
    let crs = Crs::of(layer, crs)?;
    measured(layer, &crs, areas)
}

fn measured(layer: &Layer, crs: &Crs, areas: &mut [f64]) -> Outcome<Ground> {
    let lon_lat = frame::as_drawn(layer.clone(), crs)?;
    let findings = crs.findings.clone();
    let all: Vec<LonLat> = lon_lat
        .features
        .iter()
        .flat_map(|feature| points(&feature.geometry))
        .collect();
    let extent = extent_of(&all);
    for (area, feature) in areas.iter_mut().zip(&lon_lat.features) {
        if let Geometry::Polygons(polygons) = &feature.geometry {
            *area = ground_m2(polygons);
        }
    }
    Ok(Ground {
        crs: crs.name.clone(),
        accuracy_m: crs.accuracy_m,
        findings,
        extent,
        area_m2: areas.iter().sum(),
        lon_lat,
    })
}

/// Where a layer in this CRS is, and its area.
///
/// # Errors
/// Places that the CRS does not have.
pub(super) fn ground_of(layer: &Layer, crs: &Crs) -> Outcome<Ground> {
    measured(layer, crs, &mut vec![0.0; layer.features.len()])
}

/// Longitudes are counted from the first point, so that a layer across the antimeridian has a
/// short extent.
fn extent_of(points: &[LonLat]) -> Option<[[f64; 2]; 2]> {
    let lon0 = points.first()?.lon;
    let mut low = [f64::INFINITY; 2];
    let mut high = [f64::NEG_INFINITY; 2];
    for &LonLat { lon, lat } in points {
        let lon = match lon - lon0 {
            east if east > 180.0 => lon - 360.0,
            east if east < -180.0 => lon + 360.0,
            _ => lon,
        };
        low = [low[0].min(lon), low[1].min(lat)];
        high = [high[0].max(lon), high[1].max(lat)];
    }
    Some([low, high])
}

fn attribute(layer: &Layer, n: usize, areas: &[f64]) -> Attribute {
    let mut values: BTreeMap<String, (usize, f64)> = BTreeMap::new();
    let mut kind = None;
    let mut missing = 0;
    let mut numbers: Vec<f64> = Vec::new();
    for (feature, area) in layer.features.iter().zip(areas) {
        let value = feature.values.get(n).unwrap_or(&Value::Missing);
        let Some(text) = text_of(value) else {
            missing += 1;
            continue;
        };
        match value {
            Value::Integer(number) => numbers.push(*number as f64),
            Value::Number(number) => numbers.push(*number),
            _ => {}
        }
        let this = AttributeKind::of(value);
        kind = match kind {
            Some(_) if kind != this => Some(AttributeKind::Mixed),
            _ => this,
        };
        let entry = values.entry(text).or_insert((0, 0.0));
        entry.0 += 1;
        entry.1 += area;
    }
    let distinct = values.len();
    let mut classes = Vec::new();
    if distinct <= MOST_CLASSES {
        let all = values.into_iter();
        classes = all
            .map(|(value, (features, area_m2))| Class {
                value,
                features,
                area_m2,
            })
            .collect();
        classes.sort_by(|a: &Class, b| b.area_m2.total_cmp(&a.area_m2));
    }
    let name = layer.attributes.get(n).cloned().unwrap_or_default();
    Attribute {
        name,
        kind: kind.unwrap_or(AttributeKind::Empty),
        distinct,
        missing,
        range: range(&numbers),
        classes,
    }
}

/// Lowest, mean and highest of all that are numbers.
pub(super) fn range(numbers: &[f64]) -> Option<[f64; 3]> {
    let finite = || numbers.iter().copied().filter(|own| own.is_finite());
    let lowest = finite().reduce(f64::min)?;
    let highest = finite().reduce(f64::max)?;
    Some([
        lowest,
        finite().sum::<f64>() / finite().count() as f64,
        highest,
    ])
}

fn text_of(value: &Value) -> Option<String> {
    match value {
        Value::Missing => None,
        Value::Text(text) => Some(text.clone()),
        Value::Integer(number) => Some(number.to_string()),
        Value::Number(number) => Some(number.to_string()),
        Value::Flag(flag) => Some(flag.to_string()),
    }
}
