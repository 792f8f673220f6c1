//! Land: the field less exclusions, split into headland and interior, with setback strips.

mod crowded;
mod guide;
mod near;
mod outline;
mod strips;
mod together;

pub use crowded::crowded;
pub use guide::line as guide_line;
pub use near::near;
pub use outline::{Outlines, outlines, uncounted_outlines};
pub use strips::{odd_holes, widening_m};
pub use together::told_together;

use crate::coordinates::PlaneXy;
use crate::findings::{Decision, Fault, Finding, Outcome, Place, Severity};
use crate::frame::Frame;
use crate::geometry::offset::inset;
use crate::geometry::{Overlay, Shape};
use crate::job::Job;
use crate::read::{Feature, Geometry, Layer};
use crate::units::UnitSystem;
use together::Parts;

/// The land of a field, in its plane.
#[derive(Debug, Clone, PartialEq)]
pub struct Land {
    /// The field as its boundary draws it.
    pub field: Vec<Shape>,
    /// Per exclusion of the job: what is left out, its buffer included.
    pub exclusions: Vec<Vec<Shape>>,
    /// The field less all exclusions: what is sown.
    pub land: Vec<Shape>,
    /// The part of the land beyond the headland.
    pub interior: Vec<Shape>,
    /// Width of the headland, metres; 0 for none.
    pub headland_m: f64,
    /// Per setback of the job: where its products are off, widened; not cut at the boundary.
    pub setbacks: Vec<Vec<Shape>>,
    /// Per setback: the strip to keep, not widened.
    pub to_keep: Vec<Vec<Shape>>,
    /// The line that the interior bouts run along, plane metres: two points where it is straight.
    pub guide: Option<Vec<[f64; 2]>>,
}

impl Land {
    /// Whether the interior bouts run along a curve.
    pub fn is_curved(&self) -> bool {
        self.guide.as_ref().is_some_and(|line| line.len() > 2)
    }
}

/// A guide line with both ends going straight on until they are clear of the field, and middle and radius of a
/// circle around the field and the line.
pub fn guide_extended(line: &[[f64; 2]], field: &[Shape]) -> (Vec<[f64; 2]>, [f64; 2], f64) {
    let (middle, radius) = guide::around(line, field);
    (guide::extended(line, field), middle, radius)
}

/// Layers that make the land, placed in the field's plane; exclusions and setbacks in job order.
pub struct LandLayers<'a> {
    /// Polygons of the field, in its plane.
    pub boundary: &'a Layer<PlaneXy>,
    /// What is not sown, in job order.
    pub exclusions: &'a [Layer<PlaneXy>],
    /// What strips of land are kept free along, in job order.
    pub setbacks: &'a [Layer<PlaneXy>],
    /// The guide line.
    pub guide: Option<&'a Layer<PlaneXy>>,
}

/// Makes the land.
///
/// # Errors
/// A boundary without polygons; an exclusion of lines or points without a buffer; an exclusion that
/// leaves no land.
pub fn build(layers: &LandLayers, job: &Job, frame: &Frame) -> Outcome<(Land, Vec<Finding>)> {
    let mut findings = Vec::new();
    let units = job.report.units;
    let field = field(layers.boundary, frame, units, &mut findings)?;
    let mut exclusions = Vec::new();
    for (exclusion, layer) in job.exclusions.iter().zip(layers.exclusions) {
        let shapes = strips::excluded(exclusion, layer, (frame, units), &mut findings)?;
        if strips::touched_m2(&field, &shapes) == 0.0 {
            let message = format!(
                "exclusion '{}' does not touch the field; no land is left out. Check its file and CRS, or take it out of the job",
                exclusion.name
            );
            findings.push(outside(
                job,
                Decision::ExclusionOutside,
                layer,
                message,
                &exclusion.name,
            ));
        }
        exclusions.push(shapes);
    }
    let Parts {
        field,
        exclusions,
        land,
        together,
    } = together::parts(field, exclusions, frame);
    let told = |of| {
        let place = layers.boundary.place();
        told_together("land.threads_joined", of, place, frame, units)
    };
    findings.extend(together.as_ref().and_then(told));
    at_least_a_field(&field, layers.boundary, units)?;
    if land.is_empty() {
        return Err(Fault::input(
            "land.nothing_left",
            layers.boundary.place(),
            "the exclusions cover the whole field; no land is left to sow",
            "exclusions that leave some of the field",
            "check the exclusion files and their buffer_m",
        ));
    }
    let headland_m = job.headland.metres(job.drill.working_width_m);
    let base = if job.headland.around_exclusions {
        &land
    } else {
        &field
    };
    let interior = inset(base, headland_m);
    findings.extend(not_named(job));
    findings.extend(headland_findings(
        &job.report.units.given_length(headland_m),
        base,
        &interior,
        layers.boundary.place(),
    ));
    let guide = layers
        .guide
        .map(|layer| guide::line(layer, &field))
        .transpose()?;
    let (mut setbacks, mut to_keep) = (Vec::new(), Vec::new());
    for (setback, layer) in job.setbacks.iter().zip(layers.setbacks) {
        let (shapes, kept) = strips::set_back(setback, layer, job, frame, &mut findings)?;
        to_keep.push(kept);
        if strips::touched_m2(&land, &shapes) == 0.0 {
            let message = format!(
                "setback '{}' does not reach the land; no rate on the land changes. Check its file and CRS, or take it out of the job",
                setback.name
            );
            let found = outside(job, Decision::SetbackOutside, layer, message, &setback.name);
            findings.push(match found.severity {
                Severity::Decision => {
                    found.of_products(setback.products.iter().map(String::as_str))
                }
                _ => found,
            });
        }
        setbacks.push(shapes);
    }
    Ok((
        Land {
            field,
            exclusions,
            land,
            interior,
            headland_m,
            setbacks,
            to_keep,
            guide,
        },
        findings,
    ))
}

