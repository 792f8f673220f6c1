//! A row of the ledger, and the file of a year.

use crate::findings::{Fault, Outcome, Place};
use crate::write;
use std::path::Path;

/// A column of the ledger. What nobody knows is blank; what leaves the land is below 0.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[allow(missing_docs)] // Each is named as it stands in the file, with its unit.
pub enum Column {
    Date,
    What,
    Farm,
    Customer,
    Field,
    Plan,
    Tasks,
    Logs,
    Product,
    Name,
    Crop,
    Lot,
    Zone,
    Part,
    ZoneHa,
    DrilledHa,
    Kg,
    KgPerHa,
    NKgPerHa,
    P2o5KgPerHa,
    K2oKgPerHa,
    SKgPerHa,
    NKg,
    P2o5Kg,
    K2oKg,
    SKg,
    PlantsPerM2,
    EstablishmentPercent,
    YieldTPerHa,
    MoisturePercent,
    By,
    Note,
}

/// The columns as they stand in the file.
const COLUMNS: [&str; 32] = [
    "date",
    "what",
    "farm",
    "customer",
    "field",
    "plan",
    "tasks",
    "logs",
    "product",
    "name",
    "crop",
    "lot",
    "zone",
    "part",
    "zone_ha",
    "drilled_ha",
    "kg",
    "kg_per_ha",
    "n_kg_per_ha",
    "p2o5_kg_per_ha",
    "k2o_kg_per_ha",
    "s_kg_per_ha",
    "n_kg",
    "p2o5_kg",
    "k2o_kg",
    "s_kg",
    "plants_per_m2",
    "establishment_percent",
    "yield_t_per_ha",
    "moisture_percent",
    "by",
    "note",
];

impl Column {
    /// As it stands in the file.
    pub(super) fn name(self) -> &'static str {
        COLUMNS[self as usize]
    }
}

/// What a row is about. The first four are written by the program, the others by hand.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[allow(missing_docs)] // Words of the file.
pub enum What {
    /// Seed, by a log.
    Sown,
    /// Fertiliser, by a log.
    Placed,
    /// Plants, after emergence.
    Counted,
    Harvested,
    Manure,
    StrawRemoved,
    SoilTest,
    /// Anything else that brought or took nutrients.
    Other,
}

impl What {
    const ALL: [(Self, &'static str); 8] = [
        (Self::Sown, "sown"),
        (Self::Placed, crate::agronomy::placed::PLACED),
        (Self::Counted, "counted"),
        (Self::Harvested, crate::agronomy::placed::HARVESTED),
        (Self::Manure, "manure"),
        (Self::StrawRemoved, "straw_removed"),
        (Self::SoilTest, "soil_test"),
        (Self::Other, "other"),
    ];

    /// The word in the file.
    pub fn word(self) -> &'static str {
        let own = Self::ALL.iter().find(|(what, _)| *what == self);
        own.map_or("", |(_, word)| word)
    }

    pub(super) fn of(word: &str) -> Option<Self> {
        let own = Self::ALL.iter().find(|(_, own)| *own == word.trim());
        own.map(|(what, _)| *what)
    }

    pub(super) fn words() -> String {
        let words = Self::ALL.map(|(_, word)| word);
        words.join(", ")
    }
}

/// One row: a text per column.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord)]
pub struct Row(Vec<String>);

impl Row {
    /// A row about something on a day, YYYY-MM-DD.
    pub fn new(what: What, date: &str) -> Self {
        let mut row = Self(vec![String::new(); COLUMNS.len()]);
        row.put(Column::What, what.word());
        row.put(Column::Date, date);
        row
    }

    /// The text of a column.
    pub fn text(&self, column: Column) -> &str {
        self.0.get(column as usize).map_or("", String::as_str)
    }

    /// Sets a text; one that a spreadsheet would take for a formula is made harmless.
    pub fn put(&mut self, column: Column, text: &str) {
        if let Some(own) = self.0.get_mut(column as usize) {
            *own = write::cell(text);
        }
    }

    /// Sets a number with so many decimals; none leaves the cell blank.
    pub fn put_number(&mut self, column: Column, value: Option<f64>, decimals: usize) {
        let text = value.map(|value| number(value, decimals));
        self.put(column, &text.unwrap_or_default());
    }

