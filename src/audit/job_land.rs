//! The land of a job and its setback strips, made anew from the job's files by the crate geo. From planning come only
//! the reading of files and the way to degrees, which is PROJ's.

use super::bounds;
use super::ellipsoid::land_m2;
use super::overlay::{Land, about, cut_to, drawn, outlined, united, without};
use super::plane::Plane;
use crate::coordinates::LonLat;
use crate::findings::{Fault, Outcome};
use crate::frame::{Crs, as_drawn};
use crate::job::{Job, Source};
use crate::plan::{for_one_field, obstacles, one_field};
use crate::read::{self, Geometry, Layer, Polygon};
use crate::units::LEAST_M_PER_DEGREE;
use geo::buffer::{BufferStyle, LineCap, LineJoin};
use geo::{BoundingRect, Buffer, LineString, MultiLineString, MultiPoint, Rect};
use std::f64::consts::PI;

/// In degrees; longitudes the shorter way round from `lon0`.
pub(super) struct JobLand {
    pub lon0: f64,
    /// What is sown: the boundary less the exclusions.
    pub land: Land,
    /// By how much its border may differ from that of the plan, on the whole, metres.
    pub differs_m: f64,
    /// The same land where maps with fewer points may have moved its border as far inwards, or outwards, as the job allows.
    pub at_least: Land,
    pub at_most: Land,
    /// Per setback of the job: where its products are off.
    pub strips: Vec<Land>,
}

impl JobLand {
    /// # Errors
    /// A job for many fields; a file that cannot be read, or whose CRS is not known; a boundary without land.
    pub(super) fn of(job: &Job) -> Outcome<Self> {
        for_one_field(job)?;
        let boundary = layer(job, &job.field.boundary)?;
        one_field(&boundary)?;
        let polygons = || polygons(&boundary);
        let lon0 = polygons().find_map(|polygon| polygon.exterior.first());
        let lon0 = lon0.map_or(0.0, |place| place.lon);
        let field = outlined(polygons().map(|polygon| drawn(polygon, |at| about(lon0)(at.pair()))));
        let Some(extent) = field.bounding_rect() else {
            return Err(no_land(&boundary));
        };
        let made = Made { lon0, extent };
        let mut left_out = Vec::new();
        for exclusion in &job.exclusions {
            let source = obstacles(&exclusion.source, &job.folder);
            left_out.extend(made.within(&layer(job, &source)?, exclusion.buffer_m));
        }
        let land = without(&field, &united(left_out));
        if land_m2(&land) == 0.0 {
            return Err(no_land(&boundary));
        }
        // One meter serves the whole width, the position may be off, and hoses run on: docs/methods/land-and-zones.md.
        let drill = &job.drill;
        let widened_m = drill.working_width_m / 2.0 + drill.position_error_m + drill.run_on_m;
        let mut strips = Vec::new();
        for setback in &job.setbacks {
            let from = layer(job, &setback.source)?;
            strips.push(made.within(&from, setback.distance_m + widened_m));
        }
        let buffers = job.exclusions.iter().map(|exclusion| exclusion.buffer_m);
        let moved_m = job.terminal.simplify_m;
        Ok(Self {
            lon0,
            differs_m: bounds::anew_m(buffers.fold(0.0, f64::max)),
            at_least: made.moved(&land, -moved_m),
            at_most: made.moved(&land, moved_m),
            land,
            strips,
        })
    }
}

fn no_land(boundary: &Layer<LonLat>) -> Box<Fault> {
    Fault::input(
        "audit.no_land",
        boundary.place(),
        "The boundary less the exclusions encloses no land",
        "a boundary with at least one polygon, and some of it in no exclusion",
        "Plan the job with 'twinsow plan': it says what is wrong with each file.",
    )
}

/// A layer of the job in degrees, edges straight there.
fn layer(job: &Job, source: &Source) -> Outcome<Layer<LonLat>> {
    let layer = read::open(source, &job.folder)?;
    let grids = job.transformation_grids.as_ref();
    let grids = grids.map(|folder| job.folder.join(folder));
    let crs = Crs::with_grids(&layer, source.crs.as_deref(), grids.as_deref())?;
    as_drawn(layer, &crs)
}

fn polygons(layer: &Layer<LonLat>) -> impl Iterator<Item = &Polygon<LonLat>> {
    let drawn = layer
        .features
        .iter()
        .map(|feature| match &feature.geometry {
            Geometry::Polygons(polygons) => polygons.as_slice(),
            _ => &[],
        });
    drawn.flatten()
}

