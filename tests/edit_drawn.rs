//! What is drawn on the map of `twinsow edit`: the job that comes of it, its file, and that undo leaves nothing behind.

#[path = "edit_support/demo.rs"]
mod demo;

use demo::{demo, desk, read, worked_out};
use geo::{Area, BooleanOps, Coord, LineString, Polygon};
use std::collections::BTreeSet;
use std::path::Path;
use twinsow::edit::action::Action;
use twinsow::edit::desk::Desk;
use twinsow::edit::draw::{Drawing, Length};
use twinsow::edit::state::{Edit, Reader};
use twinsow::edit::work::Counts;
use twinsow::geometry::Shape;
use twinsow::job::{Job, MeasuredFrom};
use twinsow::plan::{Disk, Options, plan};

const READER: Reader = &read;

/// Places of the plane, metres, as they travel: hundredths of a metre, the first and then steps.
fn travels(places: &[[f64; 2]]) -> Vec<i64> {
    let whole: Vec<[i64; 2]> = places
        .iter()
        .map(|at| at.map(|m| (m * 100.0).round() as i64))
        .collect();
    let mut flat = whole[0].to_vec();
    for pair in whole.windows(2) {
        flat.extend([pair[1][0] - pair[0][0], pair[1][1] - pair[0][1]]);
    }
    flat
}

fn drawn(drawing: Drawing) -> Action {
    Action::Draw {
        drawing,
        made: None,
    }
}

fn exclusion(name: &str, outline: &[[f64; 2]]) -> Action {
    drawn(Drawing::Exclusion {
        name: name.into(),
        why: "an old mast".into(),
        outline: travels(outline),
        water: false,
    })
}

fn files(folder: &Path) -> BTreeSet<String> {
    let entries = std::fs::read_dir(folder).expect("the folder");
    let names = entries.map(|entry| entry.expect("an entry").file_name().into_string());
    names
        .map(|name| name.expect("a name"))
        .filter(|name| !name.ends_with(".before"))
        .collect()
}

fn text(file: &Path) -> String {
    std::fs::read_to_string(file).expect("the job")
}

fn id_by_command(file: &Path) -> String {
    let job = Job::load(file).expect("a job");
    plan(&job, &Disk, &Options::default()).expect("a plan").id
}

fn id(desk: &Desk) -> Option<String> {
    desk.look(|inner| inner.whole.as_ref().map(|whole| whole.plan.id.clone()))
}

/// Shapes as the crate geo has them, whose clipping shares no code with the arrangement.
fn polygons(shapes: &[Shape]) -> geo::MultiPolygon {
    let ring = |points: &[twinsow::geometry::Pt]| {
        let place = |point: &twinsow::geometry::Pt| {
            let [x, y] = point.metres();
            Coord { x, y }
        };
        LineString::new(points.iter().map(place).collect())
    };
    let polygon = |shape: &Shape| {
        let holes = shape.holes.iter().map(|hole| ring(hole)).collect();
        Polygon::new(ring(&shape.exterior), holes)
    };
    geo::MultiPolygon::new(shapes.iter().map(polygon).collect())
}

fn land(desk: &Desk) -> Vec<Shape> {
    desk.look(|inner| inner.shown.clone())
        .expect("land")
        .prepared
        .land
        .land
        .clone()
}

const SQUARE: [[f64; 2]; 4] = [[-60.0, -20.0], [-20.0, -20.0], [-20.0, 10.0], [-60.0, 10.0]];