    /// The number of a column; none where it is blank.
    ///
    /// # Errors
    /// A text that is no number.
    pub fn number(&self, column: Column, file: &Path, line: usize) -> Outcome<Option<f64>> {
        let text = self.text(column).trim();
        if text.is_empty() {
            return Ok(None);
        }
        let number = text.parse::<f64>().ok().filter(|own| own.is_finite());
        number.map(Some).ok_or_else(|| {
            Fault::input(
                "ledger.number",
                Place::file(file).line(line),
                format!("'{}' is '{text}'", column.name()),
                "a number with a decimal point, or nothing where nobody knows",
                "Correct the cell.",
            )
        })
    }

    /// How the other tells of the same thing: of logs the same plan and a log; of a count the same plan, product and day; of a harvest the
    /// same customer, farm, field and day, by whichever plan of the field. What people write stays.
    fn told_by(&self, other: &Self) -> ToldBy {
        let same = |column| self.text(column) == other.text(column);
        let [own, new] = [self, other].map(|row| What::of(row.text(Column::What)));
        let is_log = |what| matches!(what, Some(What::Sown | What::Placed));
        let whole = |is_same| match is_same {
            true => ToldBy::Whole,
            false => ToldBy::No,
        };
        match (own, new) {
            (own, new) if is_log(own) && is_log(new) && same(Column::Plan) => {
                ToldBy::logs(self.text(Column::Logs), other.text(Column::Logs))
            }
            (Some(What::Counted), Some(What::Counted)) => {
                whole([Column::Plan, Column::Date, Column::Product].map(same) == [true; 3])
            }
            (Some(What::Harvested), Some(What::Harvested)) => {
                let of_field = [Column::Customer, Column::Farm, Column::Field, Column::Date];
                whole(!self.text(Column::Plan).is_empty() && of_field.map(same) == [true; 4])
            }
            _ => ToldBy::No,
        }
    }
}

/// How much of what stands in the ledger something new tells of.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum ToldBy {
    No,
    /// All of it, so it gives way.
    Whole,
    /// Some of its logs, and not others: were it to give way, those would be lost.
    Part,
}

impl ToldBy {
    /// Of logs, by their signs.
    pub(super) fn logs(own: &str, new: &str) -> Self {
        let is_new = |log: &str| new.split_whitespace().any(|other| other == log);
        let told = own.split_whitespace().filter(|log| is_new(log)).count();
        match told {
            0 => Self::No,
            _ if told == own.split_whitespace().count() => Self::Whole,
            _ => Self::Part,
        }
    }
}

/// Logs that stand in the ledger together with others are told of without them.
pub(super) fn told_in_part(place: Place, logs: &str) -> Box<Fault> {
    Fault::input(
        "ledger.logs",
        place,
        format!(
            "The ledger holds the logs {logs} together, and this comparison has some of them only"
        ),
        "all logs that stand there together, or none of them",
        "Compare with the task data that hold them all, without --task; or take their rows and their land out of the ledger first.",
    )
}

/// A number for a table; no minus before zero.
fn number(value: f64, decimals: usize) -> String {
    let text = format!("{value:.decimals$}");
    let is_zero = text.bytes().all(|own| matches!(own, b'-' | b'0' | b'.'));
    match is_zero {
        true => format!("{:.decimals$}", 0.0),
        false => text,
    }
}

/// The rows of a ledger's file with their lines.
///
/// # Errors
/// Bytes that are no ledger, with the line.
pub fn rows(bytes: &[u8], file: &Path) -> Outcome<Vec<(usize, Row)>> {
    let bad = |line: usize, found: String| {
        Fault::input(
            "ledger.rows",
            Place::file(file).line(line),
            found,
            format!("the columns {}", COLUMNS.join(", ")),
            "Name a folder of its own for the ledger, or put the file back as it was written.",
        )
    };
    let mut reader = csv::ReaderBuilder::new()
        .has_headers(false)
        .flexible(true)
        .from_reader(bytes.strip_prefix(b"\xef\xbb\xbf").unwrap_or(bytes));
    let mut rows = Vec::new();
    for (nth, record) in reader.records().enumerate() {
        let record = record.map_err(|error| bad(nth + 1, format!("This is no CSV ({error})")))?;
        let line = record.position().map_or(nth + 1, |at| at.line() as usize);
        let row: Vec<String> = record.iter().map(str::to_owned).collect();
        if row.len() != COLUMNS.len() {
            return Err(bad(line, format!("A row has {} columns", row.len())));
        }
        match nth {
            0 if row.iter().zip(COLUMNS).any(|(own, wanted)| own != wanted) => {
                return Err(bad(
                    line,
                    "The columns are not those of a ledger".to_owned(),
                ));
            }
            0 => {}
            _ => rows.push((line, Row(row))),
        }
    }
    Ok(rows)
}

