//! Exclusions with their buffers, and setback strips with everything that widens them.

use super::outline::outlines;
use crate::coordinates::PlaneXy;
use crate::findings::{Fault, Finding, Outcome, Place};
use crate::frame::Frame;
use crate::geometry::offset::outset;
use crate::geometry::overlay::OddHoles;
use crate::geometry::{Overlay, Shape};
use crate::job::{Drill, Exclusion, Job, Setback};
use crate::read::Layer;
use crate::units::UnitSystem;

/// What an exclusion leaves out.
pub(super) fn excluded(
    exclusion: &Exclusion,
    layer: &Layer<PlaneXy>,
    (frame, units): (&Frame, UnitSystem),
    findings: &mut Vec<Finding>,
) -> Outcome<Vec<Shape>> {
    let outlines = outlines(layer, frame)?;
    findings.extend(outlines.findings);
    let without_area = outlines.lines.len() + outlines.points.len();
    if without_area > 0 && exclusion.buffer_m <= 0.0 {
        return Err(Fault::input(
            "land.exclusion_without_area",
            layer.place(),
            format!(
                "exclusion '{}' holds {without_area} lines or points, which leave nothing out",
                exclusion.name
            ),
            "polygons, or lines and points with buffer_m above 0",
            "set buffer_m for this exclusion in the job",
        ));
    }
    let shapes = united(outlines.polygons, layer, (frame, units), findings);
    Ok(outset(
        &shapes,
        &outlines.lines,
        &outlines.points,
        exclusion.buffer_m,
    ))
}

/// By how much a setback is widened, metres: one meter serves the whole width and is looked up at
/// one point, so half the working width; the position may be off; and product still runs out of
/// the hoses after the meter has stopped.
pub fn widening_m(drill: &Drill) -> f64 {
    drill.working_width_m / 2.0 + drill.position_error_m + drill.run_on_m
}

/// Where a setback's products are off, and the strip to keep without all that widens it.
pub(super) fn set_back(
    setback: &Setback,
    layer: &Layer<PlaneXy>,
    job: &Job,
    frame: &Frame,
    findings: &mut Vec<Finding>,
) -> Outcome<(Vec<Shape>, Vec<Shape>)> {
    let outlines = outlines(layer, frame)?;
    findings.extend(outlines.findings);
    let (drill, units) = (&job.drill, job.report.units);
    let width = setback.distance_m + widening_m(drill);
    findings.push(Finding::note(
        "land.setback_widened",
        layer.place(),
        format!(
            "setback '{}': {} off within {} ({} to keep + {} half the working width + {} position error + {} run-on)",
            setback.name,
            setback.products.join(", "),
            units.given_length(width),
            units.given_length(setback.distance_m),
            units.given_length(drill.working_width_m / 2.0),
            units.given_length(drill.position_error_m),
            units.given_length(drill.run_on_m)
        ),
    ));
    let shapes = united(outlines.polygons, layer, (frame, units), findings);
    let within = |metres| outset(&shapes, &outlines.lines, &outlines.points, metres);
    Ok((within(width), within(setback.distance_m)))
}

/// The land that polygons cover; rings that cross themselves are told.
fn united(
    polygons: Vec<(String, Shape)>,
    layer: &Layer<PlaneXy>,
    (frame, units): (&Frame, UnitSystem),
    findings: &mut Vec<Finding>,
) -> Vec<Shape> {
    let mut overlay = Overlay::default();
    let (names, shapes): (Vec<String>, Vec<Shape>) = polygons.into_iter().unzip();
    for shape in shapes {
        overlay.add(shape);
    }
    let arrangement = overlay.arrange();
    let place = |polygon: u32| layer.place().feature(&names[polygon as usize]);
    let odd = overlay.odd_holes(&arrangement);
    findings.extend(odd_holes(&odd, place, frame, units));
    for crossing in overlay.self_crossings(&arrangement) {
        findings.push(
            Finding::warning(
                "land.self_crossing",
                layer
                    .place()
                    .feature(&names[crossing.polygon as usize])
                    .at(frame.to_lon_lat(crossing.place.place())),
                format!(
                    "the ring crosses itself; land it encloses an odd number of times counts, {} are in doubt",
                    units.small_area(crossing.area_m2, 1)
                ),
            )
            .area(crossing.area_m2),
        );
    }
    overlay.shapes_where(|covering| !covering.is_empty())
}

/// What there is to say of holes that overlap, nest or lie outside; `place` is that of a polygon.
pub fn odd_holes(
    odd: &[OddHoles],
    place: impl Fn(u32) -> Place,
    frame: &Frame,
    units: UnitSystem,
) -> Vec<Finding> {
    let mut findings = Vec::new();
    for of in odd
        .iter()
        .filter(|of| of.twice_m2 + of.outside_m2 >= LEAST_TOLD_M2)
    {
        let place = place(of.polygon).at(frame.to_lon_lat(of.place.place()));
        if of.twice_m2 >= LEAST_TOLD_M2 {
            let message = format!(
                "holes overlap, or one lies in another, on {}; what lies in any of them is left out, once",
                units.small_area(of.twice_m2, 1)
            );
            let finding = Finding::warning("land.holes_overlap", place.clone(), message);
            findings.push(finding.area(of.twice_m2));
        }
        if of.outside_m2 >= LEAST_TOLD_M2 {
            let message = format!(
                "holes reach {} beyond the outline that they belong to; there they change nothing",
                units.small_area(of.outside_m2, 1)
            );
            let finding = Finding::warning("land.holes_outside", place, message);
            findings.push(finding.area(of.outside_m2));
        }
    }
    findings
}

/// Less is told as nothing: crumbs of rounding, m2.
const LEAST_TOLD_M2: f64 = 0.05;

/// Area two sets of shapes share, m2.
pub(super) fn touched_m2(land: &[Shape], other: &[Shape]) -> f64 {
    let mut overlay = Overlay::default();
    for shape in land.iter().chain(other) {
        overlay.add(shape.clone());
    }
    let first_other = land.len() as u32;
    let shared = overlay.shapes_where(|covering| {
        covering.iter().any(|&p| p < first_other) && covering.iter().any(|&p| p >= first_other)
    });
    shared.iter().map(Shape::area_m2).sum()
}
