//! Cases that break arrangements, held against areas in rational numbers: borders on borders, edges through
//! points of others, faces that fall together, holes that meet nothing, many lines through one point.

mod exact_support;

use exact_support::draw::{Dice, star};
use exact_support::overlaid::{Edge, Rings, covered, covering_at, slabs};
use exact_support::{Q, near, whole};
use std::collections::{BTreeMap, BTreeSet};
use twinsow::geometry::arrangement::OUTSIDE;
use twinsow::geometry::{Arrangement, Overlay, Pt, Shape};

/// An arrangement of polygons, and per face those that cover it.
struct Arranged {
    arrangement: Arrangement,
    covering: Vec<Vec<u32>>,
}

fn arranged(polygons: &[Rings]) -> Arranged {
    let mut overlay = Overlay::default();
    for (number, rings) in polygons.iter().enumerate() {
        let mut rings = rings
            .iter()
            .map(|ring| ring.iter().map(|&[x, y]| Pt { x, y }).collect());
        let polygon = overlay.add(Shape {
            exterior: rings.next().expect("an exterior"),
            holes: rings.collect(),
        });
        assert_eq!(polygon as usize, number);
    }
    let arrangement = overlay.arrange();
    let covering = (0..arrangement.faces() as u32)
        .map(|face| overlay.covering(&arrangement, face))
        .collect();
    Arranged {
        arrangement,
        covering,
    }
}

impl Arranged {
    /// Twice the area by the polygons that cover it.
    fn areas(&self) -> BTreeMap<Vec<u32>, i128> {
        let mut areas = BTreeMap::new();
        for (face, covering) in (0..).zip(&self.covering) {
            if !covering.is_empty() {
                *areas.entry(covering.clone()).or_default() += self.arrangement.area2(face);
            }
        }
        areas
    }

    /// Faces by what covers them, area and corner: the same whatever the numbers of faces are.
    fn faces(&self) -> Vec<(Vec<u32>, i128, Pt)> {
        let of_face = |face: u32| {
            let covering = self.covering[face as usize].clone();
            let [area2, corner] = [self.arrangement.area2(face), 0];
            (covering, area2 + corner, self.arrangement.corner(face))
        };
        let mut faces: Vec<_> = (1..self.arrangement.faces() as u32).map(of_face).collect();
        faces.sort();
        faces
    }

    /// What must be true of any arrangement: edges meet in their ends only, every face has the area its
    /// edges enclose, none is lost, and the land between two edges lies in one face.
    fn assert_whole(&self, what: &str) {
        let edges: Vec<([Pt; 2], [u32; 2])> = self.arrangement.edges().collect();
        self.assert_noded(what, &edges);
        let faces = self.arrangement.faces();
        assert!(self.covering[OUTSIDE as usize].is_empty(), "{what}");

        let mut area2 = vec![0i128; faces];
        for ([a, b], [left, right]) in &edges {
            let cross = i128::from(a.x) * i128::from(b.y) - i128::from(a.y) * i128::from(b.x);
            area2[*left as usize] += cross;
            area2[*right as usize] -= cross;
        }
        for (face, &area2) in area2.iter().enumerate().skip(1) {
            assert_eq!(
                area2,
                self.arrangement.area2(face as u32),
                "{what}: face {face}"
            );
            assert!(area2 > 0, "{what}: face {face} has no area");
        }

        // Euler: points - edges + faces = 1 + connected pieces.
        let mut piece: BTreeMap<Pt, usize> = BTreeMap::new();
        for ([a, b], _) in &edges {
            let count = piece.len();
            piece.entry(*a).or_insert(count);
            let count = piece.len();
            piece.entry(*b).or_insert(count);
        }
        let mut root: Vec<usize> = (0..piece.len()).collect();
        fn find(root: &[usize], mut at: usize) -> usize {
            while root[at] != at {
                at = root[at];
            }
            at
        }
        for ([a, b], _) in &edges {
            let [a, b] = [find(&root, piece[a]), find(&root, piece[b])];
            root[a] = b;
        }
        let pieces = (0..root.len()).filter(|&at| root[at] == at).count();
        assert_eq!(
            piece.len() + faces,
            edges.len() + 1 + pieces,
            "{what}: a face is lost"
        );

        // By slabs: both edges beside a piece of land name the same face, and the pieces make it up.
        let of_slab: Vec<Edge<[u32; 2]>> = edges
            .iter()
            .filter_map(|&([a, b], [left, right])| {
                let up = a.y < b.y;
                let of = if up { [left, right] } else { [right, left] };
                Edge::new([a.x, a.y], [b.x, b.y], of)
            })
            .collect();
        let mut by_slab = vec![whole(0); faces];
        slabs(
            &of_slab,
            || {},
            |_| {},
            |land| {
                let [[_, east_of_left], [west_of_right, _]] = land.edges;
                assert_eq!(east_of_left, west_of_right, "{what}: land with two faces");
                by_slab[*east_of_left as usize] += land.area2();
            },
        );
        for (face, found) in by_slab.iter().enumerate().skip(1) {
            let area2 = self.arrangement.area2(face as u32);
            assert_eq!(*found, of_i128(area2), "{what}: face {face}");
        }
    }

