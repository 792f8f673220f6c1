//! A simulator of logs: it drives parallel bouts over a field, looks its rates up in a plan of known zones, and writes what a
//! terminal would write, through the log writer of the codec. Nothing of the comparison is used in it.
#![allow(dead_code)]

use std::fs;
use std::path::Path;
use std::process::{Command, Output};
use twinsow::codec::taskdata::{Element, LogColumn, LogRecord, encode_log};
use twinsow::coordinates::LonLat;

/// South-west corner of the field, and metres of a degree there (WGS 84, 50 degrees north).
const LON: f64 = 8.0;
const LAT: f64 = 50.0;
const EAST_M: f64 = 71_696.0;
const NORTH_M: f64 = 111_229.0;
/// The field is 240 m x 200 m. From the south to the north lie a sandy, a loamy and a clayey third; a brook runs along its
/// eastern edge, and no starter may lie within 10 m of it.
pub const WIDE_M: f64 = 240.0;
pub const HIGH_M: f64 = 200.0;
pub const DRILL_M: f64 = 6.0;
pub const BOUTS: usize = 40;
pub const SETBACK_M: f64 = 10.0;
/// What the map keeps off: half the working width, position error and run-on more (docs/methods/response.md), 6 m here.
pub const KEPT_OFF_M: f64 = SETBACK_M + 6.0;
pub const SEED: [f64; 3] = [150.0, 170.0, 190.0];
pub const STARTER: [f64; 3] = [60.0, 90.0, 75.0];
/// 9 km/h, a record a second.
pub const STEP_M: f64 = 2.5;

pub fn degrees(x: f64, y: f64) -> [f64; 2] {
    [LON + x / EAST_M, LAT + y / NORTH_M]
}

fn ring(corners: &[[f64; 2]]) -> String {
    let points = corners.iter().map(|[x, y]| {
        let [lon, lat] = degrees(*x, *y);
        format!("[{lon},{lat}]")
    });
    points.collect::<Vec<_>>().join(",")
}

fn square(south: f64, north: f64, class: &str) -> String {
    let corners = [
        [0.0, south],
        [WIDE_M, south],
        [WIDE_M, north],
        [0.0, north],
        [0.0, south],
    ];
    format!(
        "{{\"type\":\"Feature\",\"properties\":{{\"soil\":\"{class}\"}},\"geometry\":{{\"type\":\"Polygon\",\"coordinates\":[[{}]]}}}}",
        ring(&corners)
    )
}

