//! The strips or tiles that a window touches, on all threads.

use super::super::samples::{Picks, Samples, picked};
use super::super::stored::{Stored, StoredValues, scaled};
use super::super::{Raster, Window};
use super::{Tiff, decoder, fault, samples_of};
use crate::findings::{Fault, Outcome, Place};
use rayon::prelude::*;
use tiff::TiffError;
use tiff::decoder::DecodingResult;
use tiff::tags::Tag;

/// PlanarConfiguration: each band in chunks of its own.
const PLANAR: u16 = 2;
/// PhotometricInterpretation: 0 is white. Such samples come inverted out of the decoder.
const WHITE_IS_ZERO: u16 = 0;
/// SampleFormat: whole numbers without a sign, with one, and floating point.
const UNSIGNED: u16 = 1;
const SIGNED: u16 = 2;
const FLOATING: u16 = 3;
/// Parts that the rows of chunks are cut into for each thread; each part opens the file once more.
const PARTS_PER_THREAD: usize = 2;
/// Bytes that the strips or tiles which are unpacked at one time may have together.
const MOST_AT_ONCE: u64 = 256_000_000;
/// Fewer values than this are not worth a part of their own.
const LEAST_IN_PART: usize = 1 << 18;

/// Reads a window, each value in the type that the file has it in, without a look at its mask.
pub(super) fn plain(raster: &Raster, band: u32, window: Window) -> Outcome<Stored> {
    let path = &raster.file;
    let said = |error: TiffError| fault(path, &error);
    let mut tiff = decoder(path)?;
    let short = |tiff: &mut Tiff, tag| tiff.find_tag_unsigned::<u16>(tag).map_err(said);
    let planar = short(&mut tiff, Tag::PlanarConfiguration)? == Some(PLANAR);
    if short(&mut tiff, Tag::PhotometricInterpretation)? == Some(WHITE_IS_ZERO) {
        return Err(Fault::input(
            "read.tiff_inverted",
            Place::file(path),
            "The TIFF says that 0 is white, as a scan does; its values are a picture, not measurements",
            "a raster of values",
            "Save it from your GIS as GeoTIFF with the values themselves.",
        ));
    }
    let (wide, high) = tiff.chunk_dimensions();
    if wide == 0 || high == 0 || tiff.dimensions().map_err(said)? != (raster.columns, raster.rows) {
        return Err(raster.damaged("its strips or tiles have no size"));
    }
    let (_, bits) = samples_of(tiff.colortype().map_err(said)?);
    let formats = tiff.find_tag_unsigned_vec::<u16>(Tag::SampleFormat);
    let formats = formats.map_err(said)?.unwrap_or_default();
    let chunks = Chunks {
        raster,
        band,
        window,
        planar,
        size: [wide, high],
        bits,
    };
    let nodata = raster.nodata;
    let scale = raster.scales.get(band as usize - 1).copied();
    // The value of a code whose number this is.
    let value = |number: f64| match nodata == Some(number) {
        true => f64::NAN,
        false => scaled(number, scale),
    };
    let values = match (bits, formats.first().copied().unwrap_or(UNSIGNED)) {
        (8, UNSIGNED) => StoredValues::Bytes(
            chunks.read(tiff, 0, |samples, which, places| match samples {
                DecodingResult::U8(all) => picked(all, which, places, |own| *own),
                _ => None,
            })?,
            (0..=u8::MAX).map(|code| value(f64::from(code))).collect(),
        ),
        (16, UNSIGNED) => StoredValues::Words(
            chunks.read(tiff, 0, |samples, which, places| match samples {
                DecodingResult::U16(all) => picked(all, which, places, |own| *own),
                _ => None,
            })?,
            (0..=u16::MAX).map(|code| value(f64::from(code))).collect(),
        ),
        (16, SIGNED) => StoredValues::Words(
            chunks.read(tiff, 0, |samples, which, places| match samples {
                DecodingResult::I16(all) => picked(all, which, places, |own| own.cast_unsigned()),
                _ => None,
            })?,
            (0..=u16::MAX)
                .map(|code| value(f64::from(code.cast_signed())))
                .collect(),
        ),
        (32, FLOATING) => {
            // The text of the tag may have more digits than a 32-bit number holds.
            let nearest = nodata.map(|nodata| nodata as f32);
            let number = |own: &f32| match !own.is_finite() || nearest == Some(*own) {
                true => f32::NAN,
                false => *own,
            };
            let numbers = chunks.read(tiff, 0.0, |samples, which, places| match samples {
                DecodingResult::F32(all) => picked(all, which, places, number),
                _ => None,
            })?;
            StoredValues::Singles(numbers, scale)
        }
        _ => {
            let numbers = chunks.read(tiff, 0.0, |samples, which, places| {
                let mut places = places.iter_mut();
                Samples(samples).each(which, |number| {
                    let none = !number.is_finite() || is_nodata(number, nodata, samples);
                    if let Some(place) = places.next() {
                        *place = scaled(if none { f64::NAN } else { number }, scale);
                    }
                })
            })?;
            StoredValues::Doubles(numbers)
        }
    };
    Ok(Stored { window, values })
}

