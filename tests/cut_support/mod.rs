//! Made fields for maps cut to the bouts.

use super::plan_support::{self, Made, PLACE, collection, feature, job, plain, rectangle};

/// North to south, by the map zones, without a grid between map and drill.
pub fn drive(heading_deg: f64, more: &str) -> String {
    format!(
        "[drive]\nheading_deg = {heading_deg}\nfollows = \"polygons\"\ncut_to_bouts = true\n{more}"
    )
}

/// A rectangle in true metres: the degrees of made fields are near enough for most tests, by 2 in 1000. Metres per degree
/// by the usual series of WGS 84.
pub fn exact(from: [f64; 2], to: [f64; 2]) -> plan_support::Rings {
    let lat = PLACE[1].to_radians();
    let east = 111_412.84 * lat.cos() - 93.5 * (3.0 * lat).cos() + 0.118 * (5.0 * lat).cos();
    let north = 111_132.92 - 559.82 * (2.0 * lat).cos() + 1.175 * (4.0 * lat).cos();
    let made = |[x, y]: [f64; 2]| [x * 111_320.0 * lat.cos() / east, y * 111_200.0 / north];
    rectangle(made(from), made(to))
}

/// The plain field, zones meeting at this many metres from its western side.
pub fn field(border: f64, middle: &str) -> Made {
    field_of([200.0, 150.0], border, middle)
}

/// The same, of this width and height.
pub fn field_of(size: [f64; 2], border: f64, middle: &str) -> Made {
    let made = plain(middle);
    let land = feature(PLACE, r#""name":"made""#, &exact([0.0, 0.0], size));
    made.write("boundary.geojson", collection(&[land]));
    let zones = [
        ("a", [-10.0, -10.0], [border, 160.0]),
        ("b", [border, -10.0], [210.0, 160.0]),
    ];
    let zones = zones.map(|(class, from, to)| {
        let class = format!("\"soil\":\"{class}\"");
        feature(PLACE, &class, &exact(from, to))
    });
    made.write("soil.geojson", collection(&zones));
    made
}

/// Numbers from 0 below 1, by a seed.
fn random_numbers(seed: u64) -> impl FnMut() -> f64 {
    let mut state = seed.wrapping_mul(0x9E37_79B9_7F4A_7C15) ^ 0xD1B5_4A32_D192_ED03;
    move || {
        state = state
            .wrapping_mul(6_364_136_223_846_793_005)
            .wrapping_add(1_442_695_040_888_963_407);
        (state >> 33) as f64 / f64::from(1_u32 << 31)
    }
}

/// A field of four corners with slanting zones of three classes, by its number: any heading, none to two bouts of headland, a drill
/// of 3 to 9 m, in every other field delays, in every third land without starter.
pub fn seeded(seed: u64) -> Made {
    let mut random = random_numbers(seed);
    let heading = (180.0 * random()).round();
    let headland = match (3.0 * random()) as u32 {
        0 => String::new(),
        bouts => format!("[headland]\nbouts = {bouts}\n"),
    };
    let middle = format!("{headland}{}", drive(heading, ""));
    let made = plain(&middle);
    let mut corner = |x: f64, y: f64| [x + 50.0 * random(), y + 40.0 * random()];
    let ring = vec![
        corner(0.0, 0.0),
        corner(150.0, 0.0),
        corner(150.0, 110.0),
        corner(0.0, 110.0),
    ];
    made.write(
        "boundary.geojson",
        collection(&[feature(PLACE, r#""name":"made""#, &vec![ring])]),
    );
    let slant = 60.0 * random() - 30.0;
    let mut west = -200.0;
    let mut zones = Vec::new();
    let mut east = 20.0 + 30.0 * random();
    while west < 260.0 {
        let class = ["a", "b", "c"][zones.len() % 2 + usize::from(random() < 0.3)];
        let ring = vec![
            [west - slant, -60.0],
            [east - slant, -60.0],
            [east + slant, 220.0],
            [west + slant, 220.0],
        ];
        zones.push(feature(
            PLACE,
            &format!("\"soil\":\"{class}\""),
            &vec![ring],
        ));
        west = east;
        east += 8.0 + 60.0 * random();
    }
    made.write("soil.geojson", collection(&zones));
    let starter = if seed.is_multiple_of(3) { 0.0 } else { 70.0 };
    let width = 3.0 * (1.0 + (3.0 * random()).floor());
    let mut text = job(&middle)
        .replace("a = 150.0, b = 190.0", "a = 150.0, b = 180.0, c = 165.0")
        .replace(
            "a = 100.0, b = 0.0",
            &format!("a = 100.0, b = {starter:?}, c = 85.0"),
        )
        .replace(
            "working_width_m = 6.0",
            &format!("working_width_m = {width:?}"),
        );
    if seed.is_multiple_of(2) {
        let delays = format!(
            "usable_l = 1900.0\ndelays = {{ step_up_s = {:.1}, step_down_s = {:.1} }}",
            3.0 * random(),
            3.0 * random()
        );
        text = text.replace("usable_l = 1900.0", &delays);
    }
    made.write("job.toml", text);
    made
}
