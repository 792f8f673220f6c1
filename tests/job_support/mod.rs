//! A job that is right in every part, to be broken one line at a time.

// Each test file uses its share of this.
#![allow(dead_code)]

use std::path::Path;
use twinsow::findings::{Blame, Fault};
use twinsow::job::Job;

/// Every table and nearly every key of the job file.
pub const WHOLE: &str = r#"name = "Barley 2031"

[field]
name = "Long Furrow"
farm = "Hollow Ash Farm"
customer = "T. Invented"
boundary = { file = "boundary.geojson", only = { field_id = "12" } }

[[exclusion]]
name = "pond"
source = { file = "pond.gpkg", table = "water", crs = "EPSG:25832" }
buffer_m = 2.5
water = true

[[setback]]
name = "brook"
source = { file = "brook.geojson" }
distance_m = 5
products = ["starter"]

[[special_area]]
name = "entrance"
source = { file = "areas.geojson" }
percent = { barley = 115, starter = 80 }

[headland]
bouts = 2
around_exclusions = true

[[layer]]
name = "soil"
source = { file = "soil.shp" }
class_attribute = "texture"
overlaps = "last"
class_of_gaps = "loam"

[[layer]]
name = "phosphate"
source = { file = "p.shp" }
class_attribute = "index"

[zones]
sliver_area_m2 = 30
gap_decision_percent = 2

[drill]
name = "divided 6 m"
working_width_m = 6
row_spacing_m = 0.125
rows = 48
sections_m = [3, 3]
speed_km_per_h = 11
position_error_m = 0.3
run_on_m = 2

[[drill.hopper]]
name = "front"
usable_l = 1920

[[drill.hopper]]
name = "rear"
usable_l = 1280

[[product]]
id = "barley"
name = "spring barley"
kind = "seed"
hopper = "front"
lot = "L-1"
bulk_density_kg_per_l = 0.68
pack_kg = 500
thousand_grain_weight_g = 48
germination_percent = 96

[product.rate]
plants_per_m2 = 280
germination_joined = "subtract"
establishment_percent = { layer = "soil", by_class = { sand = 90, loam = 80 }, otherwise = 75 }

[[product.adjust]]
because = "cloddy headland"
percent = 110
land_part = "headland"

[product.limits]
min_kg_per_ha = 100
max_kg_per_ha = 240
step_kg_per_ha = 1

[[product]]
id = "starter"
name = "granular 12-52"
kind = "fertiliser"
hopper = "rear"
grade = { n_percent = 12, p2o5_percent = 52 }
fallback_kg_per_ha = 50

[product.rate]
nutrient = "p2o5"
need_kg_per_ha = { layer = "phosphate", by_class = { "0" = 60, "1" = 40 }, otherwise = 0 }

[[own_seed_limit]]
product = "starter"
max_kg_per_ha = 5000.0
crop = "barley"
row_spacing_m = 2.0
grade = { n_percent = 12, p2o5_percent = 52 }
because = "invented for this test: no limit"
by = "the grower"
on = "2026-01-15"

[grid]
cell_m = 6
rim_m = 6
most_cells = 500000

[terminal]
position_lost = "zero"
out_of_field = "base_rate"

[order]
reserve_percent = 4
"#;

/// Parses a text as the job file `farm/job.toml`.
pub fn parse(text: &str) -> Result<Job, Box<Fault>> {
    Job::parse(text, Path::new("farm/job.toml"))
}

/// The fault after one part of the whole job is replaced, and the line it should name: that of the
/// mark `@` in the replacement, or where the replacement starts.
pub fn broken(part: &str, by: &str) -> (Fault, usize) {
    let at = WHOLE.find(part).expect("the part is in the job");
    let mark = by.find('@');
    let text = WHOLE.replacen(part, &by.replace('@', ""), 1);
    let at = at + mark.unwrap_or(0);
    let line = text[..at].lines().count() + usize::from(at == 0 || text[..at].ends_with('\n'));
    match parse(&text) {
        Ok(_) => panic!("'{by}' was accepted"),
        Err(fault) => (*fault, line),
    }
}

/// Breaks the job and holds the fault to its line and to pieces of its text.
#[track_caller]
pub fn refused(part: &str, by: &str, pieces: &[&str]) {
    let (fault, line) = broken(part, by);
    assert_eq!(fault.place.line, Some(line), "line of: {fault}");
    assert_eq!(fault.place.file.as_deref(), Some("farm/job.toml"));
    assert_eq!(fault.blame, Blame::Input);
    assert!(
        !fault.allowed.is_empty() && !fault.next.is_empty(),
        "{fault}"
    );
    let text = fault.to_string();
    for piece in pieces {
        assert!(text.contains(piece), "'{piece}' is not in: {text}");
    }
}
