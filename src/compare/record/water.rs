//! How near product was laid to what a setback keeps clear of: from the files of the job, where they still lie beside the plan as it was
//! planned with them.

use super::super::{Laid, PlanMap};
use crate::document::ToRecord;
use crate::findings::Outcome;
use crate::frame::{self, Crs};
use crate::geometry::Pt;
use crate::job::{Job, MeasuredFrom, Source};
use crate::land;
use crate::read;
use geo::{Contains, Coord, Distance, Euclidean, Line, LineString, Point, Polygon};
use serde::Serialize;
use std::path::{Path, PathBuf};

/// Water, or another thing that a setback keeps clear of.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Near {
    /// As the job calls it.
    pub name: String,
    /// What the distance is measured from, where the job says it.
    pub measured_from: Option<&'static str>,
    /// The same for the page.
    #[serde(skip)]
    pub from: Option<MeasuredFrom>,
    /// Ids of the products that have to keep clear of it.
    pub products: Vec<String>,
    /// How far, m.
    pub to_keep_m: f64,
    /// How near each of those products was laid.
    pub nearest_m: Vec<Nearest>,
}

/// How near one product was laid.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Nearest {
    pub product: String,
    /// From where the drill's outermost working row ran, by the terminal's position; none where the file is not here any more as
    /// it was planned with, or nothing of the product was laid.
    pub metres: Option<f64>,
}

/// All setbacks of the plan.
pub(super) fn near(path: &Path, own: &ToRecord, plan: &PlanMap, laid: &[Laid]) -> Vec<Near> {
    let job = &own.job;
    let setbacks = job.setbacks.iter();
    setbacks
        .map(|setback| {
            let role = format!("setback '{}'", setback.name);
            let things = folder_with(path, own, &role)
                .and_then(|folder| Things::read(&setback.source, &folder, job, plan).ok());
            let nearest = setback.products.iter().map(|id| Nearest {
                product: id.clone(),
                metres: things.as_ref().and_then(|things| {
                    let nth = job.products.iter().position(|product| product.id == *id)?;
                    things.nearest_m(laid, nth)
                }),
            });
            Near {
                name: setback.name.clone(),
                measured_from: setback.measured_from.map(|from| from.words()),
                from: setback.measured_from,
                products: setback.products.clone(),
                to_keep_m: setback.distance_m,
                nearest_m: nearest.collect(),
            }
        })
        .collect()
}

/// The folder that the job's paths start from, if the file of this role lies there as it was planned with: the one that the plan's
/// folder lies in.
fn folder_with(path: &Path, own: &ToRecord, role: &str) -> Option<PathBuf> {
    let folder = if path.is_dir() { path } else { path.parent()? };
    let beside = match folder.parent() {
        Some(parent) if parent != Path::new("") => parent.to_path_buf(),
        _ => folder.join(".."),
    };
    let input = own.inputs.iter().find(|input| input.role == role)?;
    let known = read::sha256(&beside.join(&input.file)).ok()?;
    (known == input.sha256).then_some(beside)
}

/// What a setback is measured from, in the field's plane.
struct Things {
    edges: Vec<Line>,
    points: Vec<Point>,
    polygons: Vec<Polygon>,
}

impl Things {
    fn read(source: &Source, folder: &Path, job: &Job, plan: &PlanMap) -> Outcome<Self> {
        let layer = read::open(source, folder)?;
        let grids = job
            .transformation_grids
            .as_ref()
            .map(|own| folder.join(own));
        let crs = Crs::with_grids(&layer, source.crs.as_deref(), grids.as_deref())?;
        let frame = plan.frame();
        let layer = frame::to_plane(frame::to_wgs84(layer, &crs)?, frame);
        let outlines = land::uncounted_outlines(&layer, frame)?;
        let mut things = Self {
            edges: Vec::new(),
            points: outlines.points.iter().map(|at| Point(coord(at))).collect(),
            polygons: Vec::new(),
        };
        for line in &outlines.lines {
            things
                .edges
                .extend(LineString::from_iter(line.iter().map(coord)).lines());
        }
        for (_, shape) in &outlines.polygons {
            let ring =
                |ring: &Vec<Pt>| LineString::from_iter(ring.iter().chain(ring.first()).map(coord));
            let polygon = Polygon::new(
                ring(&shape.exterior),
                shape.holes.iter().map(ring).collect(),
            );
            for ring in std::iter::once(polygon.exterior()).chain(polygon.interiors()) {
                things.edges.extend(ring.lines());
            }
            things.polygons.push(polygon);
        }
        Ok(things)
    }

    /// How near a product was laid, m; none where none was.
    fn nearest_m(&self, laid: &[Laid], product: usize) -> Option<f64> {
        let mut nearest: Option<f64> = None;
        let on = |laid: &&Laid| laid.kg_per_ha.get(product).copied().flatten() > Some(0.0);
        for laid in laid.iter().filter(on) {
            let land = Polygon::new(
                LineString::from_iter(laid.corners.map(|[x, y]| Coord { x, y })),
                Vec::new(),
            );
            let first = Point(coord_of(laid.corners[0]));
            if self.polygons.iter().any(|polygon| polygon.contains(&first)) {
                return Some(0.0);
            }
            let [low, high] = laid.extent();
            let near = |[x0, y0]: [f64; 2], [x1, y1]: [f64; 2]| {
                let apart = |low: f64, high: f64, a: f64, b: f64| {
                    (a.min(b) - high).max(low - a.max(b)).max(0.0)
                };
                let metres = apart(low[0], high[0], x0, x1).hypot(apart(low[1], high[1], y0, y1));
                nearest.is_none_or(|known| metres < known)
            };
            let edges = self
                .edges
                .iter()
                .filter(|edge| near(edge.start.into(), edge.end.into()));
            let to_edges = edges.map(|edge| Euclidean.distance(edge, &land));
            let to_points = self.points.iter().map(|at| Euclidean.distance(at, &land));
            let found = to_edges.chain(to_points).reduce(f64::min);
            nearest = [nearest, found].into_iter().flatten().reduce(f64::min);
        }
        nearest
    }
}

fn coord(at: &Pt) -> Coord {
    coord_of(at.metres())
}

fn coord_of([x, y]: [f64; 2]) -> Coord {
    Coord { x, y }
}
