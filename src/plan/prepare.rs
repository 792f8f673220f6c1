//! From the inputs of a job to all its geometry, once: [`prepare`].

use super::asked::Asked;
use super::gather::BOUNDARY;
use super::inputs::Inputs;
use super::progress::{self, Tell};
use super::{Gathered, Input, OnTerminal, Options, gather};
use crate::agronomy::Tables;
use crate::coordinates::PlaneXy;
use crate::drive::tender::{self, Tender};
use crate::drive::tramline::{self, Rhythm};
use crate::drive::{self, Bout, Curves, Sections, Ways, spread, too_tight};
use crate::findings::{Finding, Outcome};
use crate::frame::{Frame, Near};
use crate::geometry::Shape;
use crate::job::Job;
use crate::land::{self, Land, LandLayers};
use crate::map::{self, GridCells};
use crate::read::Layer;
use crate::surface::{Cleaned, SurfaceGrid, ZonalTable};
use crate::zones::{self, LandUnits, ZoneLayers};

/// All geometry of a job: nothing here depends on a rate.
pub struct Prepared {
    /// The field's own plane.
    pub frame: Frame,
    /// Field, headland and interior.
    pub land: Land,
    /// Pieces of land that tile the field, with the facts about each.
    pub units: LandUnits,
    /// Cells of both grids, with the shares of land in each.
    pub cells: GridCells,
    /// The drive without kilograms.
    pub drive: Option<drive::Report>,
    /// What cleaning zones that were made from values moved, by layer.
    pub cleaned: Vec<Vec<Cleaned>>,
    /// What lies under the polygons of layers with `zonal`, in job order.
    pub zonal: Vec<ZonalTable>,
    /// Surfaces through points, in job order.
    pub surfaces: Vec<SurfaceGrid>,
    /// The tramlines, with the length of what closes on the headland; `None` where the job asks for none.
    pub tramlines: Option<Rhythm>,
    /// The bouts of that drive; empty without one.
    pub bouts: Vec<Bout>,
    /// What units of their own spread along them, without rates.
    pub spread_ways: Vec<spread::Way>,
    /// Per bout: whether its end is where the tender stands.
    pub at_tender: Vec<bool>,
    /// Per trial the area that its plots lie in, where a file has it: its polygons.
    pub trial_areas: Vec<Option<Vec<Shape>>>,
    /// Published tables that the job named when it was read.
    pub tables: Tables,
    /// Field and machine as the terminal knows them.
    pub on_terminal: OnTerminal,
    /// The files that it was made from.
    pub inputs: Vec<Input>,
    /// What there is to say about the inputs.
    pub findings: Vec<Finding>,
}

impl Prepared {
    /// Where other files of this field should lie: on its boundary.
    pub fn near(&self) -> Near {
        let boundary = self.inputs.iter().find(|input| input.role == BOUNDARY);
        Near {
            crs: boundary.map_or_else(String::new, |input| input.crs.clone()),
            ..Near::of_frame(&self.frame)
        }
    }
}

/// Asks for the inputs of a job and does all its geometry.
///
/// # Errors
/// What [`gather`](gather()) refuses; land that cannot be made, layers that do not fit it, grids with too many cells; a job that asks for more than
/// a plan may take.
pub fn prepare(job: &Job, inputs: &impl Inputs, options: &Options) -> Outcome<Prepared> {
    geometry(gather(job, inputs, options)?, job, options.tell)
}

fn geometry(inputs: Gathered, job: &Job, tell: Tell) -> Outcome<Prepared> {
    progress::after(job, 0, tell);
    let mut findings = inputs.findings;
    let layers = LandLayers {
        boundary: &inputs.boundary,
        exclusions: &inputs.exclusions,
        setbacks: &inputs.setbacks,
        guide: inputs.guide.as_ref(),
    };
    let (land, found) = land::build(&layers, job, &inputs.frame)?;
    findings.extend(found);
    let layers = ZoneLayers {
        zones: &inputs.zones,
        special_areas: &inputs.special_areas,
    };
    let (units, found) = zones::overlay(&land, &layers, job, &inputs.frame)?;
    findings.extend(found);
    progress::after(job, 1, tell);
    // From here on land is known by its units; the points of the layers make room for cells.
    drop((inputs.zones, inputs.special_areas, inputs.boundary));
    drop((inputs.exclusions, inputs.setbacks, inputs.guide));
    let cells = map::cells(&units, &land, job, &inputs.frame)?;
    let asked = Asked::of(&land, &units, &cells, job);
    asked.within(job)?;
    let curves = Curves::of(&land, job);
    asked.with_bends(curves.bends(), job).within(job)?;
    let tender = tender_of(&inputs.tender, &inputs.frame, &mut findings)?;
    let trial_areas = trial_areas_of(&inputs.trial_areas, &inputs.frame, &mut findings)?;
    let ways = Ways::of(&land, job, curves, |corners| {
        tender::nearest_corner(corners, &tender, job)
    });
    let (tramlines, found) = tramline::on_land(&land, job)?;
    findings.extend(found);
    let ways = ways.as_ref();
    let bouts = ways
        .zip(Sections::of_drill(job))
        .map(|(ways, sections)| drive::bouts(&land, job, tramlines.as_ref(), &sections, ways))
        .unwrap_or_default();
    findings.extend(too_tight::finding(&bouts, &land, &inputs.frame, job));
    let at_tender = tender::ends(&bouts, &tender, job);
    Ok(Prepared {
        drive: ways.and_then(|ways| drive::report(&land, job, ways)),
        spread_ways: ways.map_or_else(Vec::new, |ways| spread::ways(&land, job, ways)),
        tramlines,
        bouts,
        at_tender,
        trial_areas,
        frame: inputs.frame,
        land,
        units,
        cells,
        cleaned: inputs.cleaned,
        zonal: inputs.zonal,
        surfaces: inputs.surfaces,
        tables: inputs.tables,
        on_terminal: inputs.on_terminal,
        inputs: inputs.provenance,
        findings,
    })
}

/// Where the tender stands, by its layer: points, lines, or the borders of polygons.
fn tender_of(
    layer: &Option<Layer<PlaneXy>>,
    frame: &Frame,
    findings: &mut Vec<Finding>,
) -> Outcome<Tender> {
    let Some(layer) = layer else {
        return Ok(Tender::default());
    };
    let outlines = land::outlines(layer, frame)?;
    findings.extend(outlines.findings);
    let mut lines = outlines.lines;
    for (_, shape) in &outlines.polygons {
        for ring in shape.rings() {
            lines.push(ring.iter().chain(ring.first()).copied().collect());
        }
    }
    Ok(Tender {
        points: outlines.points,
        lines,
    })
}

/// The areas of trials on the grid; what is no polygon bounds no area.
fn trial_areas_of(
    layers: &[Option<Layer<PlaneXy>>],
    frame: &Frame,
    findings: &mut Vec<Finding>,
) -> Outcome<Vec<Option<Vec<Shape>>>> {
    let each = layers.iter().map(|layer| -> Outcome<Option<Vec<Shape>>> {
        let Some(layer) = layer else { return Ok(None) };
        let outlines = land::outlines(layer, frame)?;
        findings.extend(outlines.findings);
        let shapes = outlines.polygons.into_iter().map(|(_, shape)| shape);
        Ok(Some(shapes.collect()))
    });
    each.collect()
}
