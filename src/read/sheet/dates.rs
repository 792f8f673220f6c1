//! Dates of an .xlsx file: numbers that a format makes dates (ISO/IEC 29500-1, 18.17.4 and 18.8.30).

use time::{Date, Duration, Month};

/// What a number format makes of a number.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Format {
    Number,
    /// A date, perhaps with a time of day.
    Date,
    /// Hours, minutes and seconds alone; the day of a date with them is not shown, and there all the same.
    Time,
    /// Hours, minutes and seconds that may go beyond a day: `[h]:mm`.
    Elapsed,
    /// Hundred times what the number is.
    Percent,
}

impl Format {
    /// Of a format with a number that the standard gives: those of all languages (18.8.30).
    pub(super) fn built_in(id: u32) -> Self {
        match id {
            14..=17 | 22 | 27..=31 | 34..=36 | 50..=54 | 57 | 58 => Self::Date,
            46 => Self::Elapsed,
            // 55 and 56 are dates in one language and times in another (18.8.30): the number tells.
            18..=21 | 32 | 33 | 45 | 47 | 55 | 56 => Self::Time,
            9 | 10 => Self::Percent,
            _ => Self::Number,
        }
    }

    /// Of a format as it is written out: by its letters for years, days, hours and seconds outside of texts and brackets.
    pub(super) fn written(code: &str) -> Self {
        // Only what holds for numbers above 0 counts.
        let mut all = code.split(';').next().unwrap_or("").chars();
        let mut letters = String::new();
        let mut elapsed = false;
        while let Some(letter) = all.next() {
            match letter {
                '"' => {
                    all.by_ref().find(|end| *end == '"');
                }
                // A letter that is shown as it is; room as wide as a letter; a letter that fills the cell.
                '\\' | '_' | '*' => {
                    all.next();
                }
                '[' => {
                    let inside: String = all.by_ref().take_while(|end| *end != ']').collect();
                    elapsed |= ["h", "hh", "m", "mm", "s", "ss"]
                        .iter()
                        .any(|own| inside.eq_ignore_ascii_case(own));
                }
                letter => letters.push(letter.to_ascii_lowercase()),
            }
        }
        let letters = letters
            .replace("general", "")
            .replace("e+", "")
            .replace("e-", "");
        let has = |any: &[char]| letters.contains(any);
        let time = elapsed || has(&['h', 's']);
        // Minutes and months have the same letter.
        match has(&['y', 'd', 'e']) || has(&['m']) && !time {
            true => Self::Date,
            false if elapsed => Self::Elapsed,
            false if time => Self::Time,
            false if has(&['%']) => Self::Percent,
            false => Self::Number,
        }
    }
}

/// A number as the date or time that a format makes of it: `2026-03-20`, `2026-03-20T06:30:00`, `06:30:00`, with thousandths
/// of a second where there are any. `None` for what is no date of the calendar.
pub(super) fn text(number: f64, format: Format, from_1904: bool) -> Option<String> {
    if !(0.0..3_000_000.0).contains(&number) {
        return None;
    }
    // A thousandth of a second is the finest that is told; below it lies what the number of days cannot hold.
    let thousandths = (number * 86_400_000.0).round() as i64;
    let (days, rest) = (
        thousandths.div_euclid(86_400_000),
        thousandths.rem_euclid(86_400_000),
    );
    // What a format for times hides of a date is there all the same; no time of day is a whole day or more.
    if format == Format::Elapsed || format == Format::Time && number < 1.0 {
        return Some(clock(thousandths));
    }
    let first = match (from_1904, days) {
        (true, _) => Date::from_calendar_date(1904, Month::January, 1),
        // The day 60 is one that never was, 29 February 1900; before it all days are one less (18.17.4.1).
        (false, 60) => return None,
        (false, ..60) => Date::from_calendar_date(1899, Month::December, 31),
        (false, _) => Date::from_calendar_date(1899, Month::December, 30),
    };
    let date = first.ok()?.checked_add(Duration::days(days))?;
    let day = format!(
        "{:04}-{:02}-{:02}",
        date.year(),
        u8::from(date.month()),
        date.day()
    );
    Some(match rest {
        0 => day,
        _ => format!("{day}T{}", clock(rest)),
    })
}

/// Thousandths of a second as `06:30:00`, or `06:30:00.250` where they are no whole seconds.
pub(super) fn clock(thousandths: i64) -> String {
    let seconds = thousandths / 1000;
    let [hours, minutes] = [seconds / 3600, seconds / 60 % 60];
    let whole = format!("{hours:02}:{minutes:02}:{:02}", seconds % 60);
    match thousandths % 1000 {
        0 => whole,
        part => format!("{whole}.{part:03}"),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn numbers_are_dates_where_the_format_says_so() {
        // Values of the standard: 18.17.4.1 (1900-01-01 is 1, 2008-02-03 is 39481) and 18.17.4.2.
        for (number, from_1904, wanted) in [
            (1.0, false, "1900-01-01"),
            (59.0, false, "1900-02-28"),
            (61.0, false, "1900-03-01"),
            (39_481.0, false, "2008-02-03"),
            (46_101.0, false, "2026-03-20"),
            (46_101.270_833_333_336, false, "2026-03-20T06:30:00"),
            (0.0, true, "1904-01-01"),
            (44_639.0, true, "2026-03-20"),
        ] {
            assert_eq!(
                text(number, Format::Date, from_1904).as_deref(),
                Some(wanted)
            );
        }
        assert_eq!(
            text(0.270_833_333, Format::Time, false).as_deref(),
            Some("06:30:00")
        );
        for (number, format, wanted) in [
            (1.5, Format::Elapsed, "36:00:00"),
            (0.5, Format::Elapsed, "12:00:00"),
            // A date with its time, shown as the time alone.
            (46_101.270_833_333_336, Format::Time, "2026-03-20T06:30:00"),
            (
                46_101.270_835_648_15,
                Format::Time,
                "2026-03-20T06:30:00.200",
            ),
            (
                46_101.270_835_648_15,
                Format::Date,
                "2026-03-20T06:30:00.200",
            ),
            (0.270_835_648, Format::Time, "06:30:00.200"),
        ] {
            assert_eq!(text(number, format, false).as_deref(), Some(wanted));
        }
        for none in [-1.0, 60.0, 3e6, f64::NAN] {
            assert_eq!(text(none, Format::Date, false), None);
        }
    }

    #[test]
    fn a_format_is_read_by_its_letters() {
        for (code, wanted) in [
            ("General", Format::Number),
            ("0.00", Format::Number),
            ("0.00E+00", Format::Number),
            ("#,##0.00\\ \"days\"", Format::Number),
            ("[Red]0.0;[Blue]-0.0", Format::Number),
            ("0.0_d", Format::Number),
            ("yyyy\\-mm\\-dd", Format::Date),
            ("dd.mm.yyyy hh:mm", Format::Date),
            ("[$-407]d. mmmm yyyy;@", Format::Date),
            ("mmm", Format::Date),
            ("hh:mm:ss", Format::Time),
            ("[h]:mm", Format::Elapsed),
            ("0.0%", Format::Percent),
            ("0.0\" %\"", Format::Number),
            ("mm:ss", Format::Time),
        ] {
            assert_eq!(Format::written(code), wanted, "{code}");
        }
        assert_eq!(Format::built_in(14), Format::Date);
        assert_eq!(Format::built_in(2), Format::Number);
        assert_eq!(Format::built_in(46), Format::Elapsed);
        assert_eq!(Format::built_in(10), Format::Percent);
    }
}
