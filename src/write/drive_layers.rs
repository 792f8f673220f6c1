//! The drive as layers for a GIS: bouts, sections, tramline rows, refills, and what lies where afterwards.

use super::attributes::{Kind, Value};
use super::names::distinct;
use super::product_names::product_names;
use super::trial_layer;
use crate::coordinates::{LonLat, PlaneXy};
use crate::drive::as_driven::{AsDriven, LEAST_M2, Patch, coarse};
use crate::drive::spread::Spread;
use crate::drive::{Bout, Path};
use crate::frame::Frame;
use crate::geometry::overlay::union;
use crate::geometry::{Pt, Shape};
use crate::job::Job;
use crate::map::lon_lat;
use crate::plan::Plan;
use crate::read::Polygon;
use crate::units::M2_PER_HA;
use std::collections::BTreeSet;

/// A layer of features of one kind.
pub(super) struct Layer {
    pub name: &'static str,
    /// For the list of files.
    pub what: &'static str,
    pub about: String,
    pub columns: Vec<(String, Kind)>,
    /// What it holds, also where there is no row.
    pub geometry: GeometryKind,
    pub rows: Vec<(Geometry, Vec<Value>)>,
}

/// What a layer holds.
#[derive(Clone, Copy, PartialEq)]
pub(super) enum GeometryKind {
    Point,
    Line,
    Polygons,
}

/// What a row draws.
pub(super) enum Geometry {
    Point(LonLat),
    Line(Vec<LonLat>),
    Polygons(Vec<Polygon<LonLat>>),
}

/// All layers of a drive; empty without one.
pub(super) fn of(plan: &Plan) -> Vec<Layer> {
    let Some(driven) = &plan.drive.as_driven else {
        return Vec::new();
    };
    let mut layers = vec![bouts(plan), sections(plan), tramline_rows(plan)];
    layers.extend(refills(plan));
    layers.push(difference(plan, &driven.patches));
    layers.extend(plan.drive.spread.iter().filter_map(|of| spread(plan, of)));
    layers.extend(trial_layer::of(plan));
    layers
}

/// Columns with names of their own, whatever the products are called.
pub(super) struct Columns {
    pub columns: Vec<(String, Kind)>,
    taken: BTreeSet<String>,
}

impl Columns {
    pub fn new(fixed: &[(&str, Kind)]) -> Self {
        let mut columns = Self {
            columns: Vec::new(),
            taken: BTreeSet::new(),
        };
        for (name, kind) in fixed {
            columns.add(name, *kind);
        }
        columns
    }

    pub fn add(&mut self, name: &str, kind: Kind) {
        let name = distinct(name, "", "_", 60, &mut self.taken);
        self.columns.push((name, kind));
    }
}

fn whole(number: usize) -> Value {
    Value::Integer(i64::try_from(number).unwrap_or(i64::MAX))
}

fn yes(is: bool) -> Value {
    Value::Integer(i64::from(is))
}

/// Places of the products of the air stream in job order.
fn in_stream(job: &Job) -> Vec<(usize, &str)> {
    let products = job.products.iter().enumerate();
    let products = products.filter(|(_, product)| !product.surface_applied);
    products
        .map(|(nth, product)| (nth, product.id.as_str()))
        .collect()
}

fn line(path: &Path, frame: &Frame) -> Geometry {
    Geometry::Line(frame.line_in_degrees(path.points().into_iter().map(PlaneXy::of_pair)))
}

/// The ground of a part of the width between pairs of stations, in one piece where the way bends.
fn ground(path: &Path, stations: &[[f64; 2]], left_m: [f64; 2], frame: &Frame) -> Geometry {
    let bands = stations.iter().flat_map(|part| path.bands(*part, left_m));
    let bands: Vec<_> = bands.collect();
    let shapes = bands.iter().filter_map(|ring| {
        let exterior: Option<Vec<Pt>> = ring.iter().map(|place| Pt::from_metres(*place)).collect();
        Some(Shape {
            exterior: exterior?,
            holes: Vec::new(),
        })
    });
    let mut united = union(shapes);
    // Where a bent way meets itself, corners may lie so close that a file's rounding would cross them.
    if bands.len() > 1 || bands.iter().any(|band| band.len() > 4) {
        let shapes = united.into_iter().map(|shape| (0, shape)).collect();
        united = coarse(shapes).into_iter().map(|(_, shape)| shape).collect();
    }
    let large = united.iter().filter(|shape| shape.area_m2() >= LEAST_M2);
    Geometry::Polygons(large.map(|shape| lon_lat(shape, frame)).collect())
}

