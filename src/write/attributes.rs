//! The attribute table of the map zones, as every GIS format carries it.

use super::names::{distinct, in_ascii};
use super::product_names::{LONGEST_COLUMN, product_names};
use super::shapefile;
use crate::job::Job;
use crate::map::MapZone;
use crate::plan::{BalanceMap, Plan, Rates};
use crate::units::M2_PER_HA;
use std::collections::BTreeSet;

/// How the names of columns that hold rates end.
pub(super) const RATE: &str = "_kg_ha";
/// How the names of columns that hold the kilograms of a zone end.
const KG: &str = "_kg";
/// How the names of columns that hold the classes of a layer begin, whole and short. Layers have any name, so that such a
/// column may end as one with rates does.
pub const CLASSES: [&str; 2] = ["class_", "c_"];

/// Columns, and one row per map zone.
pub(super) struct Table {
    pub columns: Vec<Column>,
    pub rows: Vec<Vec<Value>>,
}

/// A column.
pub(super) struct Column {
    pub name: String,
    pub kind: Kind,
    /// Its name for people, with the unit.
    pub title: String,
    /// What it holds, in a sentence.
    pub about: &'static str,
    /// For formats with short names: what may be cut, and what has to stay.
    short: (String, &'static str),
}

/// What a column holds.
#[derive(Clone, Copy, PartialEq)]
pub(super) enum Kind {
    Integer,
    Number,
    /// A number that was converted: with decimals enough to come back as it was, where a format counts them.
    Converted,
    Text,
}

/// A value of the table.
#[derive(Clone, PartialEq)]
pub(super) enum Value {
    Integer(i64),
    Number(f64),
    Text(String),
}

/// The columns of a job's map zones: `zone`, `part`, one `class_<layer>` per zone layer, `area_ha`, one `<product id>_kg_ha` per
/// product, then one `<product id>_kg` each, `field`, `farm`, `plan`.
pub(super) fn columns(job: &Job) -> Vec<Column> {
    let mut taken = BTreeSet::new();
    let mut columns = Vec::new();
    let mut column = |front: &str, end: &'static str, kind: Kind, short: String, words: Words| {
        // SQLite and most GIS programs ignore case; identifiers stay well below any limit.
        let name = distinct(front, end, "_", LONGEST_COLUMN, &mut taken);
        let short = (short, end);
        let (title, about) = words;
        columns.push(Column {
            name,
            kind,
            title,
            about,
            short,
        });
    };
    let plain = |name: &str| name.to_string();
    column("zone", "", Kind::Integer, plain("zone"), zone());
    column("part", "", Kind::Text, plain("part"), part());
    let [class, short_class] = CLASSES;
    for layer in &job.layers {
        let [whole, short] = [class, short_class].map(|front| format!("{front}{}", layer.name));
        let about = "Class of the zone layer; several, with a semicolon between, where classes share their rates.";
        let words = (format!("Class of {}", layer.name), about);
        column(&whole, "", Kind::Text, short, words);
    }
    column("area_ha", "", Kind::Number, plain("area_ha"), area());
    for product in &job.products {
        let title = format!("{}, kg/ha", product.name);
        let words = (title, "Rate of the product, kg/ha.");
        column(&product.id, RATE, Kind::Number, product.id.clone(), words);
    }
    for product in &job.products {
        let title = format!("{}, kg", product.name);
        let words = (title, "Rate times area: what the zone takes, kg.");
        column(&product.id, KG, Kind::Number, product.id.clone(), words);
    }
    let words = |title: &str, about| (title.to_string(), about);
    let field = words("Field", "Name of the field.");
    column("field", "", Kind::Text, plain("field"), field);
    let farm = words("Farm", "Name of the farm; empty where the job names none.");
    column("farm", "", Kind::Text, plain("farm"), farm);
    column("plan", "", Kind::Text, plain("plan"), plan_id());
    columns
}

