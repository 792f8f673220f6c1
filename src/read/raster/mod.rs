//! Rasters: a grid of values in its own CRS, read window by window.

mod ascii;
mod coarse;
mod geotiff;
mod held;
mod keys;
mod samples;
mod scale;
mod stored;

use super::file;
use super::{DeclaredCrs, Feature, Geometry, Layer, Polygon, Xy};
use crate::findings::{Fault, Finding, Outcome, Place};
use crate::job::Source;
pub use coarse::OneOf;
pub(super) use geotiff::mask::beside as mask_beside;
pub use geotiff::{geotiff_crs, opened_within};
use std::path::{Path, PathBuf};
pub use stored::{Code, Stored, StoredValues};

/// Most values that are held at a time: a window of 5000 x 5000.
const MOST_VALUES: u64 = 25_000_000;

/// What a raster file says about itself; its values come by [`Raster::pixels`].
#[derive(Debug, Clone, PartialEq)]
pub struct Raster {
    /// The file as the user named it.
    pub file: PathBuf,
    /// Format in words: `GeoTIFF`, `ESRI ASCII grid`.
    pub format: &'static str,
    pub crs: DeclaredCrs,
    pub columns: u32,
    pub rows: u32,
    pub bands: u32,
    /// Outer corner of the first value (the first row's first column), in the raster's CRS.
    pub corner: Xy,
    /// From one column to the next in x, and from one row to the next in y; y is negative where rows
    /// run from north to south, as they mostly do.
    pub step: Xy,
    /// The value that stands for "no value".
    pub nodata: Option<f64>,
    /// How values of blocks of pixels are made one, where this is a coarser view of a file.
    pub(super) blocks: Option<coarse::Blocks>,
    /// Per band: factor and summand that make its values of the stored ones; empty where none is given.
    pub scales: Vec<[f64; 2]>,
    /// What reading noticed.
    pub findings: Vec<Finding>,
    /// Values of a format that is read as a whole: the grid of task data.
    pub(super) held: Option<held::Held>,
}

/// A piece of a raster: its first column and row, and how many of each.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Window {
    pub column: u32,
    pub row: u32,
    pub columns: u32,
    pub rows: u32,
}

/// Values of one band, row by row; NaN where there is none.
#[derive(Debug, Clone, PartialEq)]
pub struct Pixels {
    pub window: Window,
    pub values: Vec<f64>,
}

impl Raster {
    /// Opens the raster that a job names: path relative to `folder`.
    ///
    /// # Errors
    /// The file is missing or unreadable, no raster, or damaged; it is rotated, or its place is not
    /// said; `table` or `only` is given, which a raster does not have.
    pub fn open(source: &Source, folder: &Path) -> Outcome<Self> {
        let path = match source.file.is_absolute() || folder.as_os_str().is_empty() {
            true => source.file.clone(),
            false => folder.join(&source.file),
        };
        if super::taskdata::is_task_data(&path) {
            return held::open(&path, &source.only);
        }
        file::check(&path)?;
        if source.table.is_some() || !source.only.is_empty() {
            return Err(Fault::input(
                "read.raster_source",
                Place::file(&path),
                "`table` or `only` is given, but this is a raster",
                "`file`, and `crs` where the file declares none",
                "Remove `table` and `only`; choose a band with `band` in `values`.",
            ));
        }
        match kind(&path)? {
            Some(Kind::GeoTiff) => geotiff::open(&path),
            Some(Kind::AsciiGrid) => ascii::open(&path),
            None => Err(Fault::input(
                "read.no_raster",
                Place::file(&path),
                "This is no raster that is read here",
                "GeoTIFF (.tif) or ESRI ASCII grid (.asc, with its .prj)",
                "Export the raster from your GIS as GeoTIFF.",
            )),
        }
    }

    /// Whether a source means a raster: a file that is one, or the grid of task data.
    pub fn meant(source: &Source, folder: &Path) -> bool {
        let path = folder.join(&source.file);
        match source.table.as_deref() {
            Some("grid") => super::taskdata::is_task_data(&path),
            _ => Self::is(&path),
        }
    }

    /// Whether a file is a raster by its content. False for one that cannot be read.
    pub fn is(path: &Path) -> bool {
        kind(path).is_ok_and(|kind| kind.is_some())
    }

    /// The values of a band (from 1) inside a window: what is stored, times the band's factor and plus its
    /// summand where the file names them; NaN for no value.
    ///
    /// # Errors
    /// A band or window that the raster does not have; more than 25 million values; damaged data.
    pub fn pixels(&self, band: u32, window: Window) -> Outcome<Pixels> {
        let values = self.stored(band, window)?.into_doubles();
        Ok(Pixels { window, values })
    }

