//! Reads what a job names and places it in the field's plane.

use super::Input;
use super::wanted::{self, Wanted};
use crate::agronomy::{Tables, table_files};
use crate::findings::{Fault, Finding, Outcome, Place};
use crate::frame::{self, Crs, Frame};
use crate::job::{Job, Source, SurfaceMethod, Values, ZoneLayer};
use crate::land::near;
use crate::read::{self, Geometry, Layer, Raster, Xy};
use crate::surface;

/// All inputs of a job, in the field's plane.
pub struct Inputs {
    pub frame: Frame,
    pub boundary: Layer,
    /// In job order, as all lists here; only what lies near the field.
    pub exclusions: Vec<Layer>,
    pub setbacks: Vec<Layer>,
    pub special_areas: Vec<Layer>,
    pub zones: Vec<Layer>,
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
            "name one field in `only` of the boundary and leave split_by out; 'twinsow plan' takes the job as it is",
        ));
    }
    let mut desk = Desk {
        job,
        provenance: Vec::new(),
        findings: Vec::new(),
        crs: Vec::new(),
    };
    let boundary = desk.open(&job.field.boundary, "boundary")?;
    let crs = desk.crs_of(&boundary, &job.field.boundary)?;
    let boundary = frame::to_wgs84(boundary, &crs)?;
    desk.settle(&boundary, crs);
    let (frame, boundary) = framed(boundary, &mut desk.findings)?;
    let mut placer = Placer {
        desk: &mut desk,
        frame: &frame,
        boundary: &boundary,
    };
    let mut exclusions = Vec::new();
    for wanted in wanted::exclusions(job) {
        exclusions.push(placer.place(&wanted, false)?);
    }
    let mut setbacks = Vec::new();
    for wanted in wanted::setbacks(job) {
        setbacks.push(placer.place(&wanted, false)?);
    }
    let mut special_areas = Vec::new();
    for wanted in wanted::special_areas(job) {
        special_areas.push(placer.place(&wanted, false)?);
    }
    let mut zones = Vec::new();
    for (layer, wanted) in job.layers.iter().zip(wanted::layers(job)) {
        zones.push(match &layer.values {
            None => placer.place(&wanted, true)?,
            Some(values) => placer.values(layer, values, &wanted)?,
        });
    }
    let (tables, of_tables) = tables(job)?;
    desk.provenance.extend(of_tables);
    let crs: Vec<&Crs> = desk.crs.iter().collect();
    desk.findings.extend(frame::mixed_datums(&crs));
    Ok(Inputs {
        frame,
        boundary,
        exclusions,
        setbacks,
        special_areas,
        zones,
        tables,
        provenance: desk.provenance,
        findings: desk.findings,
    })
}

/// The published tables that a job names, and their files.
///
/// # Errors
/// A table that is not there or not in its form.
pub(super) fn tables(job: &Job) -> Outcome<(Tables, Vec<Input>)> {
    let tables = Tables::read(job, |file| read::text(&job.folder.join(file)))?;
    let mut inputs = Vec::new();
    for (role, file) in table_files(job) {
        inputs.push(Input {
            role,
            file: file.display().to_string(),
            sha256: read::sha256(&job.folder.join(file))?,
            crs: String::new(),
            accuracy_m: None,
        });
    }
    Ok((tables, inputs))
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

/// The field's plane, and its boundary (in degrees) placed there.
///
/// # Errors
/// No polygons; places that no plane can be centred on.
pub(super) fn framed(boundary: Layer, findings: &mut Vec<Finding>) -> Outcome<(Frame, Layer)> {
    let places: Vec<Xy> = polygon_points(&boundary);
    if places.is_empty() {
        return Err(crate::land::no_polygon(&boundary));
    }
    let frame = Frame::centred_on(&places).map_err(|mut fault| {
        fault.place = boundary.place();
        fault
    })?;
    let boundary = frame::to_plane(boundary, &frame);
    if frame.area_error() > MOST_AREA_ERROR {
        findings.push(Finding::warning(
            "plan.large_field",
            boundary.place(),
            format!(
                "the field is so large that plane areas differ from true ones by up to {:.1e}; plan its parts as fields of their own for exact totals",
                frame.area_error()
            ),
        ));
    }
    Ok((frame, boundary))
}

/// Plane areas are promised to agree with geodesic ones to this.
const MOST_AREA_ERROR: f64 = 1e-6;

/// What has been read so far.
struct Desk<'a> {
    job: &'a Job,
    provenance: Vec<Input>,
    findings: Vec<Finding>,
    crs: Vec<Crs>,
}