    fn assert_noded(&self, what: &str, edges: &[([Pt; 2], [u32; 2])]) {
        let side = |a: Pt, b: Pt, c: Pt| {
            let [ux, uy, vx, vy] = [b.x - a.x, b.y - a.y, c.x - a.x, c.y - a.y].map(i128::from);
            (ux * vy - uy * vx).signum()
        };
        let on = |[a, b]: [Pt; 2], p: Pt| {
            side(a, b, p) == 0
                && p != a
                && p != b
                && (a.x.min(b.x)..=a.x.max(b.x)).contains(&p.x)
                && (a.y.min(b.y)..=a.y.max(b.y)).contains(&p.y)
        };
        for (nth, &(s, [left, right])) in edges.iter().enumerate() {
            assert!(s[0] != s[1], "{what}: an edge without length");
            assert_ne!(left, right, "{what}: an edge inside a face");
            for &(t, _) in &edges[nth + 1..] {
                assert!(
                    s != t && s != [t[1], t[0]],
                    "{what}: an edge is there twice"
                );
                let apart = side(s[0], s[1], t[0]) * side(s[0], s[1], t[1]) < 0
                    && side(t[0], t[1], s[0]) * side(t[0], t[1], s[1]) < 0;
                assert!(!apart, "{what}: {s:?} and {t:?} cross");
                assert!(!t.iter().any(|&p| on(s, p)), "{what}: {t:?} ends on {s:?}");
                assert!(!s.iter().any(|&p| on(t, p)), "{what}: {s:?} ends on {t:?}");
            }
        }
    }
}

fn of_i128(value: i128) -> Q {
    Q::from_integer(value.into())
}

/// The same polygons in another order, rings turned and wound the other way: the same faces.
fn assert_steady(what: &str, polygons: &[Rings], dice: &mut Dice) {
    let expected = arranged(polygons).faces();
    let mut order: Vec<usize> = (0..polygons.len()).collect();
    dice.shuffle(&mut order);
    let other: Vec<Rings> = order
        .iter()
        .map(|&nth| {
            let mut rings = polygons[nth].clone();
            for ring in &mut rings {
                let turn = dice.below(ring.len() as i64) as usize;
                ring.rotate_left(turn);
                if dice.below(2) == 0 {
                    ring.reverse();
                }
            }
            let [_, holes @ ..] = &mut rings[..] else {
                return rings;
            };
            dice.shuffle(holes);
            rings
        })
        .collect();
    let mut found = arranged(&other).faces();
    for (covering, _, _) in &mut found {
        for polygon in covering.iter_mut() {
            *polygon = order[*polygon as usize] as u32;
        }
        covering.sort_unstable();
    }
    found.sort();
    assert_eq!(found, expected, "{what}: order {order:?}");
}

/// Everything that holds for polygons whose borders cross in whole numbers: areas are exact.
fn hold(what: &str, polygons: &[Rings]) {
    let arranged = arranged(polygons);
    arranged.assert_whole(what);
    let areas: BTreeMap<Vec<u32>, Q> = arranged
        .areas()
        .into_iter()
        .map(|(covering, area2)| (covering, of_i128(area2)))
        .collect();
    assert_eq!(areas, covered(polygons), "{what}");
    for seed in 0..3 {
        assert_steady(what, polygons, &mut Dice::new(seed));
    }
}

