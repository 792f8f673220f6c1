//! Reads what a job names and places it in the field's plane.

use super::loaded_source::{IndexedLayer, extent};
use super::on_terminal::{self, OnTerminal};
use super::progress::{self, Tell};
use super::shared_inputs::SharedInputs;
use super::{Input, divide, several_fields, terminal};
use crate::agronomy::{Tables, table_files};
use crate::findings::{Fault, Finding, Outcome, Place};
use crate::frame::{self, Crs, Footing, Frame};
use crate::job::{Job, Source, ZoneLayer};
use crate::land::{near, widening_m};
use crate::map;
use crate::read::{self, Geometry, Layer, Xy};
use crate::surface::{Cleaned, SurfaceGrid, ZonalTable};
use rayon::prelude::*;
use std::path::Path;
use std::sync::Arc;

/// All inputs of a job, in the field's plane.
pub struct Inputs {
    pub frame: Frame,
    pub boundary: Layer,
    /// In job order, as all lists here; only what lies near the field.
    pub exclusions: Vec<Layer>,
    pub setbacks: Vec<Layer>,
    pub special_areas: Vec<Layer>,
    /// The line that the interior bouts run along.
    pub guide: Option<Layer>,
    pub zones: Vec<Layer>,
    /// Where the tender stands.
    pub tender: Option<Layer>,
    /// Field and machine as the terminal knows them.
    pub on_terminal: OnTerminal,
    /// What cleaning zones that were made from values moved, by layer.
    pub cleaned: Vec<Vec<Cleaned>>,
    /// What lies under the polygons of layers with `zonal`, in job order.
    pub zonal: Vec<ZonalTable>,
    /// Surfaces through points, in job order.
    pub surfaces: Vec<SurfaceGrid>,
    /// Published tables that the job names.
    pub tables: Tables,
    /// Where everything came from.
    pub provenance: Vec<Input>,
    pub findings: Vec<Finding>,
}

/// Reads and places all inputs of a job.
///
/// # Errors
/// A file that cannot be read or understood; a CRS that is missing or unknown; a zone layer that
/// misses the field; a table that is not there or not in its form; a job for many fields.
pub fn gather(job: &Job) -> Outcome<Inputs> {
    gather_told(job, &progress::quiet)
}

/// The same, telling of each step as it begins.
///
/// # Errors
/// As [`gather`].
pub fn gather_told(job: &Job, tell: Tell) -> Outcome<Inputs> {
    for_one_field(job)?;
    progress::boundary(job, tell);
    let mut desk = Desk::new(job, None, tell);
    let boundary = desk.open(&job.field.boundary, "boundary")?;
    terminal::one_field(&boundary)?;
    desk.findings.extend(several_fields::check(job, &boundary)?);
    desk.findings.extend(terminal::forgotten(job, &boundary)?);
    let crs = desk.crs_of(&boundary, &job.field.boundary)?;
    let boundary = frame::to_wgs84(boundary, &crs)?;
    desk.settle(&boundary, &crs);
    around(desk, boundary)
}

/// Refuses a job that stands for many fields.
///
/// # Errors
/// A job with `split_by`.
pub fn for_one_field(job: &Job) -> Outcome<()> {
    let Some(attribute) = &job.field.split_by else {
        return Ok(());
    };
    Err(Fault::input(
        "plan.many_fields",
        Place::file(&job.file),
        format!("the job stands for many fields: split_by = '{attribute}'"),
        "a job for one field",
        "name one field in `only` of the boundary and leave split_by out; 'twinsow plan' and 'twinsow order' take the job as it is",
    ))
}

/// Places all inputs of one field, whose job this is, from the shared inputs.
///
/// # Errors
/// As [`gather`], for this field.
pub(super) fn gather_field(shared: &SharedInputs, nth: usize, job: &Job) -> Outcome<Inputs> {
    let mut desk = Desk::new(job, Some(shared), &progress::quiet);
    let boundary = shared.boundary(nth);
    // What came as text is GeoJSON; no file stands behind its name.
    if !shared.boundary_layer().given {
        terminal::one_field(&boundary)?;
        desk.findings.extend(terminal::forgotten(job, &boundary)?);
    }
    desk.note_loaded(shared.boundary_layer(), "boundary", &boundary);
    around(desk, boundary)
}

