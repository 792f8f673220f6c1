//! Inputs read once for many fields: where the fields of a job with `split_by` come from.

use super::gather::{crs_of, tables};
use super::{Input, terminal};
use crate::agronomy::Tables;
use crate::findings::{Fault, Finding, Outcome};
use crate::frame::{self, Crs};
use crate::job::{Job, Source};
use crate::read::{self, Geometry, Layer, Raster, Xy};
use rstar::primitives::{GeomWithData, Rectangle};
use rstar::{AABB, RTree};
use std::collections::BTreeMap;

/// All inputs of a job in degrees, and the fields that its boundary holds.
pub struct Shelf {
    job: Job,
    attribute: String,
    boundary: Kept,
    layers: Vec<Kept>,
    /// With the hash of their files; values are read where a field needs them.
    rasters: Vec<(Source, Raster, String)>,
    pub(super) tables: (Tables, Vec<Input>),
    pub(super) mixed_datums: Vec<Finding>,
    /// Name and boundary features of each field, in the order of the file.
    fields: Vec<(String, Vec<u32>)>,
}

impl Shelf {
    /// Reads everything that a job with `split_by` names, each file once.
    ///
    /// # Errors
    /// A file that cannot be read or understood, a CRS that is missing or unknown, a boundary without
    /// the attribute.
    pub fn of(job: &Job, attribute: &str) -> Outcome<Self> {
        let mut crs = Vec::new();
        let boundary = Kept::open(&job.field.boundary, job, &mut crs)?;
        let fields = fields(&boundary.layer, attribute)?;
        let mut layers: Vec<Kept> = Vec::new();
        let mut rasters: Vec<(Source, Raster, String)> = Vec::new();
        for (source, has_values) in sources(job) {
            let file = job.folder.join(&source.file);
            if has_values && Raster::is(&file) {
                let raster = Raster::open(&source, &job.folder)?;
                crs.push(crs_of(job, &raster.outline(), &source)?);
                rasters.push((source, raster, read::sha256(&file)?));
            } else if layers.iter().all(|kept| kept.source != source) {
                layers.push(Kept::open(&source, job, &mut crs)?);
            }
        }
        let tables = tables(job)?;
        let crs: Vec<&Crs> = crs.iter().collect();
        Ok(Self {
            mixed_datums: frame::mixed_datums(&crs).into_iter().collect(),
            job: job.clone(),
            attribute: attribute.to_owned(),
            boundary,
            layers,
            rasters,
            tables,
            fields,
        })
    }

    /// What tells each field apart, in the order of the boundary file.
    pub fn fields(&self) -> impl ExactSizeIterator<Item = &str> {
        self.fields.iter().map(|(value, _)| value.as_str())
    }

    /// The job of one field: it could be planned by itself.
    pub fn job(&self, nth: usize) -> Job {
        let mut job = self.job.clone();
        let Some((value, _)) = self.fields.get(nth) else {
            return job;
        };
        job.field.split_by = None;
        let only = &mut job.field.boundary.only;
        only.insert(self.attribute.clone(), value.clone());
        for name in [&mut job.name, &mut job.field.name] {
            *name = format!("{name} {value}").trim_start().to_owned();
        }
        job
    }

    /// The boundary of one field, in degrees.
    pub(super) fn boundary(&self, nth: usize) -> Layer {
        let members = self.fields.get(nth).map_or(&[][..], |field| &field.1);
        self.boundary.some(members)
    }

    pub(super) fn kept_boundary(&self) -> &Kept {
        &self.boundary
    }

    /// The layer from a source; `None` for a raster.
    pub(super) fn kept(&self, source: &Source) -> Option<&Kept> {
        self.layers.iter().find(|kept| kept.source == *source)
    }

    /// The raster from a source, and the hash of its file.
    pub(super) fn raster(&self, source: &Source) -> Option<(&Raster, &str)> {
        let mut rasters = self.rasters.iter();
        let found = rasters.find(|(from, ..)| from == source);
        found.map(|(_, raster, sha256)| (raster, sha256.as_str()))
    }
}

/// All sources of a job beside its boundary, and whether they are there for their values.
fn sources(job: &Job) -> Vec<(Source, bool)> {
    let exclusions = job.exclusions.iter();
    let exclusions =
        exclusions.map(|exclusion| terminal::obstacles(&exclusion.source, &job.folder));
    let setbacks = job.setbacks.iter().map(|setback| setback.source.clone());
    let special_areas = job.special_areas.iter().map(|area| area.source.clone());
    let layers = job.layers.iter().flat_map(|layer| {
        let also = layer.values.iter().flat_map(|values| &values.also);
        let zonal = layer.zonal.iter().map(|zonal| (zonal.source.clone(), true));
        std::iter::once((layer.source.clone(), layer.values.is_some()))
            .chain(also.map(|also| (also.source.clone(), true)))
            .chain(zonal)
    });
    exclusions
        .chain(setbacks)
        .chain(special_areas)
        .map(|source| (source, false))
        .chain(layers)
        .collect()
}

/// A layer in degrees with the boxes of its features.
pub(super) struct Kept {
    source: Source,
    layer: Layer,
    /// With no role yet.
    input: Input,
    pub(super) of_crs: Vec<Finding>,
    boxes: RTree<GeomWithData<Rectangle<Xy>, u32>>,
}