/// What lies beside the field altogether: a wrong file or CRS as a rule, so a decision. Of one file for many fields most
/// of it lies beside each of them, which is only told.
fn outside(
    job: &Job,
    decision: Decision,
    layer: &Layer<PlaneXy>,
    message: String,
    name: &str,
) -> Finding {
    match job.split_value.is_some() {
        true => Finding::warning(decision.code(), layer.place(), message),
        false => Finding::decision(decision, layer.place(), message).about(name),
    }
}

/// A field below this is none, m2: points in a row leave crumbs of rounding between them.
const LEAST_FIELD_M2: f64 = 1.0;

/// The field: all polygons of the boundary layer, united.
fn field(
    boundary: &Layer<PlaneXy>,
    frame: &Frame,
    units: UnitSystem,
    findings: &mut Vec<Finding>,
) -> Outcome<Vec<Shape>> {
    let outlines = outlines(boundary, frame)?;
    findings.extend(outlines.findings.iter().cloned());
    if !(outlines.lines.is_empty() && outlines.points.is_empty()) {
        return Err(no_polygon(boundary));
    }
    let mut overlay = Overlay::default();
    for (_, polygon) in &outlines.polygons {
        overlay.add(polygon.clone());
    }
    let arrangement = overlay.arrange();
    let mut twice_m2 = 0.0;
    for face in 1..arrangement.faces() as u32 {
        let times = overlay.covering(&arrangement, face).len();
        twice_m2 += times.saturating_sub(1) as f64 * arrangement.area_m2(face);
    }
    let feature = |polygon: u32| outlines.polygons[polygon as usize].0.clone();
    let crossings = overlay.self_crossings(&arrangement);
    for crossing in &crossings {
        findings.push(
            Finding::warning(
                "land.self_crossing",
                boundary
                    .place()
                    .feature(feature(crossing.polygon))
                    .at(frame.to_lon_lat(crossing.place.place())),
                format!(
                    "the ring crosses itself; land it encloses an odd number of times counts, {} are in doubt",
                    units.small_area(crossing.area_m2, 1)
                ),
            )
            .area(crossing.area_m2),
        );
    }
    if twice_m2 > 0.0 {
        findings.push(
            Finding::note(
                "land.boundary_overlaps",
                boundary.place(),
                format!(
                    "boundary polygons overlap on {}; the land counts once",
                    units.small_area(twice_m2, 1)
                ),
            )
            .area(twice_m2),
        );
    }
    let shapes = overlay.shapes_where(|covering| !covering.is_empty());
    let snapped_m2 = at_least_a_field(&shapes, boundary, units)?;
    let odd = overlay.odd_holes(&arrangement);
    // Holes as drawn take away more than they leave out.
    let holes_m2: f64 = odd.iter().map(|of| of.twice_m2 + of.outside_m2).sum();
    let place = |polygon| boundary.place().feature(feature(polygon));
    findings.extend(odd_holes(&odd, place, frame, units));
    // What a ring that crosses itself encloses has no plain area to compare with.
    if crossings.is_empty() {
        let moved = snapped_m2 - (outlines.raw_m2 + holes_m2 - twice_m2);
        findings.push(Finding::note(
            "land.snapped",
            boundary.place(),
            format!(
                "field {}; placing its points on the plane's grid of a micrometre changed the area by {}",
                units.area(snapped_m2, 4),
                units.small_area(moved, 6)
            ),
        ));
    }
    Ok(shapes)
}

