//! What came to a field and what went, event by event and between two soil tests. It informs; nothing is planned by it.

use super::row::{Column, Row, What};
use crate::findings::{Fault, Outcome, Place};
use crate::job::day_number;
use serde::Serialize;
use std::collections::BTreeMap;
use std::path::{Path, PathBuf};

/// Columns per hectare and in all of N, P2O5, K2O and S.
const NUTRIENTS: [(Column, Column); 4] = [
    (Column::NKgPerHa, Column::NKg),
    (Column::P2o5KgPerHa, Column::P2o5Kg),
    (Column::K2oKgPerHa, Column::K2oKg),
    (Column::SKgPerHa, Column::SKg),
];

/// Something that happened on a field on a day, in the mean of its land.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Event {
    /// YYYY-MM-DD.
    pub date: String,
    /// The word of the file.
    pub what: &'static str,
    /// Names of products, or the crop.
    pub of: String,
    /// N, P2O5, K2O, S in kg per ha of the field; below 0 what left; none where nobody knows.
    pub kg_per_ha: [Option<f64>; 4],
    /// Mean yield, t/ha.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub yield_t_per_ha: Option<f64>,
    /// What people noted.
    #[serde(skip_serializing_if = "String::is_empty")]
    pub note: String,
}

/// What came and went between two soil tests, or to the end.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Period {
    /// Day of the soil test that it begins with; none before the first.
    pub from: Option<String>,
    /// Day of the soil test that it ends with; none for the last.
    pub to: Option<String>,
    /// Sums of N, P2O5, K2O, S, kg/ha.
    pub came: [f64; 4],
    /// Sums, below 0.
    pub went: [f64; 4],
    /// Events of which the amount is not known, by nutrient: they are not in the sums.
    pub not_known: [usize; 4],
    /// What came less what went, kg/ha: above 0 a surplus, below 0 a lack. None where an amount is not known, for that may
    /// turn the one into the other.
    pub balance: [Option<f64>; 4],
}

impl Event {
    /// Whether something brings or takes nutrients that are counted: seed brings hardly any, counts and tests none.
    pub fn moves_nutrients(&self) -> bool {
        let still = [What::Sown, What::Counted, What::SoilTest].map(What::word);
        !still.contains(&self.what)
    }
}

/// A field over the years.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct FieldSums {
    /// Customer, where one is named.
    pub customer: String,
    /// Farm, where it has a name.
    pub farm: String,
    /// Name of the field.
    pub field: String,
    /// In the order of their days.
    pub events: Vec<Event>,
    /// One period, or those between soil tests.
    pub periods: Vec<Period>,
}

/// Rows of one event with where they stand.
type Of<'a> = Vec<(&'a Path, usize, &'a Row)>;

/// All fields of the files of a ledger. A zone counts by its land; what is written without land counts for the whole field.
///
/// # Errors
/// A date, a number or a word that is none, with file and line.
pub fn sums(files: &[(PathBuf, Vec<(usize, Row)>)]) -> Outcome<Vec<FieldSums>> {
    // By field, then by day, kind, plan, tasks with their logs, and note.
    let mut fields: BTreeMap<[String; 3], BTreeMap<[String; 5], Of>> = BTreeMap::new();
    for (file, rows) in files {
        for (line, row) in rows {
            check(file, *line, row)?;
            let text = |column| row.text(column).trim().to_owned();
            let names = [Column::Customer, Column::Farm, Column::Field];
            let field = fields.entry(names.map(text));
            let by_hand = match text(Column::Plan).is_empty() {
                true => format!("{}{}", text(Column::Product), text(Column::Note)),
                false => text(Column::Product),
            };
            let key = [
                text(Column::Date),
                text(Column::What),
                text(Column::Plan),
                format!("{} {}", text(Column::Tasks), text(Column::Logs)),
                by_hand,
            ];
            let events = field.or_default();
            events.entry(key).or_default().push((file, *line, row));
        }
    }
    let mut all = Vec::new();
    for ([customer, farm, field], events) in fields {
        let events: Vec<Event> = events
            .into_values()
            .map(|rows| event(&rows))
            .collect::<Outcome<_>>()?;
        let periods = periods(&events);
        all.push(FieldSums {
            customer,
            farm,
            field,
            events,
            periods,
        });
    }
    Ok(all)
}

