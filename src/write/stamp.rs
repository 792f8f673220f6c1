//! The time stamp that is handed in, in the forms that the formats want.

use crate::findings::{Fault, Outcome, Place};
use time::{Date, Duration, Month, PrimitiveDateTime, Time};
use toml::value::{Datetime, Offset};

/// A point in time.
pub(super) struct Stamp {
    /// UTC, as a GeoPackage wants it: `2026-03-14T09:30:00.000Z`.
    pub utc: String,
    /// Year, month and day in UTC, for table headers.
    pub date: (u16, u8, u8),
}

impl Stamp {
    /// UTC to the second, as a TIFF wants it: `2026:03:14 09:30:00`.
    pub fn tiff(&self) -> String {
        let text: String = self.utc.chars().take(19).collect();
        text.replace('-', ":").replace('T', " ")
    }

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
        Self::utc_of(text).ok_or_else(wrong)
    }

    /// TOML's times with an offset are those of RFC 3339.
    fn utc_of(text: &str) -> Option<Self> {
        let given: Datetime = text.parse().ok()?;
        let minutes = match given.offset? {
            Offset::Z => 0,
            Offset::Custom { minutes } => minutes,
        };
        let (date, time) = (given.date?, given.time?);
        let month = Month::try_from(date.month).ok()?;
        let date = Date::from_calendar_date(i32::from(date.year), month, date.day).ok()?;
        let milli = u16::try_from(time.nanosecond.unwrap_or(0) / 1_000_000).ok()?;
        let time = Time::from_hms_milli(time.hour, time.minute, time.second?, milli).ok()?;
        let local = PrimitiveDateTime::new(date, time);
        let utc = local.checked_sub(Duration::minutes(i64::from(minutes)))?;
        let (year, month, day) = (utc.year(), u8::from(utc.month()), utc.day());
        let (hour, minute, second, milli) = utc.time().as_hms_milli();
        Some(Self {
            date: (u16::try_from(year).ok()?, month, day),
            utc: format!(
                "{year:04}-{month:02}-{day:02}T{hour:02}:{minute:02}:{second:02}.{milli:03}Z"
            ),
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
        assert_eq!(stamp.tiff(), "2025:12:31 23:30:15");
    }

    /// SQLite has a calendar of its own.
    #[test]
    fn times_are_what_sqlite_makes_of_them() {
        let database = rusqlite::Connection::open_in_memory().expect("a database");
        for text in [
            "2026-03-14T09:30:00Z",
            "2024-02-29T23:59:59Z",
            "2024-02-29T23:59:59.5-11:30",
            "2000-01-01t00:00:00.125z",
            "1999-12-31T23:59:59+00:00",
            "2100-03-01T00:30:00+14:00",
        ] {
            let sql = "SELECT strftime('%Y-%m-%dT%H:%M:%fZ', upper(?1))";
            let right: String = database
                .query_row(sql, [text], |row| row.get(0))
                .expect("a time");
            assert_eq!(Stamp::parse(text).expect("a time").utc, right, "{text}");
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
            "2026-13-01T00:00:00Z",
            "2025-02-29T00:00:00Z",
            "2026-01-01T24:00:00Z",
            "0000-01-01T00:00:00+01:00",
        ] {
            assert_eq!(
                Stamp::parse(text).map(|s| s.utc).unwrap_err().code,
                "write.timestamp"
            );
        }
    }
}