/// The area of the field in m2.
///
/// # Errors
/// A field below [`LEAST_FIELD_M2`].
fn at_least_a_field(
    shapes: &[Shape],
    boundary: &Layer<PlaneXy>,
    units: UnitSystem,
) -> Outcome<f64> {
    let area_m2: f64 = shapes.iter().map(Shape::area_m2).sum();
    if area_m2 < LEAST_FIELD_M2 {
        return Err(Fault::input(
            "land.no_area",
            boundary.place(),
            format!(
                "the boundary encloses no area to speak of ({})",
                units.small_area(area_m2, 6)
            ),
            format!(
                "a polygon of at least {}",
                units.given_small_area(LEAST_FIELD_M2)
            ),
            "check that the file's outline has more than two different points",
        ));
    }
    Ok(area_m2)
}

/// The fault of a boundary that is no outline.
pub fn no_polygon<P>(boundary: &Layer<P>) -> Box<Fault> {
    let is_polygon = |feature: &&Feature<P>| matches!(feature.geometry, Geometry::Polygons(_));
    let polygons = boundary.features.iter().filter(is_polygon).count();
    Fault::input(
        "land.no_polygon",
        boundary.place(),
        format!(
            "{polygons} of the boundary's {} features are polygons",
            boundary.features.len()
        ),
        "a boundary of polygons only, at least one",
        "give the file with the field's outline; in a GIS, 'lines to polygons' turns a closed line into one",
    )
}

/// A distance says little where nobody says what it is measured from.
fn not_named(job: &Job) -> impl Iterator<Item = Finding> {
    let setbacks = job.setbacks.iter();
    let unnamed = setbacks.filter(|setback| setback.measured_from.is_none());
    unnamed.map(|setback| {
        let message = format!(
            "setback '{}': {} are kept from the shapes of its file, and the job does not name what these are. Rules measure from the top of the bank, the edge of the water or the centre of the watercourse, metres apart: look at the label and the local rule, and set measured_from",
            setback.name,
            job.report.units.given_length(setback.distance_m)
        );
        Finding::note("land.setback_measured_from", Place::file(&job.file), message)
    })
}

fn headland_findings(
    width: &str,
    base: &[Shape],
    interior: &[Shape],
    place: Place,
) -> Option<Finding> {
    if interior.is_empty() {
        return Some(Finding::warning(
            "land.headland_everywhere",
            place,
            format!("a headland of {width} leaves no interior; the whole field is headland"),
        ));
    }
    (interior.len() > base.len()).then(|| {
        Finding::note(
            "land.interior_split",
            place,
            format!(
                "the headland of {width} splits the interior into {} parts",
                interior.len()
            ),
        )
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::read::{DeclaredCrs, Feature, Geometry, Polygon};

    #[test]
    fn land_that_polygons_of_the_boundary_share_counts_once_and_is_told() {
        let square = |west: f64| Feature {
            name: west.to_string(),
            geometry: Geometry::Polygons(vec![Polygon {
                exterior: [[0.0, 0.0], [40.0, 0.0], [40.0, 50.0], [0.0, 50.0]]
                    .map(|[x, y]| PlaneXy::new(west + x, y))
                    .to_vec(),
                holes: Vec::new(),
            }]),
            values: Vec::new(),
        };
        let layer = Layer {
            file: "boundary.geojson".into(),
            format: "GeoJSON",
            table: None,
            crs: DeclaredCrs::None,
            attributes: Vec::new(),
            // The second lies over the first on 10 m, and over the third on 30 m.
            features: [0.0, 30.0, 40.0].map(square).to_vec(),
            findings: Vec::new(),
        };
        let mut findings = Vec::new();
        let units = UnitSystem::Metric;
        let shapes =
            field(&layer, &Frame::about(2.0, 53.0), units, &mut findings).expect("a field");
        let field_m2: f64 = shapes.iter().map(Shape::area_m2).sum();
        let told = findings
            .iter()
            .find(|of| of.code == "land.boundary_overlaps");
        let shared_m2 = told.and_then(|of| of.area_m2).expect("told");
        assert!((field_m2 - 80.0 * 50.0).abs() < 1e-3, "{field_m2}");
        assert!((shared_m2 - 40.0 * 50.0).abs() < 1e-3, "{shared_m2}");
    }
}
