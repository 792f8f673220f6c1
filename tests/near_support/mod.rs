//! Jobs whose layers are made of the boundary itself: clipped, rounded, shifted, with more points. Every choice comes
//! from [`Dice`], so that a fuzzer may make them too.

// Each test file uses its share of this.
#![allow(dead_code)]

pub mod dice;

use dice::Dice;
use std::f64::consts::{PI, TAU};
use std::fmt::Write;
use std::path::{Path, PathBuf};
use twinsow::audit::{JobFacts, PlanFacts, audit};
use twinsow::coordinates::LonLat;
use twinsow::findings::{Blame, Fault, Outcome};
use twinsow::frame::Crs;
use twinsow::job::Job;
use twinsow::plan::{self, Disk, Options, Plan};
use twinsow::read::{DeclaredCrs, Layer};
use twinsow::write;

type Xy = [f64; 2];

/// Farthest that points of a made border lie apart, metres.
const LONGEST_M: f64 = 140.0;

/// A job and its files.
pub struct Case {
    /// What was made, in a line.
    pub about: String,
    /// Names and contents; the job is `job.toml`.
    pub files: Vec<(String, String)>,
}

/// How a job ended.
pub enum End {
    Planned(Box<Plan>),
    Refused(Box<Fault>),
    /// Our own fault: exit code 3.
    Broken(String),
}

impl Case {
    pub fn write(&self, folder: &Path) {
        for (name, text) in &self.files {
            std::fs::write(folder.join(name), text).expect("written");
        }
    }

    /// Plans the job in a folder of its own, writes all files and reads them back.
    pub fn end(&self) -> End {
        let folder = tempfile::tempdir().expect("a folder");
        self.write(folder.path());
        match delivered(folder.path()) {
            Ok((plan, complaints)) => match complaints.first() {
                None => End::Planned(Box::new(plan)),
                Some(first) => End::Broken(format!("audit: {first} ({} in all)", complaints.len())),
            },
            Err(fault) if fault.blame != Blame::Input => End::Broken(fault.to_string()),
            Err(fault) => End::Refused(fault),
        }
    }
}

/// What `twinsow plan` does, and more: plans, writes, and holds what was written against the plan and the job.
fn delivered(folder: &Path) -> Outcome<(Plan, Vec<String>)> {
    let job = || Job::load(&folder.join("job.toml"));
    let mut plan = plan::plan(&job()?, &Disk, &Options::default())?;
    let out: PathBuf = folder.join("out");
    // Whatever is open, files for terminals are to be looked at as well.
    let findings = std::mem::take(&mut plan.findings);
    write::deliver(&plan, &out, "2026-09-20T12:00:00Z")?;
    plan.findings = findings;
    let facts = PlanFacts::read(&out.join("plan.json"))?;
    // A job that plans has land for the audit too.
    let job = JobFacts::of(job()?).expect("the land of the job");
    let audit = audit(std::slice::from_ref(&out), Some(&facts), Some(&job), &out)?;
    Ok((plan, audit.complaints()))
}

/// A CRS for made fields, and where.
#[derive(Clone, Copy)]
struct Place {
    crs: &'static str,
    lon: Xy,
    lat: Xy,
}

const PLACES: [Place; 9] = [
    Place {
        crs: "EPSG:4326",
        lon: [-170.0, 170.0],
        lat: [0.0, 70.0],
    },
    Place {
        crs: "EPSG:4326",
        lon: [180.3, 181.0],
        lat: [-45.0, 68.0],
    },
    Place {
        crs: "EPSG:4326",
        lon: [-60.0, 60.0],
        lat: [66.0, 70.0],
    },
    Place {
        crs: "EPSG:25832",
        lon: [6.0, 12.0],
        lat: [47.0, 62.0],
    },
    Place {
        crs: "EPSG:32721",
        lon: [-60.0, -54.0],
        lat: [-40.0, -1.0],
    },
    Place {
        crs: "EPSG:3857",
        lon: [-120.0, 120.0],
        lat: [5.0, 65.0],
    },
    Place {
        crs: "EPSG:2154",
        lon: [-1.0, 7.0],
        lat: [43.0, 50.0],
    },
    Place {
        crs: "EPSG:3035",
        lon: [0.0, 20.0],
        lat: [40.0, 69.0],
    },
    Place {
        crs: "EPSG:3067",
        lon: [20.0, 29.0],
        lat: [60.0, 70.0],
    },
];

/// A made field in the coordinates of its CRS.
struct Field {
    crs: &'static str,
    /// Its outline, counter-clockwise, not closed; with a point every [`LONGEST_M`].
    ring: Vec<Xy>,
    middle: Xy,
    /// Units of the CRS to a metre east and a metre north.
    per_m: Xy,
    hectares: f64,
    about: String,
}

