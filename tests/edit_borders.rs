//! Borders between zones of `twinsow edit` changed by hand: they move as asked, and the zones tile the land as before.

#[path = "edit_support/demo.rs"]
mod demo;

use demo::{demo, desk, worked_out};
use std::collections::BTreeMap;
use twinsow::edit::action::Action;
use twinsow::edit::border::BorderChange;
use twinsow::edit::by_hand::{Zone, zones};
use twinsow::edit::desk::Desk;
use twinsow::edit::draw::Length;
use twinsow::geometry::Pt;
use twinsow::job::Job;
use twinsow::plan::{Disk, Options, plan};

fn change(change: BorderChange) -> Action {
    Action::Border {
        layer: "soil".into(),
        change,
        file: None,
    }
}

fn now(desk: &Desk) -> Vec<Zone> {
    zones(&desk.look(|inner| inner.shown.clone()).expect("land"), 0)
}

/// Area of each class, m2.
fn areas(zones: &[Zone]) -> BTreeMap<String, f64> {
    let mut areas = BTreeMap::new();
    for zone in zones {
        *areas.entry(zone.class.clone()).or_default() += zone.shape.area_m2();
    }
    areas
}

/// Edges of all zones with the classes on their left.
fn edges(zones: &[Zone]) -> BTreeMap<(Pt, Pt), String> {
    let mut edges = BTreeMap::new();
    for zone in zones {
        for ring in zone.shape.rings() {
            for (a, b) in ring.iter().zip(ring.iter().skip(1).chain(ring.first())) {
                edges.insert((*a, *b), zone.class.clone());
            }
        }
    }
    edges
}

fn travels(at: [f64; 2]) -> Vec<i64> {
    at.map(|m| (m * 100.0).round() as i64).to_vec()
}

/// Done, planned alike by the command, undone to the byte; in between `look` gets the zones.
fn done(change_of: impl Fn(&[Zone]) -> BorderChange, look: impl Fn(&[Zone], &[Zone])) {
    let (folder, file) = demo();
    let desk = desk(&file);
    let first = std::fs::read_to_string(&file).expect("the job");
    let files = || std::fs::read_dir(folder.path()).expect("it").count();
    let before = now(&desk);
    desk.act(change(change_of(&before))).expect("done");
    worked_out(&desk);
    let after = now(&desk);
    look(&before, &after);
    let total = |zones: &[Zone]| areas(zones).values().sum::<f64>();
    // Degrees have nine decimals, 0.1 mm, on the border of the field too.
    assert!((total(&after) - total(&before)).abs() < 0.3);
    // Edges that no neighbour shares are those of the land's own border, as before.
    let outside_m = |zones: &[Zone]| {
        let all = edges(zones);
        let outside = all.keys().filter(|(a, b)| !all.contains_key(&(*b, *a)));
        outside.map(|(a, b)| a.distance_m(*b)).sum::<f64>()
    };
    let more_m = outside_m(&after) - outside_m(&before);
    assert!(
        more_m.abs() < 0.05,
        "{more_m} m of border that only one zone has"
    );
    let plan = plan(
        &Job::load(&file).expect("a job"),
        &Disk,
        &Options::default(),
    );
    let id = desk.look(|inner| inner.whole.as_ref().map(|whole| whole.plan.id.clone()));
    assert_eq!(id, Some(plan.expect("a plan").id));
    let count = files();
    desk.undo().expect("undone");
    assert_eq!(std::fs::read_to_string(&file).expect("the job"), first);
    // The file with the zones goes; the earlier job stays beside.
    assert_eq!(files(), count - 1);
    desk.close();
}

/// A bend of a border between two classes: its neighbours along it and itself, by the zone on the left.
fn bend(zones: &[Zone]) -> [Pt; 3] {
    let all = edges(zones);
    let is_inner = |a: Pt, b: Pt| all.contains_key(&(b, a));
    let ways = |p: Pt| all.keys().filter(|(a, _)| *a == p).count();
    let mut found = None;
    for zone in zones {
        let ring = &zone.shape.exterior;
        for nth in 0..ring.len() {
            let [a, b, c] = [0, 1, 2].map(|more| ring[(nth + more) % ring.len()]);
            let long = a.distance_m(b).min(b.distance_m(c));
            if is_inner(a, b) && is_inner(b, c) && ways(b) == 2 && long > 5.0 {
                let best = found.is_none_or(|(known, _)| long > known);
                found = if best { Some((long, [a, b, c])) } else { found };
            }
        }
    }
    found.expect("a bend").1
}

