//! Damaged files: each small file of `testdata/read`, cut at every byte and with bytes changed. A
//! reader may read it or refuse it with one fault; it never crashes, hangs or fills the memory.

use std::fs;
use std::path::Path;
use twinsow::read::{Layer, read};

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

/// A copy of one input in a folder of its own.
struct Copy {
    folder: tempfile::TempDir,
    main: String,
    table: Option<&'static str>,
}

impl Copy {
    fn new(main: &str, table: Option<&'static str>) -> Self {
        let folder = tempfile::tempdir().unwrap();
        let stem = main.split('.').next().unwrap();
        for entry in
            fs::read_dir(Path::new(env!("CARGO_MANIFEST_DIR")).join("testdata/read")).unwrap()
        {
            let path = entry.unwrap().path();
            if path.file_stem().unwrap() == stem {
                fs::copy(&path, folder.path().join(path.file_name().unwrap())).unwrap();
            }
        }
        Self {
            folder,
            main: main.to_string(),
            table,
        }
    }

    /// Reads with one file replaced. A fault has to say what was found and what to do.
    fn read_with(&self, name: &str, bytes: &[u8]) -> Option<Layer> {
        fs::write(self.folder.path().join(name), bytes).unwrap();
        match read(&self.folder.path().join(&self.main), self.table) {
            Ok(layer) => Some(layer),
            Err(fault) => {
                assert!(fault.code.starts_with("read."));
                assert!(!fault.found.is_empty() && !fault.next.is_empty());
                None
            }
        }
    }

    fn damage(&self, name: &str, step: usize, changes: usize) -> Counts {
        let whole = fs::read(self.folder.path().join(name)).unwrap();
        let mut counts = Counts::default();
        for length in (0..whole.len()).step_by(step) {
            counts.cuts += 1;
            counts.cuts_read += usize::from(self.read_with(name, &whole[..length]).is_some());
        }
        let mut random = Random(0x5EED_0000 + whole.len() as u64);
        for _ in 0..changes {
            let mut bytes = whole.clone();
            for _ in 0..=random.below(3) {
                let at = random.below(bytes.len());
                bytes[at] = match random.below(4) {
                    0 => 0xFF,
                    1 => 0,
                    2 => bytes[at] ^ 0x80,
                    _ => random.below(256) as u8,
                };
            }
            counts.changes_refused += usize::from(self.read_with(name, &bytes).is_none());
        }
        assert!(self.read_with(name, &whole).is_some());
        counts
    }
}

#[derive(Debug, Default)]
struct Counts {
    cuts: usize,
    /// Cuts that still read: side files, trailing blanks.
    cuts_read: usize,
    changes_refused: usize,
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
        let shp = format!("{stem}.shp");
        let copy = Copy::new(&shp, None);
        let counts = copy.damage(&shp, 1, 2000);
        assert_eq!(counts.cuts_read, 0, "{stem}");
        assert!(counts.changes_refused > 0, "{stem}");
        let counts = copy.damage(&format!("{stem}.dbf"), 1, 1000);
        // The mark of the end after the last row may be missing.
        assert!(counts.cuts_read <= 1, "{stem}: {counts:?}");
        // Without its index a shapefile still reads.
        let counts = copy.damage(&format!("{stem}.shx"), 1, 500);
        assert_eq!(counts.cuts_read, counts.cuts, "{stem}");
    }
}

#[test]
fn zip_files() {
    for (zip, table) in [("one.zip", None), ("two.zip", Some("polygons"))] {
        let counts = Copy::new(zip, table).damage(zip, 1, 2000);
        assert_eq!(counts.cuts_read, 0);
    }
}

#[test]
fn geojson() {
    for name in ["rfc7946.geojson", "projected.geojson"] {
        let counts = Copy::new(name, None).damage(name, 1, 3000);
        // The file ends with a line break that may be missing.
        assert!(counts.cuts_read <= 1, "{counts:?}");
        assert!(counts.changes_refused > 1000, "{counts:?}");
    }
}

#[test]
fn geopackages() {
    for table in ["soil", "lines_z", "points"] {
        let counts = Copy::new("layers.gpkg", Some(table)).damage("layers.gpkg", 211, 1500);
        assert!(counts.changes_refused > 0, "{counts:?}");
        assert!(counts.cuts_read < counts.cuts / 2, "{counts:?}");
    }
}
