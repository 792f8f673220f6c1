//! Jobs grown from real parcels, each by its number: the same number is the same job for ever.

mod cut;
mod parcel;
mod places;
mod text;

pub use parcel::{Parcel, parcels};

use crate::exact_support::draw::Dice;
use cut::Rings;
use parcel::{Field, cut_all, extent};
use places::Site;
use std::fs;
use std::path::Path;
use text::{Digits, Paper, Shapes};

/// What a job adds to the bare field.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Kind {
    Flat,
    Soil,
    Border,
    All,
}

impl Kind {
    pub const ALL: [Self; 4] = [Self::Flat, Self::Soil, Self::Border, Self::All];

    pub fn words(self) -> &'static str {
        match self {
            Self::Flat => "flat",
            Self::Soil => "with soil",
            Self::Border => "exclusions and the like along the border",
            Self::All => "both",
        }
    }
}

/// A job and its files, as texts.
pub struct Grown {
    pub parcel: String,
    pub kind: Kind,
    pub crs: String,
    pub place: &'static str,
    pub longest_m: f64,
    files: Vec<(String, String)>,
}

/// Most cells of a grid: bigger fields get bigger cells, so that a job takes a moment.
const MOST_CELLS: f64 = 12_000.0;
/// Most bouts across a field, for the same reason.
const MOST_BOUTS: f64 = 250.0;
const WIDTHS_M: [f64; 9] = [3.0, 4.0, 6.0, 8.0, 9.0, 12.0, 18.0, 24.0, 36.0];

impl Grown {
    pub fn new(parcels: &[Parcel], number: u64) -> Self {
        let parcel = &parcels[number as usize % parcels.len()];
        // A throw of its own for each matter: what is added to one changes no other.
        let dice = |matter: u64| Dice::new(number.wrapping_mul(16).wrapping_add(matter));
        let field = Field::grown(parcel, &mut dice(0));
        let site = Site::drawn(&mut dice(1));
        let kind = Kind::ALL[dice(2).below(4) as usize];
        let paper = Paper::new(&site, &field.parts);
        let mut digits = dice(3);
        let own = Digits::of_boundary(&site, &mut digits);
        let boundary = Shapes::plain(&field.parts);
        let mut files = vec![("boundary.geojson".to_owned(), paper.text(&boundary, own))];
        let mut job = head(number, &paper.source("boundary", own));
        if matches!(kind, Kind::Border | Kind::All) {
            job += &border(&field, &paper, own, &mut dice(4), &mut files);
        }
        let classes = matches!(kind, Kind::Soil | Kind::All)
            .then(|| soil(&field, &paper, own, &mut dice(5), &mut files));
        let (layer, classes) = classes.unwrap_or_default();
        job += &headland(&mut dice(6));
        job += &layer;
        job += &machine(&field, &mut dice(7));
        job += &products(classes);
        files.push(("job.toml".to_owned(), job));
        Self {
            parcel: parcel.name.clone(),
            kind,
            crs: site.crs.clone(),
            place: site.kind,
            longest_m: field.longest_m,
            files,
        }
    }

    pub fn write(&self, folder: &Path) {
        fs::create_dir_all(folder).expect("a folder");
        for (name, text) in &self.files {
            fs::write(folder.join(name), text).expect("written");
        }
    }
}

fn head(number: u64, boundary: &str) -> String {
    format!(
        "name = \"grown {number}\"\n[field]\nname = \"Field {number}\"\nboundary = {{ {boundary} }}\n"
    )
}

/// One to three things along the border, made from the border itself.
fn border(
    field: &Field,
    paper: &Paper,
    own: Digits,
    dice: &mut Dice,
    files: &mut Vec<(String, String)>,
) -> String {
    let mut job = String::new();
    for nth in 0..dice.between(1, 4) {
        let name = format!("border-{nth}");
        let wide_m = 0.3 + 7.0 * dice.share();
        let shapes = match dice.below(4) {
            // What lies beyond a line: its outer side is the border itself.
            0 | 1 => {
                let share = 0.02 + 0.12 * dice.share();
                let [beyond, _] = cut_all(&field.parts, field.line(share, dice));
                Shapes::plain(&beyond)
            }
            2 => Shapes::plain(&field.strips(wide_m, true, dice)),
            _ => Shapes::plain(&field.strips(wide_m, false, dice)),
        };
        let digits = Digits::of_layer(own, dice);
        let source = paper.source(&name, digits);
        let buffer_m = [0.0, 0.0, 1.5][dice.below(3) as usize];
        let text = paper.text(&shapes, digits);
        job += &match dice.below(4) {
            0 => format!(
                "[[special_area]]\nname = \"{name}\"\nsource = {{ {source} }}\npercent = {{ seed = 115.0, starter = 0.0 }}\n"
            ),
            _ => format!(
                "[[exclusion]]\nname = \"{name}\"\nsource = {{ {source} }}\nbuffer_m = {buffer_m}\nwater = {}\n",
                dice.below(2) == 0
            ),
        };
        files.push((format!("{name}.geojson"), text));
    }
    if dice.below(3) == 0 {
        let digits = Digits::of_layer(own, dice);
        let line = Shapes::Line(field.stretch(dice));
        let distance_m = dice.between(1, 11);
        job += &format!(
            "[[setback]]\nname = \"brook\"\nsource = {{ {} }}\ndistance_m = {distance_m}\nproducts = [\"starter\"]\n",
            paper.source("brook", digits)
        );
        files.push(("brook.geojson".to_owned(), paper.text(&line, digits)));
    }
    job
}