/// Whether a value is the one that stands for none. The text of the tag may have more digits than a
/// 16-bit number holds.
fn is_nodata(value: f64, nodata: Option<f64>, samples: &DecodingResult) -> bool {
    let Some(nodata) = nodata else { return false };
    value == nodata
        || (matches!(samples, DecodingResult::F16(_)) && value == f64::from(nodata as f32))
}

/// How a window lies in the chunks of a file.
struct Chunks<'a> {
    raster: &'a Raster,
    band: u32,
    window: Window,
    /// Each band in chunks of its own.
    planar: bool,
    /// Columns and rows of a chunk.
    size: [u32; 2],
    /// Of a sample.
    bits: u8,
}

impl Chunks<'_> {
    /// All values of the window. Its first part is read by the file that is open already, every other part opens it
    /// once more. `put` takes samples of a chunk into their places, `None` where there are fewer. Of several faults it is
    /// the one of the uppermost part.
    fn read<T: Copy + Send + Sync>(
        &self,
        opened: Tiff,
        none: T,
        put: impl Fn(&DecodingResult, Picks, &mut [T]) -> Option<()> + Sync,
    ) -> Outcome<Vec<T>> {
        let [_, high] = self.size;
        let columns = self.window.columns as usize;
        let end = self.window.row + self.window.rows;
        let mut values = vec![none; columns * self.window.rows as usize];
        let chunk_rows = (end.div_ceil(high) - self.window.row / high) as usize;
        let parts = chunk_rows
            .min(PARTS_PER_THREAD * rayon::current_num_threads())
            .min(values.len() / LEAST_IN_PART)
            .min(self.at_once());
        let per_part = chunk_rows.div_ceil(parts.max(1)) as u32;
        let mut rest = values.as_mut_slice();
        let mut works = Vec::new();
        let mut opened = Some(opened);
        let mut row = self.window.row;
        while row < end {
            let next = (row / high).saturating_add(per_part).saturating_mul(high);
            let next = next.min(end);
            let (own, after) = rest.split_at_mut((next - row) as usize * columns);
            works.push((row, next, own, opened.take()));
            (row, rest) = (next, after);
        }
        let done: Vec<Outcome<()>> = works
            .into_par_iter()
            .map(|(row, next, places, opened)| self.part(opened, [row, next], places, &put))
            .collect();
        done.into_iter().collect::<Outcome<()>>()?;
        Ok(values)
    }

    /// How many strips or tiles may be held at a time.
    fn at_once(&self) -> usize {
        let samples = if self.planar { 1 } else { self.raster.bands };
        let sizes = [
            self.size[0],
            self.size[1],
            samples,
            u32::from(self.bits / 8),
        ];
        let bytes = sizes
            .iter()
            .fold(1_u64, |all, own| all.saturating_mul(u64::from(*own)));
        (MOST_AT_ONCE / bytes.max(1)) as usize
    }

    /// Reads the rows from one to another, one chunk after the other.
    fn part<T>(
        &self,
        opened: Option<Tiff>,
        [first, end]: [u32; 2],
        places: &mut [T],
        put: &impl Fn(&DecodingResult, Picks, &mut [T]) -> Option<()>,
    ) -> Outcome<()> {
        let Self {
            raster,
            window,
            size: [wide, high],
            ..
        } = *self;
        let said = |error: TiffError| fault(&raster.file, &error);
        let mut tiff = opened.map_or_else(|| decoder(&raster.file), Ok)?;
        let (stride, offset) = match self.planar {
            true => (1, 0),
            false => (raster.bands as usize, self.band as usize - 1),
        };
        let across = u64::from(raster.columns.div_ceil(wide));
        let down = u64::from(raster.rows.div_ceil(high));
        let plane = if self.planar { self.band - 1 } else { 0 };
        // Rows as wide as the tile, also where the tile reaches beyond the raster: then the decoder takes
        // a tile in one go. Row by row, tiff 0.11 loses the end of LZW tiles (its issue 395).
        let stride_bytes = wide as usize * stride * usize::from(self.bits / 8);
        let mut buffer = DecodingResult::U8(Vec::new());
        let right = window.column + window.columns;
        for chunk_row in first / high..end.div_ceil(high) {
            for chunk_column in window.column / wide..right.div_ceil(wide) {
                let of_plane = u64::from(chunk_row) * across + u64::from(chunk_column);
                let chunk = u32::try_from(u64::from(plane) * across * down + of_plane)
                    .map_err(|_| raster.damaged("it has too many strips or tiles"))?;
                tiff.read_chunk_to_buffer(&mut buffer, chunk, stride_bytes)
                    .map_err(said)?;
                let (left, top) = (chunk_column * wide, chunk_row * high);
                for row in top.max(first)..top.saturating_add(high).min(end) {
                    let column = left.max(window.column);
                    let count =
                        left.saturating_add(wide).min(right).saturating_sub(column) as usize;
                    let from = (row - top) as usize * wide as usize + (column - left) as usize;
                    let to = (row - first) as usize * window.columns as usize
                        + (column - window.column) as usize;
                    let which = Picks {
                        from: from * stride + offset,
                        stride,
                        count,
                    };
                    places
                        .get_mut(to..to + count)
                        .and_then(|places| put(&buffer, which, places))
                        .ok_or_else(|| raster.damaged("a strip or tile holds too few values"))?;
                }
            }
        }
        Ok(())
    }
}

