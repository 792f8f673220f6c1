//! Where a GeoTIFF says that it has no value, beside the value that stands for none: by a mask in the file or beside
//! it (.tif.msk), or by an alpha band.
//!
//! Source: TIFF 6.0, NewSubfileType bit 2 and PhotometricInterpretation 4 (transparency mask), ExtraSamples 1 and 2
//! (alpha); the reader of TIFF files decodes no masks, so each of their strips and tiles is handed to it as a picture of
//! its own.

use super::super::stored::Stored;
use super::super::{Raster, Window, damaged};
use super::{FORMAT, Tiff, decoder, fault, most_chunk};
use crate::findings::{Fault, Outcome, Place};
use crate::read::file::opened;
use std::fs::File;
use std::io::{Cursor, Read, Seek, SeekFrom};
use std::path::{Path, PathBuf};
use tiff::TiffError;
use tiff::decoder::{Decoder, DecodingResult};
use tiff::tags::Tag;

/// How a file says it.
#[derive(Debug, Clone, PartialEq)]
pub(super) enum Mask {
    /// The last band is the alpha band: 0 where there is no value.
    Alpha(u32),
    /// A mask of the whole raster: one bit or byte for each value, 0 where there is none.
    Image(Image),
}

/// Where the pieces of a mask are.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Image {
    file: PathBuf,
    /// Columns and rows of a piece.
    size: [u32; 2],
    columns: u32,
    rows: u32,
    is_tiled: bool,
    bits: u32,
    compression: u16,
    pieces: Vec<(u64, u64)>,
}

/// Most directories of a file that are looked through.
const MOST_IMAGES: usize = 64;

/// The mask beside a raster, as some programs write it.
pub(in crate::read) fn beside(path: &Path) -> Option<PathBuf> {
    let mut name = path.as_os_str().to_os_string();
    name.push(".msk");
    Some(PathBuf::from(name)).filter(|path| path.is_file())
}

/// The mask of a raster of this size, if it has one.
pub(super) fn of(path: &Path, [columns, rows, bands]: [u32; 3]) -> Outcome<Option<Mask>> {
    let mut tiff = decoder(path)?;
    let said = |error: TiffError| fault(path, &error);
    let extra = tiff
        .find_tag_unsigned_vec::<u16>(Tag::ExtraSamples)
        .map_err(said)?;
    if extra.is_some_and(|extra| matches!(extra.last(), Some(1 | 2))) && bands > 1 {
        return Ok(Some(Mask::Alpha(bands)));
    }
    for _ in 0..MOST_IMAGES {
        // Further images that cannot be read are none that is needed.
        if !tiff.more_images() || tiff.next_image().is_err() {
            break;
        }
        // A mask of the raster itself, not of one of its overviews.
        let kind = tiff.find_tag_unsigned::<u32>(Tag::NewSubfileType);
        if matches!(kind, Ok(Some(4)))
            && tiff.dimensions().is_ok_and(|size| size == (columns, rows))
        {
            return image(&mut tiff, path, [columns, rows]).map(Some);
        }
    }
    let Some(file) = beside(path) else {
        return Ok(None);
    };
    let mut tiff = decoder(&file)?;
    match tiff.dimensions().is_ok_and(|size| size == (columns, rows)) {
        true => image(&mut tiff, &file, [columns, rows]).map(Some),
        false => Err(damaged(
            &file,
            FORMAT,
            "the mask has another size than its raster",
        )),
    }
}

fn image(tiff: &mut Tiff, path: &Path, [columns, rows]: [u32; 2]) -> Outcome<Mask> {
    let mut tag = |tag: Tag| {
        let values = tiff.find_tag_unsigned_vec::<u64>(tag);
        let values = values.map_err(|error| fault(path, &error))?;
        Ok::<_, Box<Fault>>(values.unwrap_or_default())
    };
    let first = |values: Vec<u64>, otherwise: u64| values.first().copied().unwrap_or(otherwise);
    let compression = first(tag(Tag::Compression)?, 1);
    let bits = first(tag(Tag::BitsPerSample)?, 1);
    let is_plain = first(tag(Tag::FillOrder)?, 1) == 1
        && first(tag(Tag::Predictor)?, 1) == 1
        && first(tag(Tag::SamplesPerPixel)?, 1) == 1
        && [1, 8].contains(&bits)
        && [1, 5, 8, 32_773, 32_946, 50_000].contains(&compression);
    if !is_plain {
        return Err(Fault::input(
            "read.tiff_mask",
            Place::file(path),
            "The GeoTIFF has a mask, and the mask is packed in a way that is not read here",
            "a mask of 1 or 8 bits; compression none, DEFLATE, LZW, PackBits or Zstandard; or a value that stands for none",
            "Save it again from your GIS with a no-data value instead of a mask; on a command line: gdalwarp -dstnodata -9999 -ot Float32 IN.tif OUT.tif",
        ));
    }
    let tiles = tag(Tag::TileOffsets)?;
    let is_tiled = !tiles.is_empty();
    let (starts, lengths, size) = match is_tiled {
        true => (
            tiles,
            tag(Tag::TileByteCounts)?,
            [
                first(tag(Tag::TileWidth)?, 0),
                first(tag(Tag::TileLength)?, 0),
            ],
        ),
        false => (
            tag(Tag::StripOffsets)?,
            tag(Tag::StripByteCounts)?,
            [
                u64::from(columns),
                first(tag(Tag::RowsPerStrip)?, u64::from(rows)).min(u64::from(rows)),
            ],
        ),
    };
    let broken = |what: &str| damaged(path, FORMAT, format!("its mask {what}"));
    let [Ok(wide), Ok(high)] = size.map(u32::try_from) else {
        return Err(broken("has pieces without a size"));
    };
    if wide == 0 || high == 0 {
        return Err(broken("has pieces without a size"));
    }
    let count = u64::from(columns.div_ceil(wide)) * u64::from(rows.div_ceil(high));
    if starts.len() as u64 != count || lengths.len() as u64 != count {
        return Err(broken("has not all of its pieces"));
    }
    let image = Image {
        file: path.to_path_buf(),
        size: [wide, high],
        columns,
        rows,
        is_tiled,
        bits: bits as u32,
        compression: compression as u16,
        pieces: starts.into_iter().zip(lengths).collect(),
    };
    let length = std::fs::metadata(path).map_or(0, |about| about.len());
    let most = most_chunk(length);
    match image.row_bytes() as u64 * u64::from(high) > most {
        true => Err(broken(&format!("has a piece of more than {most} bytes"))),
        false => Ok(Mask::Image(image)),
    }
}