/// Half the cross product of the sides from the corner (the shoelace formula) is the land that changes hands.
#[test]
fn a_corner_that_is_moved_takes_its_triangles_along() {
    let to = |b: Pt| [b.metres()[0] + 1.5, b.metres()[1] + 2.0];
    done(
        |zones| {
            let b = bend(zones)[1];
            BorderChange::Move {
                from: travels(b.metres()),
                to: travels(to(b)),
            }
        },
        |before, after| {
            let [a, b, c] = bend(before);
            let left = edges(before)[&(a, b)].clone();
            let [[ax, ay], [cx, cy]] = [a.metres(), c.metres()];
            let to = to(b).map(|m| (m * 100.0).round() / 100.0);
            let step = [to[0] - b.metres()[0], to[1] - b.metres()[1]];
            let wanted = ((step[1]) * (cx - ax) - (step[0]) * (cy - ay)) / -2.0;
            let gain = areas(after)[&left] - areas(before)[&left];
            assert!((gain - wanted).abs() < 0.1, "{left}: {gain}, not {wanted}");
            assert!(wanted.abs() > 1.0, "{wanted}");
        },
    );
}

#[test]
fn a_place_on_a_border_becomes_a_corner() {
    let middle = |a: Pt, b: Pt| [0, 1].map(|axis| (a.metres()[axis] + b.metres()[axis]) / 2.0);
    done(
        |zones| {
            let [a, b, _] = bend(zones);
            let [x, y] = middle(a, b);
            let to = [
                x + (b.metres()[1] - a.metres()[1]) * 0.1,
                y - (b.metres()[0] - a.metres()[0]) * 0.1,
            ];
            BorderChange::Move {
                from: travels([x, y]),
                to: travels(to),
            }
        },
        |before, after| {
            let [a, b, _] = bend(before);
            let left = edges(before)[&(a, b)].clone();
            // A tenth of the length out to the right of the way: a triangle of a twentieth of its square.
            let wanted = a.distance_m(b).powi(2) / 20.0;
            let gain = areas(after)[&left] - areas(before)[&left];
            assert!(
                (gain - wanted).abs() < 0.02 * a.distance_m(b) + 0.1,
                "{gain}, not {wanted}"
            );
        },
    );
}

/// From the middle of one side of a bend to that of the other: the corner and both new ones go along. The land that changes hands is the
/// difference of the two ways (the shoelace formula).
#[test]
fn a_border_goes_along_between_two_places_on_it() {
    const STEP: [i64; 2] = [120, 90];
    let middle = |a: Pt, b: Pt| {
        [0, 1].map(|axis| ((a.metres()[axis] + b.metres()[axis]) * 50.0).round() as i64)
    };
    let ends = |zones: &[Zone]| {
        let [a, b, c] = bend(zones);
        [middle(a, b), middle(b, c)]
    };
    done(
        |zones| {
            let [first, last] = ends(zones);
            let to = [first[0] + STEP[0], first[1] + STEP[1]];
            let line = [
                first,
                [last[0] - first[0], last[1] - first[1]],
                [to[0] - last[0], to[1] - last[1]],
            ];
            BorderChange::Run {
                line: line.concat(),
            }
        },
        |before, after| {
            let [a, b, c] = bend(before);
            let [first, last] = ends(before).map(|at| at.map(|cm| cm as f64 / 100.0));
            let left = edges(before)[&(a, b)].clone();
            let step = STEP.map(|cm| cm as f64 / 100.0);
            let gone = |[x, y]: [f64; 2]| [x + step[0], y + step[1]];
            let area = |way: &[[f64; 2]]| -> f64 {
                let pairs = way.iter().zip(way.iter().skip(1));
                pairs
                    .map(|([ax, ay], [bx, by])| (ax * by - bx * ay) / 2.0)
                    .sum()
            };
            let [a, b, c] = [a, b, c].map(Pt::metres);
            let wanted =
                area(&[a, gone(first), gone(b), gone(last), c]) - area(&[a, first, b, last, c]);
            let gain = areas(after)[&left] - areas(before)[&left];
            assert!(wanted.abs() > 1.0, "{wanted}");
            assert!(
                (gain - wanted).abs() < 0.02 * wanted.abs() + 0.2,
                "{left}: {gain}, not {wanted}"
            );
        },
    );
}

