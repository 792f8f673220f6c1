//! The time stamp that is handed in, in the forms that the formats want.

use crate::findings::{Fault, Outcome, Place};
use rusqlite::Connection;
use time::{Date, Month, Time};

/// A point in time.
pub(super) struct Stamp {
    /// UTC, as a GeoPackage wants it: `2026-03-14T09:30:00.000Z`.
    pub utc: String,
    /// Year, month and day in UTC, for table headers.
    pub date: (u16, u8, u8),
}

impl Stamp {
    /// Reads an RFC 3339 time stamp.
    pub fn parse(text: &str) -> Outcome<Self> {
        let wrong = || {
            Fault::input(
                "write.timestamp",
                Place::nowhere(),
                format!("'{text}' is no time stamp"),
                "an RFC 3339 time stamp such as 2026-03-14T09:30:00Z",
                "Hand in the time at which the plan is made.",
            )
        };
        let looks_right = text.len() >= 20 && matches!(text.as_bytes().get(10), Some(b'T' | b't'));
        if !looks_right {
            return Err(wrong());
        }
        if let Some(stamp) = Self::plain(text) {
            return Ok(stamp);
        }
        // With fractions and offsets: the date arithmetic is SQLite's, which is here anyway.
        let utc: Option<String> = Connection::open_in_memory()
            .and_then(|database| {
                let sql = "SELECT strftime('%Y-%m-%dT%H:%M:%fZ', upper(?1))";
                database.query_row(sql, [text], |row| row.get(0))
            })
            .ok()
            .flatten();
        let utc = utc.ok_or_else(wrong)?;
        let number = |from, to| {
            utc.get(from..to)
                .and_then(|digits| digits.parse::<u16>().ok())
        };
        let small = |from, to| number(from, to).and_then(|value| u8::try_from(value).ok());
        match (number(0, 4), small(5, 7), small(8, 10)) {
            (Some(year), Some(month), Some(day)) => Ok(Self {
                date: (year, month, day),
                utc,
            }),
            _ => Err(wrong()),
        }
    }

    /// A time in UTC to the second, which is what this program makes itself: nothing to work out.
    fn plain(text: &str) -> Option<Self> {
        let form = "0000-00-00T00:00:00Z";
        let same = |(byte, form): (u8, u8)| match form {
            b'0' => byte.is_ascii_digit(),
            _ => byte == form,
        };
        if text.len() != form.len() || !text.bytes().zip(form.bytes()).all(same) {
            return None;
        }
        let number = |from, to| text.get(from..to)?.parse::<u16>().ok();
        let small = |from| u8::try_from(number(from, from + 2)?).ok();
        let (year, month, day) = (number(0, 4)?, small(5)?, small(8)?);
        let known = Month::try_from(month).ok()?;
        Date::from_calendar_date(i32::from(year), known, day).ok()?;
        Time::from_hms(small(11)?, small(14)?, small(17)?).ok()?;
        Some(Self {
            utc: format!("{}.000Z", text.trim_end_matches('Z')),
            date: (year, month, day),
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn offsets_become_utc() {
        let stamp = Stamp::parse("2026-01-01T00:30:15.25+01:00").unwrap();
        assert_eq!(stamp.utc, "2025-12-31T23:30:15.250Z");
        assert_eq!(stamp.date, (2025, 12, 31));
    }

    #[test]
    fn plain_times_are_what_sqlite_makes_of_them() {
        for text in ["2026-03-14T09:30:00Z", "2024-02-29T23:59:59Z"] {
            let plain = Stamp::plain(text).expect("a plain time");
            // The offset takes the other way.
            let other = Stamp::parse(&text.replace('Z', "+00:00")).unwrap();
            assert_eq!((plain.utc, plain.date), (other.utc, other.date));
        }
        for text in [
            "2026-13-01T00:00:00Z",
            "2025-02-29T00:00:00Z",
            "2026-01-01T24:00:00Z",
        ] {
            assert!(Stamp::plain(text).is_none(), "{text}");
        }
    }

    #[test]
    fn nonsense_is_refused() {
        for text in [
            "",
            "now",
            "2026-03-14",
            "2026-13-40T00:00:00Z",
            "2026-03-14T09:30:00+",
        ] {
            assert_eq!(
                Stamp::parse(text).map(|s| s.utc).unwrap_err().code,
                "write.timestamp"
            );
        }
    }
}