impl Image {
    fn row_bytes(&self) -> usize {
        (self.size[0] as usize * self.bits as usize).div_ceil(8)
    }

    /// Whether there is a value, row by row of a window.
    pub(super) fn valid(&self, window: Window) -> Outcome<Vec<bool>> {
        let [wide, high] = self.size;
        let mut file = opened(&self.file)?;
        let across = self.columns.div_ceil(wide);
        let [right, bottom] = [window.column + window.columns, window.row + window.rows];
        let mut valid = vec![false; window.columns as usize * window.rows as usize];
        for piece_row in window.row / high..bottom.div_ceil(high) {
            for piece_column in window.column / wide..right.div_ceil(wide) {
                let (left, top) = (piece_column * wide, piece_row * high);
                // A tile is whole also beyond the raster's edge, a strip ends with it.
                let rows = match self.is_tiled {
                    true => high,
                    false => high.min(self.rows - top),
                };
                let number = piece_row * across + piece_column;
                let bytes = self.piece(&mut file, number as usize, rows)?;
                for row in top.max(window.row)..top.saturating_add(high).min(bottom) {
                    let line = (row - top) as usize * self.row_bytes();
                    for column in left.max(window.column)..left.saturating_add(wide).min(right) {
                        let at = (column - left) as usize;
                        let byte = |at: usize| bytes.get(line + at).copied().unwrap_or(0);
                        let is = match self.bits {
                            1 => byte(at / 8) >> (7 - at % 8) & 1 != 0,
                            _ => byte(at) != 0,
                        };
                        let place = (row - window.row) as usize * window.columns as usize
                            + (column - window.column) as usize;
                        valid[place] = is;
                    }
                }
            }
        }
        Ok(valid)
    }

    /// The bytes of a piece, which has so many rows. One that the file leaves out is zeros.
    fn piece(&self, file: &mut File, number: usize, rows: u32) -> Outcome<Vec<u8>> {
        let broken = |what: &dyn std::fmt::Display| {
            damaged(
                &self.file,
                FORMAT,
                format!("its mask cannot be unpacked: {what}"),
            )
        };
        let (start, length) = self.pieces.get(number).copied().unwrap_or((0, 0));
        if length == 0 {
            return Ok(Vec::new());
        }
        file.seek(SeekFrom::Start(start))
            .map_err(|error| broken(&error))?;
        // No way of packing makes bytes more than half as many again; what follows cannot belong to the piece.
        let most = 2 * self.row_bytes() as u64 * u64::from(rows) + 1024;
        let mut packed = Vec::new();
        file.take(length.min(most))
            .read_to_end(&mut packed)
            .map_err(|error| broken(&error))?;
        let width = self.row_bytes() as u32;
        let strip = one_strip(width, rows, self.compression, &packed);
        let unpacked = Decoder::new(Cursor::new(strip)).and_then(|mut strip| strip.read_image());
        match unpacked.map_err(|error| broken(&error))? {
            DecodingResult::U8(bytes) => Ok(bytes),
            _ => Err(broken(&"its values are no bytes")),
        }
    }
}

