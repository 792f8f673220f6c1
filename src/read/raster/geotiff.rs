//! GeoTIFF (OGC GeoTIFF 1.1, 19-008r4) and BigTIFF: first image of the file, striped or tiled.

mod chunks;
pub(in crate::read) mod mask;
mod tags;

pub use tags::opened_within;

use super::super::DeclaredCrs;
use super::super::file::opened;
use super::keys::Keys;
use super::scale::{said_of_scales, scales};
use super::stored::Stored;
use super::{Raster, Window, damaged, prj_text};
use crate::codec::geokeys as k;
use crate::findings::{Fault, Finding, Outcome, Place};
use std::fs::File;
use std::io::BufReader;
use std::path::Path;
use tiff::decoder::{Decoder, Limits};
use tiff::tags::Tag;
use tiff::{ColorType, TiffError};

const FORMAT: &str = "GeoTIFF";
/// What is read, in words.
const COMPRESSIONS: &str = "compression none, DEFLATE, LZW, PackBits, Zstandard or JPEG";

type Tiff = Decoder<BufReader<File>>;

/// Most bytes of a strip or tile, whatever the size of its file.
const MOST_CHUNK: u64 = 256_000_000;
/// A strip or tile may have so many bytes in any file, and so many more for each byte of its file.
const ALWAYS_CHUNK: u64 = 100_000_000;
const TIMES_CHUNK: u64 = 20;

/// Most bytes that a strip or tile of this file may unpack to.
fn most_chunk(length: u64) -> u64 {
    MOST_CHUNK.min(ALWAYS_CHUNK.saturating_add(length.saturating_mul(TIMES_CHUNK)))
}

/// A decoder whose tags, strips and tiles are held to what the size of the file allows.
fn decoder(path: &Path) -> Outcome<Tiff> {
    let file = opened(path)?;
    let length = file.metadata().map_or(0, |about| about.len());
    let mut limits = Limits::default();
    limits.decoding_buffer_size = most_chunk(length) as usize;
    let tiff = Decoder::new(opened_within(file, path)?).map_err(|error| fault(path, &error))?;
    Ok(tiff.with_limits(limits))
}

fn fault(path: &Path, error: &TiffError) -> Box<Fault> {
    match error {
        TiffError::UnsupportedError(what) => Fault::input(
            "read.tiff_unsupported",
            Place::file(path),
            format!("The GeoTIFF is written in a way that is not read here: {what}"),
            format!("8 to 64 bit integers or floating point; {COMPRESSIONS}"),
            "Save it again from your GIS with compression DEFLATE.",
        ),
        TiffError::LimitsExceeded => Fault::input(
            "read.tiff_chunk",
            Place::file(path),
            "A strip, a tile or a tag of the GeoTIFF unpacks to more than 256 MB, or to far more than its file has bytes",
            format!(
                "strips or tiles of up to {} MB and {TIMES_CHUNK} times the file, {} MB at most",
                ALWAYS_CHUNK / 1_000_000,
                MOST_CHUNK / 1_000_000
            ),
            "Save it again from your GIS with tiles (TILED=YES).",
        ),
        other => damaged(path, FORMAT, other),
    }
}

/// The name of a compression that GDAL writes and that is not read here, by the number in the file.
fn not_read(method: u16) -> Option<&'static str> {
    match method {
        2..=4 => Some("one of the fax methods"),
        6 => Some("JPEG in its old form"),
        34_887 => Some("LERC"),
        34_925 => Some("LZMA"),
        50_001 => Some("WebP"),
        50_002 | 52_546 => Some("JPEG XL"),
        34_712 => Some("JPEG 2000"),
        _ => None,
    }
}