impl Kept {
    fn open(source: &Source, job: &Job, all: &mut Vec<Crs>) -> Outcome<Self> {
        let layer = read::open(source, &job.folder)?;
        let crs = crs_of(job, &layer, source)?;
        let input = Input {
            role: String::new(),
            file: source.file.display().to_string(),
            sha256: read::sha256(&job.folder.join(&source.file))?,
            crs: crs.name.clone(),
            accuracy_m: crs.accuracy_m,
        };
        let layer = frame::to_wgs84(layer, &crs)?;
        let boxes = layer
            .features
            .iter()
            .zip(0..)
            .filter_map(|(feature, number)| {
                let [low, high] = extent(points(std::slice::from_ref(feature)))?;
                Some(GeomWithData::new(
                    Rectangle::from_corners(low, high),
                    number,
                ))
            });
        let kept = Self {
            boxes: RTree::bulk_load(boxes.collect()),
            of_crs: crs.findings.clone(),
            source: source.clone(),
            input,
            layer,
        };
        all.push(crs);
        Ok(kept)
    }

    /// The layer with these features only.
    fn some(&self, numbers: &[u32]) -> Layer {
        let features = numbers
            .iter()
            .filter_map(|&number| self.layer.features.get(number as usize).cloned())
            .collect();
        Layer {
            file: self.layer.file.clone(),
            format: self.layer.format,
            table: self.layer.table.clone(),
            crs: self.layer.crs.clone(),
            attributes: self.layer.attributes.clone(),
            features,
            findings: self.layer.findings.clone(),
        }
    }

    /// The layer with the features that may come within `margin_m` of a field, by their boxes.
    pub(super) fn around(&self, [low, high]: [Xy; 2], margin_m: f64) -> Layer {
        // The plane is turned against the meridians by far less than a fiftieth, and boxes in it
        // differ from boxes in degrees accordingly.
        let size = |axis: usize| high[axis] - low[axis];
        let slack = 0.02 * (size(0) + size(1));
        let up = slack + (margin_m + 100.0) / METRES_PER_DEGREE;
        let farthest = low[1].abs().max(high[1].abs()) + up;
        let along = up / farthest.min(MOST_LATITUDE).to_radians().cos();
        let mut found = Vec::new();
        // Three times round: a field at the antimeridian has neighbours on the other side.
        for turn in [-360.0, 0.0, 360.0] {
            let corners = [
                [low[0] - along + turn, low[1] - up],
                [high[0] + along + turn, high[1] + up],
            ];
            let reach = AABB::from_corners(corners[0], corners[1]);
            let inside = self.boxes.locate_in_envelope_intersecting(reach);
            found.extend(inside.map(|feature| feature.data));
        }
        found.sort_unstable();
        found.dedup();
        self.some(&found)
    }

    /// What is known of the file, for provenance.
    pub(super) fn input(&self, role: &str) -> Input {
        Input {
            role: role.to_owned(),
            ..self.input.clone()
        }
    }
}

/// Length of a degree of latitude, metres: the shortest there is, so that margins come out wide.
const METRES_PER_DEGREE: f64 = 110_500.0;
/// Planes end at 84 degrees.
const MOST_LATITUDE: f64 = 85.0;

/// The fields of a boundary by the values of an attribute.
fn fields(boundary: &Layer, attribute: &str) -> Outcome<Vec<(String, Vec<u32>)>> {
    let refused = |found: String, allowed: String, next: &str| {
        Fault::input("plan.split_by", boundary.place(), found, allowed, next)
    };
    let Some(column) = boundary
        .attributes
        .iter()
        .position(|name| name == attribute)
    else {
        let names = boundary.attributes.join(", ");
        return Err(refused(
            format!("there is no attribute '{attribute}', which split_by names"),
            format!("one of: {names}"),
            "correct split_by under [field], or leave it out for one field in several parts",
        ));
    };
    let mut fields: Vec<(String, Vec<u32>)> = Vec::new();
    let mut known: BTreeMap<String, usize> = BTreeMap::new();
    for (feature, number) in boundary.features.iter().zip(0..) {
        let value = feature
            .values
            .get(column)
            .map(ToString::to_string)
            .unwrap_or_default();
        if value.is_empty() {
            return Err(refused(
                format!(
                    "feature {} has no '{attribute}', which split_by names",
                    feature.name
                ),
                "a value for every feature of the boundary".to_owned(),
                "fill it in, or leave the feature out with `only`",
            ));
        }
        let field = *known.entry(value.clone()).or_insert_with(|| {
            fields.push((value, Vec::new()));
            fields.len() - 1
        });
        if let Some((_, members)) = fields.get_mut(field) {
            members.push(number);
        }
    }
    Ok(fields)
}

fn points(features: &[read::Feature]) -> impl Iterator<Item = Xy> {
    features
        .iter()
        .flat_map(|feature| -> Box<dyn Iterator<Item = &Xy>> {
            match &feature.geometry {
                Geometry::Empty => Box::new(std::iter::empty()),
                Geometry::Points(points) => Box::new(points.iter()),
                Geometry::Lines(lines) => Box::new(lines.iter().flatten()),
                // Holes lie inside.
                Geometry::Polygons(polygons) => Box::new(polygons.iter().flat_map(|p| &p.exterior)),
            }
        })
        .copied()
}

/// South-west and north-east corner; `None` without points.
pub(super) fn extent(mut points: impl Iterator<Item = Xy>) -> Option<[Xy; 2]> {
    let first = points.next()?;
    Some(points.fold([first; 2], |[low, high], [x, y]| {
        [
            [low[0].min(x), low[1].min(y)],
            [high[0].max(x), high[1].max(y)],
        ]
    }))
}