/// The same where crossings are rounded: no area is off by more than moving all borders by a unit.
fn hold_rounded(what: &str, polygons: &[Rings], dice: &mut Dice) {
    let arranged = arranged(polygons);
    arranged.assert_whole(what);
    let length: i64 = polygons
        .iter()
        .flatten()
        .flat_map(|ring| ring.iter().zip(ring.iter().skip(1).chain(ring.first())))
        .map(|(a, b)| (a[0] - b[0]).abs() + (a[1] - b[1]).abs())
        .sum();
    let (found, expected) = (arranged.areas(), covered(polygons));
    let sets: BTreeSet<&Vec<u32>> = found.keys().chain(expected.keys()).collect();
    for covering in sets {
        let got = found.get(covering).copied().unwrap_or(0) as f64;
        let exact = expected.get(covering).map_or(0.0, near);
        assert!(
            (got - exact).abs() <= 2.0 * length as f64,
            "{what}: {covering:?} {got} {exact}"
        );
    }
    assert_steady(what, polygons, dice);
}

fn rectangle([west, south]: [i64; 2], [east, north]: [i64; 2]) -> Vec<[i64; 2]> {
    vec![[west, south], [east, south], [east, north], [west, north]]
}

fn block(low: [i64; 2], high: [i64; 2]) -> Rings {
    vec![rectangle(low, high)]
}

fn turned(rings: &Rings) -> Rings {
    let back = |ring: &Vec<[i64; 2]>| ring.iter().rev().copied().collect();
    rings.iter().map(back).collect()
}

#[test]
fn borders_of_two_layers_that_are_equal_overlap_or_run_the_other_way() {
    let a = block([0, 0], [100, 60]);
    let cases = [
        ("equal", block([0, 0], [100, 60])),
        ("equal, the other way", turned(&block([0, 0], [100, 60]))),
        ("beside", block([100, 0], [200, 60])),
        ("beside, shifted", block([100, 20], [200, 90])),
        ("beside, shorter", block([100, 20], [150, 40])),
        ("inside, along one side", block([20, 0], [70, 30])),
        ("inside, along two sides", block([0, 0], [70, 30])),
        ("across, along one side", block([-20, 0], [70, 30])),
        ("beside, longer", block([100, -20], [150, 90])),
        (
            "with more points on the same line",
            vec![vec![
                [0, 0],
                [30, 0],
                [31, 0],
                [70, 0],
                [100, 0],
                [100, 60],
                [0, 60],
                [0, 59],
            ]],
        ),
        (
            "a slanting border of both",
            vec![vec![[100, 60], [0, 0], [0, 60]]],
        ),
        (
            "part of a slanting border",
            vec![vec![[50, 30], [25, 15], [0, 60]]],
        ),
    ];
    for (what, b) in cases {
        hold(what, &[a.clone(), b.clone()]);
        hold(what, &[a.clone(), turned(&b)]);
        hold(what, &[b, a.clone()]);
    }
    // Slanting against slanting, on one line but with ends of their own.
    let up = vec![vec![[0, 0], [120, 80], [0, 80]]];
    let along = vec![vec![[30, 20], [90, 60], [90, 20]]];
    hold(
        "slanting, partly on each other",
        &[up.clone(), along.clone()],
    );
    hold("slanting, the other way", &[up, turned(&along)]);
}

#[test]
fn borders_on_the_border_of_the_field() {
    let field = vec![vec![[0, 0], [60, 0], [120, 30], [120, 90], [0, 90]]];
    let zones = [
        vec![vec![[0, 0], [60, 0], [60, 90], [0, 90]]],
        // One zone ends on the field, the next runs out over it.
        vec![vec![[60, 0], [120, 30], [120, 90], [60, 90]]],
        vec![vec![[60, -50], [200, -50], [200, 120], [60, 120]]],
        vec![vec![[0, 90], [120, 90], [120, 110], [0, 110]]],
        vec![vec![[80, 10], [100, 20], [100, 40]]],
    ];
    for zone in &zones {
        hold("one zone", &[field.clone(), zone.clone()]);
    }
    let all: Vec<Rings> = std::iter::once(field).chain(zones).collect();
    hold("all zones", &all);
}