/// Where a field lies, for what is made around it.
struct Made {
    lon0: f64,
    extent: Rect,
}

impl Made {
    /// All that lies within so many metres of a layer, near the field.
    fn within(&self, layer: &Layer<LonLat>, width_m: f64) -> Land {
        let [low, high] = self.around(2.0 * width_m + 100.0);
        let turned = about(self.lon0);
        let place = |at: LonLat| turned(at.pair());
        let near = polygons(layer).map(|polygon| {
            let ring =
                |ring: &Vec<LonLat>| cut_to(ring.iter().map(|at| place(*at)).collect(), low, high);
            let cut = Polygon {
                exterior: ring(&polygon.exterior),
                holes: polygon.holes.iter().map(ring).collect(),
            };
            drawn(&cut, |at| at)
        });
        let land = outlined(near.collect::<Vec<_>>());
        if width_m <= 0.0 {
            return land;
        }
        let plane = Plane::about(self.extent.center());
        let (mut lines, mut points) = (Vec::new(), Vec::new());
        for feature in &layer.features {
            match &feature.geometry {
                Geometry::Lines(paths) => {
                    let placed = paths.iter().map(|path| path.iter().map(|at| place(*at)));
                    lines.extend(placed.flat_map(|path| near_box(path.collect(), low, high)));
                }
                Geometry::Points(places) => {
                    let placed = places.iter().map(|at| place(*at));
                    points.extend(placed.filter(|at| is_near([*at; 2], low, high)));
                }
                Geometry::Polygons(_) | Geometry::Empty => {}
            }
        }
        let lines = MultiLineString::new(lines.into_iter().map(LineString::from).collect());
        let points = MultiPoint::from(points.into_iter().map(geo::Point::from).collect::<Vec<_>>());
        let style = style(width_m);
        let mut parts = plane.land(&land).buffer_with_style(style.clone()).0;
        parts.extend(plane.lines(&lines).buffer_with_style(style.clone()));
        parts.extend(plane.points(&points).buffer_with_style(style));
        plane.in_degrees(&united(parts))
    }

    /// Land whose border is moved outwards, or inwards for less than 0.
    fn moved(&self, land: &Land, by_m: f64) -> Land {
        if by_m == 0.0 {
            return land.clone();
        }
        let plane = Plane::about(self.extent.center());
        plane.in_degrees(&plane.land(land).buffer_with_style(style(by_m)))
    }

    /// Corners of a box so many metres around the field.
    fn around(&self, metres: f64) -> [[f64; 2]; 2] {
        let (min, max) = (self.extent.min(), self.extent.max());
        let north = metres / LEAST_M_PER_DEGREE;
        let farthest = (min.y.abs().max(max.y.abs()) + north).min(89.0);
        let east = north / farthest.to_radians().cos();
        [[min.x - east, min.y - north], [max.x + east, max.y + north]]
    }
}

/// Arcs around corners and ends as fine as geo draws them: it takes chords of up to twice this angle.
fn style(width_m: f64) -> BufferStyle<f64> {
    const FINEST: f64 = 0.01 * PI;
    BufferStyle::new(width_m)
        .line_join(LineJoin::Round(FINEST))
        .line_cap(LineCap::Round(FINEST))
}

/// Whether the box of two places meets another.
fn is_near(ends: [[f64; 2]; 2], low: [f64; 2], high: [f64; 2]) -> bool {
    [0, 1].into_iter().all(|axis: usize| {
        let (a, b) = (ends[0][axis], ends[1][axis]);
        a.max(b) >= low[axis] && a.min(b) <= high[axis]
    })
}

/// The stretches of a line that may meet a box: its edges whose own boxes do.
fn near_box(path: Vec<[f64; 2]>, low: [f64; 2], high: [f64; 2]) -> Vec<Vec<[f64; 2]>> {
    let mut stretches: Vec<Vec<[f64; 2]>> = Vec::new();
    let mut goes_on = false;
    for pair in path.windows(2) {
        let [from, to] = [pair[0], pair[1]];
        let near = is_near([from, to], low, high);
        if near && !goes_on {
            stretches.push(vec![from]);
        }
        if let Some(last) = stretches.last_mut().filter(|_| near) {
            last.push(to);
        }
        goes_on = near;
    }
    stretches
}
