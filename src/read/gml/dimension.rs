//! How many numbers a place of a `posList` has where no `srsDimension` says so. A list may come out even with two and with three;
//! a ring ends where it begins, and mostly with one of them only.

use super::srs;

/// A ring has three corners and ends where it begins.
const FEWEST_OF_A_RING: usize = 4;

/// The numbers to each place, 2 or 3. `is_ring`: the list is a whole ring. `srs`: the name of its CRS.
///
/// # Errors
/// A CRS with heights, and a list that can be read both ways, or neither.
pub(super) fn of_list(text: &str, is_ring: bool, srs: Option<&str>) -> Result<usize, String> {
    let with_heights = srs.filter(|srs| srs::has_heights(srs));
    let closes = [2, 3].map(|dimension| is_ring && closes(text, dimension));
    match (closes, with_heights) {
        ([false, true], _) => Ok(3),
        ([true, false], _) | (_, None) => Ok(2),
        // A line of a CRS with heights has three; that it has two, only a ring could show.
        ([false, false], Some(_)) if !is_ring && is_of_three_alone(text) => Ok(3),
        ([true, true], Some(srs)) => {
            Err(unsaid(srs, "as a ring it ends where it begins with either"))
        }
        ([false, false], Some(srs)) if is_ring => Err(unsaid(
            srs,
            "as a ring it ends where it begins with neither",
        )),
        ([false, false], Some(srs)) => Err(unsaid(srs, "how many there are does not tell either")),
    }
}

fn unsaid(srs: &str, why: &str) -> String {
    format!(
        "its CRS '{}' has heights, no 'srsDimension' says whether a place of the list has 2 or 3 numbers, and {why}",
        srs.escape_debug()
    )
}

/// Whether the list is one of places with three numbers each and cannot be one with two.
fn is_of_three_alone(text: &str) -> bool {
    let count = text.split_ascii_whitespace().count();
    count > 0 && count.is_multiple_of(3) && !count.is_multiple_of(2)
}

/// Whether the list, read with so many numbers to a place, ends with the place that it begins with.
fn closes(text: &str, dimension: usize) -> bool {
    let words = text.split_ascii_whitespace();
    let count = words.clone().count();
    let number = |word: &str| word.parse::<f64>().ok();
    let first = words.clone().take(dimension).map(number);
    let last = words.skip(count.saturating_sub(dimension)).map(number);
    count.is_multiple_of(dimension)
        && count / dimension >= FEWEST_OF_A_RING
        && first
            .zip(last)
            .all(|(first, last)| first.is_some() && first == last)
}

#[cfg(test)]
mod tests {
    use super::*;

    const FLAT: &str = "urn:ogc:def:crs:EPSG::25832";
    const HIGH: &str = "urn:ogc:def:crs:EPSG::4979";
    const TRIANGLE: &str = "0 0 5 9 0 5 9 9 5 0 0 5";

    #[test]
    fn a_ring_tells_by_where_it_ends() {
        let of = |text, srs| of_list(text, true, srs).ok();
        for srs in [Some(FLAT), Some(HIGH), None] {
            // Twelve numbers: even with both.
            assert_eq!(of(TRIANGLE, srs), Some(3), "{srs:?}");
            assert_eq!(of("0 0 9 0 9 9 5 9 0 9 0 0", srs), Some(2), "{srs:?}");
            assert_eq!(of("0 0 9 0 9 9 0 0", srs), Some(2), "{srs:?}");
            assert_eq!(of("0 0 5 9 0 5 9 9 5 0 9 5 0 0 5", srs), Some(3), "{srs:?}");
        }
        // It ends where it begins either way: 0 0 and 0 0 0.
        let both = "0 0 0 9 0 0 9 9 0 0 0 0";
        // It ends where it begins in no way.
        let neither = "0 0 5 9 0 5 9 9 5 0 9 5";
        for text in [both, neither, "", "0 0", "x 0 5 9 0 5 9 9 5 x 0 5"] {
            assert_eq!(of(text, Some(HIGH)), None, "{text}");
            assert_eq!(of(text, Some(FLAT)), Some(2), "{text}");
        }
        let why = of_list(both, true, Some(HIGH)).expect_err("both");
        assert!(why.contains("with either"), "{why}");
        let why = of_list(neither, true, Some(HIGH)).expect_err("neither");
        assert!(why.contains("with neither"), "{why}");
    }

    #[test]
    fn a_line_tells_by_how_many_numbers_there_are_where_its_crs_has_heights() {
        let of = |text, srs| of_list(text, false, srs).ok();
        assert_eq!(of("0 0 5 9 0 5 9 9 5", Some(HIGH)), Some(3));
        for text in ["0 0 5 9 0 5", "0 0 9 0", "0 0 9 0 9", ""] {
            assert_eq!(of(text, Some(HIGH)), None, "{text}");
        }
        // A CRS without heights has two, and a list of nine is one with a number missing.
        assert_eq!(of("0 0 5 9 0 5 9 9 5", Some(FLAT)), Some(2));
        assert_eq!(of(TRIANGLE, Some(FLAT)), Some(2));
    }
}