#[test]
fn edges_through_points_of_others() {
    // The slanting edge runs through corners of blocks and through the end of a spur.
    let long = vec![vec![[0, 0], [90, 60], [0, 60]]];
    let blocks = [
        block([30, 20], [60, 40]),
        block([0, 0], [30, 20]),
        block([60, 40], [75, 50]),
    ];
    for block in &blocks {
        hold("a corner on an edge", &[long.clone(), block.clone()]);
    }
    let all: Vec<Rings> = std::iter::once(long.clone()).chain(blocks).collect();
    hold("corners along an edge", &all);
    let spur = vec![vec![[45, 30], [80, 0], [81, 5]]];
    hold("a corner inside an edge", &[long, spur]);
}

/// A crossing is rounded to a point that lies on, or within half a unit of, a third border.
#[test]
fn edges_through_rounded_crossings_of_others() {
    let mut dice = Dice::new(11);
    for round in 0..60 {
        let [x, y] = [dice.between(400, 600), dice.between(400, 600)];
        let mut polygons = Vec::new();
        for _ in 0..3 {
            // A thin triangle with a long edge past one place, off it by a unit at most.
            let [dx, dy] = [dice.between(-300, 300), dice.between(1, 300)];
            let off = [dice.between(-1, 2), dice.between(-1, 2)];
            let middle = [x + off[0], y + off[1]];
            polygons.push(vec![vec![
                [middle[0] - dx, middle[1] - dy],
                [middle[0] + dx, middle[1] + dy],
                [middle[0] + dx + dice.between(1, 90), middle[1] - dy],
            ]]);
        }
        hold_rounded(&format!("round {round}"), &polygons, &mut dice);
    }
}

#[test]
fn t_junctions_without_the_point_on_the_through_border() {
    let west = block([0, 0], [50, 100]);
    let [south, north] = [block([50, 0], [90, 40]), block([50, 40], [90, 100])];
    hold("three zones", &[west.clone(), south.clone(), north.clone()]);
    // The layer below has its junction on the same border, at another place.
    let below = [
        block([0, 0], [50, 33]),
        block([0, 33], [50, 100]),
        block([50, 0], [90, 100]),
    ];
    let all: Vec<Rings> = [west, south, north].into_iter().chain(below).collect();
    hold("two layers", &all);
}

#[test]
fn many_lines_through_one_point() {
    // A pinwheel of triangles whose tips meet, over one whose borders pass through the middle.
    let tips = [
        [60, 0],
        [60, 60],
        [0, 60],
        [-60, 60],
        [-60, 0],
        [-60, -60],
        [0, -60],
        [60, -60],
    ];
    let ends = tips.iter().skip(1).chain(tips.first());
    let wheel: Vec<Rings> = tips
        .iter()
        .zip(ends)
        .map(|(&a, &b)| vec![vec![[0, 0], a, b]])
        .collect();
    hold("a wheel", &wheel);
    let through = [
        vec![vec![[-60, -30], [60, 30], [60, 60], [-60, 60]]],
        vec![vec![[-30, -60], [30, 60], [60, 60], [60, -60]]],
        vec![vec![[-20, 60], [20, -60], [60, -60], [60, 60]]],
        block([0, 0], [50, 50]),
    ];
    hold("lines through a point", &through);
    let all: Vec<Rings> = wheel.iter().cloned().chain(through).collect();
    hold("a wheel and lines", &all);
}