/// The plane of a boundary in degrees, and all other inputs in it.
fn around(mut desk: Desk, boundary: Layer) -> Outcome<Inputs> {
    let job = desk.job;
    let places: Vec<Xy> = polygon_points(&boundary);
    if places.is_empty() {
        return Err(crate::land::no_polygon(&boundary));
    }
    let extent = extent(places.iter().copied());
    let frame = Frame::centred_on(&places).map_err(|mut fault| {
        fault.place = boundary.place();
        fault
    })?;
    let boundary = frame::to_plane(boundary, &frame);
    if frame.area_error() > MOST_AREA_ERROR {
        desk.findings.push(Finding::warning(
            "plan.large_field",
            boundary.place(),
            format!(
                "the field is so large that plane areas differ from true ones by up to {:.1e}; plan its parts as fields of their own for exact totals",
                frame.area_error()
            ),
        ));
    }
    let mut placer = Placer {
        desk: &mut desk,
        frame: &frame,
        boundary: &boundary,
        extent,
    };
    // Water beside the field keeps the cells of the rim free, though it never touches the land.
    let around_m = map::around_m(job);
    let mut exclusions = Vec::new();
    for exclusion in &job.exclusions {
        let role = format!("exclusion '{}'", exclusion.name);
        let reach = exclusion.buffer_m + around_m;
        let source = terminal::obstacles(&exclusion.source, &job.folder);
        exclusions.push(placer.place(&source, &role, reach, false)?);
    }
    let mut setbacks = Vec::new();
    for setback in &job.setbacks {
        let role = format!("setback '{}'", setback.name);
        let reach = setback.distance_m + widening_m(&job.drill) + around_m;
        setbacks.push(placer.place(&setback.source, &role, reach, false)?);
    }
    let along = job.drive.as_ref().and_then(|drive| drive.along.as_ref());
    let guide = along
        .map(|source| placer.whole(source, "guide line"))
        .transpose()?;
    let mut special_areas = Vec::new();
    for area in &job.special_areas {
        let role = format!("special area '{}'", area.name);
        special_areas.push(placer.place(&area.source, &role, 0.0, false)?);
    }
    placer.desk.read_ahead();
    let mut zones = Vec::new();
    let mut cleaned = Vec::new();
    let mut zonal = Vec::new();
    for (nth, layer) in job.layers.iter().enumerate() {
        progress::layer(job, nth, placer.desk.tell);
        let role = format!("layer '{}'", layer.name);
        let (layer, moved) = match (&layer.values, &layer.zonal) {
            (Some(values), _) => placer.values(layer, values, &role)?,
            (None, Some(under)) => {
                let (layer, table) = placer.zonal(layer, under, &role)?;
                zonal.push(table);
                (layer, Vec::new())
            }
            (None, None) if layer.is_line() => (placer.sides(layer, &role)?, Vec::new()),
            (None, None) => (placer.place(&layer.source, &role, 0.0, true)?, Vec::new()),
        };
        zones.push(layer);
        cleaned.push(moved);
    }
    let tender = match &job.refill.tender {
        Some(source) => Some(placer.place(source, "tender", TENDER_REACH_M, false)?),
        None => None,
    };
    let (on_terminal, told) = on_terminal::read(job, &boundary)?;
    desk.findings.extend(told);
    if let Some(file) = &job.terminal.from {
        desk.provenance.push(Input {
            role: "task data from the terminal".to_owned(),
            file: file.display().to_string(),
            sha256: read::sha256(&job.folder.join(file))?,
            crs: String::new(),
            accuracy_m: None,
        });
    }
    let settings = match desk.shared {
        Some(shared) => Arc::clone(&shared.settings),
        None => Arc::new(Settings::read(job)?),
    };
    desk.provenance.extend(settings.inputs.iter().cloned());
    match desk.shared {
        Some(shared) => desk.findings.extend(shared.mixed_datums.clone()),
        None => desk.findings.extend(frame::mixed_datums(&desk.footings)),
    }
    Ok(Inputs {
        frame,
        boundary,
        exclusions,
        setbacks,
        special_areas,
        guide,
        zones,
        tender,
        on_terminal,
        cleaned,
        zonal,
        surfaces: desk.surfaces,
        tables: settings.tables.clone(),
        provenance: desk.provenance,
        findings: desk.findings,
    })
}