/// One line per bout, in the order in which they are driven.
fn bouts(plan: &Plan) -> Layer {
    let mut columns = Columns::new(&[
        ("bout", Kind::Integer),
        ("part", Kind::Text),
        ("strip", Kind::Integer),
        ("length_m", Kind::Number),
        ("speed_km_h", Kind::Number),
        ("closed_outlets", Kind::Text),
    ]);
    for product in &plan.job.products {
        columns.add(&format!("{}_kg", product.id), Kind::Number);
    }
    let left = plan
        .drive
        .refills
        .as_ref()
        .filter(|of| !of.left_kg.is_empty());
    for half in left.iter().flat_map(|of| &of.halves) {
        columns.add(&format!("{}_left_kg", half.product), Kind::Number);
    }
    columns.add("plan", Kind::Text);
    let row = |(nth, bout): (usize, &Bout)| {
        let outlets: Vec<String> = bout
            .closed
            .iter()
            .map(|row| row.outlet.to_string())
            .collect();
        let mut row = vec![
            whole(bout.number),
            Value::Text(bout.part.word().to_string()),
            // Rings lie in no strip.
            whole(bout.strip.unwrap_or(0)),
            Value::Number(bout.path.length_m()),
            Value::Number(bout.speed_km_per_h),
            Value::Text(outlets.join(", ")),
        ];
        let spread = plan.drive.spread.iter().map(|of| &of.as_driven);
        let drives: Vec<&AsDriven> = plan.drive.as_driven.iter().chain(spread).collect();
        for product in 0..plan.job.products.len() {
            // A product is in one of them.
            let sums = drives.iter().filter_map(|driven| driven.bouts.get(nth));
            let kg: f64 = sums.filter_map(|sums| sums.kg.get(product)).sum();
            row.push(Value::Number(kg));
        }
        let left = left.and_then(|of| of.left_kg.get(nth));
        row.extend(left.into_iter().flatten().map(|kg| Value::Number(*kg)));
        row.push(Value::Text(plan.id.clone()));
        (line(&bout.path, &plan.land.frame), row)
    };
    Layer {
        name: "bouts",
        what: "every bout: part, length, kg, what is left in the hoppers",
        about: format!(
            "Ways of the middle of the drill in driving order, plan {}",
            plan.id
        ),
        columns: columns.columns,
        geometry: GeometryKind::Line,
        rows: plan.drive.bouts.iter().enumerate().map(row).collect(),
    }
}

/// One feature for each time that a section is on.
fn sections(plan: &Plan) -> Layer {
    let columns = Columns::new(&[
        ("bout", Kind::Integer),
        ("section", Kind::Integer),
        ("on_from_m", Kind::Number),
        ("on_to_m", Kind::Number),
        ("plan", Kind::Text),
    ]);
    let mut rows = Vec::new();
    for bout in &plan.drive.bouts {
        for (nth, section) in bout.sections.iter().enumerate() {
            for &[from, to] in &section.on_m {
                rows.push((
                    ground(&bout.path, &[[from, to]], section.left_m, &plan.land.frame),
                    vec![
                        whole(bout.number),
                        whole(nth + 1),
                        Value::Number(from),
                        Value::Number(to),
                        Value::Text(plan.id.clone()),
                    ],
                ));
            }
        }
    }
    Layer {
        name: "sections",
        what: "where each section is on",
        about: format!(
            "Where each section is on, metres along the bout, plan {}",
            plan.id
        ),
        columns: columns.columns,
        geometry: GeometryKind::Polygons,
        rows,
    }
}

/// One feature for each closed row of a bout.
fn tramline_rows(plan: &Plan) -> Layer {
    let columns = Columns::new(&[
        ("bout", Kind::Integer),
        ("outlet", Kind::Integer),
        ("plan", Kind::Text),
    ]);
    let mut rows = Vec::new();
    for bout in &plan.drive.bouts {
        let ends = [0.0, bout.path.length_m()];
        let along = bout.closed_along.within(ends);
        for row in bout.closed.iter().filter(|_| !along.is_empty()) {
            rows.push((
                ground(&bout.path, &along, row.left_m, &plan.land.frame),
                vec![
                    whole(bout.number),
                    Value::Integer(i64::from(row.outlet)),
                    Value::Text(plan.id.clone()),
                ],
            ));
        }
    }
    Layer {
        name: "tramline_rows",
        what: "rows that stay closed for the sprayer",
        about: format!(
            "Rows that stay closed; outlets from the left looking ahead, plan {}",
            plan.id
        ),
        columns: columns.columns,
        geometry: GeometryKind::Polygons,
        rows,
    }
}