#[test]
fn holes_and_islands_that_meet_nothing() {
    let field = block([0, 0], [200, 200]);
    // A zone with a hole wholly inside another layer's zone, filled, half filled, and empty.
    let holed = vec![
        rectangle([20, 20], [180, 180]),
        rectangle([60, 60], [140, 140]),
    ];
    let inner = block([60, 60], [140, 140]);
    let island = block([80, 80], [120, 120]);
    let ring = vec![
        rectangle([70, 70], [130, 130]),
        rectangle([90, 90], [110, 110]),
    ];
    let speck = block([99, 99], [101, 101]);
    hold("a hole", &[field.clone(), holed.clone()]);
    hold("a filled hole", &[field.clone(), holed.clone(), inner]);
    hold("an island", &[field.clone(), holed.clone(), island.clone()]);
    hold(
        "nested",
        &[field.clone(), holed.clone(), ring.clone(), speck.clone()],
    );
    hold(
        "nested, on each other",
        &[speck, ring, island, holed, field],
    );
    // Two holes, one inside the zone of another layer and one that its border crosses.
    let two = vec![
        rectangle([0, 0], [200, 100]),
        rectangle([10, 10], [40, 40]),
        rectangle([90, 30], [130, 70]),
    ];
    hold("two holes", &[two, block([5, 5], [110, 95])]);
    // Far apart and many, so that their places are found by the index too.
    let mut dice = Dice::new(5);
    let mut many = vec![block([-10, -10], [100 * 40, 100 * 40])];
    for nth in 0..400 {
        let low = [
            nth % 20 * 200 + dice.between(0, 30),
            nth / 20 * 200 + dice.between(0, 30),
        ];
        many.push(block(
            low,
            [low[0] + dice.between(1, 40), low[1] + dice.between(1, 40)],
        ));
    }
    let arranged = arranged(&many);
    assert_eq!(arranged.arrangement.faces(), many.len() + 1);
    for (nth, rings) in many.iter().enumerate().skip(1) {
        let [low, high] = [rings[0][0], rings[0][2]];
        let area2 = 2 * i128::from(high[0] - low[0]) * i128::from(high[1] - low[1]);
        assert_eq!(arranged.areas()[&vec![0, nth as u32]], area2);
    }
}

/// Slivers thinner than the grid: both borders fall on one, and the face between them is gone.
#[test]
fn faces_that_fall_together() {
    // The slanting borders differ by less than half a unit all along, but for their ends.
    let below = vec![vec![[0, 0], [1000, 1], [1000, -300], [0, -300]]];
    let above = vec![vec![[0, 0], [500, 0], [1000, 1], [1000, 300], [0, 300]]];
    let mut dice = Dice::new(21);
    let both = [below, above];
    hold_rounded("a thin gap", &both, &mut dice);
    let found = arranged(&both);
    assert_eq!(found.arrangement.faces(), 3, "the gap has no face");

    for round in 0..60 {
        let [rise, far] = [dice.between(1, 40), dice.between(2000, 4000)];
        let mut line = vec![[0, 0]];
        let mut other = vec![[0, 0]];
        // Two borders along one line with points of their own, each rounded by itself.
        for (points, step) in [(&mut line, 7), (&mut other, 5)] {
            let mut x = dice.between(1, far / step);
            while x < far {
                points.push([x, (2 * x * rise + far) / (2 * far)]);
                x += dice.between(1, far / step);
            }
            points.push([far, rise]);
        }
        let mut south = line.clone();
        south.extend([[far, -500], [0, -500]]);
        let mut north = other.clone();
        north.extend([[far, 500], [0, 500]]);
        hold_rounded(
            &format!("round {round}"),
            &[vec![south], vec![north]],
            &mut dice,
        );
    }
    // A triangle that is less than a unit across anywhere, and one without any area.
    let field = block([0, 0], [3000, 3000]);
    let thin = vec![vec![[10, 10], [2000, 11], [1000, 11]]];
    hold_rounded("a thin triangle", &[field.clone(), thin], &mut dice);
    let flat = vec![vec![[10, 10], [2000, 10], [500, 10]]];
    hold("a flat triangle", &[field.clone(), flat]);
    let point = vec![vec![[10, 10], [10, 10], [10, 10]]];
    hold("a polygon that is a point", &[field, point]);
}

