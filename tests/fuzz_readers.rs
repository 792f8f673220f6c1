//! A fuzz target per reader: no file may make it panic or take more memory than its size allows. The changes are
//! seeded, so a run is the same everywhere; `TWINSOW_FUZZ_ROUNDS=100 cargo test --test fuzz_readers` looks further.

mod fuzz_support;

use fuzz_support::{MOST_BYTES, Target, unpacked};
use std::fs;
use std::path::{Path, PathBuf};
use twinsow::audit;
use twinsow::codec::taskdata::{decode_cells, decode_log, device, parse};
use twinsow::job::Source;
use twinsow::read::{self, taskdata};

fn target<'a>(name: &'a str, seeds: &'a [&'a str], rounds: usize) -> Target<'a> {
    Target {
        name,
        seeds,
        rounds,
        most_bytes: MOST_BYTES,
    }
}

/// What is read, and then audited: an error is as good as a result.
fn read_all(path: &Path) {
    for table in read::tables(path).iter().flatten() {
        let _ = read::read(path, table.name.as_deref());
    }
    let _ = read::read(path, None);
    let _ = audit::audit(&[path.to_path_buf()], None, None, Path::new(""));
}

/// A file with this name in a folder of its own.
fn as_file(name: &str, bytes: &[u8]) -> (tempfile::TempDir, PathBuf) {
    let folder = tempfile::tempdir().expect("a folder");
    let path = folder.path().join(name);
    fs::write(&path, bytes).expect("a file");
    (folder, path)
}

#[test]
fn xml() {
    target("xml", &[], 6000).run(|bytes| {
        let Ok(root) = parse(bytes) else { return };
        for child in &root.children {
            let _ = (device(child, 3), device(child, 4));
        }
        let written = root.document().expect("text");
        parse(&written).expect("what was written reads back");
    });
}

/// Columns, rows and values of a cell in six bytes, then the cells.
#[test]
fn grid() {
    target("grid", &[], 6000).run(|bytes| {
        let Some((head, cells)) = bytes.split_first_chunk::<6>() else {
            return;
        };
        let number = |at: usize| usize::from(u16::from_le_bytes([head[at], head[at + 1]]));
        let [columns, rows, variables] = [number(0), number(2), number(4)];
        if let Ok(values) = decode_cells(cells, columns, rows, variables) {
            assert_eq!(values.len(), columns * rows * variables);
        }
    });
}

/// The header, a byte of 0, then the records.
#[test]
fn log() {
    target("log", &[], 6000).run(|bytes| {
        let end = bytes.iter().position(|byte| *byte == 0);
        let (head, records) = bytes.split_at(end.unwrap_or(bytes.len()));
        if let Ok(header) = parse(head) {
            let log = decode_log(&header, records);
            assert!(log.left_bytes <= records.len());
        }
    });
}

#[test]
fn zip() {
    target("zip", &["read/one.zip", "read/two.zip"], 500).run(|bytes| {
        let (_folder, path) = as_file("x.zip", bytes);
        let _ = taskdata::read(&path);
        read_all(&path);
    });
}

#[test]
fn task_data_set() {
    target("set", &[], 500).run(|bytes| read_all(unpacked(bytes).path()));
}

#[test]
fn geojson() {
    let seeds = ["read/rfc7946.geojson", "read/projected.geojson"];
    target("geojson", &seeds, 500).run(|bytes| {
        let (_folder, path) = as_file("x.geojson", bytes);
        read_all(&path);
    });
}

#[test]
fn shapefile() {
    target("shapefile", &[], 500).run(|bytes| {
        let folder = unpacked(bytes);
        read_all(&folder.path().join("x.shp"));
    });
}

#[test]
fn geopackage() {
    target("geopackage", &["read/layers.gpkg"], 100).run(|bytes| {
        let (_folder, path) = as_file("x.gpkg", bytes);
        read_all(&path);
    });
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
    // A tag or a strip may claim up to 256 MB before the file turns out to be short: the decoder's own limit.
    let target = Target {
        most_bytes: 320 << 20,
        ..target("geotiff", &seeds, 500)
    };
    target.run(|bytes| {
        let (folder, path) = as_file("x.tif", bytes);
        read_all(&path);
        let source = Source {
            file: path,
            ..Source::default()
        };
        let _ = read::Raster::open(&source, folder.path());
    });
}

#[test]
fn csv() {
    target("csv", &[], 500).run(|bytes| {
        let (_folder, path) = as_file("x.csv", bytes);
        read_all(&path);
    });
}
