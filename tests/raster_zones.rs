//! A raster as a zone layer: from the job file to areas and rates.

use std::path::Path;
use twinsow::coordinates::LonLat;
use twinsow::findings::Outcome;
use twinsow::frame::{Crs, Frame};
use twinsow::job::Job;
use twinsow::plan::{self, Disk, Options};
use twinsow::read::{Geometry, Layer, Raster, Value};
use twinsow::surface::{self, FieldPlace};

/// A job over the rasters of testdata/raster: 24 x 18 pixels of 10 m, value 7 * row + column.
fn job(file: &str, values: &str, rates: &str) -> Job {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("testdata/raster");
    let text = format!(
        r#"
name = "raster"
field = {{ name = "Grid Piece", boundary = {{ file = "field.geojson", crs = "EPSG:32631" }} }}
drill = {{ working_width_m = 6, hopper = [{{ name = "front", usable_l = 1000 }}] }}
[[layer]]
name = "survey"
source = {{ file = "{file}" }}
values = {{ {values} }}
[[product]]
id = "seed"
crop = "wheat"
name = "seed"
kind = "seed"
hopper = "front"
rate = {{ kg_per_ha = {rates} }}
"#
    );
    Job::parse(&text, &folder.join("job.toml")).unwrap_or_else(|fault| panic!("{fault}"))
}

/// The classes that the pixels of the field have by the job, counted without the program's help.
fn counted(edges: &[i64]) -> Vec<usize> {
    let mut counts = vec![0; edges.len() + 1];
    for row in 0..18_i64 {
        for column in 0..24_i64 {
            if (row, column) != (2, 3) {
                counts[edges
                    .iter()
                    .filter(|edge| 7 * row + column > **edge)
                    .count()] += 1;
            }
        }
    }
    counts
}

fn layer(job: &Job) -> Outcome<Layer> {
    let zone = &job.layers[0];
    let raster = Raster::open(&zone.source, &job.folder)?;
    let crs = Crs::of(&raster.outline(), None)?;
    let frame = Frame::centred_on(&[LonLat::new(2.5, 54.79), LonLat::new(2.503, 54.791)])?;
    let boundary = twinsow::read::open(&job.field.boundary, &job.folder)?;
    let boundary = twinsow::frame::place(
        boundary.clone(),
        &Crs::of(&boundary, Some("EPSG:32631"))?,
        &frame,
    )?;
    let field = FieldPlace {
        frame: &frame,
        boundary: &boundary,
    };
    let values = zone.values.as_ref().unwrap();
    Ok(surface::raster_zones(&raster, &crs, field, zone, values)?.0)
}

#[test]
fn class_areas_are_pixel_counts_times_pixel_area() {
    let wanted = counted(&[40, 90]);
    for file in [
        "deflate_p2_tiled_i32.tif",
        "none_tiled_f64_nan.tif",
        "point_i16.tif",
        "grid.asc",
        "bands_band_tiled_i16.tif",
    ] {
        let job = job(file, "method = \"edges\", edges = [40, 90]", "100");
        let layer = layer(&job).unwrap_or_else(|fault| panic!("{fault}"));
        // In the raster's own coordinates the areas are exact: whole metres all through.
        let mut areas = [0.0; 3];
        for feature in &layer.features {
            let Value::Text(class) = &feature.values[0] else {
                panic!()
            };
            let Geometry::Polygons(polygons) = &feature.geometry else {
                panic!()
            };
            for polygon in polygons {
                let ring = |ring: &Vec<[f64; 2]>| {
                    ring.windows(2)
                        .map(|p| p[0][0] * p[1][1] - p[1][0] * p[0][1])
                        .sum::<f64>()
                        / 2.0
                };
                let area = ring(&polygon.exterior).abs()
                    - polygon.holes.iter().map(|h| ring(h).abs()).sum::<f64>();
                assert_eq!(feature.values[1], Value::Integer((area / 100.0) as i64));
                areas[class.parse::<usize>().unwrap() - 1] += area;
            }
        }
        assert_eq!(
            areas.to_vec(),
            wanted
                .iter()
                .map(|n| *n as f64 * 100.0)
                .collect::<Vec<f64>>(),
            "{file}"
        );
    }
}

#[test]
fn a_raster_plans_like_polygons_with_the_same_classes() {
    let rates = "{ layer = \"survey\", by_class = { low = 100, middle = 150, high = 200 } }";
    let job = job(
        "deflate_p3_tiled_f32.tif",
        "method = \"edges\", edges = [40, 90], class_names = [\"low\", \"middle\", \"high\"]",
        rates,
    );
    let plan =
        plan::plan(&job, &Disk, &Options::default()).unwrap_or_else(|fault| panic!("{fault}"));
    // The pixel without a value is a gap; it lies among low ones.
    let mut wanted = counted(&[40, 90]);
    wanted[0] += 1;
    assert!(
        plan.findings
            .iter()
            .any(|finding| finding.code == "zones.gap_filled"),
        "{:#?}",
        plan.findings
    );
    // UTM draws land here smaller by its scale, squared: the same for all of so small a field.
    let all: f64 = plan.rates.rows.iter().map(|row| row.area_m2).sum();
    let ratio = all / (432.0 * 100.0);
    assert!((1.0007..1.0008).contains(&ratio), "{ratio}");
    for (class, pixels) in ["low", "middle", "high"].iter().zip(&wanted) {
        let area: f64 = plan
            .rates
            .rows
            .iter()
            .filter(|row| row.facts.classes[0] == *class)
            .map(|row| row.area_m2)
            .sum();
        let wanted = *pixels as f64 * 100.0 * ratio;
        assert!(
            (area - wanted).abs() < 1e-6 * wanted,
            "{class}: {area} {wanted}"
        );
    }
    let said = plan
        .findings
        .iter()
        .find(|finding| finding.code == "surface.classes")
        .unwrap();
    assert!(
        said.message
            .contains("'low' up to 40, 'middle' above 40 to 90"),
        "{}",
        said.message
    );
}

