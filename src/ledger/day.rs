//! The day of an entry, held against the sowing date of the job: a terminal that counts from a day of its own, and a slip of the
//! pen, put an entry into another season.

use super::row::What;
use crate::findings::{Fault, Finding, Outcome, Place};
use crate::job::{SEASON_DAYS, day_number};

/// Sown so many days after its date is worth a look: rates by date were for another day. No source.
const LATE_DAYS: i64 = 60;

/// What to say of the day on which a log begins, YYYY-MM-DD, where the job has a sowing date.
pub fn of_log(sowing_date: Option<&str>, day: &str) -> Option<Finding> {
    let days = days_after(sowing_date, day)?;
    let is_near = (0..=LATE_DAYS).contains(&days);
    (!is_near).then(|| {
        Finding::warning(
            "compare.day",
            Place::nowhere(),
            format!(
                "The log begins on {day}, {} of the job, {}: look at the date of the terminal, and whether this is the plan that was sown. Rates by date were for the other day.",
                away(days),
                sowing_date.unwrap_or_default()
            ),
        )
    })
}

/// What to say of the day of an entry, where the job has a sowing date. The place is that of what the day is of: the log, or the plan.
///
/// # Errors
/// A harvest before the sowing date, or a log of another season: what was placed would come off no need, or off the wrong one.
pub fn of_entry(
    what: What,
    sowing_date: Option<&str>,
    day: &str,
    place: &Place,
) -> Outcome<Option<Finding>> {
    let (Some(days), Some(sown)) = (days_after(sowing_date, day), sowing_date) else {
        return Ok(None);
    };
    let refused = |subject: &str, allowed: String, next: &str| {
        Err(Fault::input(
            "ledger.day_of_season",
            place.clone(),
            format!("{subject} {day}, {} of the job, {sown}", away(days)),
            allowed,
            format!("{next} Nothing was written."),
        ))
    };
    let told = |message: String| Ok(Some(Finding::warning("ledger.day", place.clone(), message)));
    match what {
        What::Harvested if days < 0 => refused(
            "The harvest is of",
            "a day after the sowing date: by the harvest a later job knows what is of another season".to_owned(),
            "Correct --harvested-on, or the sowing date in the job, and plan it again.",
        ),
        What::Sown | What::Placed if days.abs() > SEASON_DAYS => refused(
            "The log begins on",
            format!("a day within {SEASON_DAYS} days of the sowing date: by it a later job knows what was placed in its season"),
            "A terminal that never had a fix counts from a day of its own. Correct the sowing date in the job and plan it again, or enter by hand what was placed.",
        ),
        What::Counted if days < 0 => told(format!(
            "The counts are of {day}, {} of the job, {sown}: look at both dates.",
            away(days)
        )),
        What::Counted | What::Harvested if days > SEASON_DAYS => told(format!(
            "The entry is of {day}, {} of the job, {sown}: of another season, unless the crop stands for years.",
            away(days)
        )),
        _ => Ok(None),
    }
}

/// Days from the sowing date to a day; none where either is no date.
fn days_after(sowing_date: Option<&str>, day: &str) -> Option<i64> {
    Some(day_number(day)? - day_number(sowing_date?)?)
}

fn away(days: i64) -> String {
    let (count, side) = (days.abs(), if days < 0 { "before" } else { "after" });
    match count {
        1 => format!("1 day {side} the sowing date"),
        _ => format!("{count} days {side} the sowing date"),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_day_of_another_season_is_told_and_refused_where_a_limit_goes_by_it() {
        let sown = Some("2026-09-20");
        for (day, is_told) in [
            ("2026-09-19", true),
            ("2026-09-20", false),
            ("2026-11-19", false),
            ("2026-11-20", true),
            ("1980-01-06", true),
        ] {
            assert_eq!(of_log(sown, day).is_some(), is_told, "{day}");
            assert_eq!(of_log(None, day), None);
        }
        let place = Place::file("TASKDATA").line(3);
        let of = |what, day| of_entry(what, sown, day, &place).map(|own| own.is_some());
        for (what, day) in [
            (What::Placed, "2006-09-20"),
            (What::Harvested, "2026-08-12"),
        ] {
            let fault = of(what, day).expect_err("another season");
            assert_eq!(fault.place, place);
        }
        assert_eq!(of(What::Placed, "2026-08-01"), Ok(false));
        assert!(of(What::Placed, "2006-09-20").is_err());
        assert!(of(What::Sown, "2027-09-22").is_err());
        assert!(of(What::Harvested, "2026-08-12").is_err());
        assert_eq!(of(What::Harvested, "2027-08-12"), Ok(false));
        assert_eq!(of(What::Harvested, "2028-08-12"), Ok(true));
        assert_eq!(of(What::Counted, "2026-09-10"), Ok(true));
        assert_eq!(of(What::Counted, "2026-11-10"), Ok(false));
        let undated = of_entry(What::Harvested, None, "2020-01-01", &place);
        assert_eq!(undated, Ok(None));
    }
}
