//! Damaged files: each small file of `testdata/read`, cut at every byte and with bytes changed. A
//! reader may read it or refuse it with one fault; it never crashes, hangs or fills the memory.

use super::{Layer, geojson, read, shapefile};
use crate::findings::Outcome;
use std::fs;
use std::path::{Path, PathBuf};

/// Numbers that are the same in every run (xorshift, Marsaglia 2003).
struct Random(u64);

impl Random {
    fn below(&mut self, limit: usize) -> usize {
        self.0 ^= self.0 << 13;
        self.0 ^= self.0 >> 7;
        self.0 ^= self.0 << 17;
        (self.0 % limit as u64) as usize
    }
}

/// What came of it.
#[derive(Debug, Default)]
struct Counts {
    cuts: usize,
    /// Cuts that still read: indexes, trailing blanks.
    cuts_read: usize,
    changes_refused: usize,
}

/// Reads the bytes cut at every `step`, and with one to three bytes changed `changes` times.
fn damage(
    whole: &[u8],
    step: usize,
    changes: usize,
    read: impl Fn(&[u8]) -> Outcome<Layer>,
) -> Counts {
    let refused = |bytes: &[u8]| match read(bytes) {
        Ok(_) => false,
        Err(fault) => {
            assert!(fault.code.starts_with("read."), "{fault}");
            assert!(!fault.found.is_empty() && !fault.next.is_empty(), "{fault}");
            true
        }
    };
    assert!(!refused(whole));
    let mut counts = Counts::default();
    for length in (0..whole.len()).step_by(step) {
        counts.cuts += 1;
        counts.cuts_read += usize::from(!refused(&whole[..length]));
    }
    let mut random = Random(0x5EED_0000 + whole.len() as u64);
    for _ in 0..changes {
        let mut bytes = whole.to_vec();
        for _ in 0..=random.below(3) {
            let at = random.below(bytes.len());
            bytes[at] = match random.below(4) {
                0 => 0xFF,
                1 => 0,
                2 => bytes[at] ^ 0x80,
                _ => random.below(256) as u8,
            };
        }
        counts.changes_refused += usize::from(refused(&bytes));
    }
    counts
}

fn testdata(name: &str) -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR"))
        .join("testdata/read")
        .join(name)
}

fn bytes(name: &str) -> Vec<u8> {
    fs::read(testdata(name)).unwrap()
}

#[test]
fn shapefiles() {
    for stem in [
        "polygons",
        "polygons_z",
        "lines",
        "points",
        "multipoints",
        "wound_wrong",
    ] {
        let path = testdata(&format!("{stem}.shp"));
        let [shp, dbf, shx] = ["shp", "dbf", "shx"].map(|part| bytes(&format!("{stem}.{part}")));
        let read = |shp: &[u8], dbf: &[u8], shx: &[u8]| {
            shapefile::read_bytes(&path, shp.to_vec(), dbf.to_vec(), shx.to_vec())
        };
        let counts = damage(&shp, 1, 5000, |cut| read(cut, &dbf, &shx));
        assert_eq!(counts.cuts_read, 0, "{stem}");
        assert!(counts.changes_refused > 0, "{stem}");
        let counts = damage(&dbf, 1, 3000, |cut| read(&shp, cut, &shx));
        // The mark of the end after the last row may be missing.
        assert!(counts.cuts_read <= 1, "{stem}: {counts:?}");
        // Without its index a shapefile still reads.
        let counts = damage(&shx, 1, 1000, |cut| read(&shp, &dbf, cut));
        assert_eq!(counts.cuts_read, counts.cuts, "{stem}");
    }
}

#[test]
fn geojson_files() {
    for name in ["rfc7946.geojson", "projected.geojson"] {
        let counts = damage(&bytes(name), 1, 5000, |cut| {
            geojson::parse(cut, Path::new(name))
        });
        // The file ends with a line break that may be missing.
        assert!(counts.cuts_read <= 1, "{counts:?}");
        assert!(counts.changes_refused > 1000, "{counts:?}");
    }
}

/// Through a file, for readers that need one.
fn through_file<'a>(
    folder: &'a tempfile::TempDir,
    name: &str,
    table: Option<&'a str>,
) -> impl Fn(&[u8]) -> Outcome<Layer> + 'a {
    let path = folder.path().join(name);
    move |bytes| {
        fs::write(&path, bytes).unwrap();
        read(&path, table)
    }
}

#[test]
fn zip_files() {
    let folder = tempfile::tempdir().unwrap();
    for (name, table) in [("one.zip", None), ("two.zip", Some("polygons"))] {
        let counts = damage(&bytes(name), 5, 300, through_file(&folder, name, table));
        assert_eq!(counts.cuts_read, 0, "{name}");
        assert!(counts.changes_refused > 0, "{name}");
    }
}

#[test]
fn geopackages() {
    let folder = tempfile::tempdir().unwrap();
    for table in ["soil", "lines_z"] {
        let read = through_file(&folder, "layers.gpkg", Some(table));
        let counts = damage(&bytes("layers.gpkg"), 401, 300, read);
        assert!(counts.changes_refused > 0, "{counts:?}");
        assert!(counts.cuts_read < counts.cuts / 2, "{counts:?}");
    }
}