/// Numbers of a tag; none where it is missing.
fn doubles(tiff: &mut Tiff, path: &Path, tag: u16) -> Outcome<Vec<f64>> {
    let value = tiff
        .find_tag(Tag::Unknown(tag))
        .map_err(|error| fault(path, &error))?;
    match value {
        None => Ok(Vec::new()),
        Some(value) => value.into_f64_vec().map_err(|error| fault(path, &error)),
    }
}

fn text(tiff: &mut Tiff, tag: u16) -> Option<String> {
    let value = tiff.find_tag(Tag::Unknown(tag)).ok()??;
    let text = value.into_string().ok()?;
    Some(text.trim_matches(['\0', ' ', '\n', '\r']).to_owned())
}

/// The keys of the file, and the CRS that they or a .prj beside it name.
fn geo_keys(tiff: &mut Tiff, path: &Path) -> Outcome<(Keys, DeclaredCrs)> {
    let shorts = tiff
        .find_tag_unsigned_vec::<u16>(Tag::Unknown(k::TAG_DIRECTORY))
        .map_err(|error| fault(path, &error))?
        .unwrap_or_default();
    let keys = Keys {
        shorts,
        doubles: doubles(tiff, path, k::TAG_DOUBLES)?,
    };
    let crs = match keys.crs() {
        DeclaredCrs::None => prj_text(path)?.map_or(DeclaredCrs::None, DeclaredCrs::Text),
        crs => crs,
    };
    Ok((keys, crs))
}

/// The CRS of a GeoTIFF, whichever way its pixels lie in it.
///
/// # Errors
/// A file that cannot be read, or is no TIFF.
pub fn geotiff_crs(path: &Path) -> Outcome<DeclaredCrs> {
    let mut tiff = decoder(path)?;
    geo_keys(&mut tiff, path).map(|(_, crs)| crs)
}

/// Reads what the file says about itself.
pub(super) fn open(path: &Path) -> Outcome<Raster> {
    let mut tiff = decoder(path)?;
    let said = |error: TiffError| fault(path, &error);
    let method = tiff
        .find_tag_unsigned::<u16>(Tag::Compression)
        .map_err(said)?;
    if let Some(name) = method.and_then(not_read) {
        return Err(Fault::input(
            "read.tiff_unsupported",
            Place::file(path),
            format!("The GeoTIFF is compressed with {name}, which is not read here"),
            COMPRESSIONS,
            "Save it again from your GIS with compression DEFLATE; on a command line: gdal_translate -co COMPRESS=DEFLATE IN.tif OUT.tif",
        ));
    }
    let (columns, rows) = tiff.dimensions().map_err(said)?;
    if columns == 0 || rows == 0 {
        return Err(damaged(path, FORMAT, "it has no columns or no rows"));
    }
    let (bands, bits) = samples_of(tiff.colortype().map_err(said)?);
    if ![8, 16, 32, 64].contains(&bits) {
        return Err(Fault::input(
            "read.tiff_unsupported",
            Place::file(path),
            format!("The values of the GeoTIFF have {bits} bits each"),
            "8, 16, 32 or 64 bits",
            "Save it again from your GIS as Byte, Int16 or Float32.",
        ));
    }
    let (keys, crs) = geo_keys(&mut tiff, path)?;
    let (mut corner, step) = position(&mut tiff, path)?;
    if keys
        .short(k::GT_RASTER_TYPE)
        .is_some_and(|kind| kind != k::PIXEL_IS_AREA)
    {
        // The tie point is the middle of a pixel.
        corner = [corner[0] - step[0] / 2.0, corner[1] - step[1] / 2.0];
    }
    let mut findings = Vec::new();
    if crs == DeclaredCrs::None {
        findings.push(Finding::note(
            "read.no_crs",
            Place::file(path),
            "The file does not say by an EPSG code which CRS it is in.",
        ));
    }
    let nodata = match text(&mut tiff, k::TAG_GDAL_NODATA) {
        None => None,
        Some(written) => match written.parse::<f64>() {
            Ok(number) => Some(number),
            Err(_) => {
                return Err(damaged(
                    path,
                    FORMAT,
                    format!("its no-data value is '{}'", written.escape_debug()),
                ));
            }
        },
    };
    let scales = match text(&mut tiff, k::TAG_GDAL_METADATA) {
        None => Vec::new(),
        Some(notes) => scales(&notes, bands).map_err(|what| damaged(path, FORMAT, what))?,
    };
    findings.extend(
        said_of_scales(&scales)
            .map(|said| Finding::note("read.scale_applied", Place::file(path), said)),
    );
    if let Some(mask) = mask::of(path, [columns, rows, bands])? {
        let said = mask::said(&mask);
        findings.push(Finding::note("read.raster_mask", Place::file(path), said));
    }
    Ok(Raster {
        file: path.to_path_buf(),
        format: FORMAT,
        crs,
        columns,
        rows,
        bands,
        corner,
        step,
        nodata,
        blocks: None,
        scales,
        findings,
        held: None,
    })
}

