//! Files of one field, read from the disk as they are asked for.

use super::{FoundLayer, FoundRaster, Inputs, Origin, Settings, boundary_of_files, crs_of};
use crate::coordinates::LonLat;
use crate::findings::Outcome;
use crate::frame;
use crate::job::{Job, Source};
use crate::plan::Input;
use crate::read::{self, Layer, Raster};
use std::sync::Arc;

/// The files that a job names, below the folder of the job file.
#[derive(Debug, Clone, Copy)]
pub struct Disk;

impl Inputs for Disk {
    fn boundary(&self, job: &Job) -> Outcome<(Layer<LonLat>, Origin)> {
        let source = &job.field.boundary;
        let told = |fault| frame::fitted(fault, source, &job.folder, None);
        let (layer, sha256) = with_hash(job, source).map_err(told)?;
        let crs = crs_of(job, &layer, source).map_err(told)?;
        let origin = Origin::of(Input::of_file(&source.file, sha256), &crs);
        boundary_of_files(job, frame::to_wgs84(layer, &crs)?, origin)
    }

    fn layer(&self, job: &Job, source: &Source) -> Outcome<FoundLayer<'_>> {
        let (layer, sha256) = with_hash(job, source)?;
        Ok(FoundLayer::Read(layer, sha256))
    }

    fn is_raster(&self, job: &Job, source: &Source) -> bool {
        Raster::meant(source, &job.folder)
    }

    fn raster(&self, job: &Job, source: &Source) -> Outcome<Option<FoundRaster>> {
        if !self.is_raster(job, source) {
            // A file that is missing or damaged is told so first.
            read::open(source, &job.folder)?;
            return Ok(None);
        }
        let raster = Raster::open(source, &job.folder)?;
        let sha256 = read::sha256(&job.folder.join(&source.file))?;
        let crs = crs_of(job, &raster.outline(), source)?;
        Ok(Some(FoundRaster::of(raster, crs, source, sha256)))
    }

    fn settings(&self, job: &Job) -> Outcome<Arc<Settings>> {
        Ok(Arc::new(Settings::read(job)?))
    }
}

/// A layer as its file has it, and the hash of the file.
fn with_hash(job: &Job, source: &Source) -> Outcome<(Layer, String)> {
    let (layer, sha256) = rayon::join(
        || read::open(source, &job.folder),
        || read::sha256(&job.folder.join(&source.file)),
    );
    Ok((layer?, sha256?))
}