impl Field {
    fn of(dice: &mut Dice) -> Self {
        let place = dice.of(&PLACES);
        let [lon, lat] = [place.lon, place.lat].map(|[low, high]| dice.between(low, high));
        let most = if dice.one_in(4) { 6000.0 } else { 60.0 };
        let hectares = dice.magnitude(0.1, most);
        let radius = (hectares * 10_000.0 / PI).sqrt();
        let corners = 4 + dice.below(12);
        let rough = dice.of(&[0.0, 0.3, 0.6]);
        let flat = dice.of(&[1.0, 1.0, 0.3]);
        let turn = dice.between(0.0, 6.0);
        let degrees_per_m = [1.0 / (111_320.0 * lat.to_radians().cos()), 1.0 / 111_200.0];
        let mut ring: Vec<Xy> = (0..corners)
            .map(|nth| {
                let angle = TAU * nth as f64 / corners as f64;
                let from = radius * (1.0 - rough * dice.unit());
                let (x, y) = (from * angle.cos() / flat, from * angle.sin() * flat);
                let (sine, cosine) = f64::sin_cos(turn);
                let [x, y] = [x * cosine - y * sine, x * sine + y * cosine];
                [lon + x * degrees_per_m[0], lat + y * degrees_per_m[1]]
            })
            .collect();
        let mut middle = [lon, lat];
        let mut per_m = degrees_per_m;
        if place.crs != "EPSG:4326" {
            let crs = crs(place.crs);
            ring = crs.from_wgs84(ring.into_iter().map(LonLat::of_pair).collect());
            middle = crs.from_wgs84(vec![LonLat::new(lon, lat)])[0];
            per_m = [1.0; 2];
        }
        let mut field = Self {
            crs: place.crs,
            ring: Vec::new(),
            middle,
            per_m,
            hectares,
            about: format!(
                "{} at {lon:.3} {lat:.3}, {hectares:.2} ha, {corners} corners",
                place.crs
            ),
        };
        field.ring = field.dense(&ring, LONGEST_M);
        field
    }

    fn metres(&self, a: Xy, b: Xy) -> f64 {
        let [x, y] = [0, 1].map(|axis| (b[axis] - a[axis]) / self.per_m[axis]);
        x.hypot(y)
    }

    /// With points on edges that are longer.
    fn dense(&self, ring: &[Xy], longest_m: f64) -> Vec<Xy> {
        let mut dense = Vec::new();
        let ends = ring.iter().skip(1).chain(ring.first());
        for (&a, &b) in ring.iter().zip(ends) {
            let parts = (self.metres(a, b) / longest_m).ceil().clamp(1.0, 5000.0) as usize;
            dense.extend((0..parts).map(|nth| {
                let share = nth as f64 / parts as f64;
                [0, 1].map(|axis| a[axis] + (b[axis] - a[axis]) * share)
            }));
        }
        dense
    }

    /// What lies left of a line through a place (Sutherland and Hodgman, 1974).
    fn half(&self, through: Xy, angle: f64) -> Vec<Xy> {
        let (sine, cosine) = angle.sin_cos();
        let side = |p: &Xy| {
            let [x, y] = [0, 1].map(|axis| (p[axis] - through[axis]) / self.per_m[axis]);
            cosine * y - sine * x
        };
        let mut half = Vec::new();
        let ends = self.ring.iter().skip(1).chain(self.ring.first());
        for (a, b) in self.ring.iter().zip(ends) {
            let (here, there) = (side(a), side(b));
            if here >= 0.0 {
                half.push(*a);
            }
            if (here >= 0.0) != (there >= 0.0) {
                let share = here / (here - there);
                half.push([0, 1].map(|axis| a[axis] + (b[axis] - a[axis]) * share));
            }
        }
        self.dense(&half, LONGEST_M)
    }

    /// A strip along a part of the border: so wide to the inside, to the outside where that is negative.
    fn strip(&self, dice: &mut Dice, wide_m: f64) -> Vec<Xy> {
        let count = self.ring.len();
        let first = dice.below(count);
        let length = 1 + dice.below((count / 2).max(1));
        let along: Vec<Xy> = (0..=length)
            .map(|nth| self.ring[(first + nth) % count])
            .collect();
        let back = along.iter().rev().map(|p| {
            let from: Xy = [0, 1].map(|axis| (self.middle[axis] - p[axis]) / self.per_m[axis]);
            let share = wide_m / from[0].hypot(from[1]).max(1e-9);
            [0, 1].map(|axis| p[axis] + from[axis] * share * self.per_m[axis])
        });
        let strip: Vec<Xy> = along.iter().copied().chain(back).collect();
        self.dense(&strip, LONGEST_M)
    }
}