fn check(file: &Path, line: usize, row: &Row) -> Outcome<()> {
    let bad = |found: String, allowed: String| {
        Err(Fault::input(
            "ledger.row",
            Place::file(file).line(line),
            found,
            allowed,
            "Correct the cell.",
        ))
    };
    let [what, date] = [Column::What, Column::Date].map(|column| row.text(column).trim());
    match (What::of(what), day_number(date)) {
        (None, _) => bad(
            format!("'what' is '{what}'"),
            format!("one of: {}", What::words()),
        ),
        (_, None) => bad(format!("'date' is '{date}'"), "YYYY-MM-DD".to_owned()),
        (Some(own), Some(_)) => {
            for column in NUTRIENTS.map(<[Column; 2]>::from).as_flattened() {
                let amount = row.number(*column, file, line)?.unwrap_or(0.0);
                let (is_wrong, allowed) = match own {
                    What::Placed | What::Manure => {
                        (amount < 0.0, "0 or more, for it comes to the field")
                    }
                    What::Harvested | What::StrawRemoved => {
                        (amount > 0.0, "0 or less, for it leaves the field")
                    }
                    What::Sown | What::Counted | What::SoilTest | What::Other => (false, ""),
                };
                if is_wrong {
                    return bad(
                        format!("'{}' of '{what}' is {amount}", column.name()),
                        allowed.to_owned(),
                    );
                }
            }
            Ok(())
        }
    }
}

fn event(rows: &Of) -> Outcome<Event> {
    let number = |(file, line, row): &(&Path, usize, &Row), column| row.number(column, file, *line);
    let mut field_ha = 0.0;
    let mut yields = (0.0, 0.0);
    for row in rows {
        let ha = number(row, Column::ZoneHa)?.unwrap_or(0.0);
        field_ha += ha;
        if let Some(t_per_ha) = number(row, Column::YieldTPerHa)? {
            let weight = if ha > 0.0 { ha } else { 1.0 };
            yields.0 += t_per_ha * weight;
            yields.1 += weight;
        }
    }
    let mut kg_per_ha = [None; 4];
    for (slot, (per_ha, in_all)) in kg_per_ha.iter_mut().zip(NUTRIENTS) {
        let mut sum = Some(0.0);
        for row in rows {
            let amount = match (number(row, in_all)?, number(row, per_ha)?) {
                (Some(kg), _) if field_ha > 0.0 => Some(kg / field_ha),
                (_, Some(kg_per_ha)) => {
                    let ha = number(row, Column::ZoneHa)?.unwrap_or(0.0);
                    let share = if field_ha > 0.0 { ha / field_ha } else { 1.0 };
                    Some(kg_per_ha * share)
                }
                // Nothing was laid here, so it brought nothing.
                _ if number(row, Column::Kg)? == Some(0.0) => Some(0.0),
                _ => None,
            };
            sum = sum.zip(amount).map(|(sum, amount)| sum + amount);
        }
        *slot = sum;
    }
    let first = rows.first().map(|(_, _, row)| *row);
    let text = |column| first.map_or("", |row| row.text(column)).to_owned();
    let names = [Column::Name, Column::Product, Column::Crop].map(text);
    Ok(Event {
        date: text(Column::Date),
        what: What::of(&text(Column::What)).map_or("", What::word),
        of: names
            .into_iter()
            .find(|name| !name.is_empty())
            .unwrap_or_default(),
        kg_per_ha,
        yield_t_per_ha: (yields.1 > 0.0).then(|| yields.0 / yields.1),
        note: text(Column::Note),
    })
}