/// A name for people, and a sentence.
type Words = (String, &'static str);

fn zone() -> Words {
    ("Zone".to_string(), "Number of the map zone, from 1.")
}

fn part() -> Words {
    ("Land part".to_string(), "Headland or interior.")
}

fn area() -> Words {
    ("Area, ha".to_string(), "Area in the field's own plane, ha.")
}

fn plan_id() -> Words {
    (
        "Plan".to_string(),
        "Short id of the plan, as the terminal's screen shows it.",
    )
}

/// The table of a plan's map zones.
pub(super) fn of(plan: &Plan) -> Table {
    Table {
        columns: columns(&plan.job),
        rows: plan
            .maps
            .rate
            .zones
            .iter()
            .map(|zone| row(plan, zone))
            .collect(),
    }
}

/// The table of the map of the balances: `zone`, `part`, `area_ha`, a column for each product that leaves one, `plan`.
pub(super) fn of_balance(plan: &Plan, map: &BalanceMap) -> Table {
    let mut columns = Vec::new();
    let mut column = |name: String, kind: Kind, (title, about): Words| {
        let short = (name.clone(), "");
        columns.push(Column {
            name,
            kind,
            title,
            about,
            short,
        });
    };
    column("zone".to_owned(), Kind::Integer, zone());
    column("part".to_owned(), Kind::Text, part());
    column("area_ha".to_owned(), Kind::Number, area());
    let balances = &plan.tally.planned.balances;
    for (name, balance) in balance_columns(plan).into_iter().zip(balances) {
        let title = format!("{}, kg/ha", balance.name);
        let words = (title, "What is left to broadcast, kg/ha.");
        column(name, Kind::Number, words);
    }
    column("plan".to_owned(), Kind::Text, plan_id());
    let row = |zone: &MapZone| {
        let mut row = vec![
            Value::Integer(i64::try_from(zone.id).unwrap_or(i64::MAX)),
            Value::Text(zone.part.word().to_string()),
            Value::Number(zone.area_m2 / M2_PER_HA),
        ];
        row.extend(zone.kg_per_ha.iter().map(|&rate| Value::Number(rate)));
        row.push(Value::Text(plan.id.clone()));
        row
    };
    Table {
        columns,
        rows: map.zones.iter().map(row).collect(),
    }
}

fn row(plan: &Plan, zone: &MapZone) -> Vec<Value> {
    let mut row = vec![
        Value::Integer(i64::try_from(zone.id).unwrap_or(i64::MAX)),
        Value::Text(zone.part.word().to_string()),
    ];
    for layer in 0..plan.job.layers.len() {
        row.push(Value::Text(classes(&plan.rates, zone, layer)));
    }
    let area_ha = zone.area_m2 / M2_PER_HA;
    row.push(Value::Number(area_ha));
    row.extend(zone.kg_per_ha.iter().map(|&rate| Value::Number(rate)));
    let kg = zone.kg_per_ha.iter().map(|rate| rate * area_ha);
    row.extend(kg.map(Value::Number));
    let field = &plan.job.field;
    row.extend([&field.name, &field.farm, &plan.id].map(|text| Value::Text(text.clone())));
    row
}

/// The classes of a layer on this land; several where classes share their rates.
fn classes(rates: &Rates, zone: &MapZone, layer: usize) -> String {
    let classes: BTreeSet<&str> = zone
        .combinations
        .iter()
        .filter_map(|row| rates.rows.get(row.checked_sub(1)?))
        .filter_map(|row| row.facts.classes.get(layer))
        .map(String::as_str)
        .collect();
    classes.into_iter().collect::<Vec<_>>().join("; ")
}

/// The names of the columns, and of the bands of a GeoTIFF, of what is left to broadcast.
pub(super) fn balance_columns(plan: &Plan) -> Vec<String> {
    let products = plan.job.products.iter().zip(product_names(&plan.job));
    let products: Vec<_> = products.collect();
    let of = |id: &String| products.iter().find(|(product, _)| product.id == *id);
    let balances = plan.tally.planned.balances.iter();
    balances
        .filter_map(|balance| Some(of(&balance.of)?.1.balance.clone()))
        .collect()
}

/// One name of at most ten characters per column, unique when case is ignored: ASCII letters, digits and `_`; the front
/// part is cut, the unit at the end stays, and a number settles what is still alike.
pub(super) fn short_names(columns: &[Column]) -> Vec<String> {
    let mut taken = BTreeSet::new();
    let mut short_name = |column: &Column| {
        let (front, end) = &column.short;
        let front = in_ascii(front, &[]);
        distinct(&front, end, "", shapefile::LONGEST_NAME, &mut taken)
    };
    columns.iter().map(&mut short_name).collect()
}

impl Column {
    /// Whether it holds the rate of a product.
    pub fn is_rate(&self) -> bool {
        self.short.1 == RATE
    }
}
