//! Samples of any type as numbers.

use tiff::decoder::DecodingResult;

/// The samples of a chunk, of any type.
pub(super) struct Samples<'a>(pub &'a DecodingResult);

impl Samples<'_> {
    /// The sample at an index. 64-bit integers beyond 2^53 are rounded to the nearest number.
    pub(super) fn get(&self, at: usize) -> Option<f64> {
        match self.0 {
            DecodingResult::U8(all) => all.get(at).map(|v| f64::from(*v)),
            DecodingResult::U16(all) => all.get(at).map(|v| f64::from(*v)),
            DecodingResult::U32(all) => all.get(at).map(|v| f64::from(*v)),
            DecodingResult::U64(all) => all.get(at).map(|v| *v as f64),
            DecodingResult::I8(all) => all.get(at).map(|v| f64::from(*v)),
            DecodingResult::I16(all) => all.get(at).map(|v| f64::from(*v)),
            DecodingResult::I32(all) => all.get(at).map(|v| f64::from(*v)),
            DecodingResult::I64(all) => all.get(at).map(|v| *v as f64),
            DecodingResult::F16(all) => all.get(at).map(|v| f64::from(v.to_f32())),
            DecodingResult::F32(all) => all.get(at).map(|v| f64::from(*v)),
            DecodingResult::F64(all) => all.get(at).copied(),
        }
    }
}
