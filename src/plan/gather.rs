//! Asks for what a job names and places it in the field's plane.

use super::inputs::{Around, FoundLayer, Inputs, Origin, extent};
use super::on_terminal::{self, OnTerminal};
use super::progress;
use super::{Input, Options, divide, placed, terminal};
use crate::agronomy::Tables;
use crate::coordinates::{LonLat, PlaneXy};
use crate::findings::{Fault, Finding, Outcome, Place};
use crate::frame::{self, Footing, Frame, Near};
use crate::job::{Job, Source, ZoneLayer};
use crate::land::{near, widening_m};
use crate::map;
use crate::read::{self, Geometry, Layer};
use crate::surface::{Cleaned, SurfaceGrid, ZonalTable};
use rayon::prelude::*;

/// All layers of a job, in the field's plane.
pub struct Gathered {
    /// The field's own plane.
    pub frame: Frame,
    /// The field, in its plane.
    pub boundary: Layer<PlaneXy>,
    /// In job order, as all lists here; only what lies near the field.
    pub exclusions: Vec<Layer<PlaneXy>>,
    /// What setbacks are measured from.
    pub setbacks: Vec<Layer<PlaneXy>>,
    /// Areas with settings of their own.
    pub special_areas: Vec<Layer<PlaneXy>>,
    /// Per trial the area that its plots lie in, where a file has it.
    pub trial_areas: Vec<Option<Layer<PlaneXy>>>,
    /// The line that the interior bouts run along.
    pub guide: Option<Layer<PlaneXy>>,
    /// Zone layers; those from values are polygons by now.
    pub zones: Vec<Layer<PlaneXy>>,
    /// Where the tender stands.
    pub tender: Option<Layer<PlaneXy>>,
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
    /// What reading and placing had to say.
    pub findings: Vec<Finding>,
}

/// Asks for all layers of a job and places them: the first half of [`super::prepare`].
///
/// # Errors
/// A file that cannot be read or understood; a CRS that is missing or unknown; a zone layer that
/// misses the field; a table that is not there or not in its form; a job for many fields.
pub fn gather(job: &Job, inputs: &impl Inputs, options: &Options) -> Outcome<Gathered> {
    gathered(job, inputs, options)
}

/// The same, compiled once for all inputs.
fn gathered(job: &Job, inputs: &dyn Inputs, options: &Options) -> Outcome<Gathered> {
    for_one_field(job)?;
    progress::boundary(job, options.tell);
    let (boundary, of_boundary) = inputs.boundary(job)?;
    let mut placer = Placer::at(boundary, &of_boundary, job, inputs)?;
    placer.note(BOUNDARY, of_boundary);
    if placer.frame.area_error() > MOST_AREA_ERROR {
        placer.findings.push(Finding::warning(
            "plan.large_field",
            placer.boundary.place(),
            format!(
                "the field is so large that plane areas differ from true ones by up to {:.1e}; plan its parts as fields of their own for exact totals",
                placer.frame.area_error()
            ),
        ));
    }
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
    let mut trial_areas = Vec::new();
    for trial in &job.trials {
        let role = format!("area of the trial '{}'", trial.name);
        let area = trial.here_source.as_ref();
        let area = area.map(|source| placer.place(source, &role, 0.0, false));
        trial_areas.push(area.transpose()?);
    }
    let mut zones = Vec::new();
    let mut cleaned = Vec::new();
    let mut zonal = Vec::new();
    for (nth, (layer, drawn)) in job.layers.iter().zip(drawn(job, inputs)).enumerate() {
        progress::layer(job, nth, options.tell);
        let role = format!("layer '{}'", layer.name);
        let (layer, moved) = match (&layer.values, &layer.zonal, drawn) {
            (Some(values), ..) => placer.values(layer, values, &role)?,
            (None, Some(under), _) => {
                let (layer, table) = placer.zonal(layer, under, &role)?;
                zonal.push(table);
                (layer, Vec::new())
            }
            (None, None, None) => (placer.sides(layer, &role)?, Vec::new()),
            (None, None, Some(found)) => {
                let found = found.map_err(|fault| placer.fitted(fault, &layer.source))?;
                let drawn = placer.place_found(found, &layer.source, &role, 0.0, true)?;
                (
                    placer.of_ledger(layer, drawn, job.sowing_date.as_deref())?,
                    Vec::new(),
                )
            }
        };
        zones.push(layer);
        cleaned.push(moved);
    }
    let tender = match &job.refill.tender {
        Some(source) => Some(placer.place(source, "tender", TENDER_REACH_M, false)?),
        None => None,
    };
    let (on_terminal, told) = on_terminal::read(job, &placer.boundary)?;
    placer.findings.extend(told);
    if let Some(file) = &job.terminal.from {
        let sha256 = read::sha256(&job.folder.join(file))?;
        placer.provenance.push(Input {
            role: "task data from the terminal".to_owned(),
            ..Input::of_file(file, sha256)
        });
    }
    let settings = inputs.settings(job)?;
    placer.provenance.extend(settings.inputs.iter().cloned());
    let mixed_datums = frame::mixed_datums(&placer.footings);
    placer.findings.extend(mixed_datums);
    Ok(Gathered {
        frame: placer.frame,
        boundary: placer.boundary,
        exclusions,
        setbacks,
        special_areas,
        trial_areas,
        guide,
        zones,
        tender,
        on_terminal,
        cleaned,
        zonal,
        surfaces: placer.surfaces,
        tables: settings.tables.clone(),
        provenance: placer.provenance,
        findings: placer.findings,
    })
}