fn crs(name: &str) -> Crs {
    let layer = Layer {
        file: PathBuf::from("made"),
        format: "made",
        table: None,
        crs: DeclaredCrs::None,
        attributes: Vec::new(),
        features: Vec::new(),
        findings: Vec::new(),
    };
    Crs::of(&layer, Some(name)).expect("a CRS")
}

/// What an export does to a ring.
#[derive(Debug, Clone, Copy)]
struct Export {
    decimals: usize,
    shift_m: Xy,
    denser_m: Option<f64>,
    turned: usize,
    backwards: bool,
    twice: bool,
    /// In units of the CRS.
    moved: f64,
}

impl Export {
    fn of(dice: &mut Dice, moved: f64) -> Self {
        let shift = match dice.below(4) {
            0 | 1 => 0.0,
            _ => dice.magnitude(1e-9, 1e-3),
        };
        let angle = dice.between(0.0, TAU);
        Self {
            decimals: dice.of(&[15, 9, 8, 7, 6, 5, 10, 11, 12, 13, 14]),
            shift_m: [shift * angle.cos(), shift * angle.sin()],
            denser_m: dice.one_in(3).then(|| dice.magnitude(0.5, 50.0)),
            turned: dice.below(100),
            backwards: dice.one_in(3),
            twice: dice.one_in(8),
            moved,
        }
    }

    fn text(&self, field: &Field, ring: &[Xy]) -> String {
        let mut points = match self.denser_m {
            // A point every half metre around 6 000 ha says no more than some thousand.
            Some(metres) => field.dense(ring, metres.max(field.hectares.sqrt() / 4.0)),
            None => ring.to_vec(),
        };
        let turned = self.turned % points.len().max(1);
        points.rotate_left(turned);
        if self.backwards {
            points.reverse();
        }
        if self.twice {
            points = points.iter().flat_map(|point| [*point, *point]).collect();
        }
        points.extend(points.first().copied());
        let decimals = match field.crs {
            "EPSG:4326" => self.decimals,
            _ => self.decimals.saturating_sub(5),
        };
        let mut text = String::from("[");
        for (nth, point) in points.iter().enumerate() {
            let comma = if nth > 0 { "," } else { "" };
            let [x, y] = [0, 1].map(|axis| point[axis] + self.shift_m[axis] * field.per_m[axis]);
            let _ = write!(text, "{comma}[{x:.decimals$},{y:.decimals$}]");
        }
        text + "]"
    }
}

fn feature(class: &str, rings: &[String]) -> String {
    format!(
        r#"{{"type":"Feature","properties":{{"class":"{class}"}},"geometry":{{"type":"Polygon","coordinates":[{}]}}}}"#,
        rings.join(",")
    )
}

fn collection(features: &[String]) -> String {
    format!(
        r#"{{"type":"FeatureCollection","features":[{}]}}"#,
        features.join(",\n")
    )
}

