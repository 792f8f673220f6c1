//! The slow way, to hold the sweep against: every section alone, all ground looked at, the headland asked for at each place.

use super::super::bout::{self, Sections};
use super::super::test_numbers::random_numbers;
use super::super::ways::{Curves, Ways};
use super::near::{Leg, Seen, cell_edge};
use super::sweep::{Piece, Swept, piece, pieces};
use super::switching::switched_along;
use super::tests::{job, land, sections};
use super::*;
use crate::drive::SwitchRule;
use crate::drive::frame::Edge;
use crate::drive::open_width::{self, LandHere};
use crate::drive::path::Cell;
use rstar::{Envelope, RTreeObject};

/// The rings driven with these sections, after what has been driven before.
fn slowly(rings: &Rings, before: &[Bout], job: &Job, by: &Sections) -> Swept {
    let rims = by.rims(job);
    let mut drilled: Vec<(Option<Leg>, Piece)> = before
        .iter()
        .flat_map(pieces)
        .map(|piece| (None, piece))
        .collect();
    let mut swept = Swept {
        sections: Vec::new(),
        drilled: Drilled::default(),
    };
    for nth in order(rings, job) {
        let way = &rings.ways[nth];
        let mut cells: Vec<(usize, Cell)> = rims
            .iter()
            .enumerate()
            .flat_map(|(section, rim)| way.cells(*rim).into_iter().map(move |cell| (section, cell)))
            .collect();
        cells.sort_by_key(|(section, cell)| (cell.leg, *section));
        let mut states: Vec<(bool, f64)> = vec![(true, 0.0); rims.len()];
        let mut on_m: Vec<Vec<[f64; 2]>> = vec![Vec::new(); rims.len()];
        for (section, cell) in cells {
            let leg = Leg {
                way: nth,
                leg: cell.leg,
            };
            let seen = Seen::of(&cell);
            let borders = rings.borders.near(&seen.around);
            let borders: Vec<Edge> = borders
                .map(|edge| cell_edge(&cell, edge))
                .filter(|edge| seen.meets(edge))
                .collect();
            let there: Vec<Vec<[f64; 2]>> = drilled
                .iter()
                .filter(|(by, _)| *by != Some(leg))
                .filter(|(_, piece)| piece.geom().envelope().intersects(&seen.around))
                .map(|(_, piece)| piece.data.iter().map(|at| cell.turned(*at)).collect())
                .collect();
            let here = LandHere {
                edges: &borders,
                at: |place| rings.borders.at(cell.back(place)),
            };
            let widths = open_width::widths(&seen.ground, here, &there, [0.0, cell.length_m]);
            let state = &mut states[section];
            let length_m = cell.length_m;
            let on = switched_along(widths, length_m, by.rule, &mut state.0, &mut swept.drilled);
            for [from, to] in on {
                let [begin, end] = [from + cell.from_m, to + cell.from_m];
                let ground = way.ground([begin, end], rims[section]);
                drilled.extend(ground.into_iter().map(|ring| (Some(leg), piece(ring))));
                match on_m[section].last_mut() {
                    Some(last) if from <= 1e-7 && last[1] >= state.1 - 1e-7 => last[1] = end,
                    _ => on_m[section].push([begin, end]),
                }
            }
            state.1 = cell.from_m + cell.length_m;
        }
        let of_way = rims.iter().zip(on_m);
        let of_way = of_way.map(|(left_m, on_m)| Section {
            left_m: *left_m,
            on_m,
        });
        swept.sections.push(of_way.collect());
    }
    swept
}

/// Stars with narrow arms, some with a hole, one to three rings, one to five sections, headland first and last: all rules in one
/// sweep against each by itself.
fn hold(seed: u64) {
    let mut random = random_numbers(seed);
    let mut star = |count: u32, size: f64, narrow: f64| -> Vec<[f64; 2]> {
        let corner = |k: u32| {
            let (sine, cosine) =
                (f64::from(k) / f64::from(count) * std::f64::consts::TAU).sin_cos();
            let radius = size * (narrow + (1.0 - narrow) * random());
            [radius * cosine, radius * sine]
        };
        (0..count).map(corner).collect()
    };
    let headland_m = [6.0, 10.0, 17.0][seed as usize % 3];
    let outer = star(14, 80.0, 0.25);
    let hole = star(7, 14.0, 0.5);
    let mut land = land(&outer, headland_m);
    if seed % 4 > 1 {
        let ring = hole.iter().rev().map(|&at| Pt::from_metres(at).unwrap());
        land.field[0].holes.push(ring.collect());
        land.land = land.field.clone();
        land.interior = inset(&land.field, headland_m);
    }
    let job = job(
        6.0,
        if seed.is_multiple_of(2) {
            "first"
        } else {
            "last"
        },
    );
    let ways = Ways::of(&land, &job, Curves::of(&land, &job), |_| 0).unwrap();
    let rules = [SwitchRule::AnyPartIn, SwitchRule::HalfIn, SwitchRule::AllIn];
    let by = rules.map(|rule| sections(6.0, 1 + seed as usize % 5, rule));
    let before = by.each_ref().map(|by| match seed % 2 {
        0 => Vec::new(),
        _ => bout::interior(&ways, &land, &job, None, by),
    });
    let with_rules: Vec<(SwitchRule, &[Bout])> = rules
        .into_iter()
        .zip(before.iter().map(Vec::as_slice))
        .collect();
    let swept = sweep(&ways.rings, &job, &by[0], &with_rules);
    for ((quick, by), before) in swept.iter().zip(&by).zip(&before) {
        let slow = slowly(&ways.rings, before, &job, by);
        let near = |what: &str, a: f64, b: f64, most: f64| {
            assert!((a - b).abs() < most, "{seed} {by:?} {what}: {a}, not {b}");
        };
        // Stations of a way of hundreds of metres, and sums of a few thousand m2.
        let [a, b] = [quick.drilled, slow.drilled];
        near(
            "driven",
            a.driven_m2,
            b.driven_m2,
            1e-9 * b.driven_m2 + 1e-6,
        );
        near(
            "headland",
            a.headland_m2,
            b.headland_m2,
            1e-9 * b.driven_m2 + 1e-6,
        );
        let sections = |of: &Swept| of.sections.concat();
        for (a, b) in sections(quick).iter().zip(&sections(&slow)) {
            assert_eq!(
                a.on_m.len(),
                b.on_m.len(),
                "{seed} {by:?}: {a:?}, not {b:?}"
            );
            let stations = a.on_m.iter().flatten().zip(b.on_m.iter().flatten());
            stations.for_each(|(a, b)| near("station", *a, *b, 1e-6));
        }
    }
}

/// `TWINSOW_SLOW_FIELDS=500` tries more of them.
#[test]
fn rings_are_swept_as_the_slow_way_drives_them() {
    let asked = std::env::var("TWINSOW_SLOW_FIELDS").ok();
    let fields = asked.and_then(|count| count.parse().ok()).unwrap_or(16);
    (0..fields).for_each(hold);
}