impl Desk<'_> {
    fn open(&mut self, source: &Source, role: &str) -> Outcome<Layer> {
        let layer = read::open(source, &self.job.folder)?;
        self.note_input(source, role)?;
        Ok(layer)
    }

    /// Writes down where an input came from.
    fn note_input(&mut self, source: &Source, role: &str) -> Outcome<()> {
        self.provenance.push(Input {
            role: role.to_owned(),
            file: source.file.display().to_string(),
            sha256: read::sha256(&self.job.folder.join(&source.file))?,
            crs: String::new(),
            accuracy_m: None,
        });
        Ok(())
    }

    fn crs_of(&mut self, layer: &Layer, source: &Source) -> Outcome<Crs> {
        let crs = crs_of(self.job, layer, source)?;
        if let Some(input) = self.provenance.last_mut() {
            input.crs.clone_from(&crs.name);
            input.accuracy_m = crs.accuracy_m;
        }
        Ok(crs)
    }

    /// Keeps what reading and placing had to say.
    fn settle(&mut self, layer: &Layer, crs: Crs) {
        self.findings.extend(layer.findings.iter().cloned());
        self.findings.extend(crs.findings.iter().cloned());
        self.crs.push(crs);
    }
}

struct Placer<'a, 'b> {
    desk: &'a mut Desk<'b>,
    frame: &'a Frame,
    boundary: &'a Layer,
}

impl Placer<'_, '_> {
    /// Reads a layer and places what lies near enough to the field.
    fn place(&mut self, wanted: &Wanted, must_meet: bool) -> Outcome<Layer> {
        let layer = self.desk.open(wanted.source, &wanted.role)?;
        let crs = self.desk.crs_of(&layer, wanted.source)?;
        if must_meet {
            frame::must_meet(&layer, &crs, self.frame)?;
        }
        let layer = frame::place(layer, &crs, self.frame)?;
        self.desk.settle(&layer, crs);
        Ok(near(layer, self.boundary, wanted.margin_m))
    }

    /// Makes polygons of a raster or of points, whichever the layer is.
    fn values(&mut self, layer: &ZoneLayer, values: &Values, wanted: &Wanted) -> Outcome<Layer> {
        match wanted::surface(self.desk.job, layer, values)? {
            None => self.raster(layer, values, wanted),
            Some(surface) => {
                let points = self.place(wanted, true)?;
                let zones = surface_of(points, self.boundary, layer, values, surface)?;
                self.desk.findings.extend(zones.findings.iter().cloned());
                Ok(zones)
            }
        }
    }

    /// Reads a raster, makes polygons of its classes over the field and places them.
    fn raster(&mut self, layer: &ZoneLayer, values: &Values, wanted: &Wanted) -> Outcome<Layer> {
        let raster = Raster::open(wanted.source, &self.desk.job.folder)?;
        self.desk.note_input(wanted.source, &wanted.role)?;
        let outline = raster.outline();
        let crs = self.desk.crs_of(&outline, wanted.source)?;
        let zones = raster_of(&raster, &crs, (self.frame, self.boundary), layer, values)?;
        self.desk.settle(&zones, crs);
        Ok(near(zones, self.boundary, wanted.margin_m))
    }
}

/// Polygons of the classes of a surface through points.
pub(super) fn surface_of(
    points: Layer,
    boundary: &Layer,
    layer: &ZoneLayer,
    values: &Values,
    surface: SurfaceMethod,
) -> Outcome<Layer> {
    // What reading had to say has been kept already.
    let points = Layer {
        findings: Vec::new(),
        ..points
    };
    surface::point_zones(&points, boundary, layer, values, surface)
}

/// Polygons of the classes of a raster over a field, in its plane.
pub(super) fn raster_of(
    raster: &Raster,
    crs: &Crs,
    field: (&Frame, &Layer),
    layer: &ZoneLayer,
    values: &Values,
) -> Outcome<Layer> {
    frame::must_meet(&raster.outline(), crs, field.0)?;
    let zones = surface::raster_zones(raster, crs, field, layer, values)?;
    frame::place(zones, crs, field.0)
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