/// Two borders that do not meet, and a border that ends at the edge of the land.
#[test]
fn a_border_between_two_places_is_one_border() {
    let (_folder, file) = demo();
    let desk = desk(&file);
    let first = std::fs::read_to_string(&file).expect("the job");
    let zones = now(&desk);
    let all = edges(&zones);
    let b = bend(&zones)[1];
    // A corner of the field's own border.
    let outer = all
        .keys()
        .find(|(a, b)| !all.contains_key(&(*b, *a)))
        .expect("a border")
        .0;
    let step = |from: Pt, to: [f64; 2]| {
        let [from, to] = [travels(from.metres()), travels(to)];
        vec![to[0] - from[0], to[1] - from[1]]
    };
    let up = |of: Pt| [of.metres()[0], of.metres()[1] + 1.0];
    let nowhere = [b.metres()[0] + 7e3, b.metres()[1]];
    for (line, code) in [
        (
            [
                travels(b.metres()),
                step(b, outer.metres()),
                step(outer, up(b)),
            ]
            .concat(),
            ["edit.edge_of_land", "edit.two_borders"].as_slice(),
        ),
        (
            [travels(b.metres()), step(b, nowhere), vec![0, 100]].concat(),
            ["edit.no_border", "edit.no_place_on_map"].as_slice(),
        ),
        (
            [travels(b.metres()), vec![0, 100]].concat(),
            ["edit.no_border"].as_slice(),
        ),
    ] {
        let refused = desk
            .act(change(BorderChange::Run { line }))
            .expect_err("refused");
        assert!(code.contains(&refused.code), "{refused}");
        assert_eq!(std::fs::read_to_string(&file).expect("the job"), first);
    }
    desk.close();
}

#[test]
fn land_that_is_drawn_around_gets_the_class_whatever_it_had() {
    const SIDE: f64 = 40.0;
    let corners = |zones: &[Zone]| {
        let [x, y] = bend(zones)[1].metres().map(|m| m.round());
        [
            [x - 20.0, y - 20.0],
            [x + 20.0, y - 20.0],
            [x + 20.0, y + 20.0],
            [x - 20.0, y + 20.0],
        ]
    };
    done(
        |zones| {
            let at = corners(zones).map(|[x, y]| [(x * 100.0) as i64, (y * 100.0) as i64]);
            let mut outline = at[0].to_vec();
            for pair in at.windows(2) {
                outline.extend([pair[1][0] - pair[0][0], pair[1][1] - pair[0][1]]);
            }
            BorderChange::Around {
                outline,
                class: "clay".into(),
            }
        },
        |before, after| {
            let clay = areas(after)["clay"] - areas(before)["clay"];
            assert!(clay > 1.0 && clay < SIDE * SIDE + 0.1, "{clay}");
            let inside = |zone: &&Zone| zone.class != "clay";
            let [low, _, high, _] = corners(before);
            // No corner of another class lies inside the outline any more.
            for zone in after.iter().filter(inside) {
                for point in &zone.shape.exterior {
                    let [x, y] = point.metres();
                    let within = x > low[0] + 0.01
                        && x < high[0] - 0.01
                        && y > low[1] + 0.01
                        && y < high[1] - 0.01;
                    assert!(!within, "{} at {x} {y}", zone.class);
                }
            }
        },
    );
}

/// Every corner that went lies within the distance of the border that is left.
#[test]
fn smoothing_moves_no_border_farther_than_asked_for() {
    const WITHIN_M: f64 = 6.0;
    done(
        |_| BorderChange::Smooth {
            within: Length::M(WITHIN_M),
        },
        |before, after| {
            let (old, new) = (edges(before), edges(after));
            assert!(new.len() < old.len(), "{} of {}", new.len(), old.len());
            for (point, _) in old.keys() {
                let away = new.keys().map(|(a, b)| {
                    twinsow::geometry::thin::distance_m(point.metres(), [a.metres(), b.metres()])
                });
                let away = away.fold(f64::INFINITY, f64::min);
                assert!(away <= WITHIN_M + 0.001, "{away}");
            }
        },
    );
}

