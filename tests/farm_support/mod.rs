//! A small farm: many fields in one boundary file, one layer of zones for all.

use std::fs;
use std::path::{Path, PathBuf};

pub const JOB: &str = r#"
name = "Spring"

[field]
name = "Square"
boundary = { file = "fields.geojson" }
split_by = "number"

[headland]
width_m = 12.0

[[exclusion]]
name = "mast"
source = { file = "masts.geojson" }
buffer_m = 5.0

[[layer]]
name = "soil"
source = { file = "soil.geojson" }
class_attribute = "soil"

[drill]
name = "Six-metre drill (invented)"
working_width_m = 6.0

[[drill.hopper]]
name = "front"
usable_l = 2000.0

[[product]]
id = "seed"
crop = "wheat"
name = "Seed"
kind = "seed"
hopper = "front"
bulk_density_kg_per_l = 0.7
rate.kg_per_ha = { layer = "soil", by_class = { "sand" = 120.0, "loam" = 150.0 } }
"#;

pub fn ring([west, south]: [f64; 2], [width, height]: [f64; 2]) -> String {
    let (east, north) = (west + width, south + height);
    format!(
        "[[{west},{south}],[{east},{south}],[{east},{north}],[{west},{north}],[{west},{south}]]"
    )
}

pub fn collection(features: &[String]) -> String {
    format!(
        r#"{{"type":"FeatureCollection","features":[{}]}}"#,
        features.join(",")
    )
}

pub fn feature(properties: &str, kind: &str, coordinates: &str) -> String {
    format!(
        r#"{{"type":"Feature","properties":{{{properties}}},"geometry":{{"type":"{kind}","coordinates":{coordinates}}}}}"#
    )
}

/// Fields at these longitudes, each 0.002 x 0.001 degrees at 50 degrees north, numbered from 1; field
/// 2 in two parts. Each has sand in its west and loam in its east, but the one at `bare`.
pub fn farm(folder: &Path, longitudes: &[f64], bare: Option<usize>) -> PathBuf {
    let (mut fields, mut soil) = (Vec::new(), Vec::new());
    for (nth, &lon) in longitudes.iter().enumerate() {
        let number = format!(r#""number":{}"#, nth + 1);
        fields.push(feature(
            &number,
            "Polygon",
            &format!("[{}]", ring([lon, 50.0], [0.002, 0.001])),
        ));
        if nth == 1 {
            let part = format!("[{}]", ring([lon, 50.0015], [0.001, 0.001]));
            fields.push(feature(&number, "Polygon", &part));
        }
        if bare != Some(nth) {
            for (class, west) in [("sand", lon - 0.0005), ("loam", lon + 0.0009)] {
                let zone = format!("[{}]", ring([west, 49.999], [0.0014, 0.005]));
                soil.push(feature(&format!(r#""soil":"{class}""#), "Polygon", &zone));
            }
        }
    }
    let mast = format!("[{},50.0005]", longitudes[0] + 0.001);
    fs::write(folder.join("fields.geojson"), collection(&fields)).expect("written");
    fs::write(folder.join("soil.geojson"), collection(&soil)).expect("written");
    let masts = collection(&[feature("", "Point", &mast)]);
    fs::write(folder.join("masts.geojson"), masts).expect("written");
    let job = folder.join("farm.toml");
    fs::write(&job, JOB).expect("written");
    job
}