/// Reads a window, each value in the type that the file has it in; what its mask hides is no value.
pub(super) fn stored(raster: &Raster, band: u32, window: Window) -> Outcome<Stored> {
    mask::hidden(raster, band, chunks::plain(raster, band, window)?)
}

/// Number of bands, and bits of each value.
fn samples_of(kind: ColorType) -> (u32, u8) {
    match kind {
        ColorType::Gray(bits) | ColorType::Palette(bits) => (1, bits),
        ColorType::GrayA(bits) => (2, bits),
        ColorType::RGB(bits) | ColorType::YCbCr(bits) | ColorType::Lab(bits) => (3, bits),
        ColorType::RGBA(bits) | ColorType::CMYK(bits) => (4, bits),
        ColorType::CMYKA(bits) => (5, bits),
        ColorType::Multiband {
            num_samples,
            bit_depth,
        } => (u32::from(num_samples), bit_depth),
        _ => (1, 0),
    }
}

/// Corner of the first pixel and the steps, from the tie point or the transformation.
fn position(tiff: &mut Tiff, path: &Path) -> Outcome<([f64; 2], [f64; 2])> {
    let matrix = doubles(tiff, path, k::TAG_MODEL_TRANSFORMATION)?;
    let scale = doubles(tiff, path, k::TAG_MODEL_PIXEL_SCALE)?;
    let ties = doubles(tiff, path, k::TAG_MODEL_TIEPOINT)?;
    let (corner, step) = if let [a, b, _, d, e, f, _, h, ..] = matrix[..] {
        if b != 0.0 || e != 0.0 {
            return Err(Fault::input(
                "read.raster_rotated",
                Place::file(path),
                "The raster is rotated or sheared: its rows do not run along x",
                "a raster whose rows and columns run along the axes of its CRS",
                "Warp it to a CRS in your GIS (gdalwarp does), which lays the pixels straight again; rotated pixels have no exact place on a straight grid.",
            ));
        }
        ([d, h], [a, f])
    } else if let ([sx, sy, ..], [i, j, _, x, y, _]) = (&scale[..], &ties[..]) {
        ([x - i * sx, y + j * sy], [*sx, -sy])
    } else {
        return Err(Fault::input(
            "read.raster_unplaced",
            Place::file(path),
            match ties.len() > 6 {
                true => "The raster is placed by several control points, not by a regular grid",
                false => "The TIFF does not say where it lies",
            },
            "a GeoTIFF with one tie point and a pixel scale, or with a transformation",
            "Give it a place in your GIS and save it as GeoTIFF (a world file beside it is not read).",
        ));
    };
    let usable = |step: f64| step.is_finite() && step != 0.0;
    if !(corner[0].is_finite() && corner[1].is_finite() && usable(step[0]) && usable(step[1])) {
        return Err(damaged(
            path,
            FORMAT,
            "its place or pixel size is no usable number",
        ));
    }
    Ok((corner, step))
}