/// A TIFF file of one strip with grey values of a byte, whose bytes are packed in this way (TIFF 6.0, sections 2 and 3).
fn one_strip(width: u32, height: u32, compression: u16, packed: &[u8]) -> Vec<u8> {
    const SHORT: u16 = 3;
    const LONG: u16 = 4;
    const ENTRIES: [u16; 8] = [256, 257, 258, 259, 262, 273, 278, 279];
    let start = 8 + 2 + 12 * ENTRIES.len() as u32 + 4;
    let mut file = b"II*\0\x08\0\0\0".to_vec();
    file.extend((ENTRIES.len() as u16).to_le_bytes());
    for tag in ENTRIES {
        let (kind, value) = match tag {
            256 => (LONG, width),
            257 | 278 => (LONG, height),
            258 => (SHORT, 8),
            259 => (SHORT, u32::from(compression)),
            // 0 is black.
            262 => (SHORT, 1),
            273 => (LONG, start),
            _ => (LONG, packed.len() as u32),
        };
        file.extend(tag.to_le_bytes());
        file.extend(kind.to_le_bytes());
        file.extend(1_u32.to_le_bytes());
        file.extend(value.to_le_bytes());
    }
    file.extend([0; 4]);
    file.extend(packed);
    file
}

/// Values of a window without those that the mask hides.
pub(super) fn hidden(raster: &Raster, band: u32, mut stored: Stored) -> Outcome<Stored> {
    let size = [raster.columns, raster.rows, raster.bands];
    match of(&raster.file, size)? {
        Some(Mask::Alpha(alpha)) if alpha != band => {
            let alpha = super::chunks::plain(raster, alpha, stored.window)?;
            stored.hide(|place| alpha.at(place) == 0.0);
        }
        Some(Mask::Image(image)) => {
            let valid = image.valid(stored.window)?;
            stored.hide(|place| valid.get(place) == Some(&false));
        }
        _ => {}
    }
    Ok(stored)
}

/// What there is to say about the mask of a file.
pub(super) fn said(mask: &Mask) -> String {
    match mask {
        Mask::Alpha(band) => {
            format!("Band {band} is the alpha band; where it is 0 there is no value.")
        }
        Mask::Image(_) => "Where the mask of the file is 0 there is no value.".to_owned(),
    }
}

#[cfg(test)]
mod tests {
    use super::super::open;
    use super::*;

    /// Twenty columns and twelve rows, written by rasterio 1.4.4 on GDAL 3.10.3: the value of a place, counted row by
    /// row, is 10 and its remainder by 50; from the 13th column on nothing counts.
    #[test]
    fn masks_and_alpha_bands_are_kept_to() {
        for name in [
            "mask_u8.tif",
            "mask_deflate_tiled_i16.tif",
            "mask_lzw_i16.tif",
            "mask_zstd_tiled_f32.tif",
            "alpha_u8.tif",
            "alpha_lzw_u8.tif",
            "alpha_zstd_tiled_u16.tif",
            "beside_mask_u8.tif",
            "beside_mask_lzw_u8.tif",
            "beside_mask_zstd_u8.tif",
            "beside_mask_packbits_u8.tif",
        ] {
            let path = Path::new(env!("CARGO_MANIFEST_DIR"))
                .join("testdata/raster/masks")
                .join(name);
            let raster = open(&path).unwrap_or_else(|fault| panic!("{name}: {fault}"));
            assert!(
                raster.findings.iter().any(|f| f.code == "read.raster_mask"),
                "{name}"
            );
            for window in [
                Window {
                    column: 0,
                    row: 0,
                    columns: 20,
                    rows: 12,
                },
                Window {
                    column: 11,
                    row: 3,
                    columns: 5,
                    rows: 7,
                },
            ] {
                let values = raster.pixels(1, window).unwrap().values;
                let mut values = values.into_iter();
                for row in window.row..window.row + window.rows {
                    for column in window.column..window.column + window.columns {
                        let value = values.next().unwrap();
                        let wanted = f64::from((row * 20 + column) % 50 + 10);
                        match column < 12 {
                            true => assert_eq!(value, wanted, "{name} {column} {row}"),
                            false => assert!(value.is_nan(), "{name} {column} {row}: {value}"),
                        }
                    }
                }
            }
        }
    }

    /// The example of TIFF 6.0, section 9 (Apple's test vector), in PackBits.
    #[test]
    fn a_strip_is_unpacked() {
        let runs = [
            0xFE, 0xAA, 0x02, 0x80, 0x00, 0x2A, 0xFD, 0xAA, 0x03, 0x80, 0x00, 0x2A, 0x22, 0xF7,
            0xAA,
        ];
        let wanted = [
            0xAA, 0xAA, 0xAA, 0x80, 0x00, 0x2A, 0xAA, 0xAA, 0xAA, 0xAA, 0x80, 0x00, 0x2A, 0x22,
            0xAA, 0xAA, 0xAA, 0xAA, 0xAA, 0xAA, 0xAA, 0xAA, 0xAA, 0xAA,
        ];
        let strip = one_strip(8, 3, 32_773, &runs);
        let unpacked = Decoder::new(Cursor::new(strip)).and_then(|mut strip| strip.read_image());
        let Ok(DecodingResult::U8(bytes)) = unpacked else {
            panic!("{unpacked:?}")
        };
        assert_eq!(bytes, wanted);
        let short = one_strip(8, 3, 32_773, &runs[..5]);
        let unpacked = Decoder::new(Cursor::new(short)).and_then(|mut strip| strip.read_image());
        assert!(unpacked.is_err());
    }
}
