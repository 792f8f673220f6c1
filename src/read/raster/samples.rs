//! Samples of a chunk, of any type.

use tiff::decoder::DecodingResult;

/// Every `stride`th sample of a chunk from one on, so many.
#[derive(Clone, Copy)]
pub(super) struct Picks {
    pub from: usize,
    pub stride: usize,
    pub count: usize,
}

impl Picks {
    /// From the first sample to the last one, and the stride; `None` of none.
    fn reach(self) -> Option<(std::ops::RangeInclusive<usize>, usize)> {
        let steps = self.stride.checked_mul(self.count.checked_sub(1)?)?;
        Some((
            self.from..=self.from.checked_add(steps)?,
            self.stride.max(1),
        ))
    }
}

/// The samples of a chunk, of any type.
pub(super) struct Samples<'a>(pub &'a DecodingResult);

impl Samples<'_> {
    /// Hands over these samples; `None` where there are fewer. 64-bit integers beyond
    /// 2^53 are rounded to the nearest number.
    pub(super) fn each(&self, which: Picks, take: impl FnMut(f64)) -> Option<()> {
        match self.0 {
            DecodingResult::U8(all) => each(all, which, |v| f64::from(*v), take),
            DecodingResult::U16(all) => each(all, which, |v| f64::from(*v), take),
            DecodingResult::U32(all) => each(all, which, |v| f64::from(*v), take),
            DecodingResult::U64(all) => each(all, which, |v| *v as f64, take),
            DecodingResult::I8(all) => each(all, which, |v| f64::from(*v), take),
            DecodingResult::I16(all) => each(all, which, |v| f64::from(*v), take),
            DecodingResult::I32(all) => each(all, which, |v| f64::from(*v), take),
            DecodingResult::I64(all) => each(all, which, |v| *v as f64, take),
            DecodingResult::F16(all) => each(all, which, |v| f64::from(v.to_f32()), take),
            DecodingResult::F32(all) => each(all, which, |v| f64::from(*v), take),
            DecodingResult::F64(all) => each(all, which, |v| *v, take),
        }
    }
}

fn each<T>(
    all: &[T],
    which: Picks,
    number: impl Fn(&T) -> f64,
    take: impl FnMut(f64),
) -> Option<()> {
    let (from, stride) = which.reach()?;
    let samples = all.get(from)?.iter().step_by(stride);
    samples.map(number).for_each(take);
    Some(())
}

/// Takes these samples into places; `None` where there are fewer.
pub(super) fn picked<S, T>(
    all: &[S],
    which: Picks,
    places: &mut [T],
    own: impl Fn(&S) -> T,
) -> Option<()> {
    let (from, stride) = which.reach()?;
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
