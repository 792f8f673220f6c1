//! Bytes to a field whose layers, exclusions and areas are made of pieces of its own border: moved by a hair, rounded,
//! pushed in or out. Each byte means one thing, so that changes to the bytes are changes to the shapes.

/// Reads byte by byte; 0 after the end.
struct Bytes<'a>(std::slice::Iter<'a, u8>);

impl Bytes<'_> {
    fn next(&mut self) -> usize {
        self.0.next().map_or(0, |byte| usize::from(*byte))
    }

    fn one_of<T: Copy>(&mut self, choices: &[T]) -> T {
        choices[self.next() % choices.len()]
    }

    /// From -1 to 1, with 0 at its middle.
    fn swing(&mut self) -> f64 {
        (self.next() as f64 - 128.0) / 127.0
    }
}

type Point = [f64; 2];

const PLACES: [Point; 6] = [
    [2.0, 53.0],
    [-60.0, 0.01],
    [179.9995, -40.0],
    [25.0, 69.9],
    [0.0005, 31.0],
    [-120.0, 47.0],
];
const MOVES_M: [f64; 8] = [0.0, 1e-9, 1e-7, 1e-5, 1e-4, 4e-4, 1e-3, 0.3];
const DECIMALS: [usize; 8] = [7, 8, 9, 10, 11, 12, 13, 15];
const MOST_PIECES: usize = 8;

/// Files of a job, by name.
pub fn drawn(bytes: &[u8]) -> Vec<(String, String)> {
    let mut bytes = Bytes(bytes.iter());
    let place = bytes.one_of(&PLACES);
    let size_m = bytes.one_of(&[60.0, 20.0, 150.0, 400.0]);
    let decimals = bytes.one_of(&DECIMALS);
    let sliver = bytes.one_of(&["", "[zones]\nsliver_area_m2 = 0.0\n"]);
    let gaps = bytes.one_of(&["", "class_of_gaps = \"a\"\n"]);
    let headland = bytes.one_of(&["", "[headland]\nbouts = 1\n"]);
    let field = border(&mut bytes, size_m);
    let to_degrees = |points: &[Point], decimals: usize| degrees(place, points, decimals);
    let boundary = [polygon(&to_degrees(&field, decimals), "")];
    let mut files = vec![("boundary.geojson".to_owned(), collection(&boundary))];
    let (mut things, mut soil) = (String::new(), Vec::new());
    for nth in 0..=bytes.next() % MOST_PIECES {
        let kind = bytes.next() % 8;
        let piece = piece(&mut bytes, &field, size_m);
        let ring = to_degrees(&piece, bytes.one_of(&DECIMALS));
        let name = format!("piece-{nth}");
        let source = format!("name = \"{name}\"\nsource = {{ file = \"{name}.geojson\" }}\n");
        let buffer_m = bytes.one_of(&[0.0, 0.0, 0.001, 2.0]);
        match kind {
            0..4 => {
                let class = ["a", "b", "c", "a"][kind];
                soil.push(polygon(&ring, &format!("\"soil\":\"{class}\"")));
                continue;
            }
            4 | 5 => {
                things += &format!(
                    "[[exclusion]]\n{source}buffer_m = {buffer_m}\nwater = {}\n",
                    kind == 5
                );
            }
            6 => {
                things += &format!("[[special_area]]\n{source}percent = {{ seed = 110.0 }}\n");
            }
            _ => {
                things += &format!(
                    "[[setback]]\n{source}distance_m = {buffer_m}\nproducts = [\"starter\"]\n"
                );
            }
        }
        files.push((format!("{name}.geojson"), collection(&[polygon(&ring, "")])));
    }
    let (layer, seed) = match soil.is_empty() {
        true => (String::new(), "180.0"),
        false => (
            format!(
                "[[layer]]\nname = \"soil\"\nsource = {{ file = \"soil.geojson\" }}\nclass_attribute = \"soil\"\n{gaps}"
            ),
            "{ layer = \"soil\", by_class = { a = 150.0, b = 190.0, c = 170.0 } }",
        ),
    };
    if !soil.is_empty() {
        files.push(("soil.geojson".to_owned(), collection(&soil)));
    }
    let job = format!(
        "name = \"near\"\n[field]\nname = \"near\"\nboundary = {{ file = \"boundary.geojson\" }}\n{things}{sliver}{headland}{layer}\
         [grid]\ncell_m = {}\n[drill]\nworking_width_m = 6.0\n[[drill.hopper]]\nname = \"front\"\nusable_l = 1900.0\n\
         [[drill.hopper]]\nname = \"rear\"\nusable_l = 1300.0\n\
         [[product]]\nid = \"seed\"\nname = \"seed\"\nkind = \"seed\"\nhopper = \"front\"\nrate = {{ kg_per_ha = {seed} }}\n\
         [[product]]\nid = \"starter\"\nname = \"starter\"\nkind = \"fertiliser\"\nhopper = \"rear\"\nrate = {{ kg_per_ha = 90.0 }}\n\
         [[own_seed_limit]]\n\
         product = \"starter\"\n\
         max_kg_per_ha = 5000.0\n\
         row_spacing_m = 2.0\n\
         because = \"invented for this test: no limit\"\n\
         by = \"the grower\"\n\
         on = \"2026-01-15\"\n",
        (size_m / 15.0_f64).max(3.0)
    );
    files.push(("job.toml".to_owned(), job));
    files
}