#[test]
fn every_method_makes_its_classes() {
    for (values, classes) in [
        ("method = \"quantiles\", classes = 4", 4),
        ("method = \"equal_interval\", classes = 3", 3),
        ("method = \"natural_breaks\", classes = 5", 5),
        ("method = \"edges\", edges = [70]", 2),
        ("method = \"as_they_are\"", 143),
    ] {
        let layer = layer(&job("deflate_striped_i16.tif", values, "100")).unwrap();
        let mut names: Vec<String> = layer
            .features
            .iter()
            .map(|f| f.values[0].to_string())
            .collect();
        names.sort();
        names.dedup();
        assert_eq!(names.len(), classes, "{values}");
    }
}

#[test]
fn small_zones_join_and_the_area_that_moved_is_said() {
    let job = job(
        "deflate_striped_i16.tif",
        "method = \"as_they_are\", smallest_zone_m2 = 2000",
        "100",
    );
    let layer = layer(&job).unwrap();
    let finding = layer
        .findings
        .iter()
        .find(|f| f.code == "surface.small_zones")
        .unwrap();
    assert!(
        finding.area_m2.is_some_and(|area| area > 10_000.0),
        "{finding:?}"
    );
    for feature in &layer.features {
        let Value::Integer(pixels) = feature.values[1] else {
            panic!()
        };
        assert!(pixels >= 20, "{pixels}");
    }
}

#[test]
fn faults_say_what_to_do() {
    let fault = |file: &str, values: &str| layer(&job(file, values, "100")).unwrap_err();
    assert_eq!(
        fault(
            "deflate_striped_i16.tif",
            "method = \"edges\", edges = [5], band = 2"
        )
        .code,
        "read.no_band"
    );
    assert_eq!(
        fault("degrees_f32.tif", "method = \"edges\", edges = [5]").code,
        "surface.off_field"
    );
}

#[test]
fn cleaned_zones_say_what_they_moved_in_kilograms() {
    let values = "method = \"edges\", edges = [40, 43, 90]";
    let rates = "{ layer = \"survey\", by_class = { 1 = 100, 2 = 150, 3 = 200, 4 = 300 } }";
    let total = |values: &str| {
        let plan = plan::plan(&job("grid.asc", values, rates), &Disk, &Options::default())
            .unwrap_or_else(|f| panic!("{f}"));
        let kg: f64 = plan
            .rates
            .rows
            .iter()
            .map(|row| row.area_m2 / 10_000.0 * row.rates[0].kg_per_ha)
            .sum();
        let said: Vec<String> = plan
            .findings
            .iter()
            .filter(|finding| finding.code == "zones.cleaning")
            .map(|finding| finding.message.clone())
            .collect();
        (kg, said)
    };
    let (plain, silent) = total(values);
    assert!(silent.is_empty());
    // Class 2 is a strip one pixel wide, a stair down the field.
    let (kg, said) = total(&format!("{values}, narrowest_zone_m = 40"));
    assert_eq!(said.len(), 1);
    assert!(said[0].contains("gone altogether"), "{}", said[0]);
    assert!((kg - plain).abs() > 1.0, "{kg} {plain}");
    let (kg, said) = total(&format!("{values}, smooth_borders = true"));
    let gain: f64 = said[0]
        .split(' ')
        .zip(said[0].split(' ').skip(1))
        .find_map(|(number, unit)| (unit == "kg").then(|| number.parse().unwrap()))
        .unwrap();
    // By mean rates, so exact where each class has one rate. The finding rounds to 0.1 kg.
    assert!((kg - plain - gain).abs() < 0.06, "{kg} {plain} {gain}");
}

/// A curve over the values of a raster: each class gets the number of its mean, and beyond the ends the end holds.
#[test]
fn a_curve_takes_the_mean_of_each_class_of_values() {
    // Means of 7 x row + column by class, counted without the program's help; one pixel has no value.
    let mut sums = [(0.0, 0.0); 3];
    for (row, column) in (0..18).flat_map(|row| (0..24).map(move |column| (row, column))) {
        let value = f64::from(7 * row + column);
        if (row, column) != (2, 3) {
            let class = usize::from(value > 40.0) + usize::from(value > 90.0);
            sums[class].0 += value;
            sums[class].1 += 1.0;
        }
    }
    let means = sums.map(|(sum, count): (f64, f64)| sum / count);
    let rates =
        "{ layer = \"survey\", curve = [{ at = 40, value = 100 }, { at = 90, value = 200 }] }";
    let values = "method = \"edges\", edges = [40, 90], named_by = \"mean\"";
    let job = job("deflate_p3_tiled_f32.tif", values, rates);
    let plan =
        plan::plan(&job, &Disk, &Options::default()).unwrap_or_else(|fault| panic!("{fault}"));
    assert_eq!(plan.rates.rows.len(), 3);
    for row in &plan.rates.rows {
        let class: f64 = row.facts.classes[0].parse().expect("a number");
        let mean = means.iter().find(|mean| (*mean - class).abs() <= 0.05);
        let mean = mean.unwrap_or_else(|| panic!("{class} is no mean of {means:?}"));
        let wanted = (100.0 + (mean - 40.0) * 2.0).clamp(100.0, 200.0);
        let rate = row.rates[0].kg_per_ha;
        assert!((rate - wanted).abs() <= 0.1, "{class}: {rate}, {wanted}");
    }
    let said = plan.findings.iter().find(|of| of.code == "surface.means");
    assert!(said.is_some_and(|of| of.message.contains("'1' is '")));
}