#[test]
fn land_that_is_drawn_is_left_out_and_undo_leaves_no_file() {
    let (folder, file) = demo();
    let desk = desk(&file);
    let (first, before) = (text(&file), files(folder.path()));
    let sown = polygons(&land(&desk));
    let square = Polygon::new(
        LineString::from(SQUARE.map(<(f64, f64)>::from).to_vec()),
        Vec::new(),
    );
    let wanted = sown.intersection(&square).unsigned_area();
    assert!(wanted > 500.0, "{wanted}");
    let counts = desk.look(|inner| inner.counts);
    desk.act(exclusion("Mast", &SQUARE)).expect("done");
    worked_out(&desk);
    let once = Counts {
        land: counts.land + 1,
        drive: counts.drive,
        rates: counts.rates + 1,
        whole: counts.whole + 1,
    };
    assert_eq!(desk.look(|inner| inner.counts), once);
    let less = sown.unsigned_area() - polygons(&land(&desk)).unsigned_area();
    // Degrees have nine decimals, 0.1 mm, on some 140 m of border.
    assert!((less - wanted).abs() < 0.05, "{less}, not {wanted}");
    let job = text(&file);
    assert!(
        job.contains("Mast.geojson") && job.contains("# an old mast"),
        "{job}"
    );
    let drawn = std::fs::read_to_string(folder.path().join("Mast.geojson")).expect("drawn");
    assert!(drawn.contains("\"why\":\"an old mast\""), "{drawn}");
    assert_eq!(id(&desk), Some(id_by_command(&file)));
    let done: Vec<String> = desk.look(|inner| inner.edit.done().map(str::to_owned).collect());
    assert_eq!(done, ["Drawn, left out: Mast"]);
    // Replayed from the first text, as a value that is written down and read again.
    let action = desk
        .look(|inner| inner.edit.actions().last().cloned())
        .expect("it");
    let written = serde_json::to_string(&action).expect("JSON");
    let action: Action = serde_json::from_str(&written).expect("an action");
    let tried = Edit::of(file.clone(), &first).tried(&action, READER);
    assert_eq!(tried.expect("a job").text, job);
    desk.undo().expect("undone");
    assert_eq!(text(&file), first);
    assert_eq!(files(folder.path()), before);
    // What lies beside the job names nothing that has gone.
    assert!(!text(&folder.path().join("job.toml.before")).contains("Mast"));
    desk.redo().expect("done again");
    assert_eq!(text(&file), job);
    let again = std::fs::read_to_string(folder.path().join("Mast.geojson")).expect("drawn");
    assert_eq!(again, drawn);
    desk.close();
}

#[test]
fn zones_changed_by_hand_go_with_their_undo_too() {
    let (folder, file) = demo();
    let desk = desk(&file);
    let before = files(folder.path());
    for class in ["loam", "sand"] {
        desk.act(Action::Class {
            layer: "soil".into(),
            zone: 0,
            class: class.into(),
            file: None,
        })
        .expect("done");
        worked_out(&desk);
    }
    assert!(text(&file).contains("soil-by-hand-2.geojson"));
    desk.undo().expect("undone");
    assert!(files(folder.path()).contains("soil-by-hand.geojson"));
    assert!(!files(folder.path()).contains("soil-by-hand-2.geojson"));
    desk.undo().expect("undone");
    assert_eq!(files(folder.path()), before);
    desk.close();
}

/// Nobody's work goes: a file that was changed since it was drawn, or that another job names, stays.
#[test]
fn a_file_that_is_somebody_elses_now_stays() {
    let (folder, file) = demo();
    let desk = desk(&file);
    let mast = folder.path().join("Mast.geojson");
    desk.act(exclusion("Mast", &SQUARE)).expect("done");
    std::fs::copy(&file, folder.path().join("other.toml")).expect("copied");
    desk.undo().expect("undone");
    assert!(mast.is_file(), "another job names it");
    std::fs::remove_file(folder.path().join("other.toml")).expect("gone");
    desk.redo().expect("done again");
    let changed = format!("{} ", text(&mast));
    std::fs::write(&mast, &changed).expect("changed");
    desk.undo().expect("undone");
    assert_eq!(text(&mast), changed, "somebody has changed it");
    // What lies there is not what was drawn: the job must not take it for that.
    let undone = text(&file);
    let fault = desk.redo().expect_err("another file");
    assert_eq!(fault.code, "edit.name_taken");
    assert_eq!((text(&mast), text(&file)), (changed, undone));
    std::fs::remove_file(&mast).expect("gone");
    desk.redo().expect("done again");
    assert!(mast.is_file());
    desk.close();
}