/// One point per stop, the first fill among them.
fn refills(plan: &Plan) -> Option<Layer> {
    let refills = plan.drive.refills.as_ref()?;
    let mut columns = Columns::new(&[
        ("stop", Kind::Integer),
        ("after_bout", Kind::Integer),
        ("away", Kind::Integer),
    ]);
    for half in &refills.halves {
        columns.add(&format!("{}_left_kg", half.product), Kind::Number);
        columns.add(&format!("{}_fill_kg", half.product), Kind::Number);
    }
    columns.add("plan", Kind::Text);
    let rows = refills.stops.iter().map(|stop| {
        let mut row = vec![whole(stop.number), whole(stop.after_bout), yes(stop.away)];
        for fill in &stop.fills {
            row.push(Value::Number(fill.left_kg));
            row.push(Value::Number(fill.fill_kg));
        }
        row.push(Value::Text(plan.id.clone()));
        (Geometry::Point(stop.lon_lat), row)
    });
    Some(Layer {
        name: "refills",
        what: "where the hoppers are filled, and with what",
        about: format!(
            "Where the hoppers are filled, and with what, plan {}",
            plan.id
        ),
        columns: columns.columns,
        geometry: GeometryKind::Point,
        rows: rows.collect(),
    })
}

/// Wanted and sown rates, after everything has been driven.
fn difference(plan: &Plan, patches: &[Patch]) -> Layer {
    Layer {
        name: "difference",
        what: "rates wanted and rates sown, as driven",
        about: format!("Rates wanted and sown as driven, kg/ha, plan {}", plan.id),
        ..patches_of(plan, patches, &in_stream(&plan.job))
    }
}

/// The same for what a unit of its own spreads on the surface.
fn spread(plan: &Plan, of: &Spread) -> Option<Layer> {
    let mut products = plan.job.products.iter();
    let nth = products.position(|product| product.id == of.product)?;
    Some(Layer {
        name: "difference_surface",
        what: "rates wanted and spread on the surface, as driven",
        about: format!(
            "Rates of {} wanted and spread as driven, kg/ha, plan {}",
            of.product, plan.id
        ),
        ..patches_of(plan, &of.as_driven.patches, &[(nth, &of.product)])
    })
}

/// Patches with the rates of some products, by their places in the job and their ids.
fn patches_of(plan: &Plan, patches: &[Patch], products: &[(usize, &str)]) -> Layer {
    let mut columns = Columns::new(&[
        ("on_land", Kind::Integer),
        ("passes", Kind::Integer),
        ("closed", Kind::Integer),
        ("area_ha", Kind::Number),
    ]);
    let names = product_names(&plan.job);
    for own in products.iter().filter_map(|(nth, _)| names.get(*nth)) {
        columns.add(&own.wanted, Kind::Number);
        columns.add(&own.sown, Kind::Number);
    }
    columns.add("plan", Kind::Text);
    let mut rows = Vec::new();
    for patch in patches {
        let large = patch
            .shapes
            .iter()
            .filter(|shape| shape.area_m2() >= LEAST_M2);
        let polygons: Vec<Polygon<LonLat>> = large
            .map(|shape| lon_lat(shape, &plan.land.frame))
            .collect();
        if polygons.is_empty() {
            continue;
        }
        let mut row = vec![
            yes(patch.on_land),
            whole(patch.passes),
            yes(patch.closed),
            Value::Number(patch.area_m2 / M2_PER_HA),
        ];
        for (product, _) in products {
            for rates in [&patch.wanted, &patch.sown] {
                row.push(Value::Number(rates.get(*product).copied().unwrap_or(0.0)));
            }
        }
        row.push(Value::Text(plan.id.clone()));
        rows.push((Geometry::Polygons(polygons), row));
    }
    Layer {
        name: "",
        what: "",
        about: String::new(),
        columns: columns.columns,
        geometry: GeometryKind::Polygons,
        rows,
    }
}