/// Files that hold settings: the machine file and the published tables that a job names.
pub(super) struct Settings {
    pub tables: Tables,
    pub inputs: Vec<Input>,
}

impl Settings {
    /// # Errors
    /// A table that is not there or not in its form.
    pub(super) fn read(job: &Job) -> Outcome<Self> {
        let text = |file: &Path| read::text(&job.folder.join(file));
        let sha256 = |file: &Path| read::sha256(&job.folder.join(file));
        Self::with(job, &text, &sha256)
    }

    /// The same, where `text` and `sha256` know the files.
    pub(super) fn with(
        job: &Job,
        text: &dyn Fn(&Path) -> Outcome<String>,
        sha256: &dyn Fn(&Path) -> Outcome<String>,
    ) -> Outcome<Self> {
        let tables = Tables::read(job, text)?;
        let machine = job.machine_file.as_deref();
        let machine = machine.map(|file| ("machine file".to_owned(), file));
        let inputs = machine.into_iter().chain(table_files(job));
        let inputs = inputs.map(|(role, file)| {
            Ok(Input {
                role,
                file: file.display().to_string(),
                sha256: sha256(file)?,
                crs: String::new(),
                accuracy_m: None,
            })
        });
        Ok(Self {
            tables,
            inputs: inputs.collect::<Outcome<_>>()?,
        })
    }
}

/// The CRS of a layer by its source and the job's transformation grids.
///
/// # Errors
/// A CRS that is missing or unknown.
pub(super) fn crs_of(job: &Job, layer: &Layer, source: &Source) -> Outcome<Crs> {
    let grids = job.transformation_grids.as_ref();
    let grids = grids.map(|folder| job.folder.join(folder));
    Crs::with_grids(layer, source.crs.as_deref(), grids.as_deref())
}

/// Plane areas are promised to agree with geodesic ones to this.
const MOST_AREA_ERROR: f64 = 1e-6;

/// A tender farther from the field than this does not stand at it.
const TENDER_REACH_M: f64 = 5000.0;

/// What has been read so far.
pub(super) struct Desk<'a> {
    pub(super) job: &'a Job,
    /// Where layers of a job for many fields come from.
    pub(super) shared: Option<&'a SharedInputs>,
    tell: Tell<'a>,
    provenance: Vec<Input>,
    pub(super) findings: Vec<Finding>,
    pub(super) footings: Vec<Footing>,
    pub(super) surfaces: Vec<SurfaceGrid>,
    /// Zone layers with the hash of their file, read side by side before their turn comes.
    ahead: Vec<(&'a Source, Outcome<(Layer, String)>)>,
}

impl<'a> Desk<'a> {
    fn new(job: &'a Job, shared: Option<&'a SharedInputs>, tell: Tell<'a>) -> Self {
        Self {
            job,
            shared,
            tell,
            provenance: Vec::new(),
            findings: Vec::new(),
            footings: Vec::new(),
            surfaces: Vec::new(),
            ahead: Vec::new(),
        }
    }

    /// Reads zone layers of polygons on all threads.
    fn read_ahead(&mut self) {
        if self.shared.is_some() {
            return;
        }
        let job = self.job;
        let drawn = job
            .layers
            .par_iter()
            .filter(|layer| layer.values.is_none() && layer.zonal.is_none());
        self.ahead = drawn
            .map(|layer| (&layer.source, with_hash(job, &layer.source)))
            .collect();
    }

    /// Keeps what is known of a layer from the shared inputs.
    fn note_loaded(&mut self, loaded: &IndexedLayer, role: &str, layer: &Layer) {
        self.provenance.push(loaded.input(role));
        self.findings.extend(layer.findings.iter().cloned());
        self.findings.extend(loaded.of_crs.iter().cloned());
    }

    fn open(&mut self, source: &Source, role: &str) -> Outcome<Layer> {
        let known = self.ahead.iter().position(|(ahead, _)| *ahead == source);
        let (layer, sha256) = match known {
            Some(at) => self.ahead.swap_remove(at).1?,
            None => with_hash(self.job, source)?,
        };
        self.note(source, role, sha256);
        Ok(layer)
    }

