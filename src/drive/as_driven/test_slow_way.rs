//! The slow way, to hold the drive against: every section alone, every straight piece a polygon of its own.

use super::super::bout::{Bout, Sections, bouts};
use super::super::closed_flow::SownStretch;
use super::super::path::Path;
use super::super::test_numbers::random_numbers;
use super::super::ways::{Curves, Ways};
use super::lay::{Outlines, lay, lay_by};
use super::swaths::{Part, Swath};
use super::tests::{ground_of, job, units};
use super::*;
use crate::geometry::offset::inset;
use crate::geometry::{Overlay, Pt};
use crate::land::Land;

const ALONE: Outlines = Outlines {
    swaths: alone,
    ground: Path::ground,
};

fn alone<'a>(bout: &Bout, sown: &'a [SownStretch]) -> Vec<Swath<'a>> {
    let swath = |sown: &'a SownStretch| Swath {
        parts: vec![Part {
            sown,
            left_m: bout.sections[sown.stretch.section].left_m,
        }],
    };
    let mut swaths: Vec<Swath> = sown.iter().map(swath).collect();
    let begin = |swath: &Swath| swath.parts[0].stations()[0];
    swaths.sort_by(|a, b| begin(a).total_cmp(&begin(b)));
    swaths
}

/// A round field with a hole and a headland, cut into zones by random shapes; for every third along a curve.
struct Field {
    land: Land,
    zones: Vec<Shape>,
}

fn round(random: &mut impl FnMut() -> f64, count: u32, middle: [f64; 2], size: f64) -> Shape {
    let corner = |k: u32| {
        let (sine, cosine) = (f64::from(k) / f64::from(count) * std::f64::consts::TAU).sin_cos();
        let radius = size * (0.6 + 0.4 * random());
        Pt::from_metres([middle[0] + radius * cosine, middle[1] + radius * sine]).unwrap()
    };
    Shape {
        exterior: (0..count).map(corner).collect(),
        holes: Vec::new(),
    }
}

fn field(seed: u64) -> Field {
    let mut random = random_numbers(seed);
    let mut whole = round(&mut random, 20, [0.0, 0.0], 90.0);
    let hole = round(&mut random, 6, [8.0, -5.0], 12.0).exterior;
    whole.holes.push(hole.into_iter().rev().collect());
    let mut overlay = Overlay::default();
    overlay.add(whole.clone());
    for _ in 0..4 {
        let middle = [0, 1].map(|_| 120.0 * random() - 60.0);
        overlay.add(round(&mut random, 9, middle, 60.0));
    }
    let arrangement = overlay.arrange();
    let mut sets: BTreeMap<Vec<u32>, u32> = BTreeMap::new();
    let mut groups = vec![None; arrangement.faces()];
    for face in 1..arrangement.faces() as u32 {
        let covering = overlay.covering(&arrangement, face);
        if covering.first() == Some(&0) {
            let next = sets.len() as u32;
            groups[face as usize] = Some(*sets.entry(covering).or_insert(next));
        }
    }
    let zones = arrangement.dissolve(&groups);
    let curve = vec![[-60.0, -20.0], [-10.0, 5.0], [30.0, 4.0], [70.0, -15.0]];
    Field {
        land: Land {
            interior: inset(std::slice::from_ref(&whole), 8.0),
            land: vec![whole.clone()],
            field: vec![whole],
            exclusions: Vec::new(),
            headland_m: 8.0,
            setbacks: Vec::new(),
            to_keep: Vec::new(),
            guide: seed.is_multiple_of(3).then_some(curve),
        },
        zones: zones.into_iter().map(|(_, shape)| shape).collect(),
    }
}

/// What sums over a field are held to, of a whole of so much.
fn near(seed: u64, what: &str, got: f64, wanted: f64, whole: f64) {
    // Shapes are rounded to a micrometre, here at other corners: kilometres of border, each part a little to either side.
    let most = 1e-9 * whole.abs() + 1e-3;
    assert!(
        (got - wanted).abs() < most,
        "{seed} {what}: {got}, not {wanted}"
    );
}