/// Writes the job and plans it below `folder`.
pub fn plan(folder: &Path) {
    let file = |name: &str, features: &[String]| {
        let text = format!(
            "{{\"type\":\"FeatureCollection\",\"features\":[{}]}}",
            features.join(",")
        );
        fs::write(folder.join(name), text).unwrap();
    };
    file("boundary.geojson", &[square(0.0, HIGH_M, "")]);
    let third = HIGH_M / 3.0;
    file(
        "soil.geojson",
        &[
            square(0.0, third, "sand"),
            square(third, 2.0 * third, "loam"),
            square(2.0 * third, HIGH_M, "clay"),
        ],
    );
    let edge = [[WIDE_M, -20.0], [WIDE_M, HIGH_M + 20.0]];
    file(
        "brook.geojson",
        &[format!(
            "{{\"type\":\"Feature\",\"properties\":{{}},\"geometry\":{{\"type\":\"LineString\",\"coordinates\":[{}]}}}}",
            ring(&edge)
        )],
    );
    let by_class = |rates: [f64; 3]| {
        format!(
            "layer = \"soil\"\nby_class = {{ sand = {}, loam = {}, clay = {} }}",
            rates[0], rates[1], rates[2]
        )
    };
    let job = format!(
        "name = \"log\"
[field]
name = \"Long Furrow\"
boundary = {{ file = \"boundary.geojson\" }}
[[layer]]
name = \"soil\"
source = {{ file = \"soil.geojson\" }}
class_attribute = \"soil\"
[[setback]]
name = \"brook\"
source = {{ file = \"brook.geojson\" }}
distance_m = {SETBACK_M}
measured_from = \"edge_of_water\"
products = [\"starter\"]
[drill]
working_width_m = {DRILL_M}
sections_m = [3.0, 3.0]
[[drill.hopper]]
name = \"front\"
usable_l = 1500
[[drill.hopper]]
name = \"rear\"
usable_l = 1000
[[product]]
id = \"barley\"
name = \"Barley\"
kind = \"seed\"
hopper = \"front\"
bulk_density_kg_per_l = 0.7
thousand_grain_weight_g = 50
[product.rate.kg_per_ha]
{}
[[product]]
id = \"starter\"
name = \"Starter\"
kind = \"fertiliser\"
hopper = \"rear\"
bulk_density_kg_per_l = 0.95
grade = {{ n_percent = 18, p2o5_percent = 46 }}
[product.rate.kg_per_ha]
{}
[[own_seed_limit]]
product = \"starter\"
max_kg_per_ha = 5000.0
crop = \"barley\"
row_spacing_m = 2.0
grade = {{ n_percent = 18, p2o5_percent = 46 }}
because = \"invented for this test: no limit\"
by = \"the grower\"
on = \"2026-01-15\"
",
        by_class(SEED),
        by_class(STARTER)
    );
    fs::write(folder.join("job.toml"), job).unwrap();
    let planned = run(folder, &["plan", "job.toml", "--out", "plan"]);
    assert!(
        planned.status.code().is_some_and(|code| code < 2),
        "{}",
        text(&planned.stderr)
    );
}

pub fn run(folder: &Path, arguments: &[&str]) -> Output {
    let mut command = Command::new(env!("CARGO_BIN_EXE_twinsow"));
    command
        .current_dir(folder)
        .args(arguments)
        .output()
        .unwrap()
}

pub fn text(bytes: &[u8]) -> String {
    String::from_utf8_lossy(bytes).into_owned()
}

/// Numbers that are the same in every run (xorshift, Marsaglia 2003), from -1 to 1.
pub struct Noise(pub u64);

impl Noise {
    pub fn next(&mut self) -> f64 {
        self.0 ^= self.0 << 13;
        self.0 ^= self.0 >> 7;
        self.0 ^= self.0 << 17;
        (self.0 >> 11) as f64 / (1_u64 << 52) as f64 - 1.0
    }
}

/// The plan's rates at a place, kg/ha; 0 beyond the field.
pub fn wanted(x: f64, y: f64) -> [f64; 2] {
    if !(0.0..=WIDE_M).contains(&x) || !(0.0..=HIGH_M).contains(&y) {
        return [0.0; 2];
    }
    let third = ((y / HIGH_M * 3.0) as usize).min(2);
    let starter = match x < WIDE_M - KEPT_OFF_M {
        true => STARTER[third],
        false => 0.0,
    };
    [SEED[third], starter]
}

/// The drill at one moment; what it says holds until the next.
#[derive(Debug, Clone)]
pub struct Moment {
    /// Seconds since midnight.
    pub s: f64,
    pub at: [f64; 2],
    /// Bout from the west, from 0; whether it goes north.
    pub bout: usize,
    pub north: bool,
    /// In the soil; each product's meter turns; its rate in kg/ha of open width.
    pub down: bool,
    pub on: [bool; 2],
    pub rate: [f64; 2],
    /// Share of the width that is open, per product, from the left.
    pub open: [[f64; 2]; 2],
    /// Position status.
    pub status: u8,
    /// Entry 288.
    pub mode: i32,
}

impl Moment {
    /// Kilograms a second.
    pub fn kg_per_s(&self, product: usize) -> f64 {
        let [from, to] = self.open[product];
        let turns = self.down && self.on[product];
        match turns {
            true => self.rate[product] * STEP_M * DRILL_M * (to - from) / 10_000.0,
            false => 0.0,
        }
    }
}

/// Drives bouts to and fro. `late_s` is how long after the map the rate changes.
pub fn drive(bouts: &[usize], late_s: f64, noise: &mut Noise, share: f64) -> Vec<Moment> {
    let mut moments = Vec::new();
    let mut s = 6.0 * 3600.0;
    let steps = (HIGH_M / STEP_M) as usize;
    for (nth, bout) in bouts.iter().enumerate() {
        let x = (*bout as f64 + 0.5) * DRILL_M;
        let north = nth % 2 == 0;
        for step in 0..=steps {
            let along = step as f64 * STEP_M;
            let place = |along: f64| if north { along } else { HIGH_M - along };
            // The rate for the stretch ahead is that of its middle.
            let seen = along + STEP_M / 2.0 - late_s * STEP_M;
            let seen = place(seen.clamp(0.1, HIGH_M - 0.1));
            let rate = wanted(x, seen).map(|rate| rate * (1.0 + share * noise.next()));
            moments.push(Moment {
                s,
                at: [x, place(along)],
                bout: *bout,
                north,
                down: step < steps,
                on: [true, rate[1] > 0.0],
                rate,
                open: [[0.0, 1.0]; 2],
                status: 4,
                mode: 1,
            });
            s += 1.0;
        }
        s += 20.0;
    }
    moments
}

/// Everything from the west to the east.
pub fn whole() -> Vec<usize> {
    (0..BOUTS).collect()
}

/// Kilograms of both products.
pub fn kilograms(moments: &[Moment]) -> [f64; 2] {
    [0, 1].map(|product| moments.iter().map(|own| own.kg_per_s(product)).sum())
}

/// A column and its value at a moment; the kilograms so far of both products come along.
pub type Value = Box<dyn Fn(&Moment, [f64; 2]) -> i32>;

pub fn column(
    ddi: u16,
    element: &str,
    value: impl Fn(&Moment, [f64; 2]) -> i32 + 'static,
) -> (LogColumn, Value) {
    let column = LogColumn {
        ddi: Some(ddi),
        element: (!element.is_empty()).then(|| element.to_string()),
        constant: None,
    };
    (column, Box::new(value))
}

/// Rate of a product by mass.
pub fn rate(element: &str, product: usize) -> (LogColumn, Value) {
    column(7, element, move |own, _| {
        let rate = if own.on[product] {
            own.rate[product]
        } else {
            0.0
        };
        (rate * 100.0).round() as i32
    })
}

/// Total in grams.
pub fn grams(element: &str, product: usize) -> (LogColumn, Value) {
    column(352, element, move |_, kg| {
        (kg[product] * 1000.0).round() as i32
    })
}

/// Work state of the whole drill.
pub fn down(element: &str) -> (LogColumn, Value) {
    column(141, element, |own, _| i32::from(own.down))
}

pub fn mode(element: &str) -> (LogColumn, Value) {
    column(288, element, |own, _| own.mode)
}

/// What most terminals log: work state, rates, totals.
pub fn common() -> Vec<(LogColumn, Value)> {
    vec![
        down("DET1"),
        rate("DET2", 0),
        rate("DET3", 1),
        grams("DET2", 0),
        grams("DET3", 1),
    ]
}

/// A log of these moments.
pub fn log(columns: &[(LogColumn, Value)], moments: &[Moment]) -> (Element, Vec<u8>) {
    let mut kg = [0.0; 2];
    let mut records = Vec::new();
    for own in moments {
        let lost = own.status == 0;
        let values = (0..)
            .zip(columns)
            .map(|(at, (_, value))| (at, value(own, kg)));
        records.push(LogRecord {
            day: 17_000,
            millisecond: (own.s * 1000.0).round() as u32,
            lon_lat: (!lost).then(|| LonLat::of_pair(degrees(own.at[0], own.at[1]))),
            status: Some(own.status),
            values: values.collect(),
        });
        for (product, kg) in kg.iter_mut().enumerate() {
            *kg += own.kg_per_s(product);
        }
    }
    let columns: Vec<LogColumn> = columns.iter().map(|(column, _)| column.clone()).collect();
    encode_log(&columns, &records)
}

/// The products, and which element has which.
pub fn products() -> [Element; 2] {
    let product = |id: &str, name: &str| Element::new("PDT").with("A", id).with("B", name);
    [product("PDT1", "Barley"), product("PDT2", "Starter")]
}

pub fn allocated(product: &str, element: &str) -> Element {
    Element::new("PAN").with("A", product).with("E", element)
}

/// A task with both products in their elements, and children of its own.
pub fn task(name: &str, children: Vec<Element>) -> Element {
    Element::new("TSK")
        .with("A", "TSK1")
        .with("B", name)
        .with("G", 4)
        .children(children)
}

/// Writes a set with these logs; `parts` stand beside the task.
pub fn write(folder: &Path, parts: Vec<Element>, task: Element, logs: &[(Element, Vec<u8>)]) {
    let stick = folder.join("TASKDATA");
    let _ = fs::remove_dir_all(&stick);
    fs::create_dir_all(&stick).unwrap();
    let mut task = task;
    for (nth, (header, bytes)) in logs.iter().enumerate() {
        let name = format!("TLG{:05}", nth + 1);
        fs::write(
            stick.join(format!("{name}.XML")),
            header.document().unwrap(),
        )
        .unwrap();
        fs::write(stick.join(format!("{name}.BIN")), bytes).unwrap();
        task = task.child(Element::new("TLG").with("A", name).with("C", 1));
    }
    let root = Element::new("ISO11783_TaskData")
        .with("VersionMajor", 4)
        .with("VersionMinor", 3)
        .with("DataTransferOrigin", 2)
        .children(products())
        .children(parts)
        .child(task);
    fs::write(stick.join("TASKDATA.XML"), root.document().unwrap()).unwrap();
}

/// An element of the machine: id, object, kind, name, number, the object it hangs on, and its width and middle in mm.
fn part(id: &str, object: u32, kind: u8, number: u32, on: u32, lies: Option<[i32; 2]>) -> Element {
    let element = Element::new("DET")
        .with("A", id)
        .with("B", object)
        .with("C", kind)
        .with("D", format!("part {number}"))
        .with("E", number)
        .with("F", on);
    match lies {
        None => element,
        Some(_) => element
            .child(Element::new("DOR").with("A", 1000 + object))
            .child(Element::new("DOR").with("A", 2000 + object)),
    }
}

/// A part of a machine: id, object number, kind, the object it hangs on, and width and middle in mm where it has them.
pub type Part<'a> = (&'a str, u32, u8, u32, Option<[i32; 2]>);

/// A machine of such elements: id, object, kind, the object it hangs on, width and middle in mm.
pub fn machine(parts: &[Part]) -> Element {
    let mut device = Element::new("DVC")
        .with("A", "DVC1")
        .with("B", "Drill")
        .with("D", "A000860020800001")
        .with("F", "00000000000001")
        .with("G", "FF000000006564");
    for (nth, (id, object, kind, on, lies)) in parts.iter().enumerate() {
        device = device.child(part(id, *object, *kind, nth as u32, *on, *lies));
    }
    for (_, object, _, _, lies) in parts {
        let Some([width, middle]) = lies else {
            continue;
        };
        for (base, ddi, value) in [(1000, "0043", width), (2000, "0087", middle)] {
            device = device.child(
                Element::new("DPT")
                    .with("A", base + object)
                    .with("B", ddi)
                    .with("C", *value),
            );
        }
    }
    device
}