fn periods(events: &[Event]) -> Vec<Period> {
    let begin = |from: Option<String>| Period {
        from,
        to: None,
        came: [0.0; 4],
        went: [0.0; 4],
        not_known: [0; 4],
        balance: [None; 4],
    };
    let mut periods = vec![begin(None)];
    for event in events {
        let Some(period) = periods.last_mut() else {
            continue;
        };
        if event.what == What::SoilTest.word() {
            // Two samples of a day are one test.
            if period.from.as_ref() != Some(&event.date) {
                period.to = Some(event.date.clone());
                periods.push(begin(Some(event.date.clone())));
            }
            continue;
        }
        if !event.moves_nutrients() {
            continue;
        }
        for (nth, amount) in event.kg_per_ha.iter().enumerate() {
            match amount {
                None => period.not_known[nth] += 1,
                Some(amount) if *amount < 0.0 => period.went[nth] += amount,
                Some(amount) => period.came[nth] += amount,
            }
        }
    }
    for own in &mut periods {
        let sums = own.came.iter().zip(&own.went).zip(own.not_known);
        let balances =
            sums.map(|((came, went), not_known)| (not_known == 0).then_some(came + went));
        for (slot, balance) in own.balance.iter_mut().zip(balances) {
            *slot = balance;
        }
    }
    periods
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A row by hand of the whole field.
    fn by_hand(what: What, date: &str, p2o5: Option<f64>, k2o: Option<f64>) -> Row {
        let mut row = Row::new(what, date);
        row.put(Column::Field, "Long Shoal");
        row.put_number(Column::P2o5KgPerHa, p2o5, 1);
        row.put_number(Column::K2oKgPerHa, k2o, 1);
        row
    }

    fn of(rows: Vec<Row>) -> FieldSums {
        let rows = (2..).zip(rows).collect();
        let mut all = sums(&[(PathBuf::from("2027.csv"), rows)]).unwrap();
        assert_eq!(all.len(), 1);
        all.remove(0)
    }

    /// RB209 section 4, example 4.6, page 19: winter wheat, 10 t/ha, straw removed, takes 70 P2O5 and 105 K2O.
    #[test]
    fn between_two_soil_tests_it_shows_what_came_and_went() {
        let found = of(vec![
            by_hand(What::Manure, "2022-08-01", Some(30.0), Some(80.0)),
            by_hand(What::SoilTest, "2022-09-01", None, None),
            by_hand(What::Placed, "2022-10-01", Some(46.0), Some(0.0)),
            by_hand(What::Harvested, "2023-08-01", Some(-70.0), Some(-105.0)),
            by_hand(What::Manure, "2023-09-01", Some(30.0), None),
            by_hand(What::SoilTest, "2026-09-01", None, None),
        ]);
        let [before, between, after] = found.periods.as_slice() else {
            panic!("{:?}", found.periods);
        };
        assert_eq!(before.came[1], 30.0);
        assert_eq!(between.from.as_deref(), Some("2022-09-01"));
        assert_eq!(between.to.as_deref(), Some("2026-09-01"));
        assert_eq!(between.came, [0.0, 76.0, 0.0, 0.0]);
        assert_eq!(between.went, [0.0, -70.0, -105.0, 0.0]);
        // Nobody noted N and S at all, nor the potash of the second manure.
        assert_eq!(between.not_known, [3, 0, 1, 3]);
        // A surplus of phosphate; of the others an amount is not known, and so is the balance.
        assert_eq!(between.balance, [None, Some(6.0), None, None]);
        assert_eq!((after.came, after.went), ([0.0; 4], [0.0; 4]));
    }

    #[test]
    fn zones_count_by_their_land() {
        let zone = |ha: f64, kg_per_ha: f64| {
            let mut row = Row::new(What::Placed, "2026-07-18");
            row.put(Column::Field, "Long Shoal");
            row.put(Column::Plan, "3f2a");
            row.put_number(Column::ZoneHa, Some(ha), 4);
            row.put_number(Column::P2o5Kg, Some(ha * kg_per_ha), 3);
            row
        };
        let found = of(vec![zone(3.0, 40.0), zone(1.0, 20.0)]);
        let [event] = found.events.as_slice() else {
            panic!("{:?}", found.events);
        };
        assert_eq!(event.kg_per_ha, [None, Some(35.0), None, None]);
    }

    /// Two drills by copies of one stick: each its own half of the zone's product, over the same zone.
    #[test]
    fn two_logs_of_a_task_are_two_events_and_two_customers_two_fields() {
        let drill = |customer: &str, logs: &str| {
            let mut row = Row::new(What::Placed, "2026-07-18");
            row.put(Column::Customer, customer);
            row.put(Column::Field, "Long Shoal");
            row.put(Column::Plan, "3f2a");
            row.put(Column::Tasks, "TSK1");
            row.put(Column::Logs, logs);
            row.put_number(Column::ZoneHa, Some(2.0), 4);
            row.put_number(Column::P2o5Kg, Some(40.0), 3);
            row
        };
        let rows = vec![drill("", "a"), drill("", "b"), drill("Brook", "c")];
        let rows = (2..).zip(rows).collect();
        let found = sums(&[(PathBuf::from("2026.csv"), rows)]).unwrap();
        let came: Vec<(&str, f64)> = found
            .iter()
            .map(|own| (own.customer.as_str(), own.periods[0].came[1]))
            .collect();
        assert_eq!(came, [("", 40.0), ("Brook", 20.0)]);
    }

    #[test]
    fn a_word_that_is_none_is_told_with_its_line() {
        let mut row = by_hand(What::Manure, "2022-08-01", None, None);
        row.put(Column::What, "slurry");
        let fault = sums(&[(PathBuf::from("2022.csv"), vec![(7, row)])]).unwrap_err();
        assert_eq!(fault.place.line, Some(7));
        // What leaves is below 0, what comes above: else the sum would say the opposite.
        for (what, amount) in [(What::StrawRemoved, 12.0), (What::Manure, -30.0)] {
            let row = by_hand(what, "2022-08-01", Some(amount), None);
            let fault = sums(&[(PathBuf::from("2022.csv"), vec![(7, row)])]).unwrap_err();
            assert_eq!(fault.place.line, Some(7));
            assert!(fault.found.contains("p2o5_kg_per_ha"), "{fault}");
        }
        let row = by_hand(What::Manure, "1 August", None, None);
        assert!(sums(&[(PathBuf::from("2022.csv"), vec![(2, row)])]).is_err());
    }
}
