//! Rasters written by GDAL are read as GDAL reads them (testdata/raster), and damaged ones are
//! refused without a panic.

use serde_json::Value;
use std::fs;
use std::path::{Path, PathBuf};
use twinsow::findings::Outcome;
use twinsow::job::Source;
use twinsow::read::{DeclaredCrs, Raster, Window};

fn folder() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("testdata/raster")
}

fn open(path: &Path) -> Outcome<Raster> {
    let source = Source {
        file: path.to_path_buf(),
        ..Source::default()
    };
    Raster::open(&source, Path::new(""))
}

fn whole(raster: &Raster) -> Window {
    Window {
        column: 0,
        row: 0,
        columns: raster.columns,
        rows: raster.rows,
    }
}

fn expected() -> Value {
    let text = fs::read_to_string(folder().join("expected.json")).unwrap();
    serde_json::from_str(&text).unwrap()
}

/// Refused on purpose.
const REFUSED: [(&str, &str); 1] = [("rotated_i16.tif", "read.raster_rotated")];

#[test]
fn every_file_holds_what_gdal_reads_in_it() {
    let expected = expected();
    let files = expected["files"].as_object().unwrap();
    assert!(files.len() >= 16);
    for (name, wanted) in files {
        if REFUSED.iter().any(|(refused, _)| refused == name) {
            continue;
        }
        let raster = open(&folder().join(name)).unwrap_or_else(|fault| panic!("{name}: {fault}"));
        match (&raster.crs, wanted["crs"].as_str().unwrap()) {
            (DeclaredCrs::Text(own), _) if name == "grid.asc" => {
                assert!(own.contains("UTM_Zone_31N"))
            }
            (DeclaredCrs::Text(own), wanted) => assert_eq!(own, wanted, "{name}"),
            other => panic!("{name}: {other:?}"),
        }
        let transform: Vec<f64> = serde_json::from_value(wanted["transform"].clone()).unwrap();
        let [a, b, c, d, e, f] = transform[..] else {
            panic!("{name}")
        };
        assert_eq!((b, d), (0.0, 0.0));
        for (own, wanted) in [
            (raster.step[0], a),
            (raster.step[1], e),
            (raster.corner[0], c),
            (raster.corner[1], f),
        ] {
            assert!(
                (own - wanted).abs() <= 1e-9 * wanted.abs(),
                "{name}: {own} {wanted}"
            );
        }
        let bands: Vec<Vec<Option<f64>>> = serde_json::from_value(wanted["bands"].clone()).unwrap();
        assert_eq!(raster.bands as usize, bands.len(), "{name}");
        for (band, wanted) in bands.iter().enumerate() {
            let own = raster.pixels(band as u32 + 1, whole(&raster)).unwrap();
            let own: Vec<Option<f64>> = own
                .values
                .iter()
                .map(|v| v.is_finite().then_some(*v))
                .collect();
            assert_eq!(&own, wanted, "{name}, band {}", band + 1);
            // Windows that cut strips and tiles.
            for (column, row, columns, rows) in
                [(0, 0, 3, 2), (15, 15, 3, 3), (5, 1, 19, 17), (23, 17, 1, 1)]
            {
                let window = Window {
                    column,
                    row,
                    columns,
                    rows,
                };
                let part = raster.pixels(band as u32 + 1, window).unwrap();
                for (n, value) in part.values.iter().enumerate() {
                    let (x, y) = (column + n as u32 % columns, row + n as u32 / columns);
                    let wanted = wanted[(y * raster.columns + x) as usize];
                    assert_eq!(
                        value.is_finite().then_some(*value),
                        wanted,
                        "{name} {window:?}"
                    );
                }
            }
        }
    }
}

#[test]
fn what_is_not_read_is_refused_with_a_reason() {
    for (name, code) in REFUSED {
        let fault = open(&folder().join(name))
            .and_then(|raster| raster.pixels(1, whole(&raster)))
            .unwrap_err();
        assert_eq!(fault.code, code, "{fault}");
    }
    let raster = open(&folder().join("bands_pixel_f32.tif")).unwrap();
    let fault = raster.pixels(4, whole(&raster)).unwrap_err();
    assert_eq!(
        (fault.code, fault.allowed.as_str()),
        ("read.no_band", "1 to 3")
    );
    let too_wide = Window {
        columns: 25,
        ..whole(&raster)
    };
    assert!(raster.pixels(1, too_wide).is_err());
    let fault = open(&folder().join("make.py")).unwrap_err();
    assert_eq!(fault.code, "read.no_raster");
    let fault = twinsow::read::read(&folder().join("grid.asc"), None).unwrap_err();
    assert_eq!(fault.code, "read.is_raster");
}

#[test]
fn damaged_files_are_refused_or_read_but_never_panic() {
    let scratch = tempfile::tempdir().unwrap();
    let look = |path: &Path| {
        open(path).and_then(|raster| {
            let part = Window {
                columns: raster.columns.min(40),
                rows: raster.rows.min(40),
                ..whole(&raster)
            };
            raster.pixels(1, part)
        })
    };
    let mut refused = 0;
    for name in [
        "deflate_p2_tiled_i32.tif",
        "lzw_striped_u16.tif",
        "big_deflate_u32.tif",
        "none_striped_u8.tif",
        "grid.asc",
    ] {
        let bytes = fs::read(folder().join(name)).unwrap();
        let path = scratch.path().join(name);
        for cut in (0..bytes.len()).step_by(23) {
            fs::write(&path, &bytes[..cut]).unwrap();
            refused += usize::from(look(&path).is_err());
        }
        for at in (0..bytes.len().min(900)).step_by(5) {
            let mut changed = bytes.clone();
            changed[at] ^= [0xFF, 0x80, 0x01][at % 3];
            fs::write(&path, &changed).unwrap();
            refused += usize::from(look(&path).is_err());
        }
    }
    assert!(refused > 150, "{refused}");
}

#[test]
fn an_ascii_grid_names_the_line_of_its_fault() {
    let scratch = tempfile::tempdir().unwrap();
    let path = scratch.path().join("a.asc");
    let read = |text: &str| {
        fs::write(&path, text).unwrap();
        open(&path).and_then(|raster| raster.pixels(1, whole(&raster)))
    };
    let head = "ncols 2\nnrows 2\nxllcenter 5\nyllcenter 5\ncellsize 10\nNODATA_value -1\n";
    let good = read(&format!("{head}1 2\n3 -1\n")).unwrap();
    assert_eq!(good.values[..3], [1.0, 2.0, 3.0]);
    assert!(good.values[3].is_nan());
    let raster = open(&path).unwrap();
    assert_eq!((raster.corner, raster.step), ([0.0, 20.0], [10.0, -10.0]));
    let fault = read(&format!("{head}1 2\n3,5 4\n")).unwrap_err();
    assert_eq!(fault.place.line, Some(8));
    assert!(fault.next.contains("decimals with a point"), "{fault}");
    assert!(read(&format!("{head}1 2\n3\n")).is_err());
    assert!(read(&format!("{head}1 2 3 4 5\n")).is_err());
    assert!(read("ncols 2\nnrows 2\n").is_err());
}
