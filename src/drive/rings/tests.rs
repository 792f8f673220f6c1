use super::super::bout::{self, Sections};
use super::super::path::{area_m2, on_grid};
use super::super::ways::{Curves, Ways};
use super::sweep::pieces;
use super::*;
use crate::drive::SwitchRule;
use crate::geometry::Overlay;
use crate::geometry::point::area2_to_m2;

pub(super) fn job(width_m: f64, headland: &str) -> Job {
    let text = format!(
        r#"
name = "t"
[field]
name = "t"
boundary = {{ file = "b.geojson" }}
[drill]
working_width_m = {width_m}
[[drill.hopper]]
name = "front"
usable_l = 1000
[headland]
bouts = 1
[drive]
heading_deg = 80
headland = "{headland}"
[[product]]
id = "seed"
name = "seed"
kind = "seed"
hopper = "front"
rate = {{ kg_per_ha = 100 }}
"#
    );
    Job::parse(&text, std::path::Path::new("job.toml")).unwrap()
}

pub(super) fn land(metres: &[[f64; 2]], headland_m: f64) -> Land {
    let ring = metres.iter().map(|&xy| Pt::from_metres(xy).unwrap());
    let field = vec![Shape {
        exterior: ring.collect(),
        holes: Vec::new(),
    }];
    Land {
        interior: inset(&field, headland_m),
        land: field.clone(),
        field,
        exclusions: Vec::new(),
        headland_m,
        setbacks: Vec::new(),
        to_keep: Vec::new(),
        guide: None,
    }
}

pub(super) fn sections(width_m: f64, count: usize, rule: SwitchRule) -> Sections {
    Sections {
        widths_m: vec![width_m / count as f64; count],
        rule,
    }
}

/// The rings as bouts with these sections, and what they drill.
fn driven(rings: &Rings, before: &[Bout], job: &Job, by: &Sections) -> (Vec<Bout>, Drilled) {
    let swept = sweep(rings, job, by, &[(by.rule, before)]).remove(0);
    (bouts(rings, swept.sections, job, None), swept.drilled)
}

/// A field of 100 m by 10 m and a ring of 6 m: the second long side lies on 2 m of the first. Its ground is two
/// trapezoids of 564 m2 and two triangles of 25 m2. With six sections the inner two of the second side shut, but for
/// triangles of 1 m2 at both ends, where the ring's corners overlap. Geometry, derived.
#[test]
fn a_ring_that_meets_itself_across_a_narrow_field_is_driven_once() {
    let land = land(&[[0.0, 0.0], [100.0, 0.0], [100.0, 10.0], [0.0, 10.0]], 6.0);
    let job = job(6.0, "first");
    let rings = Rings::of(&land, &job, |_| 0);
    let cases = [
        (1, SwitchRule::AnyPartIn, 178.0, 0.0),
        (2, SwitchRule::AnyPartIn, 178.0, 0.0),
        (6, SwitchRule::AnyPartIn, 1.0, 0.0),
        (6, SwitchRule::HalfIn, 0.25, 0.25),
        (6, SwitchRule::AllIn, 0.0, 1.0),
    ];
    for (count, rule, again, missed) in cases {
        let (bouts, drilled) = driven(&rings, &[], &job, &sections(6.0, count, rule));
        assert_eq!(bouts.len(), 1);
        let got = [
            drilled.driven_m2 - drilled.headland_m2,
            rings.headland_m2 - drilled.headland_m2,
        ];
        // 2 cm of width do not count.
        assert!(
            (got[0] - again).abs() < 0.05 && (got[1] - missed).abs() < 0.05,
            "{count} {rule:?}: {got:?}"
        );
    }
}