/// A folder in the place of the file that keeps the earlier job: nothing can be written.
#[test]
fn a_disk_that_will_not_have_the_job_loses_nothing_and_gains_nothing() {
    let (folder, file) = demo();
    let desk = desk(&file);
    let (first, before) = (text(&file), files(folder.path()));
    let wall = folder.path().join("job.toml.before");
    std::fs::create_dir(&wall).expect("a wall");
    let fault = desk.act(exclusion("Mast", &SQUARE)).expect_err("refused");
    assert_eq!(fault.code, "edit.unwritable");
    assert_eq!((text(&file), files(folder.path())), (first, before.clone()));
    assert_eq!(desk.look(|inner| inner.edit.undone().count()), 0);
    std::fs::remove_dir(&wall).expect("no wall");
    worked_out(&desk);
    desk.act(exclusion("Mast", &SQUARE)).expect("done");
    let (job, with) = (text(&file), files(folder.path()));
    std::fs::remove_file(&wall).expect("the earlier job");
    std::fs::create_dir(&wall).expect("a wall");
    assert_eq!(desk.undo().expect_err("refused").code, "edit.unwritable");
    assert_eq!((text(&file), files(folder.path())), (job, with.clone()));
    std::fs::remove_dir(&wall).expect("no wall");
    desk.undo().expect("undone");
    std::fs::remove_file(&wall).expect("the earlier job");
    std::fs::create_dir(&wall).expect("a wall");
    assert_eq!(desk.redo().expect_err("refused").code, "edit.unwritable");
    assert_eq!(files(folder.path()), before);
    assert_ne!(with, before);
    desk.close();
}

#[test]
fn an_outline_that_is_none_is_refused_and_leaves_no_file() {
    let (folder, file) = demo();
    let desk = desk(&file);
    let (first, before) = (text(&file), files(folder.path()));
    let refused = [
        (
            exclusion("Bow", &[[0.0, 0.0], [40.0, 40.0], [40.0, 0.0], [0.0, 40.0]]),
            "edit.crosses_itself",
        ),
        (
            exclusion("Two", &[[0.0, 0.0], [40.0, 40.0]]),
            "edit.no_outline",
        ),
        (
            exclusion("Flat", &[[0.0, 0.0], [40.0, 0.0], [20.0, 0.0]]),
            "edit.no_area",
        ),
        (
            exclusion("Away", &SQUARE.map(|[x, y]| [x + 9000.0, y])),
            "edit.beside_field",
        ),
        (
            exclusion("All", &[[-3e3, -3e3], [3e3, -3e3], [3e3, 3e3], [-3e3, 3e3]]),
            "edit.nothing_left",
        ),
        (exclusion(" ", &SQUARE), "edit.no_name"),
        (strip(Length::M(0.0)), "job.range"),
        (
            drawn(Drawing::Guide {
                line: travels(&[[0.0, 0.0], [3.0, 0.0]]),
            }),
            "land.guide",
        ),
        (
            drawn(Drawing::Guide {
                line: travels(&[[0.0, 0.0]]),
            }),
            "edit.no_line",
        ),
        (place(&[]), "job.rule"),
        (place(&[("nobody", 90.0)]), "job.rule"),
    ];
    let mut codes = Vec::new();
    for (action, code) in refused {
        let fault = desk.act(action).expect_err(code);
        codes.push((fault.code, code));
        assert_eq!(text(&file), first);
        assert_eq!(files(folder.path()), before);
    }
    let (found, wanted): (Vec<_>, Vec<_>) = codes.into_iter().unzip();
    assert_eq!(found, wanted);
    desk.close();
}

