//! Every fuzz target over the files that are kept for it, as they are and changed: no file may make it panic, end as a
//! fault of our own or without a place, or take more memory than its size allows. The changes are seeded, so a run is the
//! same everywhere; `TWINSOW_FUZZ_ROUNDS=100 cargo test --test fuzz_readers` looks further, and `tests/fuzz` learns.

mod fuzz_support;

use fuzz_support::{MOST_BYTES, Target, readers};

fn target<'a>(name: &'a str, seeds: &'a [&'a str], rounds: usize) -> Target<'a> {
    Target {
        name,
        seeds,
        rounds,
        most_bytes: MOST_BYTES,
    }
}

#[test]
fn xml() {
    target("xml", &[], 6000).run(readers::xml);
}

#[test]
fn grid() {
    target("grid", &[], 6000).run(readers::grid);
}

#[test]
fn log() {
    target("log", &[], 6000).run(readers::log);
}

#[test]
fn wkb() {
    target("wkb", &[], 6000).run(readers::wkb);
}

#[test]
fn zip() {
    target("zip", &["read/one.zip", "read/two.zip"], 500).run(readers::zip);
}

#[test]
fn task_data_set() {
    target("set", &[], 500).run(readers::set);
}

#[test]
fn geojson() {
    let seeds = ["read/rfc7946.geojson", "read/projected.geojson"];
    target("geojson", &seeds, 500).run(readers::geojson);
}

#[test]
fn gpx() {
    let seeds = ["read/tracks.gpx", "read/routes.gpx"];
    target("gpx", &seeds, 500).run(readers::gpx);
}

#[test]
fn kml() {
    target("kml", &["read/soil.kml"], 500).run(readers::kml);
}

#[test]
fn gml() {
    let seeds = ["gml/gml32_4258.gml", "gml/gml2_4258.gml", "gml/lines_z.gml"];
    target("gml", &seeds, 500).run(readers::gml);
}

#[test]
fn sheet() {
    let seeds = ["sheet/two.xlsx", "sheet/samples.ods"];
    target("sheet", &seeds, 500).run(readers::sheet);
}

#[test]
fn shapefile() {
    target("shapefile", &[], 500).run(readers::shapefile);
}

#[test]
fn geopackage() {
    target("geopackage", &["read/layers.gpkg"], 100).run(readers::geopackage);
}

#[test]
fn geotiff() {
    let seeds = [
        "raster/bands_pixel_f32.tif",
        "raster/big_deflate_u32.tif",
        "raster/big_endian_i16.tif",
        "raster/deflate_p3_tiled_f32.tif",
        "raster/degrees_f32.tif",
        "raster/lzw_p2_tiled_u16.tif",
        "raster/packbits_striped_u8.tif",
    ];
    target("geotiff", &seeds, 500).run(readers::geotiff);
}

#[test]
fn ascii_grid() {
    target("ascii", &["raster/grid.asc"], 500).run(readers::ascii);
}

#[test]
fn csv() {
    target("csv", &[], 500).run(readers::csv);
}

#[test]
fn job() {
    let seeds = [
        "../examples/demo/job.toml",
        "../examples/three-inputs/job.toml",
        "../examples/oats-in-peas/job.toml",
    ];
    target("job", &seeds, 500).run(readers::job);
}

/// A plan takes a moment, so these are few; `tests/fuzz` and the grown fields look further.
#[test]
fn near() {
    target("near", &[], 10).run(readers::near);
}
