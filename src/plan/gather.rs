//! Reads what a job names and places it in the field's plane.

use super::kept::{Kept, extent};
use super::shelf::Shelf;
use super::{Input, terminal};
use crate::agronomy::{Tables, table_files};
use crate::findings::{Fault, Finding, Outcome, Place};
use crate::frame::{self, Crs, Footing, Frame};
use crate::job::{ClassMethod, Job, Source, Values, ZoneLayer};
use crate::land::{near, widening_m};
use crate::map;
use crate::read::{self, Geometry, Layer, Raster, Xy};
use crate::surface::{self, CellValues, Cleaned, PlaneCells};
use std::path::Path;
use std::rc::Rc;
use std::sync::Arc;

/// All inputs of a job, in the field's plane.
pub struct Inputs {
    pub frame: Frame,
    pub boundary: Layer,
    /// In job order, as all lists here; only what lies near the field.
    pub exclusions: Vec<Layer>,
    pub setbacks: Vec<Layer>,
    pub special_areas: Vec<Layer>,
    /// The A-B line of the interior bouts.
    pub guide: Option<Layer>,
    pub zones: Vec<Layer>,
    /// Where the tender stands.
    pub tender: Option<Layer>,
    /// What cleaning zones that were made from values moved, by layer.
    pub cleaned: Vec<Vec<Cleaned>>,
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
    if let Some(attribute) = &job.field.split_by {
        return Err(Fault::input(
            "plan.many_fields",
            Place::file(&job.file),
            format!("the job stands for many fields: split_by = '{attribute}'"),
            "a job for one field",
            "name one field in `only` of the boundary and leave split_by out; 'twinsow plan' and 'twinsow order' take the job as it is",
        ));
    }
    let mut desk = Desk::new(job, None);
    let boundary = desk.open(&job.field.boundary, "boundary")?;
    terminal::one_field(&boundary)?;
    desk.findings.extend(terminal::forgotten(job, &boundary)?);
    let crs = desk.crs_of(&boundary, &job.field.boundary)?;
    let boundary = frame::to_wgs84(boundary, &crs)?;
    desk.settle(&boundary, &crs);
    around(desk, boundary)
}