fn strip(distance: Length) -> Action {
    drawn(Drawing::Strip {
        name: "Ditch".into(),
        why: "label".into(),
        line: travels(&[[-100.0, -400.0], [-80.0, 0.0], [-100.0, 400.0]]),
        distance,
        measured_from: Some(MeasuredFrom::TopOfBank),
        products: vec!["starter".into()],
    })
}

fn place(percent: &[(&str, f64)]) -> Action {
    drawn(Drawing::Place {
        name: "Slug edge".into(),
        why: String::new(),
        outline: travels(&SQUARE),
        percent: percent
            .iter()
            .map(|(id, of)| ((*id).to_owned(), *of))
            .collect(),
    })
}

/// The strip is as wide as the distance and what widens every setback (docs/methods), to both sides of the line.
#[test]
fn a_strip_keeps_its_products_off_and_feet_become_metres() {
    let (folder, file) = demo();
    let desk = desk(&file);
    let (first, before) = (text(&file), files(folder.path()));
    desk.act(strip(Length::Ft(20.0))).expect("done");
    worked_out(&desk);
    assert!(
        text(&file).contains("distance_m = 6.096"),
        "{}",
        text(&file)
    );
    assert!(text(&file).contains("measured_from = \"top_of_bank\""));
    let shown = desk.look(|inner| inner.shown.clone()).expect("land");
    // South to north through the middle: both ends round, outside the field.
    let [kept] = [polygons(
        shown.prepared.land.to_keep.last().expect("a strip"),
    )];
    let metres = (20.0_f64.hypot(400.0)) * 2.0;
    let wide = kept.unsigned_area() / metres;
    assert!((wide - 2.0 * 6.096).abs() < 0.3, "{wide} m wide");
    let nth = shown.job.setbacks.len() - 1;
    let mut rows = shown
        .rows
        .iter()
        .filter(|row| row.facts.setbacks.contains(&nth))
        .peekable();
    assert!(rows.peek().is_some(), "no land in the strip");
    for row in rows {
        assert_eq!(row.rates[1].kg_per_ha, 0.0);
        assert!(row.rates[0].kg_per_ha > 0.0);
    }
    assert_eq!(id(&desk), Some(id_by_command(&file)));
    desk.undo().expect("undone");
    assert_eq!((text(&file), files(folder.path())), (first, before));
    desk.close();
}

#[test]
fn a_place_has_its_percentage() {
    let (folder, file) = demo();
    let desk = desk(&file);
    let (first, before) = (text(&file), files(folder.path()));
    desk.act(place(&[("barley", 125.0)])).expect("done");
    worked_out(&desk);
    let shown = desk.look(|inner| inner.shown.clone()).expect("land");
    let nth = shown.job.special_areas.len() - 1;
    let inside = shown
        .rows
        .iter()
        .filter(|row| row.facts.special_areas.contains(&nth));
    let m2: f64 = inside.map(|row| row.area_m2).sum();
    let sown = polygons(&land(&desk));
    let square = Polygon::new(
        LineString::from(SQUARE.map(<(f64, f64)>::from).to_vec()),
        Vec::new(),
    );
    let wanted = sown.intersection(&square).unsigned_area();
    assert!((m2 - wanted).abs() < 0.05, "{m2}, not {wanted}");
    assert_eq!(shown.job.special_areas[nth].percent["barley"], 125.0);
    desk.undo().expect("undone");
    assert_eq!((text(&file), files(folder.path())), (first, before));
    desk.close();
}

