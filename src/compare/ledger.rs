//! The ledger of a farm: what each field got, one CSV a year in a folder that people can read. A comparison writes its rows; those
//! of an earlier comparison of the same plan and tasks give way.

use super::{Compared, PlanMap};
use crate::findings::{Fault, Outcome, Place};
use crate::job::Grade;
use crate::units::M2_PER_HA;
use crate::write;
use std::fs;
use std::path::{Path, PathBuf};

/// Columns; the rows of all products add up to what was sown.
const COLUMNS: [&str; 20] = [
    "date",
    "farm",
    "customer",
    "field",
    "plan",
    "tasks",
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
    "n_kg",
    "p2o5_kg",
    "k2o_kg",
    "by",
];
/// Places of the columns that tell whose row it is.
const PLAN: usize = 4;
const TASKS: usize = 5;
/// What stands under `part` for product that lies on no zone.
const BEYOND: &str = "beyond the plan's land";
const NOT_PLACED: &str = "without a place";

/// A year's ledger with the rows of a comparison.
pub struct Ledger {
    pub file: PathBuf,
    pub bytes: Vec<u8>,
}

/// What of a plan goes into the ledger.
pub(super) struct Owner {
    pub farm: String,
    pub customer: String,
    /// Per product.
    pub grades: Vec<Option<Grade>>,
    pub crops: Vec<String>,
    /// Per zone and product: the lots that its land was planned with.
    pub lots: Vec<Vec<String>>,
}

/// The ledger of the year of the log's first day, in this folder, with the rows of this comparison.
///
/// # Errors
/// A file of that name that is no ledger; the disk.
pub fn ledger(folder: &Path, plan: &PlanMap, figures: &Compared) -> Outcome<Ledger> {
    let year = figures.first_day.get(..4).unwrap_or("0000");
    let file = folder.join(format!("{year}.csv"));
    let tasks = write::cell(&figures.tasks.join(" "));
    let mut rows = older(&file)?;
    rows.retain(|row| row.get(PLAN) != Some(&figures.plan) || row.get(TASKS) != Some(&tasks));
    rows.extend(own(plan, figures, &tasks));
    rows.sort();
    let header = COLUMNS.map(str::to_owned).to_vec();
    Ok(Ledger {
        bytes: write::csv(header, rows.into_iter())?,
        file,
    })
}

/// The rows that are there already.
fn older(file: &Path) -> Outcome<Vec<Vec<String>>> {
    let bytes = match fs::read(file) {
        Ok(bytes) => bytes,
        Err(error) if error.kind() == std::io::ErrorKind::NotFound => return Ok(Vec::new()),
        Err(error) => {
            return Err(Fault::machine(
                "compare.ledger",
                Place::file(file),
                format!("The ledger cannot be read: {error}"),
                "a file that you may read",
                "Look at its permissions, or name another folder.",
            ));
        }
    };
    let bad = |line: usize, found: String| {
        Fault::input(
            "compare.ledger",
            Place::file(file).line(line),
            found,
            format!("the columns {}", COLUMNS.join(", ")),
            "Name a folder of its own for the ledger, or put the file back as it was written.",
        )
    };
    let mut reader = csv::ReaderBuilder::new()
        .has_headers(false)
        .flexible(true)
        .from_reader(bytes.as_slice());
    let mut rows = Vec::new();
    for (nth, record) in reader.records().enumerate() {
        let record = record.map_err(|error| bad(nth + 1, format!("This is no CSV ({error})")))?;
        let row: Vec<String> = record.iter().map(str::to_owned).collect();
        if row.len() != COLUMNS.len() {
            let found = format!("A row has {} columns", row.len());
            return Err(bad(nth + 1, found));
        }
        match nth {
            0 if row.iter().zip(COLUMNS).any(|(own, wanted)| own != wanted) => {
                return Err(bad(1, "The columns are not those of a ledger".to_owned()));
            }
            0 => {}
            _ => rows.push(row),
        }
    }
    Ok(rows)
}

/// Rows by product and zone, and what lies on no zone.
fn own(plan: &PlanMap, figures: &Compared, tasks: &str) -> Vec<Vec<String>> {
    let owner = &plan.owner;
    let mut rows = Vec::new();
    for (at, (product, planned)) in figures.products.iter().zip(&plan.products).enumerate() {
        let grade = owner.grades.get(at).copied().flatten().unwrap_or_default();
        let by = if product.by_total { "total" } else { "rate" };
        let mut row = |lot: &str, zone: String, part: &str, ha: [f64; 2], kg: f64| {
            let of = |percent: f64| number(kg * percent / 100.0, 3);
            let per_ha = if ha[1] > 0.0 {
                number(kg / ha[1], 2)
            } else {
                String::new()
            };
            let text = |text: &str| write::cell(text);
            rows.push(vec![
                figures.first_day.clone(),
                text(&owner.farm),
                text(&owner.customer),
                text(&plan.field),
                figures.plan.clone(),
                tasks.to_owned(),
                text(&product.id),
                text(&planned.name),
                text(owner.crops.get(at).map_or("", String::as_str)),
                text(lot),
                zone,
                part.to_owned(),
                number(ha[0], 4),
                number(ha[1], 4),
                number(kg, 3),
                per_ha,
                of(grade.n_percent),
                of(grade.p2o5_percent),
                of(grade.k2o_percent),
                by.to_owned(),
            ]);
        };
        for (nth, zone) in figures.zones.iter().enumerate() {
            let kg = zone.sown_kg.get(at).copied().unwrap_or(0.0);
            let lot = owner.lots.get(nth).and_then(|own| own.get(at));
            let ha = [zone.area_m2 / M2_PER_HA, zone.drilled_m2 / M2_PER_HA];
            row(
                lot.map_or("", String::as_str),
                format!("{}", zone.zone),
                &zone.part,
                ha,
                kg,
            );
        }
        let beyond_ha = figures.beyond_m2 / M2_PER_HA;
        row(
            "",
            String::new(),
            BEYOND,
            [0.0, beyond_ha],
            product.beyond_kg,
        );
        if let Some(kg) = product.not_placed_kg {
            row("", String::new(), NOT_PLACED, [0.0; 2], kg);
        }
    }
    rows
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