/// The file of a year with new rows: older ones that tell of the same give way, what people wrote stays.
///
/// # Errors
/// As [`rows`].
pub fn merged(old: Option<&[u8]>, new: Vec<Row>, file: &Path) -> Outcome<Vec<u8>> {
    let mut all: Vec<Row> = match old {
        Some(bytes) => rows(bytes, file)?.into_iter().map(|(_, row)| row).collect(),
        None => Vec::new(),
    };
    let told = |row: &Row, how| new.iter().any(|own| row.told_by(own) == how);
    if let Some(row) = all.iter().find(|row| told(row, ToldBy::Part)) {
        return Err(told_in_part(Place::file(file), row.text(Column::Logs)));
    }
    all.retain(|row| !told(row, ToldBy::Whole));
    all.extend(new);
    all.sort();
    let header = COLUMNS.map(str::to_owned).to_vec();
    write::csv(header, all.into_iter().map(|row| row.0))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn placed(date: &str, logs: &str, kg: f64) -> Row {
        let mut row = Row::new(What::Placed, date);
        row.put(Column::Plan, "3f2a");
        row.put(Column::Tasks, "TSK1");
        row.put(Column::Logs, logs);
        row.put_number(Column::Kg, Some(kg), 3);
        row
    }

    fn kg(bytes: &[u8]) -> Vec<String> {
        let all = rows(bytes, Path::new("2026.csv")).unwrap();
        let kg = all.iter().map(|(_, row)| row.text(Column::Kg).to_owned());
        kg.collect()
    }

    #[test]
    fn what_tells_of_the_same_gives_way_and_nothing_else() {
        let file = Path::new("2026.csv");
        let mut manure = Row::new(What::Manure, "2026-07-18");
        manure.put(Column::Plan, "3f2a");
        let first = merged(None, vec![placed("2026-07-18", "a", 1.0), manure], file).unwrap();
        // Another log of the same plan, day and task: another drill with a copy of the stick.
        let second = merged(Some(&first), vec![placed("2026-07-18", "b", 2.0)], file).unwrap();
        assert_eq!(kg(&second), ["", "1.000", "2.000"]);
        // The first again, with what it did later.
        let third = merged(Some(&second), vec![placed("2026-07-18", "a c", 4.0)], file).unwrap();
        assert_eq!(kg(&third), ["", "4.000", "2.000"]);
        // A part of it would lose the rest.
        let part = merged(Some(&third), vec![placed("2026-07-18", "c", 3.0)], file);
        assert_eq!(part.unwrap_err().code, "ledger.logs");
        let again = merged(Some(&third), vec![placed("2026-07-18", "a c", 4.0)], file).unwrap();
        assert_eq!(again, third);
        assert!(merged(Some(b"a,b\n"), Vec::new(), file).is_err());
        assert_eq!(number(-0.0001, 2), "0.00");
    }

    #[test]
    fn a_harvest_gives_way_by_field_and_day() {
        let file = Path::new("2027.csv");
        let harvested = |date: &str, customer: &str, plan: &str, kg: f64| {
            let mut row = Row::new(What::Harvested, date);
            row.put(Column::Customer, customer);
            row.put(Column::Field, "Long Shoal");
            row.put(Column::Plan, plan);
            row.put_number(Column::Kg, Some(kg), 3);
            row
        };
        let by_hand = harvested("2027-08-12", "", "", 9.0);
        let first = vec![by_hand, harvested("2027-08-12", "", "dry", 1.0)];
        let first = merged(None, first, file).unwrap();
        // Cut again later; a field of that name of another customer.
        let second = vec![
            harvested("2027-10-01", "", "dry", 2.0),
            harvested("2027-08-12", "Brook", "dry", 3.0),
        ];
        let second = merged(Some(&first), second, file).unwrap();
        assert_eq!(kg(&second), ["9.000", "1.000", "3.000", "2.000"]);
        // The same harvest by the field's plan for a moist seedbed.
        let third = vec![harvested("2027-08-12", "", "moist", 4.0)];
        let third = merged(Some(&second), third, file).unwrap();
        assert_eq!(kg(&third), ["9.000", "4.000", "3.000", "2.000"]);
    }
}
