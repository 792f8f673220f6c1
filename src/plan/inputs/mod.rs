//! Where the files of a job come from: from the disk, from what was read once for all fields of a farm, or with the
//! field in a stream.

mod at_hand;
mod disk;
mod loaded;
mod settings;
mod shared;
mod stream;

pub use at_hand::AtHand;
pub use disk::Disk;
pub(super) use loaded::extent;
pub use settings::Settings;
pub use shared::SharedInputs;
pub use stream::StreamInputs;

use super::{Input, several_fields, terminal};
use crate::coordinates::{LonLat, PlaneXy};
use crate::findings::{Finding, Outcome};
use crate::frame::{self, Crs, Footing, Frame};
use crate::job::{Job, Source};
use crate::read::{Layer, Raster};
use loaded::IndexedLayer;
use std::sync::{Arc, Mutex};

/// The files of a job, wherever they come from: [`Disk`], or [`AtHand`] by [`SharedInputs::field`] and
/// [`StreamInputs::given`]. A plan is the same from each of them.
pub trait Inputs: Sync {
    /// The boundary in degrees.
    ///
    /// # Errors
    /// A file that cannot be read or understood; a CRS that is missing or unknown; task data with several fields.
    fn boundary(&self, job: &Job) -> Outcome<(Layer<LonLat>, Origin)>;

    /// The layer of another source, not yet in the field's plane.
    ///
    /// # Errors
    /// A file that cannot be read or understood.
    fn layer(&self, job: &Job, source: &Source) -> Outcome<FoundLayer<'_>>;

    /// Whether a source is a raster.
    fn is_raster(&self, job: &Job, source: &Source) -> bool;

    /// The raster of a source; `None` if what is there is none.
    ///
    /// # Errors
    /// A file that cannot be read or understood; a CRS that is missing or unknown.
    fn raster(&self, job: &Job, source: &Source) -> Outcome<Option<FoundRaster>>;

    /// The machine file and the published tables that the job names.
    ///
    /// # Errors
    /// A table that is not there or not in its form.
    fn settings(&self, job: &Job) -> Outcome<Arc<Settings>>;
}

/// Where a layer came from, and what there is to say about it.
#[derive(Clone)]
pub struct Origin {
    /// With no role yet.
    pub(super) input: Input,
    pub(super) findings: Vec<Finding>,
    pub(super) footing: Footing,
}

impl Origin {
    fn of(input: Input, crs: &Crs) -> Self {
        Self {
            input: Input {
                crs: crs.name.clone(),
                accuracy_m: crs.accuracy_m,
                ..input
            },
            findings: crs.findings.clone(),
            footing: crs.footing(),
        }
    }

    /// With what reading and placing the layer had to say before it.
    fn with_findings_of<P>(mut self, layer: &Layer<P>) -> Self {
        self.findings.splice(0..0, layer.findings.iter().cloned());
        self
    }
}

/// A layer as its source has it.
pub enum FoundLayer<'a> {
    /// Read just now: in its own CRS, with the hash of its file.
    Read(Layer, String),
    /// In degrees, from what was read before.
    Known(&'a IndexedLayer),
}

/// How much of a layer is wanted, and where.
#[derive(Clone, Copy)]
pub(super) struct Around<'a> {
    pub frame: &'a Frame,
    /// South-west and north-east corner of the field, degrees.
    pub extent: [LonLat; 2],
    /// How far from the field a feature may lie; `None` for all of the layer.
    pub margin_m: Option<f64>,
    /// A layer read just now has to meet the field.
    pub must_meet: bool,
}

impl FoundLayer<'_> {
    /// The layer in the field's plane: what may come within the margin, and perhaps more.
    pub(super) fn placed(
        self,
        job: &Job,
        source: &Source,
        around: Around,
    ) -> Outcome<(Layer<PlaneXy>, Origin)> {
        let frame = around.frame;
        let (layer, origin) = match self {
            Self::Read(layer, sha256) => {
                let crs = crs_of(job, &layer, source)?;
                if around.must_meet {
                    frame::must_meet(&layer, &crs, frame)?;
                }
                let origin = Origin::of(Input::of_file(&source.file, sha256), &crs);
                (frame::place(layer, &crs, frame)?, origin)
            }
            Self::Known(known) => {
                let layer = match around.margin_m {
                    Some(margin_m) => known.around(around.extent, margin_m),
                    None => known.layer.clone(),
                };
                (frame::to_plane(layer, frame), known.origin.clone())
            }
        };
        let origin = origin.with_findings_of(&layer);
        Ok((layer, origin))
    }
}

/// A raster with its way to WGS 84.
pub struct FoundRaster {
    pub(super) raster: Raster,
    pub(super) crs: Crs,
    /// With no role yet.
    pub(super) input: Input,
    /// Where the next field looks for the way.
    ways: Arc<Mutex<Vec<Crs>>>,
}

impl FoundRaster {
    fn of(raster: Raster, crs: Crs, source: &Source, sha256: String) -> Self {
        let input = Origin::of(Input::of_file(&source.file, sha256), &crs).input;
        Self {
            raster,
            crs,
            input,
            ways: Arc::default(),
        }
    }

    /// Leaves the way for the next field.
    pub(super) fn done(self) {
        if let Ok(mut ways) = self.ways.lock() {
            ways.push(self.crs);
        }
    }
}

/// The CRS of a layer by its source and the job's transformation grids.
///
/// # Errors
/// A CRS that is missing or unknown.
fn crs_of(job: &Job, layer: &Layer, source: &Source) -> Outcome<Crs> {
    let grids = job.transformation_grids.as_ref();
    let grids = grids.map(|folder| job.folder.join(folder));
    Crs::with_grids(layer, source.crs.as_deref(), grids.as_deref())
}

/// A boundary in degrees that came from files. Of task data: one field, and a word on obstacles that the job passes over.
fn boundary_of_files(
    job: &Job,
    layer: Layer<LonLat>,
    origin: Origin,
) -> Outcome<(Layer<LonLat>, Origin)> {
    terminal::one_field(&layer)?;
    let several = several_fields::check(job, &layer)?;
    let mut origin = origin.with_findings_of(&layer);
    let forgotten = terminal::forgotten(job, &layer)?;
    origin
        .findings
        .splice(0..0, several.into_iter().chain(forgotten));
    Ok((layer, origin))
}
