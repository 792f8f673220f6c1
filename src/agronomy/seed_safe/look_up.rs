//! What a table says about a situation: a cell, a value between cells, a bound, or that it does not cover it.

use super::{Answer, By, ColumnsAre, Form, Limit, Situation, Table, seedbed_utilisation_percent};
use crate::agronomy::text::{list, number};
use crate::findings::{Fault, Outcome, Place};

/// Slack for widths that were converted from inches, relative.
const SLACK: f64 = 1e-9;

impl Table {
    /// The limit in a situation, or why there is none.
    ///
    /// Between the rows of a table by seedbed utilisation the limit is interpolated; in a table by row spacing the
    /// next wider row holds, which is the stricter one. Beyond the wide or the low end nothing is said. Beyond
    /// the narrow or the high end the last value is a bound on the safe side.
    ///
    /// # Errors
    /// A spread or row spacing that is not above 0, or a spread wider than the row spacing.
    pub fn limit(&self, of: &Situation) -> Outcome<Answer> {
        let widths = of.spread_m > 0.0 && of.row_m > 0.0 && of.row_m.is_finite();
        if !widths || of.spread_m > of.row_m * (1.0 + SLACK) {
            return Err(Fault::input(
                "seed_safe.widths",
                Place::nowhere(),
                format!("a spread of {} m on rows {} m apart", of.spread_m, of.row_m),
                "both above 0, and the spread no wider than the row spacing",
                "Correct row_spacing_m or the spread measured at the opener.",
            ));
        }
        if self.no_tolerance.iter().any(|crop| crop == of.crop) {
            return Ok(Answer::Limit(Limit {
                kg_per_ha: 0.0,
                cell: format!(
                    "{}: no tolerance, '{}' bears none with the seed",
                    self.title, of.crop
                ),
                conservative_bound: false,
            }));
        }
        let column = match self.column(of) {
            Ok(column) => column,
            Err(why) => return Ok(Answer::NotCovered(why)),
        };
        let name = self.columns.get(column).map_or("", String::as_str);
        Ok(match self.at(of, column) {
            Err(why) => Answer::NotCovered(why),
            Ok((kg_per_ha, place, conservative_bound)) => {
                let dry = of.dry.then_some(self.dry_factor).flatten();
                let halved = dry.map_or(String::new(), |factor| {
                    format!(", x {} for dry soil", number(factor, 2))
                });
                let by_form = self.form_factors.get(&of.form).copied();
                let of_form = by_form.map_or(String::new(), |factor| {
                    format!(", x {} for {}", number(factor, 2), of.form.words())
                });
                Answer::Limit(Limit {
                    kg_per_ha: kg_per_ha * dry.unwrap_or(1.0) * by_form.unwrap_or(1.0),
                    cell: format!("{}: column '{name}', {place}{halved}{of_form}", self.title),
                    conservative_bound,
                })
            }
        })
    }

    /// The column that holds, or why none does.
    fn column(&self, of: &Situation) -> Result<usize, String> {
        let form = match (self.form, of.form) {
            (Form::Any, _) => true,
            (Form::WithoutUrea, form) => {
                matches!(form, Form::AmmoniumPhosphate | Form::WithoutUrea)
            }
            (table, form) => table == form,
        };
        if !form {
            return Err(format!(
                "{} is for another form of fertiliser ({}, not {})",
                self.title,
                self.form.words(),
                of.form.words()
            ));
        }
        let (wanted, what) = match self.columns_are {
            ColumnsAre::Texture | ColumnsAre::Nothing
                if !self.crops.iter().any(|crop| crop == of.crop) =>
            {
                return Err(format!(
                    "{} is for {}, not for '{}'",
                    self.title,
                    list(&self.crops),
                    of.crop
                ));
            }
            ColumnsAre::Nothing => (self.columns.first().map_or("", String::as_str), "column"),
            ColumnsAre::Texture => (of.texture, "texture"),
            ColumnsAre::Crop => (of.crop, "crop"),
        };
        let column = self.columns.iter().position(|column| column == wanted);
        let column = column.ok_or_else(|| {
            format!(
                "{} has {what} {}, not '{wanted}'",
                self.title,
                list(&self.columns)
            )
        })?;
        if !of.dry {
            return Ok(column);
        }
        match (self.dry_column, self.dry_factor) {
            (Some(dry), _) => Ok(dry),
            (None, Some(_)) => Ok(column),
            (None, None) => Err(format!("{} says nothing about dry soil", self.title)),
        }
    }

