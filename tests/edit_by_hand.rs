//! Zones of `twinsow edit` changed by hand: what moves, and that nothing else does.

#[path = "edit_support/demo.rs"]
mod demo;

use demo::{demo, desk, worked_out};
use twinsow::edit::action::Action;
use twinsow::edit::desk::Desk;
use twinsow::job::Job;
use twinsow::plan::{Disk, Options, plan};

/// Area of each class of the first layer, m2, by the rate table.
fn class_areas(desk: &Desk) -> std::collections::BTreeMap<String, f64> {
    let shown = desk.look(|inner| inner.shown.clone()).expect("land");
    let mut areas = std::collections::BTreeMap::new();
    for row in shown.rows.iter() {
        *areas.entry(row.facts.classes[0].clone()).or_default() += row.area_m2;
    }
    areas
}

#[test]
fn a_zone_made_another_class_moves_its_land_and_nothing_else() {
    let (_folder, file) = demo();
    let desk = desk(&file);
    let first = std::fs::read_to_string(&file).expect("the job");
    let shown = desk.look(|inner| inner.shown.clone()).expect("land");
    let before = class_areas(&desk);
    let zones = twinsow::edit::by_hand::zones(&shown, 0);
    let (from, to) = (&zones[0].class, &zones[zones.len() - 1].class);
    assert_ne!(from, to);
    let moved = zones[0].shape.area_m2();
    desk.act(Action::Class {
        layer: "soil".into(),
        zone: 0,
        class: to.clone(),
        file: None,
    })
    .expect("done");
    worked_out(&desk);
    let after = class_areas(&desk);
    // Places are rounded to nine decimals of a degree, 0.1 mm, on some kilometres of border.
    for (class, m2) in &before {
        let gain = after.get(class).copied().unwrap_or(0.0) - m2;
        let wanted = match class {
            class if class == to => moved,
            class if class == from => -moved,
            _ => 0.0,
        };
        assert!((gain - wanted).abs() < 1.0, "{class}: {gain}, not {wanted}");
    }
    let job = std::fs::read_to_string(&file).expect("the job");
    assert!(job.contains("soil-by-hand.geojson"), "{job}");
    // The command makes the same of it.
    let plan = plan(
        &Job::load(&file).expect("a job"),
        &Disk,
        &Options::default(),
    )
    .expect("a plan");
    let id = desk.look(|inner| inner.whole.as_ref().map(|whole| whole.plan.id.clone()));
    assert_eq!(id, Some(plan.id));
    desk.undo().expect("undone");
    assert_eq!(std::fs::read_to_string(&file).expect("the job"), first);
    worked_out(&desk);
    assert_eq!(class_areas(&desk), before);
    desk.close();
}

/// The land on one side of the line by the crate geo, whose polygon clipping shares no code with the arrangement.
#[test]
fn a_cut_gives_one_side_of_the_line_another_class() {
    use geo::{Area, BooleanOps, Coord, LineString, Polygon};
    let (_folder, file) = demo();
    let desk = desk(&file);
    let shown = desk.look(|inner| inner.shown.clone()).expect("land");
    let before = class_areas(&desk);
    let zones = twinsow::edit::by_hand::zones(&shown, 0);
    let largest = (0..zones.len()).max_by(|a, b| {
        let area = |nth: &usize| zones[*nth].shape.area_m2();
        area(a).total_cmp(&area(b))
    });
    let zone = largest.expect("a zone");
    let ring = |points: &[twinsow::geometry::Pt]| {
        let place = |point: &twinsow::geometry::Pt| {
            let [x, y] = point.metres();
            Coord { x, y }
        };
        LineString::new(points.iter().map(place).collect())
    };
    let own = Polygon::new(
        ring(&zones[zone].shape.exterior),
        zones[zone]
            .shape
            .holes
            .iter()
            .map(|hole| ring(hole))
            .collect(),
    );
    let boundary = &shown.prepared.land.field[0].exterior;
    let middle =
        boundary.iter().map(|point| point.metres()[0]).sum::<f64>() / boundary.len() as f64;
    let x = middle.round();
    // A line from south to north: its left is the west.
    let far = 1e5;
    let west = Polygon::new(
        LineString::from(vec![(-far, -far), (x, -far), (x, far), (-far, far)]),
        Vec::new(),
    );
    let wanted = own.intersection(&west).unsigned_area();
    assert!(
        wanted > 100.0 && wanted < own.unsigned_area() - 100.0,
        "{wanted}"
    );
    let class = zones
        .iter()
        .map(|zone| &zone.class)
        .find(|class| **class != zones[zone].class);
    let class = class.expect("another class").clone();
    desk.act(Action::Cut {
        layer: "soil".into(),
        zone,
        line: vec![(x * 100.0) as i64, -1000, 0, 2000],
        side: twinsow::edit::by_hand::Side::Left,
        class: class.clone(),
        file: None,
    })
    .expect("cut");
    worked_out(&desk);
    let after = class_areas(&desk);
    let gain = after[&class] - before[&class];
    assert!((gain - wanted).abs() < 1.0, "{gain}, not {wanted}");
    let total = |areas: &std::collections::BTreeMap<String, f64>| areas.values().sum::<f64>();
    assert!((total(&after) - total(&before)).abs() < 0.01);
    let nothing = desk.act(Action::Cut {
        layer: "soil".into(),
        zone: 0,
        line: vec![9_000_000, 0, 0, 100],
        side: twinsow::edit::by_hand::Side::Left,
        class: "never".into(),
        file: None,
    });
    assert_eq!(nothing.expect_err("refused").code, "edit.cuts_nothing");
    desk.close();
}