#[test]
fn bouts_run_along_the_line_that_is_drawn() {
    let (folder, file) = demo();
    let desk = desk(&file);
    let (first, before) = (text(&file), files(folder.path()));
    let [a, b] = [[-100.0, -120.0], [60.0, 150.0]];
    desk.act(drawn(Drawing::Guide {
        line: travels(&[a, b]),
    }))
    .expect("done");
    worked_out(&desk);
    assert_eq!(id(&desk), Some(id_by_command(&file)));
    let whole = desk.look(|inner| inner.whole.clone()).expect("a plan");
    let heading = whole
        .plan
        .drive
        .report
        .as_ref()
        .expect("a drive")
        .heading_deg;
    let wanted = (b[0] - a[0]).atan2(b[1] - a[1]).to_degrees();
    assert!((heading - wanted).abs() < 0.01, "{heading}, not {wanted}");
    // A second line takes the place of the first: a curve, with all of its places. Both undone, nothing is left.
    let curve = [a, [-20.0, 20.0], [-40.0, 150.0]];
    desk.act(drawn(Drawing::Guide {
        line: travels(&curve),
    }))
    .expect("done");
    worked_out(&desk);
    let whole = desk.look(|inner| inner.whole.clone()).expect("a plan");
    let frame = &whole.plan.land.frame;
    let guide = whole.plan.land.guide.as_ref().expect("a guide line");
    for place in curve {
        let near = guide.iter().map(|at| frame.to_plane(*at).pair());
        let near = near.map(|[x, y]| (x - place[0]).hypot(y - place[1]));
        let near = near.fold(f64::INFINITY, f64::min);
        assert!(
            near < 0.01,
            "{place:?} lies {near} m from the line's places"
        );
    }
    assert!(text(&file).contains("guide-line-2.geojson"));
    for _ in 0..2 {
        desk.undo().expect("undone");
    }
    assert_eq!((text(&file), files(folder.path())), (first, before));
    desk.close();
}

#[test]
fn the_entrance_moves_the_gate_check_and_no_land() {
    let (_folder, file) = demo();
    let desk = desk(&file);
    let first = text(&file);
    let at = [-150.0, -100.0];
    let counts = desk.look(|inner| inner.counts);
    desk.act(drawn(Drawing::Entrance { at: travels(&[at]) }))
        .expect("done");
    worked_out(&desk);
    let now = desk.look(|inner| inner.counts);
    assert_eq!(
        now,
        Counts {
            rates: counts.rates + 1,
            whole: counts.whole + 1,
            ..counts
        }
    );
    let shown = desk.look(|inner| inner.shown.clone()).expect("land");
    let entrance = shown.job.field.entrance.expect("an entrance");
    let [x, y] = shown.prepared.frame.to_plane(entrance.lon_lat()).pair();
    assert!((x - at[0]).hypot(y - at[1]) < 1e-3, "{x} {y}");
    assert_eq!(id(&desk), Some(id_by_command(&file)));
    desk.undo().expect("undone");
    assert_eq!(text(&file), first);
    desk.close();
}

/// Corners on the border of the field are those of the field again, so no strip of land is left between.
#[test]
fn what_is_drawn_along_a_border_leaves_no_sliver() {
    let (_folder, file) = demo();
    let desk = desk(&file);
    let shown = desk.look(|inner| inner.shown.clone()).expect("land");
    let field = polygons(&shown.prepared.land.field);
    let ring = &shown.prepared.land.field[0].exterior;
    let pieces = land(&desk).len();
    let [a, b] = [ring[0], ring[1]].map(|point| point.metres());
    for corner in [a, b] {
        let near = [corner[0] + 1.3, corner[1] - 0.9];
        assert_eq!(shown.edges(None).catch(near, 3.0).0, corner, "caught");
    }
    let inwards = |from: [f64; 2]| [from[0] * 0.8, from[1] * 0.8];
    desk.act(exclusion("Bank", &[a, b, inwards(b), inwards(a)]))
        .expect("done");
    worked_out(&desk);
    let left = land(&desk);
    assert_eq!(left.len(), pieces, "no crumb of land beside the border");
    let out = desk.look(|inner| inner.shown.clone()).expect("land");
    let out = polygons(&out.prepared.land.exclusions.last().expect("it").clone());
    // Less than the millimetre that degrees have been rounded by, times the border.
    let outside = out.difference(&field).unsigned_area();
    let between = polygons(&left).unsigned_area() + out.unsigned_area();
    assert!(outside < 0.2, "{outside}");
    assert!(between > 0.0);
    desk.close();
}
