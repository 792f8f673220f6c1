//! `twinsow card`: a contractor's job cards, one for each customer, of the records of the fields.

use super::exit::Exit;
use super::frame;
use super::screen::Screen;
use super::show::number::{Numbers, grouped};
use super::targets::{self, Known};
use crate::findings::{Fault, Outcome, Place};
use crate::job::Language;
use crate::read::no_endless;
use crate::report;
use crate::units::{M2_PER_HA, UnitSystem};
use crate::write;
use clap::Args as ClapArgs;
use serde::Deserialize;
use serde_json::json;
use std::collections::BTreeMap;
use std::fmt::Write as _;
use std::fs;
use std::path::{Path, PathBuf};

/// Makes job cards to sign, one for each customer, of field records
///
/// Takes the records that 'twinsow compare --record' has written (NAME.json): land drilled, hours on the field and kilograms as the terminal has
/// logged them. Each customer has a page and a table of their own; nothing of another customer stands on them.
#[derive(Debug, ClapArgs)]
#[command(after_help = "Examples:
  twinsow card records/*.json --to cards")]
pub(super) struct Args {
    /// Field records, NAME.json
    #[arg(required = true, value_name = "RECORD.json")]
    records: Vec<PathBuf>,
    /// Folder for the cards; cards of the same names are replaced
    #[arg(long, value_name = "FOLDER")]
    to: PathBuf,
}

/// No record is so large.
const MOST_BYTES: u64 = 20_000_000;
const FORMAT: &str = "twinsow-field-record";

/// What a card takes from a record.
#[derive(Deserialize)]
struct Record {
    format: String,
    version: u32,
    /// Records that were made before they had this are metric and English.
    #[serde(default)]
    units: UnitSystem,
    #[serde(default)]
    language: Language,
    plan: String,
    customer: String,
    farm: String,
    field: String,
    from: String,
    to: String,
    on_the_field_h: f64,
    drilled_ha: f64,
    products: Vec<Given>,
    operator: Option<String>,
}

#[derive(Deserialize)]
struct Given {
    name: String,
    lot: Option<String>,
    dressing: Option<String>,
    kg: f64,
    given_ha: f64,
}

pub(super) fn run(args: &Args, screen: &mut Screen) -> Exit {
    frame::run(screen, || made(args))
}

fn made(args: &Args) -> Outcome<String> {
    let mut by_customer: BTreeMap<String, Vec<Record>> = BTreeMap::new();
    let mut seen: Vec<(String, String, PathBuf)> = Vec::new();
    for path in &args.records {
        let record = read(path)?;
        let same = |(plan, from, _): &&(String, String, PathBuf)| {
            *plan == record.plan && *from == record.from
        };
        if let Some((.., known)) = seen.iter().find(same) {
            return Err(Fault::input(
                "card.twice",
                Place::file(path),
                format!(
                    "This is the work of plan {} from {} on, and so is {}",
                    record.plan,
                    record.from,
                    known.display()
                ),
                "each record once",
                "Leave one of them out.",
            ));
        }
        seen.push((record.plan.clone(), record.from.clone(), path.clone()));
        let customer = record.customer.trim().to_owned();
        by_customer.entry(customer).or_default().push(record);
    }
    let stems = write::file_stems(by_customer.keys().map(|name| match name.as_str() {
        "" => "no-customer",
        name => name,
    }));
    let (mut files, mut text) = (Vec::new(), String::new());
    for ((customer, mut records), stem) in by_customer.into_iter().zip(stems) {
        records.sort_by(|a, b| (&a.from, &a.field, &a.plan).cmp(&(&b.from, &b.field, &b.plan)));
        let numbers = numbers(&records);
        let page = report::card(page(&customer, &records, &numbers), numbers.language())?;
        for (ending, bytes) in [("html", page), ("csv", table(&records)?)] {
            let file = args.to.join(format!("{stem}.{ending}"));
            let _ = writeln!(text, "wrote {}", file.display());
            files.push((file, bytes));
        }
        let (hectares, hours) = (hectares(&records), hours(&records));
        let _ = writeln!(
            text,
            "  {}: {}, {}, {} h",
            name(&customer),
            match records.len() {
                1 => "1 field".to_owned(),
                count => format!("{count} fields"),
            },
            numbers
                .in_language(Language::En)
                .area_of(hectares * M2_PER_HA),
            grouped(hours, 1)
        );
    }
    let known = [
        Known::Page("work-title"),
        Known::Text(
            "customer,farm,field,plan,from,to,hours,drilled_ha,product,",
            "",
        ),
    ];
    let all = files.iter().zip(known.into_iter().cycle());
    targets::check(all.map(|((file, _), known)| (file.as_path(), known)))?;
    targets::make_folder(&args.to)?;
    targets::put(&files)?;
    Ok(text)
}

fn name(customer: &str) -> &str {
    match customer {
        "" => "No customer named",
        name => name,
    }
}

/// What all records have; where they differ what stands without a choice: metric, English.
fn common<T: PartialEq + Default>(mut all: impl Iterator<Item = T>) -> T {
    let first = all.next().unwrap_or_default();
    match all.all(|own| own == first) {
        true => first,
        false => T::default(),
    }
}

fn hectares(records: &[Record]) -> f64 {
    records.iter().map(|own| own.drilled_ha).sum()
}

fn hours(records: &[Record]) -> f64 {
    records.iter().map(|own| own.on_the_field_h).sum()
}

fn read(path: &Path) -> Outcome<Record> {
    let refused = |found: String| {
        Fault::input(
            "card.record",
            Place::file(path),
            found,
            format!(
                "a field record, '{FORMAT}' version 1, as 'twinsow compare --record NAME' writes NAME.json"
            ),
            "Name the .json file of a record.",
        )
    };
    no_endless(path)?;
    let length = fs::metadata(path)
        .map_err(|error| refused(format!("The record cannot be read ({error})")))?
        .len();
    if length > MOST_BYTES {
        return Err(refused(format!("The file has {length} bytes")));
    }
    let bytes =
        fs::read(path).map_err(|error| refused(format!("The record cannot be read ({error})")))?;
    let record: Record = serde_json::from_slice(&bytes)
        .map_err(|error| refused(format!("This is no field record ({error})")))?;
    match record.format == FORMAT && record.version == 1 {
        true => Ok(record),
        false => Err(refused(format!(
            "This is '{}' version {}",
            record.format.chars().take(60).collect::<String>(),
            record.version
        ))),
    }
}

/// What of each product was given in all: name, lot, dressing, kg, ha.
fn sums(records: &[Record]) -> Vec<([String; 3], f64, f64)> {
    let mut sums: BTreeMap<[String; 3], (f64, f64)> = BTreeMap::new();
    for own in records.iter().flat_map(|record| &record.products) {
        let key = [
            own.name.clone(),
            own.lot.clone().unwrap_or_default(),
            own.dressing.clone().unwrap_or_default(),
        ];
        let sum = sums.entry(key).or_default();
        sum.0 += own.kg;
        sum.1 += own.given_ha;
    }
    sums.into_iter()
        .map(|(key, (kg, ha))| (key, kg, ha))
        .collect()
}

/// How the card of these records writes numbers: in their language and units.
fn numbers(records: &[Record]) -> Numbers {
    let units = common(records.iter().map(|own| own.units));
    Numbers::of(units).in_language(common(records.iter().map(|own| own.language)))
}

fn page(customer: &str, records: &[Record], numbers: &Numbers) -> serde_json::Value {
    let area = |ha: f64| numbers.area_of(ha * M2_PER_HA);
    let fields = records.iter().map(|own| {
        let products = own.products.iter().map(|given| {
            json!({ "name": given.name, "lot": given.lot, "mass": numbers.weighed_of(given.kg) })
        });
        json!({
            "field": own.field,
            "farm": own.farm,
            "plan": own.plan,
            "time": format!("{} – {}", own.from, own.to),
            "area": area(own.drilled_ha),
            "hours": numbers.grouped(own.on_the_field_h, 1),
            "products": products.collect::<Vec<_>>(),
            "operator": own.operator,
        })
    });
    let sums = sums(records).into_iter().map(|([name, lot, dressing], kg, ha)| {
        json!({ "name": name, "lot": lot, "dressing": dressing, "mass": numbers.weighed_of(kg), "area": area(ha) })
    });
    json!({
        "customer": customer,
        "fields": fields.collect::<Vec<_>>(),
        "area": area(hectares(records)),
        "hours": numbers.grouped(hours(records), 1),
        "sums": sums.collect::<Vec<_>>(),
    })
}

fn table(records: &[Record]) -> Outcome<Vec<u8>> {
    let header = [
        "customer",
        "farm",
        "field",
        "plan",
        "from",
        "to",
        "hours",
        "drilled_ha",
        "product",
        "lot",
        "dressing",
        "kg",
        "given_ha",
        "operator",
    ];
    let rows = records.iter().flat_map(|own| {
        own.products.iter().map(move |given| {
            let maybe = |text: &Option<String>| text.as_deref().map_or(String::new(), write::cell);
            vec![
                write::cell(&own.customer),
                write::cell(&own.farm),
                write::cell(&own.field),
                own.plan.clone(),
                own.from.clone(),
                own.to.clone(),
                format!("{:.1}", own.on_the_field_h),
                format!("{:.3}", own.drilled_ha),
                write::cell(&given.name),
                maybe(&given.lot),
                maybe(&given.dressing),
                format!("{:.3}", given.kg),
                format!("{:.3}", given.given_ha),
                maybe(&own.operator),
            ]
        })
    });
    write::csv(header.map(str::to_owned).to_vec(), rows)
}
