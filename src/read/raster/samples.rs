//! Samples of any type as numbers.

use tiff::decoder::DecodingResult;

/// The samples of a chunk, of any type.
pub(super) struct Samples<'a>(pub &'a DecodingResult);

impl Samples<'_> {
    /// Hands over every `stride`th sample from an index on, so many; `None` where there are fewer. 64-bit integers beyond
    /// 2^53 are rounded to the nearest number.
    pub(super) fn each(
        &self,
        (from, stride, count): (usize, usize, usize),
        take: impl FnMut(f64),
    ) -> Option<()> {
        let range = (from, stride, count);
        match self.0 {
            DecodingResult::U8(all) => each(all, range, |v| f64::from(*v), take),
            DecodingResult::U16(all) => each(all, range, |v| f64::from(*v), take),
            DecodingResult::U32(all) => each(all, range, |v| f64::from(*v), take),
            DecodingResult::U64(all) => each(all, range, |v| *v as f64, take),
            DecodingResult::I8(all) => each(all, range, |v| f64::from(*v), take),
            DecodingResult::I16(all) => each(all, range, |v| f64::from(*v), take),
            DecodingResult::I32(all) => each(all, range, |v| f64::from(*v), take),
            DecodingResult::I64(all) => each(all, range, |v| *v as f64, take),
            DecodingResult::F16(all) => each(all, range, |v| f64::from(v.to_f32()), take),
            DecodingResult::F32(all) => each(all, range, |v| f64::from(*v), take),
            DecodingResult::F64(all) => each(all, range, |v| *v, take),
        }
    }
}

fn each<T>(
    all: &[T],
    (from, stride, count): (usize, usize, usize),
    number: impl Fn(&T) -> f64,
    take: impl FnMut(f64),
) -> Option<()> {
    let last = from.checked_add(stride.checked_mul(count.checked_sub(1)?)?)?;
    let samples = all.get(from..=last)?.iter().step_by(stride.max(1));
    samples.map(number).for_each(take);
    Some(())
}
