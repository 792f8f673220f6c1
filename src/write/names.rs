//! File names that every system takes.

use std::collections::BTreeSet;

/// Longest name this module makes, in characters: leaves room for the folders around it on systems
/// that stop at 260 characters for a whole path.
const LONGEST: usize = 40;

/// Device names that Windows reserves, with any extension and in any case.
const RESERVED: [&str; 24] = [
    "CON", "PRN", "AUX", "NUL", "COM0", "COM1", "COM2", "COM3", "COM4", "COM5", "COM6", "COM7",
    "COM8", "COM9", "LPT0", "LPT1", "LPT2", "LPT3", "LPT4", "LPT5", "LPT6", "LPT7", "LPT8", "LPT9",
];

/// One legal file name stem per text, in order: ASCII letters, digits, `-` and `_`, at most 40
/// characters, no reserved name, and no two alike when case is ignored.
pub(super) fn stems<'a>(texts: impl IntoIterator<Item = &'a str>) -> Vec<String> {
    let mut taken = BTreeSet::new();
    texts
        .into_iter()
        .map(|text| distinct(&stem(text), "", "-", LONGEST, &mut taken))
        .collect()
}

fn stem(text: &str) -> String {
    let legal: String = in_ascii(text, &['-', '_']).chars().take(LONGEST).collect();
    if legal.is_empty()
        || RESERVED
            .iter()
            .any(|name| name.eq_ignore_ascii_case(&legal))
    {
        return format!("_{legal}");
    }
    legal
}

/// A text in ASCII letters and digits, other scripts as they sound, with `_` for everything else but `kept`.
pub(super) fn in_ascii(text: &str, kept: &[char]) -> String {
    let one = |c: char| match c.is_ascii_alphanumeric() || kept.contains(&c) {
        true => c,
        false => '_',
    };
    deunicode::deunicode(text).trim().chars().map(one).collect()
}

/// `front` and `end` as one name of at most `longest` characters; where that is taken already, case
/// ignored, with the first free number from 2 after the front, `mark` before the number. Only the
/// front is cut.
pub(super) fn distinct(
    front: &str,
    end: &str,
    mark: &str,
    longest: usize,
    taken: &mut BTreeSet<String>,
) -> String {
    let mut number = String::new();
    let mut next = 2;
    loop {
        let tail = number.chars().count() + end.chars().count();
        let front: String = front.chars().take(longest.saturating_sub(tail)).collect();
        let name = format!("{front}{number}{end}");
        if taken.insert(name.to_lowercase()) {
            return name;
        }
        number = format!("{mark}{next}");
        next += 1;
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn names_are_legal_everywhere() {
        let names = stems([
            "con",
            "Barley",
            "barley",
            "a/b:c*",
            "",
            "gerste ü",
            "..",
            "lpt1",
        ]);
        assert_eq!(
            names,
            [
                "_con", "Barley", "barley-2", "a_b_c_", "_", "gerste_u", "__", "_lpt1"
            ]
        );
    }

    /// How each sounds is that of the crate's tables; here it matters that a person can tell which is which.
    #[test]
    fn other_scripts_are_written_as_they_sound() {
        let names = stems([
            "Поле",
            "Поле",
            "Αγρός",
            "حقل",
            "大田",
            "שדה",
            "मैदान",
            "Żyto",
        ]);
        assert_eq!(names[..3], ["Pole", "Pole-2", "Agros"]);
        for name in &names {
            let letters = name.chars().filter(char::is_ascii_alphabetic).count();
            assert!(letters >= 2, "{names:?}");
        }
    }

    #[test]
    fn long_names_are_cut_and_stay_apart() {
        let long = "x".repeat(300);
        let names = stems([long.as_str(), long.as_str()]);
        assert_eq!(names[0].len(), 40);
        assert_eq!(names[1], format!("{}-2", "x".repeat(38)));
    }
}