/// Per zone layer of a job what was found of it, if it is polygons that somebody drew; read on all threads.
fn drawn<'a>(job: &Job, inputs: &'a dyn Inputs) -> Vec<Option<Outcome<FoundLayer<'a>>>> {
    let layers = job.layers.par_iter();
    layers
        .map(|layer| {
            let is_drawn = layer.values.is_none() && layer.zonal.is_none() && !layer.is_line();
            is_drawn.then(|| inputs.layer(job, &layer.source))
        })
        .collect()
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

/// Role of the boundary among the inputs.
pub(super) const BOUNDARY: &str = "boundary";

/// Plane areas are promised to agree with geodesic ones to this.
const MOST_AREA_ERROR: f64 = 1e-6;

/// A tender farther from the field than this does not stand at it.
const TENDER_REACH_M: f64 = 5000.0;

/// Places layers round a field, and keeps what there is to say about them.
pub(super) struct Placer<'a> {
    pub(super) job: &'a Job,
    pub(super) inputs: &'a dyn Inputs,
    pub(super) frame: Frame,
    pub(super) boundary: Layer<PlaneXy>,
    /// Corners of the boundary, and its CRS.
    near: Near,
    pub(super) provenance: Vec<Input>,
    pub(super) findings: Vec<Finding>,
    pub(super) footings: Vec<Footing>,
    pub(super) surfaces: Vec<SurfaceGrid>,
}

impl<'a> Placer<'a> {
    /// For the plane of a boundary in degrees.
    fn at(
        boundary: Layer<LonLat>,
        origin: &Origin,
        job: &'a Job,
        inputs: &'a dyn Inputs,
    ) -> Outcome<Self> {
        let places: Vec<LonLat> = polygon_points(&boundary);
        let Some(extent) = extent(places.iter().copied()) else {
            return Err(crate::land::no_polygon(&boundary));
        };
        let frame = Frame::centred_on(&places).map_err(|mut fault| {
            fault.place = boundary.place();
            fault
        })?;
        Ok(Self {
            boundary: frame::to_plane(boundary, &frame),
            job,
            inputs,
            frame,
            near: Near {
                extent,
                crs: origin.input.crs.clone(),
            },
            provenance: Vec::new(),
            findings: Vec::new(),
            footings: Vec::new(),
            surfaces: Vec::new(),
        })
    }

    /// Keeps where a layer came from, and what there is to say about it.
    fn note(&mut self, role: &str, origin: Origin) {
        self.provenance.push(Input {
            role: role.to_owned(),
            ..origin.input
        });
        self.findings.extend(origin.findings);
        self.footings.push(origin.footing);
    }

    /// The layer of a source.
    fn found(&self, source: &Source) -> Outcome<FoundLayer<'a>> {
        let found = self.inputs.layer(self.job, source);
        found.map_err(|fault| self.fitted(fault, source))
    }

    /// A fault about a source; where that says not what its coordinates mean, with the CRSs that would put it on the field.
    pub(super) fn fitted(&self, fault: Box<Fault>, source: &Source) -> Box<Fault> {
        frame::fitted(fault, source, &self.job.folder, Some(&self.near))
    }

    /// Places all of a layer.
    fn whole(&mut self, source: &Source, role: &str) -> Outcome<Layer<PlaneXy>> {
        let found = self.found(source)?;
        self.placed(found, source, role, None, false)
    }

    /// A layer as it was drawn; of a ledger's land with what was placed as its classes.
    fn of_ledger(
        &mut self,
        layer: &ZoneLayer,
        drawn: Layer<PlaneXy>,
        sowing_date: Option<&str>,
    ) -> Outcome<Layer<PlaneXy>> {
        let Some(since) = &layer.placed_since else {
            return Ok(drawn);
        };
        let on_field = placed::on_field(drawn, &self.boundary, &self.frame)?;
        let (classed, told) = placed::classed(on_field, since, sowing_date)?;
        self.findings.extend(told);
        Ok(classed)
    }

    /// The two sides of a line, from its file or from the points in the job.
    fn sides(&mut self, layer: &ZoneLayer, role: &str) -> Outcome<Layer<PlaneXy>> {
        let points = layer.line.iter();
        let points: Vec<PlaneXy> = points
            .map(|point| self.frame.to_plane(point.lon_lat()))
            .collect();
        let line = match points.is_empty() {
            true => self.whole(&layer.source, role)?,
            false => divide::of_points(&self.job.file, points),
        };
        divide::sides(line, &polygon_points(&self.boundary))
    }

    /// Places what of a layer lies within `margin_m` of the field.
    pub(super) fn place(
        &mut self,
        source: &Source,
        role: &str,
        margin_m: f64,
        must_meet: bool,
    ) -> Outcome<Layer<PlaneXy>> {
        let found = self.found(source)?;
        self.place_found(found, source, role, margin_m, must_meet)
    }

    fn place_found(
        &mut self,
        found: FoundLayer,
        source: &Source,
        role: &str,
        margin_m: f64,
        must_meet: bool,
    ) -> Outcome<Layer<PlaneXy>> {
        let layer = self.placed(found, source, role, Some(margin_m), must_meet)?;
        Ok(near(layer, &self.boundary, margin_m))
    }

    fn placed(
        &mut self,
        found: FoundLayer,
        source: &Source,
        role: &str,
        margin_m: Option<f64>,
        must_meet: bool,
    ) -> Outcome<Layer<PlaneXy>> {
        let around = Around {
            frame: &self.frame,
            extent: self.near.extent,
            margin_m,
            must_meet,
        };
        let placed = found.placed(self.job, source, around);
        let (layer, origin) = placed.map_err(|fault| self.fitted(fault, source))?;
        self.note(role, origin);
        Ok(layer)
    }
}

fn polygon_points<P: Copy>(layer: &Layer<P>) -> Vec<P> {
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