fn hold(seed: u64) {
    let field = field(seed);
    let headland = if seed.is_multiple_of(2) {
        "first"
    } else {
        "last"
    };
    let flow = ["meter_slows", "returned", "redistributed"][seed as usize / 2 % 3];
    let mut job = job(
        "[tramline]\nsprayer_width_m = 12\ntrack_width_m = 2\ntyre_width_m = 0.6\n[headland]\nwidth_m = 8\n",
    );
    let drive = job.drive.as_mut().unwrap();
    drive.headland = serde_json::from_value(headland.into()).unwrap();
    drive.heading_deg = Some((seed * 37 % 180) as f64);
    job.drill.shut_flow = serde_json::from_value(flow.into()).unwrap();
    let count = [1, 2, 3, 4, 5, 24][seed as usize % 6];
    job.drill.sections_m = vec![6.0 / count as f64; count];
    let mut random = random_numbers(seed + 1_000);
    let delays = Delays {
        start_s: random(),
        stop_s: random(),
        step_up_s: 2.0 * random(),
        step_down_s: 2.0 * random(),
        ahead_m: 0.0,
    };
    let ways = Ways::of(&field.land, &job, Curves::of(&field.land, &job), |_| 0).unwrap();
    let rhythm = crate::drive::tramline::rhythm(&job).unwrap();
    let sections = Sections::of_drill(&job).unwrap();
    let bouts = bouts(&field.land, &job, rhythm.as_ref(), &sections, &ways);
    assert!(bouts.len() > 10, "{seed}");
    let units = units(&field.zones);
    let rates: Vec<Vec<f64>> = field
        .zones
        .iter()
        .map(|_| vec![80.0 + (100.0 * random()).round()])
        .collect();
    let carried = Carried::in_stream(&job);
    ground_of(&units, &rates, delays, |ground| {
        let [quick, slow] = [
            lay(&bouts, ground, &carried, &job),
            lay_by(&ALONE, &bouts, ground, &carried, &job),
        ];
        assert!(quick.polygons() <= slow.polygons(), "{seed}");
        let [quick, slow] = [quick, slow].map(|laid| driven(laid, ground, &carried, &job, None).0);
        let (a, b) = (quick.areas, slow.areas);
        for (what, got, wanted) in [
            ("driven", a.driven_m2, b.driven_m2),
            ("once", a.once_m2, b.once_m2),
            ("twice", a.twice_m2, b.twice_m2),
            ("again", a.again_m2, b.again_m2),
            ("beyond", a.beyond_m2, b.beyond_m2),
            ("closed rows", a.closed_rows_m2, b.closed_rows_m2),
            ("closed", a.closed_m2, b.closed_m2),
            ("missed", a.missed_m2, b.missed_m2),
            ("land", a.land_m2, b.land_m2),
        ] {
            near(seed, what, got, wanted, b.driven_m2);
        }
        let (a, b) = (&quick.products[0], &slow.products[0]);
        for (what, got, wanted) in [
            ("map", a.map_kg, b.map_kg),
            ("tramlines", a.tramlines_kg, b.tramlines_kg),
            ("sections", a.sections_kg, b.sections_kg),
            ("overlap", a.overlap_kg, b.overlap_kg),
            ("missed kg", a.missed_kg, b.missed_kg),
            ("following", a.following_kg, b.following_kg),
            ("as driven", a.as_driven_kg, b.as_driven_kg),
            ("metered", a.metered_kg, b.metered_kg),
            ("returned", a.returned_kg, b.returned_kg),
            (
                "within 5 %",
                a.within[0].share_percent,
                b.within[0].share_percent,
            ),
        ] {
            near(seed, what, got, wanted, b.as_driven_kg);
        }
        let kg = |of: &AsDriven| of.bouts.iter().map(|bout| bout.kg[0]).collect::<Vec<_>>();
        for (got, wanted) in kg(&quick).into_iter().zip(kg(&slow)) {
            near(seed, "a bout", got, wanted, b.as_driven_kg);
        }
    });
}

/// `TWINSOW_SLOW_FIELDS=500` tries more of them.
#[test]
fn fields_with_rings_holes_curves_and_delays_are_driven_as_the_slow_way_drives_them() {
    let asked = std::env::var("TWINSOW_SLOW_FIELDS").ok();
    let fields = asked.and_then(|count| count.parse().ok()).unwrap_or(12);
    (0..fields).for_each(hold);
}

/// Sections that sow the same are one polygon, with stairs where the bout ends at a slant, so that 24 of them cost what one costs.
#[test]
fn polygons_do_not_grow_with_the_sections() {
    let polygons = |count: usize, slant_m: f64| {
        let field = [
            [0.0, 0.0],
            [200.0, 0.0],
            [200.0 + slant_m, 60.0],
            [slant_m, 60.0],
        ];
        let whole = Shape {
            exterior: field
                .iter()
                .map(|&at| Pt::from_metres(at).unwrap())
                .collect(),
            holes: Vec::new(),
        };
        let land = Land {
            interior: vec![whole.clone()],
            land: vec![whole.clone()],
            field: vec![whole.clone()],
            exclusions: Vec::new(),
            headland_m: 0.0,
            setbacks: Vec::new(),
            to_keep: Vec::new(),
            guide: None,
        };
        let mut job = job("");
        job.drill.sections_m = vec![6.0 / count as f64; count];
        job.drive.as_mut().unwrap().heading_deg = Some(90.0);
        let ways = Ways::of(&land, &job, Curves::of(&land, &job), |_| 0).unwrap();
        let sections = Sections::of_drill(&job).unwrap();
        let bouts = bouts(&land, &job, None, &sections, &ways);
        assert_eq!(bouts.len(), 10);
        let units = units(&[whole]);
        let carried = Carried::in_stream(&job);
        ground_of(&units, &[vec![100.0]], Delays::default(), |ground| {
            lay(&bouts, ground, &carried, &job).polygons()
        })
    };
    // The field, and one for each bout; at a slant further ones, where the middle of the drill is beyond the field.
    assert_eq!([1, 2, 24].map(|count| polygons(count, 0.0)), [11, 11, 11]);
    assert_eq!([1, 2, 24].map(|count| polygons(count, 40.0)), [31, 31, 31]);
}
