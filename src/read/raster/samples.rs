//! Samples of a chunk, of any type.

use tiff::decoder::DecodingResult;

/// The samples of a chunk, of any type.
pub(super) struct Samples<'a>(pub &'a DecodingResult);

impl Samples<'_> {
    /// Hands over every `stride`th sample from an index on, so many; `None` where there are fewer. 64-bit integers beyond
    /// 2^53 are rounded to the nearest number.
    pub(super) fn each(&self, range: (usize, usize, usize), take: impl FnMut(f64)) -> Option<()> {
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
    range: (usize, usize, usize),
    number: impl Fn(&T) -> f64,
    take: impl FnMut(f64),
) -> Option<()> {
    let (from, stride) = reach(range)?;
    let samples = all.get(from)?.iter().step_by(stride);
    samples.map(number).for_each(take);
    Some(())
}

/// Takes every `stride`th sample from an index on into places, so many; `None` where there are fewer.
pub(super) fn picked<S, T>(
    all: &[S],
    range: (usize, usize, usize),
    places: &mut [T],
    own: impl Fn(&S) -> T,
) -> Option<()> {
    let (from, stride) = reach(range)?;
    let samples = all.get(from)?;
    match stride {
        // Without steps it is a plain copy.
        1 => {
            let pairs = places.iter_mut().zip(samples);
            pairs.for_each(|(place, sample)| *place = own(sample));
        }
        _ => {
            let pairs = places.iter_mut().zip(samples.iter().step_by(stride));
            pairs.for_each(|(place, sample)| *place = own(sample));
        }
    }
    Some(())
}

/// From the first sample to the last one, and the stride; `None` of none.
fn reach(
    (from, stride, count): (usize, usize, usize),
) -> Option<(std::ops::RangeInclusive<usize>, usize)> {
    let last = from.checked_add(stride.checked_mul(count.checked_sub(1)?)?)?;
    Some((from..=last, stride.max(1)))
}