/// Nothing shuts where nothing has been drilled, at bends to either side neither.
#[test]
fn a_ring_in_a_wide_field_is_on_all_the_way() {
    let corners = [
        [0.0, 0.0],
        [120.0, 10.0],
        [130.0, 100.0],
        [70.0, 70.0],
        [20.0, 120.0],
    ];
    let land = land(&corners, 6.0);
    let job = job(6.0, "first");
    let rings = Rings::of(&land, &job, |_| 2);
    for rule in [SwitchRule::AnyPartIn, SwitchRule::HalfIn, SwitchRule::AllIn] {
        let (bouts, drilled) = driven(&rings, &[], &job, &sections(6.0, 3, rule));
        for section in &bouts[0].sections {
            let length = bouts[0].path.length_m();
            let &[[from, to]] = section.on_m.as_slice() else {
                panic!("{rule:?}: {:?}", section.on_m);
            };
            assert!(from.abs() < 1e-9 && (to - length).abs() < 1e-6, "{rule:?}");
        }
        assert!((drilled.driven_m2 - drilled.headland_m2).abs() < 0.3);
    }
}

/// Stars with narrow arms, one to four sections, every rule, headland first and last: what the sums say is what the exact
/// arrangement of the driven ground and the headland has.
#[test]
fn what_rings_drill_is_what_lies_on_the_ground() {
    let mut random = crate::drive::test_numbers::random_numbers(3);
    let rules = [SwitchRule::AnyPartIn, SwitchRule::HalfIn, SwitchRule::AllIn];
    let mut saved_m2 = 0.0;
    for case in 0..8 {
        let corners: Vec<[f64; 2]> = (0..9)
            .map(|k| {
                let (sine, cosine) = (f64::from(k) / 9.0 * std::f64::consts::TAU).sin_cos();
                let radius = 60.0 * (0.15 + 0.85 * random());
                [radius * cosine, radius * sine]
            })
            .collect();
        let land = land(&corners, 6.0);
        let job = job(6.0, if case % 2 == 0 { "first" } else { "last" });
        let ways = Ways::of(&land, &job, Curves::of(&land, &job), |_| case).unwrap();
        let rings = &ways.rings;
        let mut again_of_one = 0.0;
        for count in [1, 4] {
            let sections = sections(6.0, count, rules[case / 2 % 3]);
            let before = match case % 2 {
                0 => Vec::new(),
                _ => bout::interior(&ways, &land, &job, None, &sections),
            };
            let (bouts, drilled) = driven(rings, &before, &job, &sections);
            let before_m2 = drilled_m2(rings, &before);
            let mut overlay = Overlay::default();
            let mut add = |ring: &[[f64; 2]]| {
                if let Some(exterior) = on_grid(ring) {
                    overlay.add(Shape {
                        exterior,
                        holes: Vec::new(),
                    });
                }
            };
            let of_before: Vec<_> = before.iter().flat_map(pieces).map(|of| of.data).collect();
            let of_rings: Vec<_> = bouts.iter().flat_map(pieces).map(|of| of.data).collect();
            of_before.iter().chain(&of_rings).for_each(|ring| add(ring));
            let first_ring = of_before.len() as u32;
            let first_land = first_ring + of_rings.len() as u32;
            for shape in land.land.iter().chain(&land.interior) {
                overlay.add(shape.clone());
            }
            let first_interior = first_land + land.land.len() as u32;
            let arrangement = overlay.arrange();
            let (mut by_rings, mut by_before) = (0, 0);
            for face in 1..arrangement.faces() as u32 {
                let covering = overlay.covering(&arrangement, face);
                let any = |from: u32, to: u32| covering.iter().any(|at| (from..to).contains(at));
                if !any(first_land, first_interior) || any(first_interior, u32::MAX) {
                    continue;
                }
                if any(0, first_ring) {
                    by_before += arrangement.area2(face);
                } else if any(first_ring, first_land) {
                    by_rings += arrangement.area2(face);
                }
            }
            let driven: f64 = of_rings.iter().map(|ring| area_m2(ring)).sum();
            for (what, got, wanted) in [
                ("driven", drilled.driven_m2, driven),
                ("headland", drilled.headland_m2, area2_to_m2(by_rings)),
                ("before", before_m2, area2_to_m2(by_before)),
            ] {
                assert!(
                    (got - wanted).abs() < 0.01,
                    "{case} {count} {what}: {got}, not {wanted}"
                );
            }
            let again = drilled.driven_m2 - drilled.headland_m2;
            if count == 1 {
                again_of_one = again;
            } else {
                saved_m2 += again_of_one - again;
            }
        }
    }
    assert!(saved_m2 > 100.0, "{saved_m2}");
}
