//! The file form of a table of seed-safe limits, and its checks. Every fault names the line.

use super::{By, ColumnsAre, Form, Row, Table};
use crate::agronomy::crop_tolerance::{self, Crop};
use crate::agronomy::text;
use crate::agronomy::toml_words::plain;
use crate::codec::toml_form;
use crate::findings::{Fault, Outcome, Place};
use crate::job::{FertiliserForm, Nutrient};
use crate::units;
use serde::Deserialize;
use std::collections::BTreeMap;
use std::path::Path;
use toml::Spanned;

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct FileForm {
    title: Spanned<String>,
    publisher: Spanned<String>,
    region: Spanned<String>,
    source: Spanned<String>,
    #[serde(default, rename = "address")]
    _address: String,
    #[serde(default)]
    note: String,
    counts: Spanned<Vec<Nutrient>>,
    form: Form,
    unit: Spanned<String>,
    #[serde(default)]
    crops: Vec<String>,
    #[serde(default)]
    no_tolerance: Option<Spanned<Vec<String>>>,
    #[serde(default)]
    form_factors: BTreeMap<FertiliserForm, Spanned<f64>>,
    by: Spanned<By>,
    columns_are: Spanned<ColumnsAre>,
    columns: Spanned<Vec<String>>,
    #[serde(default)]
    dry_factor: Option<Spanned<f64>>,
    #[serde(default)]
    dry_column: Option<Spanned<String>>,
    #[serde(default)]
    narrowest_row_in: f64,
    #[serde(default)]
    widest_row_in: f64,
    #[serde(default)]
    ceiling_only: bool,
    #[serde(default)]
    least_spread_in: f64,
    rows: Spanned<Vec<Spanned<RowForm>>>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct RowForm {
    #[serde(default)]
    spread_in: f64,
    #[serde(default)]
    row_in: f64,
    limits: Vec<f64>,
}

impl Table {
    /// Reads a table; `file` is for messages.
    ///
    /// # Errors
    /// One fault that names file and line: not TOML, a key that is missing or unknown, an empty text, an unknown
    /// unit, a row without the numbers that find it, a limit that is missing, negative or not finite, a column
    /// that is not there.
    pub fn parse(text: &str, file: &Path) -> Outcome<Self> {
        let fault = |offset: usize, found: String, allowed: &str| {
            let line = 1 + text
                .bytes()
                .take(offset)
                .filter(|byte| *byte == b'\n')
                .count();
            let next = "Compare with the form in docs/methods/seed-safe.md.";
            Fault::input(
                "seed_safe.form",
                Place::file(file).line(line),
                found,
                allowed,
                next,
            )
        };
        let form: FileForm = toml_form::read(text).map_err(|wrong| {
            let found = plain(&wrong.what);
            fault(wrong.at, found, "a table in the documented form")
        })?;
        let said = |name: &str, value: &Spanned<String>| match value.get_ref().trim() {
            "" => Err(fault(
                value.span().start,
                format!("'{name}' is empty"),
                "a text",
            )),
            text => Ok(text.to_owned()),
        };
        let to_kg_per_ha: fn(f64) -> f64 = match form.unit.get_ref().as_str() {
            "kg/ha" => |kg_per_ha| kg_per_ha,
            "lb/ac" => units::kg_per_ha_from_lb_per_acre,
            other => {
                return Err(fault(
                    form.unit.span().start,
                    format!("the unit is '{other}'"),
                    "kg/ha or lb/ac",
                ));
            }
        };
        let columns = form.columns.get_ref();
        if columns.is_empty() || form.counts.get_ref().is_empty() || form.rows.get_ref().is_empty()
        {
            let found = "'columns', 'counts' or 'rows' is empty".to_owned();
            return Err(fault(
                form.columns.span().start,
                found,
                "at least one of each",
            ));
        }
        if *form.columns_are.get_ref() != ColumnsAre::Crop && form.crops.is_empty() {
            let found = "the columns are no crops, and no 'crops' are named".to_owned();
            return Err(fault(
                form.columns_are.span().start,
                found,
                "the crops the table is for",
            ));
        }
        if *form.columns_are.get_ref() == ColumnsAre::Nothing && columns.len() != 1 {
            let found = format!("the columns are nothing, and there are {}", columns.len());
            return Err(fault(form.columns.span().start, found, "one column"));
        }
        let mut no_tolerance = Vec::new();
        if let Some(crops) = &form.no_tolerance {
            no_tolerance.clone_from(crops.get_ref());
            let both = crops.get_ref().iter();
            let mut both = both.filter(|crop| form.crops.contains(crop) || columns.contains(crop));
            if let Some(crop) = both.next() {
                let found = format!("'{crop}' has limits and bears none with the seed");
                return Err(fault(
                    crops.span().start,
                    found,
                    "crops without a limit in the table",
                ));
            }
        }
        let mut form_factors = BTreeMap::new();
        for (of, factor) in &form.form_factors {
            if !(0.0..=1.0).contains(factor.get_ref()) {
                let found = format!("the factor for {} is {}", of.words(), factor.get_ref());
                return Err(fault(factor.span().start, found, "0 to 1"));
            }
            form_factors.insert(*of, *factor.get_ref());
        }
        let mut rows: Vec<Row> = Vec::new();
        for row in form.rows.get_ref() {
            let at = row.span().start;
            let row = row.get_ref();
            let found_by = match form.by.get_ref() {
                By::SeedbedUtilisation => {
                    row.spread_in > 0.0 && row.row_in > 0.0 && row.spread_in <= row.row_in
                }
                By::RowSpacing => row.row_in > 0.0,
                By::Nothing => true,
            };
            if !found_by || !row.row_in.is_finite() {
                let found = format!(
                    "a row with a spread of {} and a row spacing of {} inches",
                    row.spread_in, row.row_in
                );
                return Err(fault(
                    at,
                    found,
                    "the numbers that 'by' needs, above 0, the spread no wider than the row",
                ));
            }
            if row.limits.len() != columns.len() {
                let found = format!("{} limits for {} columns", row.limits.len(), columns.len());
                return Err(fault(at, found, "one limit per column"));
            }
            if let Some(limit) = row
                .limits
                .iter()
                .find(|limit| !(limit.is_finite() && **limit >= 0.0))
            {
                return Err(fault(
                    at,
                    format!("a limit of {limit}"),
                    "a number of 0 or more",
                ));
            }
            rows.push(Row {
                spread_m: units::m_from_inches(row.spread_in),
                row_m: units::m_from_inches(row.row_in),
                kg_per_ha: row
                    .limits
                    .iter()
                    .map(|limit| to_kg_per_ha(*limit))
                    .collect(),
            });
        }
        let dry_column = match &form.dry_column {
            None => None,
            Some(name) => {
                let place = columns.iter().position(|column| column == name.get_ref());
                let found = || format!("there is no column '{}'", name.get_ref());
                Some(place.ok_or_else(|| fault(name.span().start, found(), &text::list(columns)))?)
            }
        };
        let dry_factor = match &form.dry_factor {
            Some(factor) if !(0.0..=1.0).contains(factor.get_ref()) => {
                let found = format!("the factor for dry soil is {}", factor.get_ref());
                return Err(fault(factor.span().start, found, "0 to 1"));
            }
            other => other.as_ref().map(|factor| *factor.get_ref()),
        };
        let by_crop = *form.columns_are.get_ref() == ColumnsAre::Crop;
        let words = if by_crop { columns } else { &form.crops };
        let standing = |crop: Crop| {
            let stands = |word: &String| crop_tolerance::stands_for(word, crop.name());
            if no_tolerance.iter().any(stands) {
                return Some(usize::MAX);
            }
            let column = words.iter().position(stands)?;
            Some(if by_crop { column } else { 0 })
        };
        let standings = crop_tolerance::all().filter_map(|crop| Some((crop, standing(crop)?)));
        let standings = standings.collect();
        Ok(Self {
            title: said("title", &form.title)?,
            publisher: said("publisher", &form.publisher)?,
            region: said("region", &form.region)?,
            source: said("source", &form.source)?,
            note: form.note.clone(),
            counts: form.counts.get_ref().clone(),
            form: form.form,
            by: *form.by.get_ref(),
            columns_are: *form.columns_are.get_ref(),
            columns: columns.clone(),
            crops: form.crops.clone(),
            no_tolerance,
            form_factors,
            dry_factor,
            dry_column,
            narrowest_row_m: units::m_from_inches(form.narrowest_row_in),
            widest_row_m: units::m_from_inches(form.widest_row_in),
            ceiling_only: form.ceiling_only,
            least_spread_m: units::m_from_inches(form.least_spread_in),
            rows,
            standings,
        })
    }
}
