//! The text of a `coordinates` element: places with blanks between them, each longitude, latitude and perhaps a height,
//! with commas between these (OGC 12-007r2, 12.3).

use crate::read::{MOST_LONGITUDE, Xy};

/// Places, and whether any has a height that is not 0.
pub(super) type Places = (Vec<Xy>, bool);

/// Reads such a text. Gives the byte of it where something is wrong, and what.
pub(super) fn places(text: &str) -> Result<Places, (usize, String)> {
    let mut has_heights = false;
    let mut places = Vec::new();
    for word in text.split_ascii_whitespace() {
        // The words are parts of the text, so the distance between them is one within it.
        let at = word.as_ptr() as usize - text.as_ptr() as usize;
        let mut numbers = word.split(',');
        let [x, y] = [numbers.next(), numbers.next()].map(|part| part.and_then(number));
        let (height, more) = (numbers.next(), numbers.next());
        let height = height.map_or(Some(0.0), number);
        let place = place(x, y).filter(|_| more.is_none());
        let (Some(place), Some(height)) = (place, height) else {
            let word: String = word.chars().take(60).collect();
            return Err((at, format!("'{}' is no place", word.escape_debug())));
        };
        has_heights |= height != 0.0;
        places.push(place);
    }
    Ok((places, has_heights))
}

/// The place of a track: longitude, latitude and perhaps a height, with blanks between these.
pub(super) fn of_track(text: &str) -> Result<Xy, String> {
    let mut numbers = text.split_ascii_whitespace().map(number);
    let [x, y] = [numbers.next(), numbers.next()].map(Option::flatten);
    let height = numbers.next().unwrap_or(Some(0.0));
    let found = place(x, y).filter(|_| height.is_some() && numbers.next().is_none());
    found.ok_or_else(|| {
        let text: String = text.chars().take(60).collect();
        format!("'{}' is no place of a track", text.escape_debug())
    })
}

fn place(x: Option<f64>, y: Option<f64>) -> Option<Xy> {
    let (x, y) = (x?, y?);
    (x.abs() <= MOST_LONGITUDE && y.abs() <= 90.0).then_some([x, y])
}

fn number(text: &str) -> Option<f64> {
    text.trim()
        .parse()
        .ok()
        .filter(|value: &f64| value.is_finite())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn blanks_part_places_and_commas_their_numbers() {
        let text = "\n 8.5,50.25,0\t8.75,50.25\r\n-8.75,-50,120.5 ";
        let (found, has_heights) = places(text).unwrap();
        assert_eq!(found, [[8.5, 50.25], [8.75, 50.25], [-8.75, -50.0]]);
        assert!(has_heights);
        assert_eq!(places(" \n").unwrap(), (vec![], false));
    }

    #[test]
    fn what_is_no_place_is_told_with_where_it_stands() {
        for (text, at) in [
            ("8.5,50 8.5", 7),
            ("8.5, 50", 0),
            ("8.5,90.5", 0),
            ("8.5,50,x", 0),
            ("1,2,3,4", 0),
            ("8,5,50,25", 0),
            ("NaN,50", 0),
            ("541,50", 0),
        ] {
            assert_eq!(places(text).unwrap_err().0, at, "{text}");
        }
        assert_eq!(of_track("8.5 50 3").unwrap(), [8.5, 50.0]);
        assert!(
            of_track("8.5").is_err()
                && of_track("8.5 50 1 2").is_err()
                && of_track("8.5,50").is_err()
        );
    }
}
