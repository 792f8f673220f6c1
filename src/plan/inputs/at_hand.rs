//! Inputs of one field that were read before: a field of a farm, or one that came in a stream.

use super::loaded::{IndexedLayer, LoadedRaster, LoadedSource};
use super::{FoundLayer, FoundRaster, Inputs, Origin, Settings, boundary_of_files};
use crate::coordinates::LonLat;
use crate::findings::{Fault, Outcome, Place};
use crate::job::{Job, Source};
use crate::read::Layer;
use std::sync::Arc;

/// Inputs of one field that were read before. Nothing of them is read again.
pub struct AtHand {
    pub(super) boundary: Arc<IndexedLayer>,
    /// The features of the boundary that are this field.
    pub(super) members: Vec<u32>,
    pub(super) sources: Arc<Vec<LoadedSource>>,
    pub(super) settings: Arc<Settings>,
}

impl AtHand {
    fn known_raster(&self, source: &Source) -> Option<&LoadedRaster> {
        self.sources.iter().find_map(|loaded| match loaded {
            LoadedSource::Raster(raster) if raster.source == *source => Some(raster.as_ref()),
            _ => None,
        })
    }
}

impl Inputs for AtHand {
    fn boundary(&self, job: &Job) -> Outcome<(Layer<LonLat>, Origin)> {
        let layer = self.boundary.some(&self.members);
        let origin = self.boundary.origin.clone();
        // What came as text is GeoJSON; no file stands behind its name.
        match self.boundary.given {
            true => {
                let origin = origin.with_findings_of(&layer);
                Ok((layer, origin))
            }
            false => boundary_of_files(job, layer, origin),
        }
    }

    fn layer(&self, _: &Job, source: &Source) -> Outcome<FoundLayer<'_>> {
        let known = self.sources.iter().find_map(|loaded| match loaded {
            LoadedSource::Layer(layer) if layer.source == *source => Some(layer.as_ref()),
            _ => None,
        });
        known.map(FoundLayer::Known).ok_or_else(|| {
            Fault::program(
                "plan.not_at_hand",
                Place::file(&source.file),
                "this layer is asked for and was not read",
                "layers that the job names",
            )
        })
    }

    fn is_raster(&self, _: &Job, source: &Source) -> bool {
        self.known_raster(source).is_some()
    }

    fn raster(&self, job: &Job, source: &Source) -> Outcome<Option<FoundRaster>> {
        let known = self.known_raster(source);
        known.map(|raster| raster.found(job)).transpose()
    }

    fn settings(&self, _: &Job) -> Outcome<Arc<Settings>> {
        Ok(Arc::clone(&self.settings))
    }
}