/// A strip of 3 m for a drill of 7.2 m goes to the neighbour that it has more border with.
#[test]
fn what_is_narrower_than_the_drill_goes_to_its_neighbour() {
    let (_folder, file) = demo();
    let desk = desk(&file);
    let nothing = desk.act(change(BorderChange::Narrow));
    let begun = now(&desk);
    if nothing.is_ok() {
        worked_out(&desk);
    }
    let whole = now(&desk);
    // A strip inside the largest zone.
    let largest = whole
        .iter()
        .max_by(|a, b| a.shape.area2().cmp(&b.shape.area2()))
        .expect("a zone");
    let class = ["clay", "sand"]
        .into_iter()
        .find(|class| *class != largest.class)
        .expect("another");
    let shown = desk.look(|inner| inner.shown.clone()).expect("land");
    let rings: Vec<Vec<[i64; 2]>> = vec![
        largest
            .shape
            .exterior
            .iter()
            .map(|p| p.metres().map(|m| (m * 100.0).round() as i64))
            .collect(),
    ];
    let middle = middle_of(&rings);
    drop(shown);
    let [x, y] = middle;
    desk.act(change(BorderChange::Around {
        outline: vec![x - 2000, y - 150, 4000, 0, 0, 300, -4000, 0],
        class: class.into(),
    }))
    .expect("drawn");
    worked_out(&desk);
    let strip = areas(&now(&desk))[class] - areas(&whole)[class];
    assert!((strip - 120.0).abs() < 0.1, "{strip}");
    desk.act(change(BorderChange::Narrow)).expect("joined");
    worked_out(&desk);
    let after = areas(&now(&desk));
    for (class, m2) in areas(&whole) {
        assert!(
            (after[&class] - m2).abs() < 0.3,
            "{class}: {} not {m2}",
            after[&class]
        );
    }
    let again = desk
        .act(change(BorderChange::Narrow))
        .expect_err("nothing is left");
    assert_eq!(again.code, "edit.nothing_narrow");
    assert!(begun.len() >= whole.len());
    desk.close();
}

/// A place with room around it, hundredths of a metre.
fn middle_of(rings: &[Vec<[i64; 2]>]) -> [i64; 2] {
    let middle = twinsow::report::middle(rings, 2500.0, 100.0).expect("room");
    middle.at.map(|at| at.round() as i64)
}

#[test]
fn a_border_that_would_cross_another_is_refused() {
    let (folder, file) = demo();
    let desk = desk(&file);
    let first = std::fs::read_to_string(&file).expect("the job");
    let count = std::fs::read_dir(folder.path()).expect("it").count();
    let zones = now(&desk);
    let b = bend(&zones)[1].metres();
    let corner = edges(&zones)
        .keys()
        .map(|(a, _)| *a)
        .min()
        .expect("a corner")
        .metres();
    let refused = [
        (
            BorderChange::Move {
                from: travels(b),
                to: travels([b[0] + 4e3, b[1]]),
            },
            "edit.borders_cross",
        ),
        (
            BorderChange::Move {
                from: travels(b),
                to: travels(b),
            },
            "edit.no_change",
        ),
        (
            BorderChange::Move {
                from: travels(corner),
                to: travels(b),
            },
            "edit.edge_of_land",
        ),
        (
            BorderChange::Move {
                from: travels([9e3, 9e3]),
                to: travels(b),
            },
            "edit.no_border",
        ),
        (
            BorderChange::Smooth {
                within: Length::M(0.0),
            },
            "edit.smooth",
        ),
        (
            BorderChange::Smooth {
                within: Length::Ft(f64::NAN),
            },
            "edit.smooth",
        ),
    ];
    for (border, code) in refused {
        let fault = desk.act(change(border)).expect_err(code);
        assert_eq!(fault.code, code);
        assert_eq!(std::fs::read_to_string(&file).expect("the job"), first);
        assert_eq!(std::fs::read_dir(folder.path()).expect("it").count(), count);
    }
    desk.close();
}