/// The field, or the box around it, cut into pieces by lines. Gives the layer and its number of classes.
fn soil(
    field: &Field,
    paper: &Paper,
    own: Digits,
    dice: &mut Dice,
    files: &mut Vec<(String, String)>,
) -> (String, usize) {
    let clipped = dice.below(3) > 0;
    let mut pieces = match clipped {
        true => vec![field.parts.clone()],
        false => vec![vec![box_around(&field.parts)]],
    };
    for _ in 0..dice.between(1, 5) {
        let share = 0.1 + 0.8 * dice.share();
        let line = field.line(share, dice);
        let halves = pieces.iter().flat_map(|parts| cut_all(parts, line));
        pieces = halves.filter(|parts| !parts.is_empty()).collect();
    }
    let classes = 2 + dice.below(3) as usize;
    let with_class = pieces.into_iter().enumerate();
    let shapes = Shapes::Classes(
        with_class
            .map(|(nth, parts)| (nth % classes, parts))
            .collect(),
    );
    let digits = Digits::of_layer(own, dice);
    let gaps = ["", "", "class_of_gaps = \"a\"\n"][dice.below(3) as usize];
    let sliver = ["", "", "sliver_area_m2 = 0.0\n", "sliver_area_m2 = 1.0\n"];
    let sliver = sliver[dice.below(4) as usize];
    files.push(("soil.geojson".to_owned(), paper.text(&shapes, digits)));
    // Gaps are drawn on purpose: no decision about them keeps files for terminals back.
    let layer = format!(
        "[zones]\ngap_decision_percent = 100.0\n{sliver}[[layer]]\nname = \"soil\"\nsource = {{ {} }}\nclass_attribute = \"soil\"\n{gaps}",
        paper.source("soil", digits)
    );
    (layer, classes)
}

fn box_around(parts: &[Rings]) -> Rings {
    let [[west, south], [east, north]] = extent(parts);
    let [wide, high] = [0.05 * (east - west), 0.05 * (north - south)];
    let [west, east] = [west - wide, east + wide];
    let [south, north] = [south - high, north + high];
    vec![vec![
        [west, south],
        [east, south],
        [east, north],
        [west, north],
    ]]
}

fn headland(dice: &mut Dice) -> String {
    match dice.below(4) {
        0 | 1 => String::new(),
        2 => format!(
            "[headland]\nbouts = {}\naround_exclusions = true\n",
            1 + dice.below(2)
        ),
        _ => "[headland]\nbouts = 1\n".to_owned(),
    }
}

/// The drill, its grid, and for a share of the jobs how it is driven.
fn machine(field: &Field, dice: &mut Dice) -> String {
    let at_least = field.across_m / MOST_BOUTS;
    let drawn = WIDTHS_M[dice.below(6) as usize];
    let wide_enough = WIDTHS_M.iter().find(|width| **width >= at_least);
    let width = drawn.max(*wide_enough.unwrap_or(&36.0));
    let cell_m = (field.across_m / MOST_CELLS.sqrt()).ceil();
    let grid = match cell_m > width {
        true => format!("[grid]\ncell_m = {cell_m}\n"),
        false => String::new(),
    };
    let sections = match dice.below(3) {
        0 => format!(
            "rows = {}\nrow_spacing_m = 0.125\nsections_m = [{}, {}]\n",
            width * 8.0,
            width / 2.0,
            width / 2.0
        ),
        _ => String::new(),
    };
    let drive = match dice.below(5) {
        0 => "[drive]\n",
        1 => "[drive]\nheadland = \"last\"\n",
        _ => "",
    };
    let tramline = match (drive, dice.below(2)) {
        ("", _) | (_, 0) => String::new(),
        _ if sections.is_empty() || width > 9.0 => String::new(),
        _ => format!(
            "[tramline]\nsprayer_width_m = {}\ntrack_width_m = 1.8\ntyre_width_m = 0.3\n",
            width * 4.0
        ),
    };
    format!(
        "{grid}[drill]\nworking_width_m = {width:.1}\n{sections}[[drill.hopper]]\nname = \"front\"\nusable_l = 1900.0\n\
         [[drill.hopper]]\nname = \"rear\"\nusable_l = 1300.0\n{drive}{tramline}"
    )
}

/// A seed by soil and a starter, which has none on class `b`; without classes the same everywhere.
fn products(classes: usize) -> String {
    let [seed, starter] = match classes {
        0 => ["180.0".to_owned(), "90.0".to_owned()],
        _ => {
            let by_class = |rates: [f64; 4]| {
                let named = ["a", "b", "c", "d"].into_iter().zip(rates);
                let words = named.map(|(class, rate)| format!("{class} = {rate:.1}"));
                let words: Vec<String> = words.collect();
                format!(
                    "{{ layer = \"soil\", by_class = {{ {} }} }}",
                    words.join(", ")
                )
            };
            [
                by_class([150.0, 190.0, 170.0, 210.0]),
                by_class([100.0, 0.0, 80.0, 60.0]),
            ]
        }
    };
    format!(
        "[[product]]\nid = \"seed\"\nname = \"seed\"\nkind = \"seed\"\nhopper = \"front\"\nbulk_density_kg_per_l = 0.7\n\
         rate = {{ kg_per_ha = {seed} }}\n\
         [[product]]\nid = \"starter\"\nname = \"starter\"\nkind = \"fertiliser\"\nhopper = \"rear\"\nbulk_density_kg_per_l = 1.0\n\
         rate = {{ kg_per_ha = {starter} }}\n\
         [[own_seed_limit]]\n\
         product = \"starter\"\n\
         max_kg_per_ha = 5000.0\n\
         row_spacing_m = 2.0\n\
         because = \"invented for this test: no limit\"\n\
         by = \"the grower\"\n\
         on = \"2026-01-15\"\n"
    )
}