/// Two layers of zones with shared borders over a field, on a coarse grid: corners fall on foreign
/// borders and borders on each other by themselves.
#[test]
fn two_layers_of_zones_tile_the_field() {
    for seed in 0..25 {
        let mut dice = Dice::new(3000 + seed);
        let layer = |dice: &mut Dice| -> Vec<Rings> {
            let size = dice.between(2, 4);
            let nodes: Vec<Vec<[i64; 2]>> = (0..=size)
                .map(|i| {
                    (0..=size)
                        .map(|j| {
                            let rim = |at: i64| at == 0 || at == size;
                            let place = |at: i64, dice: &mut Dice| {
                                at * 240 / size + if rim(at) { 0 } else { dice.between(-20, 21) }
                            };
                            [place(i, dice), place(j, dice)]
                        })
                        .collect()
                })
                .collect();
            let zone = |i: usize, j: usize| {
                vec![vec![
                    nodes[i][j],
                    nodes[i + 1][j],
                    nodes[i + 1][j + 1],
                    nodes[i][j + 1],
                ]]
            };
            let numbers = 0..size as usize;
            numbers
                .clone()
                .flat_map(|i| numbers.clone().map(move |j| (i, j)))
                .map(|(i, j)| zone(i, j))
                .collect()
        };
        let [a, b] = [layer(&mut dice), layer(&mut dice)];
        let field = star(&mut dice, [120, 120], [119.0, 119.0], 0.6, 9);
        let mut polygons = vec![vec![field]];
        polygons.extend(a.iter().cloned());
        polygons.extend(b);
        let what = format!("seed {seed}");
        hold_rounded(&what, &polygons, &mut dice);
        // Every face in the field has one zone of each layer.
        let found = arranged(&polygons);
        let of_a = 1..=a.len() as u32;
        for covering in &found.covering {
            let [in_a, in_b]: [usize; 2] = [
                covering.iter().filter(|p| of_a.contains(p)).count(),
                covering.iter().filter(|&&p| p > a.len() as u32).count(),
            ];
            let expected = usize::from(!covering.is_empty());
            assert_eq!([in_a, in_b], [expected; 2], "{what}: {covering:?}");
        }
    }
}

/// Tangles of any rings; where land is wider than what rounding moves, the right polygons cover it.
#[test]
fn tangles_keep_their_labels() {
    for seed in 0..12 {
        let mut dice = Dice::new(4000 + seed);
        let range = [12, 60, 4000, 1 << 20][seed as usize % 4];
        let polygons: Vec<Rings> = (0..3)
            .map(|_| {
                let mut ring = || {
                    (0..4)
                        .map(|_| [dice.below(range), dice.below(range)])
                        .collect()
                };
                vec![ring(), ring()]
            })
            .collect();
        let what = format!("seed {seed}");
        let found = arranged(&polygons);
        found.assert_whole(&what);
        assert_steady(&what, &polygons, &mut dice);
        let edges: Vec<Edge<u32>> = found
            .arrangement
            .edges()
            .filter_map(|([a, b], [left, right])| {
                let east = if a.y < b.y { right } else { left };
                Edge::new([a.x, a.y], [b.x, b.y], east)
            })
            .collect();
        let (mut looked_at, mut places) = (0, Vec::new());
        slabs(
            &edges,
            || {},
            |_| {},
            |land| places.push((land.middle(), *land.edges[0])),
        );
        for (place, face) in places {
            if nearest_edge(&polygons, [near(&place[0]), near(&place[1])]) > 2.0 {
                looked_at += 1;
                let expected = covering_at(&polygons, &place);
                assert_eq!(found.covering[face as usize], expected, "{what}");
            }
        }
        assert!(range < 4000 || looked_at > 20, "{what}: {looked_at}");
    }
}

/// Distance from the nearest border, units.
fn nearest_edge(polygons: &[Rings], place: [f64; 2]) -> f64 {
    let distance = |a: [i64; 2], b: [i64; 2]| {
        let [a, b] = [a, b].map(|p| p.map(|v| v as f64));
        let [u, v] = [
            [b[0] - a[0], b[1] - a[1]],
            [place[0] - a[0], place[1] - a[1]],
        ];
        let length2 = u[0] * u[0] + u[1] * u[1];
        let along = match length2 > 0.0 {
            true => ((u[0] * v[0] + u[1] * v[1]) / length2).clamp(0.0, 1.0),
            false => 0.0,
        };
        (v[0] - along * u[0]).hypot(v[1] - along * u[1])
    };
    let rings = polygons.iter().flatten();
    rings
        .flat_map(|ring| ring.iter().zip(ring.iter().skip(1).chain(ring.first())))
        .map(|(&a, &b)| distance(a, b))
        .fold(f64::INFINITY, f64::min)
}