    /// Writes down where an input came from.
    pub(super) fn note_input(&mut self, source: &Source, role: &str) -> Outcome<()> {
        let sha256 = read::sha256(&self.job.folder.join(&source.file))?;
        self.note(source, role, sha256);
        Ok(())
    }

    pub(super) fn note(&mut self, source: &Source, role: &str, sha256: String) {
        self.provenance.push(Input {
            role: role.to_owned(),
            file: source.file.display().to_string(),
            sha256,
            crs: String::new(),
            accuracy_m: None,
        });
    }

    pub(super) fn crs_of(&mut self, layer: &Layer, source: &Source) -> Outcome<Crs> {
        let crs = crs_of(self.job, layer, source)?;
        self.note_crs(&crs);
        Ok(crs)
    }

    /// Writes down the CRS of the input that was noted last.
    pub(super) fn note_crs(&mut self, crs: &Crs) {
        if let Some(input) = self.provenance.last_mut() {
            input.crs.clone_from(&crs.name);
            input.accuracy_m = crs.accuracy_m;
        }
    }

    /// Keeps what reading and placing had to say.
    pub(super) fn settle(&mut self, layer: &Layer, crs: &Crs) {
        self.findings.extend(layer.findings.iter().cloned());
        self.findings.extend(crs.findings.iter().cloned());
        self.footings.push(crs.footing());
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

pub(super) struct Placer<'a, 'b> {
    pub(super) desk: &'a mut Desk<'b>,
    pub(super) frame: &'a Frame,
    pub(super) boundary: &'a Layer,
    /// Of the boundary, in degrees.
    extent: Option<[Xy; 2]>,
}

impl Placer<'_, '_> {
    /// Reads a layer and places all of it.
    fn whole(&mut self, source: &Source, role: &str) -> Outcome<Layer> {
        if let Some(loaded) = self.desk.shared.and_then(|shared| shared.layer(source)) {
            let layer = frame::to_plane(loaded.layer.clone(), self.frame);
            self.desk.note_loaded(loaded, role, &layer);
            return Ok(layer);
        }
        let layer = self.desk.open(source, role)?;
        let crs = self.desk.crs_of(&layer, source)?;
        let layer = frame::place(layer, &crs, self.frame)?;
        self.desk.settle(&layer, &crs);
        Ok(layer)
    }

    /// The two sides of a line, from its file or from the points in the job.
    fn sides(&mut self, layer: &ZoneLayer, role: &str) -> Outcome<Layer> {
        let points = layer.line.iter();
        let points: Vec<Xy> = points
            .map(|point| self.frame.to_plane([point.lon, point.lat]))
            .collect();
        let line = match points.is_empty() {
            true => self.whole(&layer.source, role)?,
            false => divide::of_points(&self.desk.job.file, points),
        };
        divide::sides(line, &polygon_points(self.boundary))
    }

    /// Reads a layer and places what lies within `margin_m` of the field.
    pub(super) fn place(
        &mut self,
        source: &Source,
        role: &str,
        margin_m: f64,
        must_meet: bool,
    ) -> Outcome<Layer> {
        let shared = self.desk.shared;
        let loaded = shared.and_then(|shared| shared.layer(source));
        if let (Some(loaded), Some(extent)) = (loaded, self.extent) {
            let layer = frame::to_plane(loaded.around(extent, margin_m), self.frame);
            self.desk.note_loaded(loaded, role, &layer);
            return Ok(near(layer, self.boundary, margin_m));
        }
        let layer = self.desk.open(source, role)?;
        let crs = self.desk.crs_of(&layer, source)?;
        if must_meet {
            frame::must_meet(&layer, &crs, self.frame)?;
        }
        let layer = frame::place(layer, &crs, self.frame)?;
        self.desk.settle(&layer, &crs);
        Ok(near(layer, self.boundary, margin_m))
    }
}

fn polygon_points(layer: &Layer) -> Vec<Xy> {
    let polygons = layer
        .features
        .iter()
        .filter_map(|feature| match &feature.geometry {
            Geometry::Polygons(polygons) => Some(polygons),
            _ => None,
        });
    polygons
        .flatten()
        .flat_map(|polygon| polygon.exterior.iter().copied())
        .collect()
}
