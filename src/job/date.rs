//! Calendar dates as a job writes them: YYYY-MM-DD.

/// A season is no longer than a year, days.
pub const SEASON_DAYS: i64 = 366;

/// Day number of a date (proleptic Gregorian calendar, 1970-01-01 is 0); `None` if it is no date.
///
/// Days from civil: counts whole 400-year cycles of 146 097 days, with years that begin in March.
pub fn day_number(text: &str) -> Option<i64> {
    let bytes = text.as_bytes();
    let digits = |from: usize, to: usize| -> Option<i64> {
        let part = bytes.get(from..to)?;
        part.iter().all(u8::is_ascii_digit).then_some(())?;
        text.get(from..to)?.parse().ok()
    };
    let dashes = bytes.get(4) == Some(&b'-') && bytes.get(7) == Some(&b'-') && bytes.len() == 10;
    if !dashes {
        return None;
    }
    let (year, month, day) = (digits(0, 4)?, digits(5, 7)?, digits(8, 10)?);
    if !(1..=12).contains(&month) || day < 1 || day > days_in(year, month) {
        return None;
    }
    let year = if month <= 2 { year - 1 } else { year };
    let era = year.div_euclid(400);
    let of_era = year - era * 400;
    let of_year = (153 * ((month + 9) % 12) + 2) / 5 + day - 1;
    Some(era * 146_097 + of_era * 365 + of_era / 4 - of_era / 100 + of_year - 719_468)
}

/// The date of a day number, as `day_number` reads it; years 0 to 9999.
pub fn date_of(day_number: i64) -> String {
    let days = day_number + 719_468;
    let era = days.div_euclid(146_097);
    let of_era = days - era * 146_097;
    let years = (of_era - of_era / 1_460 + of_era / 36_524 - of_era / 146_096) / 365;
    let of_year = of_era - (365 * years + years / 4 - years / 100);
    let march = (5 * of_year + 2) / 153;
    let day = of_year - (153 * march + 2) / 5 + 1;
    let month = if march < 10 { march + 3 } else { march - 9 };
    let year = years + era * 400 + i64::from(month <= 2);
    format!("{year:04}-{month:02}-{day:02}")
}

fn days_in(year: i64, month: i64) -> i64 {
    let leap = year % 4 == 0 && (year % 100 != 0 || year % 400 == 0);
    match month {
        2 if leap => 29,
        2 => 28,
        4 | 6 | 9 | 11 => 30,
        _ => 31,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// RFC 3339 section 5.7 has the days of each month; POSIX time counts days of 86 400 s from 1970-01-01, and
    /// RFC 3339's own example 1996-12-19 is day 9 849 of it (`date -d 1996-12-20 -u +%s` / 86400 - 1).
    #[test]
    fn days_count_on_over_months_and_leap_years() {
        assert_eq!(day_number("1970-01-01"), Some(0));
        assert_eq!(day_number("1996-12-19"), Some(9_849));
        assert_eq!(
            day_number("2000-03-01"),
            day_number("2000-02-29").map(|day| day + 1)
        );
        for day in [-719_000, -1, 0, 59, 11_016, 20_000, 20_781, 1_000_000] {
            assert_eq!(day_number(&date_of(day)), Some(day), "{}", date_of(day));
        }
    }

    #[test]
    fn what_is_no_date_is_none() {
        for text in [
            "2026-02-29",
            "2026-13-01",
            "2026-4-1",
            "26-04-01",
            "2026-04-31",
            "2026/04/01",
            "",
            "2026-04-0x",
            "2026-04-010",
        ] {
            assert_eq!(day_number(text), None, "{text}");
        }
    }
}
