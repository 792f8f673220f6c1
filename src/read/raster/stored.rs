//! Values of a window, each in the type that the file has it in.

use super::Window;

/// Values of one band over a window, row by row. Codes are small whole numbers that stand for values in a table.
#[derive(Debug, Clone)]
pub struct Stored {
    pub window: Window,
    pub values: StoredValues,
}

/// What is held. NaN stands for no value.
#[derive(Debug, Clone)]
pub enum StoredValues {
    /// Codes of eight bits, and the value of each code.
    Bytes(Vec<u8>, Vec<f64>),
    /// Codes of 16 bits, and the value of each code.
    Words(Vec<u16>, Vec<f64>),
    /// Numbers of 32 bits; factor and summand that make values of them.
    Singles(Vec<f32>, Option<[f64; 2]>),
    Doubles(Vec<f64>),
}

/// A number that stands for a value in a table.
pub trait Code: Copy + PartialEq + Into<usize> + Send + Sync {
    /// How many of the first codes are equal. Classes come in runs, so it compares several at a time.
    fn alike(codes: &[Self]) -> usize;
}

impl Code for u8 {
    fn alike(codes: &[Self]) -> usize {
        let Some(&first) = codes.first() else {
            return 0;
        };
        let wanted = u64::from_le_bytes([first; 8]);
        let (words, rest) = codes.as_chunks();
        for (nth, word) in words.iter().enumerate() {
            let others = u64::from_le_bytes(*word) ^ wanted;
            if others != 0 {
                return 8 * nth + others.trailing_zeros() as usize / 8;
            }
        }
        let same = rest.iter().take_while(|code| **code == first);
        codes.len() - rest.len() + same.count()
    }
}

impl Code for u16 {
    fn alike(codes: &[Self]) -> usize {
        let same = codes.iter().take_while(|code| codes.first() == Some(code));
        same.count()
    }
}

impl Stored {
    /// Values that are numbers of 64 bits already.
    pub fn doubles(window: Window, values: Vec<f64>) -> Self {
        Self {
            window,
            values: StoredValues::Doubles(values),
        }
    }

    /// How many there are.
    pub fn len(&self) -> usize {
        match &self.values {
            StoredValues::Bytes(codes, _) => codes.len(),
            StoredValues::Words(codes, _) => codes.len(),
            StoredValues::Singles(values, _) => values.len(),
            StoredValues::Doubles(values) => values.len(),
        }
    }

    /// Whether there is none.
    pub fn is_empty(&self) -> bool {
        self.len() == 0
    }

    /// The value at a place, counted row by row; NaN for none and beyond the last.
    pub fn at(&self, place: usize) -> f64 {
        fn of<C: Code>(codes: &[C], table: &[f64], place: usize) -> Option<f64> {
            table.get((*codes.get(place)?).into()).copied()
        }
        let value = match &self.values {
            StoredValues::Bytes(codes, table) => of(codes, table, place),
            StoredValues::Words(codes, table) => of(codes, table, place),
            StoredValues::Singles(values, scale) => {
                let value = values.get(place).map(|value| f64::from(*value));
                value.map(|value| scaled(value, *scale))
            }
            StoredValues::Doubles(values) => values.get(place).copied(),
        };
        value.unwrap_or(f64::NAN)
    }

    /// All values as numbers of 64 bits.
    pub fn into_doubles(self) -> Vec<f64> {
        match self.values {
            StoredValues::Doubles(values) => values,
            _ => (0..self.len()).map(|place| self.at(place)).collect(),
        }
    }

