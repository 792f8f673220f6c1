//! The sowing date of a job against the dates that its rates go by.

use crate::findings::{Decision, Finding, Place};
use crate::job::{Job, Product, day_number};

/// So many days from the nearest date of a table, the sowing date is of another season or another year. Our own
/// choice, no source.
const ANOTHER_SEASON: i64 = 120;
/// So many days before the first or after the last date, the rate of that date is stretched far. Our own choice, no
/// source.
const FAR: i64 = 30;

/// Sowing dates that a table of dates does not reach: a decision where they are of another season, a warning where
/// they are weeks away.
pub fn check_dates(job: &Job) -> Vec<Finding> {
    let Some((date, day)) = job.sowing_date.as_ref().zip(sowing_day(job)) else {
        return Vec::new();
    };
    let of_product = |product: &Product| {
        let dates = &product.rate.by_date;
        let days = dates.iter().filter_map(|entry| day_number(&entry.date));
        let first = days.clone().min()?;
        let last = days.clone().max()?;
        let away = days.map(|own| (own - day).abs()).min()?;
        let ends = [dates.first()?, dates.last()?].map(|entry| entry.date.as_str());
        let place = Place::file(&job.file).feature(format!("product '{}'", product.id));
        let between = first <= day && day <= last;
        if away > ANOTHER_SEASON {
            let message = format!(
                "The sowing date {date} is {away} days from the nearest date of by_date of '{}' ({} to {}): those are of another season or year, and the rate of the nearer end was taken. Correct sowing_date, or renew by_date.",
                product.id, ends[0], ends[1]
            );
            let found = Finding::decision(Decision::DatesOfAnotherSeason, place, message);
            return Some(found.of_products([product.id.as_str()]));
        }
        (!between && away > FAR).then(|| {
            let message = format!(
                "The sowing date {date} is {away} days outside by_date of '{}' ({} to {}); the rate of the nearer end was taken.",
                product.id, ends[0], ends[1]
            );
            Finding::warning("sowing_date.far", place, message)
        })
    };
    job.products.iter().filter_map(of_product).collect()
}

fn sowing_day(job: &Job) -> Option<i64> {
    job.sowing_date.as_deref().and_then(day_number)
}

#[cfg(test)]
mod tests {
    use super::check_dates;
    use crate::findings::Severity;
    use crate::job::Job;

    /// Code and weight of what is said about a sowing date beside two dates.
    fn said(sown: &str, dates: [&str; 2]) -> Option<(String, Severity)> {
        let text = format!(
            "name = \"t\"\nsowing_date = \"{sown}\"\nfield = {{ name = \"t\", boundary = {{ file = \"b.geojson\" }} }}\n[drill]\nworking_width_m = 6\n[[product]]\nid = \"wheat\"\nname = \"w\"\nkind = \"seed\"\nhopper = \"front\"\nrate = {{ plants_per_m2 = 260, by_date = [{{ date = \"{}\", more_per_m2 = 0 }}, {{ date = \"{}\", more_per_m2 = 50 }}] }}\n",
            dates[0], dates[1]
        );
        let job: Job = toml::from_str(&text).expect("a job");
        let found = check_dates(&job).into_iter().next();
        found.map(|own| (own.code.into_owned(), own.severity))
    }

    #[test]
    fn dates_of_another_year_are_a_decision_and_those_weeks_away_a_warning() {
        let autumn = ["2025-09-25", "2025-10-25"];
        let decided = Some(("sowing_date.another_season".to_owned(), Severity::Decision));
        assert_eq!(said("2026-10-05", autumn), decided);
        assert_eq!(said("2024-10-05", autumn), decided);
        assert_eq!(said("2026-03-20", autumn), decided);
        let far = Some(("sowing_date.far".to_owned(), Severity::Warning));
        assert_eq!(said("2025-12-10", autumn), far);
        assert_eq!(said("2025-08-10", autumn), far);
        assert_eq!(said("2025-11-10", autumn), None);
        assert_eq!(said("2025-10-05", autumn), None);
        // Across New Year nothing is wrong, and between two dates that lie far apart neither.
        assert_eq!(said("2026-01-10", ["2025-12-01", "2026-01-05"]), None);
        assert_eq!(said("2025-12-15", ["2025-09-25", "2026-02-20"]), None);
    }
}
