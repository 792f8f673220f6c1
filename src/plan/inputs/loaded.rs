//! Layers and rasters that are read once and looked up for many fields.

use super::{FoundRaster, Origin, crs_of};
use crate::coordinates::LonLat;
use crate::findings::{Fault, Outcome, Place};
use crate::frame::{self, Crs, Near};
use crate::job::{Job, Source};
use crate::plan::Input;
use crate::read::{self, Geometry, Layer, Raster};
use crate::units::LEAST_M_PER_DEGREE;
use rstar::primitives::{GeomWithData, Rectangle};
use rstar::{AABB, RTree};
use std::sync::{Arc, Mutex};

/// What a source holds, read once.
#[derive(Clone)]
pub(super) enum LoadedSource {
    Layer(Arc<IndexedLayer>),
    Raster(Arc<LoadedRaster>),
}

impl LoadedSource {
    /// Reads what a source names. `has_values`: it may be a raster.
    pub(super) fn open(source: &Source, has_values: bool, job: &Job) -> Outcome<Self> {
        if has_values && Raster::meant(source, &job.folder) {
            return Ok(Self::Raster(Arc::new(LoadedRaster::open(source, job)?)));
        }
        let layer = read::open(source, &job.folder)?;
        let sha256 = read::sha256(&job.folder.join(&source.file))?;
        let loaded = IndexedLayer::of(layer, source, job, sha256)?;
        Ok(Self::Layer(Arc::new(loaded)))
    }

    /// What has to be a boundary.
    pub(super) fn into_layer(self, job: &Job) -> Outcome<Arc<IndexedLayer>> {
        match self {
            Self::Layer(layer) => Ok(layer),
            Self::Raster(_) => Err(Fault::input(
                "plan.boundary",
                Place::file(&job.file),
                "the boundary is a raster",
                "polygons",
                "name a file of polygons as boundary under [field]",
            )),
        }
    }
}

/// A raster and the hash of its file; values are read where a field needs them.
pub(super) struct LoadedRaster {
    pub(super) source: Source,
    raster: Raster,
    sha256: String,
    /// Ways to WGS 84 that no field uses now. Making one takes longer than all else about a small field.
    ways: Arc<Mutex<Vec<Crs>>>,
}

impl LoadedRaster {
    fn open(source: &Source, job: &Job) -> Outcome<Self> {
        let raster = Raster::open(source, &job.folder)?;
        let sha256 = read::sha256(&job.folder.join(&source.file))?;
        // A CRS that does not serve is told at once.
        let way = crs_of(job, &raster.outline(), source)?;
        Ok(Self {
            source: source.clone(),
            ways: Arc::new(Mutex::new(vec![way])),
            raster,
            sha256,
        })
    }

    /// The raster with a way to WGS 84.
    ///
    /// # Errors
    /// A CRS that is missing or unknown.
    pub(super) fn found(&self, job: &Job) -> Outcome<FoundRaster> {
        let (raster, source) = (self.raster.clone(), &self.source);
        let kept = self.ways.lock().ok().and_then(|mut ways| ways.pop());
        let crs = match kept {
            Some(crs) => crs,
            None => crs_of(job, &raster.outline(), source)?,
        };
        let found = FoundRaster::of(raster, crs, source, self.sha256.clone());
        Ok(FoundRaster {
            ways: Arc::clone(&self.ways),
            ..found
        })
    }
}

/// A layer in degrees with the boxes of its features.
pub struct IndexedLayer {
    pub(super) source: Source,
    pub(super) layer: Layer<LonLat>,
    /// It came as text, not from a file.
    pub(super) given: bool,
    pub(super) origin: Origin,
    /// In degrees, as plain numbers for the tree.
    boxes: RTree<GeomWithData<Rectangle<[f64; 2]>, u32>>,
}

impl IndexedLayer {
    /// A layer that came as text, as [`IndexedLayer::of`].
    pub(super) fn given(text: &str, source: &Source, job: &Job) -> Outcome<Self> {
        let layer = read::given(text, source)?;
        let loaded = Self::of(layer, source, job, read::sha256_of(text))?;
        Ok(Self {
            given: true,
            ..loaded
        })
    }

    /// Brings a layer to degrees; `sha256` is the hash of what it was read from.
    fn of(layer: Layer, source: &Source, job: &Job, sha256: String) -> Outcome<Self> {
        let crs = crs_of(job, &layer, source)?;
        let layer = frame::to_wgs84(layer, &crs)?;
        let boxes = layer
            .features
            .iter()
            .zip(0..)
            .filter_map(|(feature, number)| {
                let [low, high] = extent(points(std::slice::from_ref(feature)))?;
                Some(GeomWithData::new(
                    Rectangle::from_corners(low.pair(), high.pair()),
                    number,
                ))
            });
        Ok(Self {
            boxes: RTree::bulk_load(boxes.collect()),
            given: false,
            origin: Origin::of(Input::of_file(&source.file, sha256), &crs),
            source: source.clone(),
            layer,
        })
    }

    /// Where another layer should lie if this one is the boundary; `None` of one without points.
    pub(super) fn near(&self) -> Option<Near> {
        Some(Near {
            extent: extent(points(&self.layer.features))?,
            crs: self.origin.input.crs.clone(),
        })
    }

    /// The layer with these features only.
    pub(super) fn some(&self, numbers: &[u32]) -> Layer<LonLat> {
        let features = numbers
            .iter()
            .map(|&number| self.layer.features[number as usize].clone())
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
    pub(super) fn around(&self, [low, high]: [LonLat; 2], margin_m: f64) -> Layer<LonLat> {
        // The plane is turned against the meridians by far less than a fiftieth, and boxes in it
        // differ from boxes in degrees accordingly.
        let slack = 0.02 * ((high.lon - low.lon) + (high.lat - low.lat));
        let up = slack + (margin_m + 100.0) / LEAST_M_PER_DEGREE;
        let farthest = low.lat.abs().max(high.lat.abs()) + up;
        let along = up / farthest.min(MOST_LATITUDE).to_radians().cos();
        let mut found = Vec::new();
        // Three times round: a field at the antimeridian has neighbours on the other side.
        for turn in [-360.0, 0.0, 360.0] {
            let corners = [
                [low.lon - along + turn, low.lat - up],
                [high.lon + along + turn, high.lat + up],
            ];
            let reach = AABB::from_corners(corners[0], corners[1]);
            let inside = self.boxes.locate_in_envelope_intersecting(&reach);
            found.extend(inside.map(|feature| feature.data));
        }
        found.sort_unstable();
        found.dedup();
        self.some(&found)
    }
}

/// Planes end at 84 degrees.
const MOST_LATITUDE: f64 = 85.0;

fn points(features: &[read::Feature<LonLat>]) -> impl Iterator<Item = LonLat> {
    features
        .iter()
        .flat_map(|feature| -> Box<dyn Iterator<Item = &LonLat>> {
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
pub(in crate::plan) fn extent(mut points: impl Iterator<Item = LonLat>) -> Option<[LonLat; 2]> {
    let first = points.next()?;
    Some(points.fold([first; 2], |[low, high], place| {
        [
            LonLat::new(low.lon.min(place.lon), low.lat.min(place.lat)),
            LonLat::new(high.lon.max(place.lon), high.lat.max(place.lat)),
        ]
    }))
}