    /// Limit of a column in kg/ha, where it is from, and whether it is a bound only.
    fn at(&self, of: &Situation, column: usize) -> Result<(f64, String, bool), String> {
        let cell = |row: &super::Row| row.kg_per_ha.get(column).copied().unwrap_or(0.0);
        if of.spread_m < self.least_spread_m * (1.0 - SLACK) {
            return Err(format!(
                "{} is for a spread of at least {} m",
                self.title,
                number(self.least_spread_m, 4)
            ));
        }
        match self.by {
            By::Nothing => {
                let row = self.rows.first().ok_or("the table is empty")?;
                Ok((cell(row), "any row spacing".to_owned(), false))
            }
            By::RowSpacing => {
                let wide_enough = self
                    .rows
                    .iter()
                    .filter(|row| of.row_m <= row.row_m * (1.0 + SLACK));
                let row = wide_enough
                    .min_by(|a, b| a.row_m.total_cmp(&b.row_m))
                    .ok_or_else(|| {
                        format!(
                            "rows {} m apart are wider than any in {}",
                            number(of.row_m, 4),
                            self.title
                        )
                    })?;
                let narrower = of.row_m < self.narrowest_row_m * (1.0 - SLACK);
                let bound = if narrower {
                    ", narrower than the table: a bound on the safe side"
                } else {
                    ""
                };
                Ok((
                    cell(row),
                    format!("rows up to {} m{bound}", number(row.row_m, 4)),
                    narrower,
                ))
            }
            By::SeedbedUtilisation => {
                let wanted = seedbed_utilisation_percent(of.spread_m, of.row_m);
                let mut points: Vec<(f64, f64)> = self
                    .rows
                    .iter()
                    .map(|row| {
                        (
                            seedbed_utilisation_percent(row.spread_m, row.row_m),
                            cell(row),
                        )
                    })
                    .collect();
                // Where two rows have one utilisation the stricter comes first and is found first.
                points.sort_by(|a, b| a.0.total_cmp(&b.0).then(a.1.total_cmp(&b.1)));
                between(&points, wanted).ok_or_else(|| {
                    format!(
                        "a seedbed utilisation of {} % is below any in {}",
                        number(wanted, 1),
                        self.title
                    )
                })
            }
        }
    }
}

/// Limit at a utilisation, from points that ascend by it; `None` below the first.
fn between(points: &[(f64, f64)], wanted: f64) -> Option<(f64, String, bool)> {
    let same = |a: f64, b: f64| (a - b).abs() <= SLACK * b;
    let printed = number(wanted, 1);
    // The stricter of all rows at this very utilisation.
    let hits = points
        .iter()
        .filter(|(at, _)| same(*at, wanted))
        .map(|(_, limit)| *limit);
    if let Some(limit) = hits.reduce(f64::min) {
        return Some((limit, format!("seedbed utilisation {printed} %"), false));
    }
    let below = points.iter().rfind(|(at, _)| *at < wanted)?;
    let Some(above) = points.iter().find(|(at, _)| *at > wanted) else {
        let text = format!(
            "seedbed utilisation {printed} %, above the table: its last value is a bound on the safe side"
        );
        return Some((below.1, text, true));
    };
    let share = (wanted - below.0) / (above.0 - below.0);
    let text = format!(
        "seedbed utilisation {printed} %, between {} and {} %",
        number(below.0, 1),
        number(above.0, 1)
    );
    Some((below.1 + share * (above.1 - below.1), text, false))
}