#[cfg(test)]
mod tests {
    use super::super::open;
    use super::*;
    use std::fs::File;
    use tiff::encoder::TiffEncoder;
    use tiff::encoder::colortype::Gray16;

    /// A window that is read in several parts, none of which starts with it, is the same for any number of threads.
    #[test]
    fn parts_of_a_window_come_together_for_any_number_of_threads() {
        let (columns, rows) = (700, 1700);
        let value = |at: u32| (at / 31 * 7919 % 65_536) as u16;
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("strips.tif");
        let mut file = TiffEncoder::new(File::create(&path).unwrap()).unwrap();
        let mut image = file.new_image::<Gray16>(columns, rows).unwrap();
        let tags = image.encoder();
        let scale = [1.0, 1.0, 0.0];
        let tie = [0.0, 0.0, 0.0, 500_000.0, 5_000_000.0, 0.0];
        tags.write_tag(Tag::ModelPixelScaleTag, &scale[..]).unwrap();
        tags.write_tag(Tag::ModelTiepointTag, &tie[..]).unwrap();
        image.rows_per_strip(7).unwrap();
        let data: Vec<u16> = (0..columns * rows).map(value).collect();
        image.write_data(&data).unwrap();
        let raster = open(&path).unwrap();
        let window = Window {
            column: 5,
            row: 10,
            columns: 690,
            rows: 1680,
        };
        let of_row = |row: u32| {
            let columns = window.column..window.column + window.columns;
            columns.map(move |column| f64::from(value(row * 700 + column)))
        };
        let wanted: Vec<f64> = (window.row..window.row + window.rows)
            .flat_map(of_row)
            .collect();
        for threads in [1, 2, 5] {
            let pool = rayon::ThreadPoolBuilder::new().num_threads(threads);
            let read = || plain(&raster, 1, window).unwrap().into_doubles();
            assert_eq!(pool.build().unwrap().install(read), wanted);
        }
    }
}