    /// Takes the values at some places for none.
    pub(super) fn hide(&mut self, is_hidden: impl Fn(usize) -> bool) {
        /// A code without a value: one that has none, else one that does not occur.
        fn free<C: Code>(codes: &[C], table: &[f64]) -> Option<usize> {
            if let Some(none) = table.iter().position(|value| value.is_nan()) {
                return Some(none);
            }
            let mut occurs = vec![false; table.len()];
            for code in codes {
                if let Some(occurs) = occurs.get_mut((*code).into()) {
                    *occurs = true;
                }
            }
            occurs.iter().position(|occurs| !occurs)
        }
        fn put<T: Copy>(values: &mut [T], none: T, is_hidden: impl Fn(usize) -> bool) {
            let places = values.iter_mut().enumerate();
            let hidden = places.filter(|(place, _)| is_hidden(*place));
            hidden.for_each(|(_, value)| *value = none);
        }
        if (0..self.len()).all(|place| !is_hidden(place)) {
            return;
        }
        let code = match &self.values {
            StoredValues::Bytes(codes, table) => free(codes, table),
            StoredValues::Words(codes, table) => free(codes, table),
            StoredValues::Singles(..) | StoredValues::Doubles(_) => Some(0),
        };
        let Some(code) = code else {
            // Every code is a value that occurs.
            let mut values: Vec<f64> = (0..self.len()).map(|place| self.at(place)).collect();
            put(&mut values, f64::NAN, is_hidden);
            self.values = StoredValues::Doubles(values);
            return;
        };
        let no_value = |table: &mut [f64]| {
            if let Some(value) = table.get_mut(code) {
                *value = f64::NAN;
            }
        };
        match &mut self.values {
            StoredValues::Bytes(codes, table) => {
                no_value(table);
                put(codes, code as u8, is_hidden);
            }
            StoredValues::Words(codes, table) => {
                no_value(table);
                put(codes, code as u16, is_hidden);
            }
            StoredValues::Singles(values, _) => put(values, f32::NAN, is_hidden),
            StoredValues::Doubles(values) => put(values, f64::NAN, is_hidden),
        }
    }

    /// Takes one more value for none.
    pub fn without(&mut self, none: f64) {
        match &mut self.values {
            StoredValues::Bytes(_, values)
            | StoredValues::Words(_, values)
            | StoredValues::Doubles(values) => {
                let meant = values.iter_mut().filter(|value| **value == none);
                meant.for_each(|value| *value = f64::NAN);
            }
            StoredValues::Singles(values, scale) => {
                let meant = |value: &&mut f32| scaled(f64::from(**value), *scale) == none;
                let meant = values.iter_mut().filter(meant);
                meant.for_each(|value| *value = f32::NAN);
            }
        }
    }
}

/// A stored number times its factor and plus its summand.
pub(super) fn scaled(value: f64, scale: Option<[f64; 2]>) -> f64 {
    match scale {
        Some([factor, summand]) => value * factor + summand,
        None => value,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn hidden_values_are_none_whatever_codes_are_free() {
        let window = Window {
            column: 0,
            row: 0,
            columns: 257,
            rows: 1,
        };
        let all: Vec<u8> = (0..=255).chain([7]).collect();
        let table: Vec<f64> = (0..256).map(f64::from).collect();
        let mut without_none = table.clone();
        without_none[200] = f64::NAN;
        for (codes, table) in [
            (all.clone(), table.clone()),
            (vec![7; 257], table),
            (all, without_none),
        ] {
            let values = StoredValues::Bytes(codes, table);
            let before = Stored { window, values };
            let mut after = before.clone();
            after.hide(|place| place % 3 == 0);
            for place in 0..257 {
                let (before, after) = (before.at(place), after.at(place));
                match place % 3 {
                    0 => assert!(after.is_nan()),
                    _ => assert!(after == before || (after.is_nan() && before.is_nan())),
                }
            }
        }
    }

    #[test]
    fn alike_codes_are_counted_to_the_first_other_one() {
        for length in 0..40 {
            for other in 0..=length {
                let mut codes = vec![7_u8; length];
                if let Some(code) = codes.get_mut(other) {
                    *code = 8;
                }
                let same = codes.iter().take_while(|code| **code == codes[0]);
                assert_eq!(u8::alike(&codes), same.count(), "{length} {other}");
                let words: Vec<u16> = codes.iter().map(|code| u16::from(*code)).collect();
                assert_eq!(u16::alike(&words), u8::alike(&codes));
            }
        }
    }
}