/// Three to twelve corners around the middle.
fn border(bytes: &mut Bytes, size_m: f64) -> Vec<Point> {
    let corners = 3 + bytes.next() % 10;
    let corner = |nth: usize| {
        let turn = (nth as f64 + 0.4 * bytes.swing()) / corners as f64 * std::f64::consts::TAU;
        let reach = size_m * (1.0 + 0.7 * bytes.swing());
        [turn.cos() * reach, turn.sin() * reach]
    };
    (0..corners).map(corner).collect()
}

/// A stretch of the border, moved by a hair, and back along a parallel or through a place of its own.
fn piece(bytes: &mut Bytes, field: &[Point], size_m: f64) -> Vec<Point> {
    let from = bytes.next() % field.len();
    let corners = 1 + bytes.next() % field.len();
    let off = bytes.one_of(&MOVES_M);
    let moved = [off * bytes.swing(), off * bytes.swing()];
    let dense = 1 + bytes.next() % 4;
    let mut ring = Vec::new();
    for nth in 0..corners {
        let a = field[(from + nth) % field.len()];
        let b = field[(from + nth + 1) % field.len()];
        for part in 0..dense {
            let share = part as f64 / dense as f64;
            ring.push([a[0] + (b[0] - a[0]) * share, a[1] + (b[1] - a[1]) * share]);
        }
    }
    let last = field[(from + corners) % field.len()];
    match bytes.next() % 4 {
        // Back through a place in the field or beyond its other side.
        0 => ring.extend([last, [size_m * bytes.swing(), size_m * bytes.swing()]]),
        // Back along the same corners, drawn towards the middle or away from it.
        way => {
            ring.push(last);
            let depth = bytes.one_of(&[1e-6, 1e-4, 5e-4, 0.002, 0.02, 0.2, 0.6, 1.1]);
            let share = if way == 1 { 1.0 + depth } else { 1.0 - depth };
            let back: Vec<Point> = ring
                .iter()
                .rev()
                .map(|[x, y]| [x * share, y * share])
                .collect();
            ring.extend(back);
        }
    }
    ring.iter()
        .map(|[x, y]| [x + moved[0], y + moved[1]])
        .collect()
}

/// Metres around a place as degrees with so many decimals, closed.
fn degrees(place: Point, points: &[Point], decimals: usize) -> String {
    let across = 111_320.0 * place[1].to_radians().cos();
    let word = |[x, y]: &Point| {
        let [lon, lat] = [place[0] + x / across, place[1] + y / 111_200.0];
        format!("[{lon:.decimals$},{lat:.decimals$}]")
    };
    let closed = points.iter().chain(points.first());
    closed.map(word).collect::<Vec<String>>().join(",")
}

fn polygon(ring: &str, properties: &str) -> String {
    format!(
        "{{\"type\":\"Feature\",\"properties\":{{{properties}}},\"geometry\":{{\"type\":\"Polygon\",\"coordinates\":[[{ring}]]}}}}"
    )
}

fn collection(features: &[String]) -> String {
    format!(
        "{{\"type\":\"FeatureCollection\",\"features\":[{}]}}",
        features.join(",\n")
    )
}