/// Places all inputs of one field, whose job this is, from the shelf.
///
/// # Errors
/// As [`gather`], for this field.
pub(super) fn gather_field(shelf: &Shelf, nth: usize, job: &Job) -> Outcome<Inputs> {
    let mut desk = Desk::new(job, Some(shelf));
    let boundary = shelf.boundary(nth);
    // What came as text is GeoJSON; no file stands behind its name.
    if !shelf.kept_boundary().given {
        terminal::one_field(&boundary)?;
        desk.findings.extend(terminal::forgotten(job, &boundary)?);
    }
    desk.note_kept(shelf.kept_boundary(), "boundary", &boundary);
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
        .map(|source| placer.whole(source, "A-B line"))
        .transpose()?;
    let mut special_areas = Vec::new();
    for area in &job.special_areas {
        let role = format!("special area '{}'", area.name);
        special_areas.push(placer.place(&area.source, &role, 0.0, false)?);
    }
    let mut zones = Vec::new();
    let mut cleaned = Vec::new();
    for layer in &job.layers {
        let role = format!("layer '{}'", layer.name);
        let (layer, moved) = match &layer.values {
            None => (placer.place(&layer.source, &role, 0.0, true)?, Vec::new()),
            Some(values) => placer.values(layer, values, &role)?,
        };
        zones.push(layer);
        cleaned.push(moved);
    }
    let tender = match &job.refill.tender {
        Some(source) => Some(placer.place(source, "tender", TENDER_REACH_M, false)?),
        None => None,
    };
    let settings = match desk.shelf {
        Some(shelf) => Arc::clone(&shelf.settings),
        None => Arc::new(Settings::read(job)?),
    };
    desk.provenance.extend(settings.inputs.iter().cloned());
    match desk.shelf {
        Some(shelf) => desk.findings.extend(shelf.mixed_datums.clone()),
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
        cleaned,
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

/// Points within this distance of the field's box still count for its surface.
const POINT_REACH_M: f64 = 50.0;

/// What has been read so far.
struct Desk<'a> {
    job: &'a Job,
    /// Where layers of a job for many fields come from.
    shelf: Option<&'a Shelf>,
    provenance: Vec<Input>,
    findings: Vec<Finding>,
    footings: Vec<Footing>,
}

impl<'a> Desk<'a> {
    fn new(job: &'a Job, shelf: Option<&'a Shelf>) -> Self {
        Self {
            job,
            shelf,
            provenance: Vec::new(),
            findings: Vec::new(),
            footings: Vec::new(),
        }
    }

    /// Keeps what is known of a layer from the shelf.
    fn note_kept(&mut self, kept: &Kept, role: &str, layer: &Layer) {
        self.provenance.push(kept.input(role));
        self.findings.extend(layer.findings.iter().cloned());
        self.findings.extend(kept.of_crs.iter().cloned());
    }

    fn open(&mut self, source: &Source, role: &str) -> Outcome<Layer> {
        let layer = read::open(source, &self.job.folder)?;
        self.note_input(source, role)?;
        Ok(layer)
    }

    /// Writes down where an input came from.
    fn note_input(&mut self, source: &Source, role: &str) -> Outcome<()> {
        let sha256 = read::sha256(&self.job.folder.join(&source.file))?;
        self.note(source, role, sha256);
        Ok(())
    }

    fn note(&mut self, source: &Source, role: &str, sha256: String) {
        self.provenance.push(Input {
            role: role.to_owned(),
            file: source.file.display().to_string(),
            sha256,
            crs: String::new(),
            accuracy_m: None,
        });
    }

    fn crs_of(&mut self, layer: &Layer, source: &Source) -> Outcome<Crs> {
        let crs = crs_of(self.job, layer, source)?;
        self.note_crs(&crs);
        Ok(crs)
    }

    /// Writes down the CRS of the input that was noted last.
    fn note_crs(&mut self, crs: &Crs) {
        if let Some(input) = self.provenance.last_mut() {
            input.crs.clone_from(&crs.name);
            input.accuracy_m = crs.accuracy_m;
        }
    }

    /// Keeps what reading and placing had to say.
    fn settle(&mut self, layer: &Layer, crs: &Crs) {
        self.findings.extend(layer.findings.iter().cloned());
        self.findings.extend(crs.findings.iter().cloned());
        self.footings.push(crs.footing());
    }
}

struct Placer<'a, 'b> {
    desk: &'a mut Desk<'b>,
    frame: &'a Frame,
    boundary: &'a Layer,
    /// Of the boundary, in degrees.
    extent: Option<[Xy; 2]>,
}

impl Placer<'_, '_> {
    /// Reads a layer and places all of it.
    fn whole(&mut self, source: &Source, role: &str) -> Outcome<Layer> {
        if let Some(kept) = self.desk.shelf.and_then(|shelf| shelf.kept(source)) {
            let layer = frame::to_plane(kept.layer.clone(), self.frame);
            self.desk.note_kept(kept, role, &layer);
            return Ok(layer);
        }
        let layer = self.desk.open(source, role)?;
        let crs = self.desk.crs_of(&layer, source)?;
        let layer = frame::place(layer, &crs, self.frame)?;
        self.desk.settle(&layer, &crs);
        Ok(layer)
    }

    /// Reads a layer and places what lies within `margin_m` of the field.
    fn place(
        &mut self,
        source: &Source,
        role: &str,
        margin_m: f64,
        must_meet: bool,
    ) -> Outcome<Layer> {
        let shelf = self.desk.shelf;
        let kept = shelf.and_then(|shelf| shelf.kept(source));
        if let (Some(kept), Some(extent)) = (kept, self.extent) {
            let layer = frame::to_plane(kept.around(extent, margin_m), self.frame);
            self.desk.note_kept(kept, role, &layer);
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

    /// Makes polygons of rasters or of points, whichever the layer is.
    fn values(&mut self, layer: &ZoneLayer, values: &Values, role: &str) -> Outcome<Zoned> {
        if values.method != ClassMethod::KMeans && values.surface.is_none() {
            return self.raster(layer, values, role);
        }
        let cells = PlaneCells::over(self.boundary, values)?;
        let mut layers = vec![self.on_cells(&cells, &layer.source, values, role)?];
        for (n, also) in values.also.iter().enumerate() {
            let role = format!("{role}, also {}", n + 1);
            layers.push(self.on_cells(&cells, &also.source, &also.values(), &role)?);
        }
        let like = self.in_plane(&layer.source);
        let (zones, cleaned) = surface::cell_zones(&cells, &layers, &like, values)?;
        self.desk.findings.extend(zones.findings.iter().cloned());
        Ok((zones, cleaned))
    }

    /// An empty layer in the field's plane that stands for a file in messages.
    fn in_plane(&self, source: &Source) -> Layer {
        Layer {
            file: self.desk.job.folder.join(&source.file),
            features: Vec::new(),
            findings: Vec::new(),
            ..self.boundary.clone()
        }
    }

    /// The values of a raster or of points on cells.
    fn on_cells(
        &mut self,
        cells: &PlaneCells,
        source: &Source,
        values: &Values,
        role: &str,
    ) -> Outcome<CellValues> {
        match values.surface {
            None => {
                let (raster, crs) = self.open_raster(source, role)?;
                let field = (self.frame, self.boundary);
                let found = cells.raster(&raster, &crs, field, role, values)?;
                self.desk.findings.extend(crs.findings.iter().cloned());
                self.desk.footings.push(crs.footing());
                Ok(found)
            }
            Some(surface) => {
                let file = self.desk.job.folder.join(&source.file);
                if self.is_raster(source) {
                    return Err(no_match(
                        &file,
                        role,
                        "this is a raster, and `surface` is for points",
                        "remove `surface` and `column`, or name a file of points",
                    ));
                }
                let points = self.place(source, role, POINT_REACH_M, true)?;
                // What reading had to say has been kept already.
                let points = Layer {
                    findings: Vec::new(),
                    ..points
                };
                cells.points(&points, role, values, surface)
            }
        }
    }

    /// Whether a source is a raster; the shelf knows without looking.
    fn is_raster(&self, source: &Source) -> bool {
        match self.desk.shelf {
            Some(shelf) => shelf.raster(source).is_some(),
            None => Raster::meant(source, &self.desk.job.folder),
        }
    }

    fn open_raster(&mut self, source: &Source, role: &str) -> Outcome<(Raster, Rc<Crs>)> {
        let file = self.desk.job.folder.join(&source.file);
        if !self.is_raster(source) {
            if self.desk.shelf.is_none() {
                // A file that is missing or damaged is told so first.
                read::open(source, &self.desk.job.folder)?;
            }
            return Err(no_raster(&file, role));
        }
        let shelf = self.desk.shelf;
        let (raster, crs) = match shelf.and_then(|shelf| shelf.raster(source)) {
            Some(kept) => {
                self.desk.note(source, role, kept.sha256.clone());
                let crs = kept.crs(self.desk.job)?;
                self.desk.note_crs(&crs);
                (kept.raster.clone(), crs)
            }
            None => {
                let raster = Raster::open(source, &self.desk.job.folder)?;
                self.desk.note_input(source, role)?;
                let crs = self.desk.crs_of(&raster.outline(), source)?;
                (raster, Rc::new(crs))
            }
        };
        frame::must_meet(&raster.outline(), &crs, self.frame)?;
        Ok((raster, crs))
    }

    /// Reads a raster, makes polygons of its classes over the field and places them.
    fn raster(&mut self, layer: &ZoneLayer, values: &Values, role: &str) -> Outcome<Zoned> {
        let (raster, crs) = self.open_raster(&layer.source, role)?;
        let field = (self.frame, self.boundary);
        let (zones, cleaned) = surface::raster_zones(&raster, &crs, field, layer, values)?;
        let zones = frame::place(zones, &crs, self.frame)?;
        self.desk.settle(&zones, &crs);
        Ok((near(zones, self.boundary, 0.0), cleaned))
    }
}

/// A layer of zones, and what cleaning them moved.
type Zoned = (Layer, Vec<Cleaned>);

fn no_raster(file: &Path, role: &str) -> Box<Fault> {
    no_match(
        file,
        role,
        "this is no raster",
        "for points add surface = \"kriging\" and column = \"...\" to `values`; for polygons replace `values` by class_attribute",
    )
}

fn no_match(file: &Path, role: &str, found: &str, next: &str) -> Box<Fault> {
    Fault::input(
        "plan.values",
        Place::file(file),
        format!("{found} ({role})"),
        "`values` with `surface` and `column` for points, without them for a raster",
        next,
    )
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