/// A job whose layers follow its boundary, all but the boundary moved by so many degrees.
pub fn case(dice: &mut Dice, moved: f64) -> Case {
    let field = Field::of(dice);
    let moved = moved
        * if field.crs == "EPSG:4326" {
            1.0
        } else {
            111_200.0
        };
    let exact = Export {
        decimals: 15,
        shift_m: [0.0; 2],
        denser_m: None,
        turned: 0,
        backwards: false,
        twice: false,
        moved: 0.0,
    };
    let mut files = Vec::new();
    let mut about = field.about.clone();
    let boundary = match dice.one_in(3) {
        true => Export::of(dice, 0.0),
        false => exact,
    };
    // A boundary in whole metres would leave no 0.1 ha.
    let boundary = Export {
        decimals: boundary.decimals.max(8),
        ..boundary
    };
    files.push((
        "boundary.geojson".to_owned(),
        collection(&[feature("field", &[boundary.text(&field, &field.ring)])]),
    ));

    let radius_m = (field.hectares * 10_000.0 / PI).sqrt();
    let mut pieces = Vec::new();
    let angle = dice.between(0.0, TAU);
    let through = match dice.one_in(4) {
        // Through a corner of the field.
        true => field.ring[dice.below(field.ring.len())],
        false => field.middle,
    };
    let halves = [field.half(through, angle), field.half(through, angle + PI)];
    for (class, half) in ["a", "b"].iter().zip(&halves) {
        let export = Export::of(dice, moved);
        let _ = write!(about, "; {class}: {export:?}");
        if half.len() > 2 {
            pieces.push(feature(class, &[export.text(&field, half)]));
        }
    }
    if dice.one_in(3) {
        let strip = field.strip(dice, (radius_m * 0.1).min(8.0));
        pieces.push(feature(
            "a",
            &[Export::of(dice, moved).text(&field, &strip)],
        ));
    }
    if dice.one_in(2) {
        pieces.reverse();
    }
    files.push(("zones.geojson".to_owned(), collection(&pieces)));

    let source = |name: &str| match field.crs {
        "EPSG:4326" => format!("{{ file = \"{name}\" }}"),
        crs => format!("{{ file = \"{name}\", crs = \"{crs}\" }}"),
    };
    let mut more = String::new();
    let mut made = (files, about);
    let strip_of = |name: &str, dice: &mut Dice, made: &mut (Vec<(String, String)>, String)| {
        let wide_m = (radius_m * 0.2).min(dice.magnitude(0.0003, 20.0));
        let wide_m = if dice.one_in(3) { -wide_m } else { wide_m };
        let ring = match dice.one_in(4) {
            true => field.half(field.ring[0], dice.between(0.0, TAU)),
            false => field.strip(dice, wide_m),
        };
        let export = Export::of(dice, moved);
        let _ = write!(made.1, "; {name} {wide_m:.4} m: {export:?}");
        if ring.len() < 3 {
            return false;
        }
        let text = collection(&[feature("x", &[export.text(&field, &ring)])]);
        made.0.push((name.to_owned(), text));
        true
    };
    if dice.one_in(2) && strip_of("exclusion.geojson", dice, &mut made) {
        let buffer = dice.of(&["0.0", "0.0", "0.0001", "1.5"]);
        let _ = write!(
            more,
            "[[exclusion]]\nname = \"hedge\"\nsource = {}\nbuffer_m = {buffer}\n",
            source("exclusion.geojson")
        );
    }
    if dice.one_in(2) && strip_of("special.geojson", dice, &mut made) {
        let percent = dice.of(&["0.0", "50.0", "120.0"]);
        let _ = write!(
            more,
            "[[special_area]]\nname = \"corner\"\nsource = {}\npercent = {{ seed = {percent} }}\n",
            source("special.geojson")
        );
    }
    if dice.one_in(3) && strip_of("brook.geojson", dice, &mut made) {
        let metres = dice.of(&["0.1", "3.0", "0.5"]);
        let _ = write!(
            more,
            "[[setback]]\nname = \"brook\"\nsource = {}\ndistance_m = {metres}\nproducts = [\"starter\"]\n",
            source("brook.geojson")
        );
    }
    let (mut files, mut about) = made;
    let bouts = dice.of(&[0, 0, 1, 2]);
    let around = dice.one_in(2);
    let sliver = dice.of(&["25.0", "0.0", "0.01", "1.0"]);
    let gaps = match dice.one_in(3) {
        true => "class_of_gaps = \"c\"\n",
        false => "",
    };
    let overlaps = dice.of(&["first", "last"]);
    let cell_m = (field.hectares * 10_000.0).sqrt() / 40.0;
    let width_m = dice.of(&[3.0, 6.0]);
    let simplify_m = dice.of(&["0.5", "0.0", "2.0"]);
    let _ = write!(
        about,
        "; bouts {bouts} sliver {sliver} {gaps:?} simplify {simplify_m}"
    );
    files.push((
        "job.toml".to_owned(),
        format!(
            r#"name = "near"
[field]
name = "near"
boundary = {boundary}
[headland]
bouts = {bouts}
around_exclusions = {around}
[zones]
sliver_area_m2 = {sliver}
[grid]
cell_m = {cell_m:.3}
[terminal]
simplify_m = {simplify_m}
{more}
[[layer]]
name = "soil"
source = {zones}
class_attribute = "class"
overlaps = "{overlaps}"
{gaps}
[drill]
working_width_m = {width_m:.1}
[[drill.hopper]]
name = "front"
usable_l = 1900.0
[[drill.hopper]]
name = "rear"
usable_l = 1300.0
[[product]]
id = "seed"
crop = "wheat"
name = "seed"
kind = "seed"
hopper = "front"
rate = {{ kg_per_ha = {{ layer = "soil", by_class = {{ a = 150.0, b = 190.0, c = 170.0 }} }} }}
[[product]]
id = "starter"
name = "starter"
kind = "fertiliser"
hopper = "rear"
rate = {{ kg_per_ha = {{ layer = "soil", by_class = {{ a = 100.0, b = 0.0, c = 60.0 }} }} }}
[[own_seed_limit]]
product = "starter"
max_kg_per_ha = 5000.0
crop = "wheat"
row_spacing_m = 2.0
because = "invented for this test: no limit"
by = "the grower"
on = "2026-01-15"
"#,
            boundary = source("boundary.geojson"),
            zones = source("zones.geojson"),
        ),
    ));
    Case { about, files }
}
