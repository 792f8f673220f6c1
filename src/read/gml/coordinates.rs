//! Coordinates as GML writes them: `pos` and `posList` with blanks between numbers, `coordinates` of GML 2 with marks of their
//! own, `coord` with an element for each number.

use crate::read::Xy;

/// The marks of a `coordinates` element (GML 2.1.2, 4.3.2).
#[derive(Debug, Clone)]
pub(super) struct Marks {
    pub(super) decimal: char,
    pub(super) between_numbers: char,
    pub(super) between_places: char,
}

impl Default for Marks {
    fn default() -> Self {
        Self {
            decimal: '.',
            between_numbers: ',',
            between_places: ' ',
        }
    }
}

/// Places as they stand, first number first; whether any has a height that is not 0.
pub(super) type Places = (Vec<Xy>, bool);

/// The places of a list of numbers, so many to each.
pub(super) fn list(text: &str, dimension: usize) -> Result<Places, String> {
    let mut places = Vec::new();
    let mut has_heights = false;
    let mut one: Vec<f64> = Vec::with_capacity(dimension);
    for word in text.split_ascii_whitespace() {
        one.push(number(word)?);
        if one.len() == dimension {
            has_heights |= one.iter().skip(2).any(|height| *height != 0.0);
            places.push([one[0], one[1]]);
            one.clear();
        }
    }
    match one.len() {
        0 => Ok((places, has_heights)),
        left => Err(format!(
            "a list of places with {dimension} numbers each ends with {left} of them"
        )),
    }
}

/// The places of a `coordinates` element.
pub(super) fn marked(text: &str, marks: &Marks) -> Result<Places, String> {
    let mut places = Vec::new();
    let mut has_heights = false;
    let is_end = |letter: char| match marks.between_places {
        ' ' => letter.is_ascii_whitespace(),
        mark => letter == mark,
    };
    for place in text
        .split(is_end)
        .map(str::trim)
        .filter(|place| !place.is_empty())
    {
        let numbers = place.split(marks.between_numbers).map(str::trim);
        let numbers = numbers.map(|text| match marks.decimal {
            '.' => number(text),
            mark => number(&text.replace(mark, ".")),
        });
        let numbers: Vec<f64> = numbers.collect::<Result<_, _>>()?;
        if !(2..=3).contains(&numbers.len()) {
            let place: String = place.chars().take(60).collect();
            return Err(format!("'{}' is no place", place.escape_debug()));
        }
        has_heights |= numbers.get(2).is_some_and(|height| *height != 0.0);
        places.push([numbers[0], numbers[1]]);
    }
    Ok((places, has_heights))
}

pub(super) fn number(text: &str) -> Result<f64, String> {
    let number = text
        .trim()
        .parse()
        .ok()
        .filter(|number: &f64| number.is_finite());
    number.ok_or_else(|| {
        let text: String = text.chars().take(60).collect();
        format!("'{}' is no number of a place", text.escape_debug())
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn numbers_make_places() {
        assert_eq!(
            list(" 1 2\n3 4 ", 2),
            Ok((vec![[1.0, 2.0], [3.0, 4.0]], false))
        );
        assert_eq!(
            list("1 2 5 3 4 0", 3),
            Ok((vec![[1.0, 2.0], [3.0, 4.0]], true))
        );
        assert!(list("1 2 3", 2).is_err() && list("1 x", 2).is_err() && list("1 inf", 2).is_err());
        let plain = Marks::default();
        assert_eq!(
            marked("1,2 3,4,0\n", &plain),
            Ok((vec![[1.0, 2.0], [3.0, 4.0]], false))
        );
        let other = Marks {
            decimal: ',',
            between_numbers: ' ',
            between_places: ';',
        };
        assert_eq!(
            marked("1,5 2;3 4,25", &other),
            Ok((vec![[1.5, 2.0], [3.0, 4.25]], false))
        );
        assert!(marked("1", &plain).is_err() && marked("1,2,3,4", &plain).is_err());
    }
}