    /// The same, each value in the type that the file has it in.
    ///
    /// # Errors
    /// As [`Raster::pixels`].
    pub fn stored(&self, band: u32, window: Window) -> Outcome<Stored> {
        if band == 0 || band > self.bands {
            return Err(Fault::input(
                "read.no_band",
                self.place(),
                format!("Band {band} is asked for"),
                format!("1 to {}", self.bands),
                "Correct `band` in the job.",
            ));
        }
        if self.blocks.is_none() && u64::from(window.columns) * u64::from(window.rows) > MOST_VALUES
        {
            return Err(Fault::input(
                "read.raster_too_fine",
                self.place(),
                format!(
                    "{} x {} values lie over the field",
                    window.columns, window.rows
                ),
                format!("up to {MOST_VALUES} values over one field"),
                "Make the raster coarser in your GIS, by averaging; a drill cannot follow such detail.",
            ));
        }
        let inside = |first: u32, count: u32, all: u32| {
            first.checked_add(count).is_some_and(|end| end <= all)
        };
        if !inside(window.column, window.columns, self.columns)
            || !inside(window.row, window.rows, self.rows)
        {
            return Err(self.damaged("a piece outside of the raster is asked for"));
        }
        let doubles = |pixels: Pixels| Stored::doubles(window, pixels.values);
        if let Some(blocks) = &self.blocks {
            return blocks.pixels(self, band, window).map(doubles);
        }
        if let Some(held) = &self.held {
            return Ok(doubles(held.pixels(self.columns, band, window)));
        }
        match self.format {
            ascii::FORMAT => ascii::pixels(self, window).map(doubles),
            _ => geotiff::stored(self, band, window),
        }
    }

    /// Where the raster is, for messages.
    pub fn place(&self) -> Place {
        Place::file(&self.file)
    }

    /// The place of a corner between pixels, counted from the first row's first column.
    pub fn at(&self, [column, row]: [f64; 2]) -> Xy {
        [
            self.corner[0] + column * self.step[0],
            self.corner[1] + row * self.step[1],
        ]
    }

    /// The raster's outline as a layer of one polygon: what there is to say about CRS and place.
    pub fn outline(&self) -> Layer {
        let [right, bottom] = [f64::from(self.columns), f64::from(self.rows)];
        let exterior = [[0.0, 0.0], [right, 0.0], [right, bottom], [0.0, bottom]]
            .map(|corner| self.at(corner))
            .to_vec();
        Layer {
            file: self.file.clone(),
            format: self.format,
            table: None,
            crs: self.crs.clone(),
            attributes: Vec::new(),
            features: vec![Feature {
                name: "outline".to_owned(),
                geometry: Geometry::Polygons(vec![Polygon {
                    exterior,
                    holes: Vec::new(),
                }]),
                values: Vec::new(),
            }],
            findings: self.findings.clone(),
        }
    }

    fn damaged(&self, what: impl std::fmt::Display) -> Box<Fault> {
        damaged(&self.file, self.format, what)
    }
}

fn damaged(path: &Path, format: &str, what: impl std::fmt::Display) -> Box<Fault> {
    Fault::input(
        "read.raster_damaged",
        Place::file(path),
        format!("The {format} cannot be read: {what}"),
        format!("a whole {format}"),
        "Export or copy it again.",
    )
}

enum Kind {
    GeoTiff,
    AsciiGrid,
}

fn kind(path: &Path) -> Outcome<Option<Kind>> {
    let head = file::head(path, 4096)?;
    if [b"II\x2A\0", b"MM\0\x2A", b"II\x2B\0", b"MM\0\x2B"]
        .iter()
        .any(|magic| head.starts_with(*magic))
    {
        return Ok(Some(Kind::GeoTiff));
    }
    let start: String = String::from_utf8_lossy(&head).trim_start().to_lowercase();
    Ok(["ncols", "nrows"]
        .iter()
        .any(|key| start.starts_with(key))
        .then_some(Kind::AsciiGrid))
}

/// The .prj beside a raster, if there is one.
pub(super) fn prj_beside(path: &Path) -> Option<PathBuf> {
    ["prj", "PRJ"]
        .iter()
        .map(|name| path.with_extension(name))
        .find(|beside| beside.is_file())
}

/// The text of the .prj beside a raster.
fn prj_text(path: &Path) -> Outcome<Option<String>> {
    let Some(beside) = prj_beside(path) else {
        return Ok(None);
    };
    let bytes = file::head(&beside, 100_000)?;
    let text = String::from_utf8_lossy(&bytes);
    let text = text
        .trim_start_matches('\u{feff}')
        .trim_matches(['\0', ' ', '\t', '\r', '\n']);
    Ok((!text.is_empty()).then(|| text.to_owned()))
}
