//! What a table says about a situation: a cell, a value between cells, a bound, or that it does not cover it.

use super::strictness::{Speaks, Texture, speaks};
use super::{
    Answer, By, ColumnsAre, DRY_SHARE, Limit, Situation, Table, Uncovered,
    seedbed_utilisation_percent,
};
use crate::agronomy::crop_tolerance::{self, Crop};
use crate::agronomy::text::{list, number};
use crate::findings::{Fault, Outcome, Place};
use crate::texts::quantity::RowWidth;

/// Slack for widths that were converted from inches, relative.
const SLACK: f64 = 1e-9;

/// How a situation stands to a table in one respect.
#[derive(Debug, Clone, PartialEq)]
enum Stands {
    /// The table has it.
    In,
    /// It is milder than anything in the table: the table is a bound on the safe side.
    Milder,
    /// It is stricter than anything in the table, which is a ceiling only; the factor makes it as strict as the case, where
    /// a rule is known.
    Stricter { why: String, factor: Option<f64> },
}

/// The cell of a table that a situation is held against.
struct Cell {
    kg_per_ha: f64,
    words: String,
    stands: [Stands; 5],
}

impl Table {
    /// The limit in a situation, or why there is none.
    ///
    /// Between the rows of a table by seedbed utilisation the limit is interpolated; in a table by row spacing the
    /// next wider row holds, which is the stricter one. A case that is milder than anything in the table gets its
    /// last value as a bound on the safe side; a stricter one is not covered, and the last value is a ceiling. A cell is never
    /// higher than one for a milder case of the same table.
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
        if self
            .no_tolerance
            .iter()
            .any(|crop| crop_tolerance::stands_for(crop, of.crop))
        {
            return Ok(Answer::Limit(Limit {
                kg_per_ha: 0.0,
                cell: of.told(|_| {
                    format!(
                        "{}: no tolerance, '{}' bears none with the seed",
                        self.title, of.crop
                    )
                }),
                conservative_bound: false,
            }));
        }
        Ok(match self.cell(of) {
            Err(why) => Answer::NotCovered(Uncovered {
                why,
                ceiling_kg_per_ha: None,
                stricter_kg_per_ha: None,
            }),
            Ok(cell) => self.answer(of, cell),
        })
    }

    /// What of the table is for a crop: its column, or one number for all that bear nothing; none where it is for no such crop.
    /// Two crops alike in this get the same answers.
    pub fn standing(&self, crop: Crop) -> Option<usize> {
        let found = self.standings.iter().find(|(known, _)| *known == crop);
        found.map(|(_, standing)| *standing)
    }

    /// The widest rows that the table is for, m; 0 where it does not go by them.
    pub fn widest_m(&self) -> f64 {
        let rows = self.rows.iter().map(|row| row.row_m);
        match self.by {
            By::SeedbedUtilisation => 0.0,
            By::RowSpacing | By::Nothing => rows.fold(self.widest_row_m, f64::max),
        }
    }

    /// The least share of the seedbed that the table is for, of 1; 0 where it does not go by it.
    pub fn least_utilisation(&self) -> f64 {
        let rows = self.rows.iter();
        match self.by {
            By::SeedbedUtilisation => rows
                .map(|row| row.spread_m / row.row_m)
                .fold(f64::INFINITY, f64::min),
            By::RowSpacing | By::Nothing => 0.0,
        }
    }

    /// Puts the respects together.
    fn answer(&self, of: &Situation, cell: Cell) -> Answer {
        let mut whys = Vec::new();
        let mut stricter = Some(cell.kg_per_ha);
        for stands in &cell.stands {
            if let Stands::Stricter { why, factor } = stands {
                whys.push(why.as_str());
                stricter = stricter.zip(*factor).map(|(limit, factor)| limit * factor);
            }
        }
        if whys.is_empty() {
            return Answer::Limit(Limit {
                kg_per_ha: cell.kg_per_ha,
                cell: of.told(|_| format!("{}: {}", self.title, cell.words)),
                conservative_bound: cell.stands.contains(&Stands::Milder),
            });
        }
        Answer::NotCovered(Uncovered {
            why: of.told(|_| format!("{} {}", self.title, whys.join(", and "))),
            ceiling_kg_per_ha: Some(cell.kg_per_ha),
            stricter_kg_per_ha: stricter,
        })
    }

    /// The cell, or why the table is not for crop or form at all.
    fn cell(&self, of: &Situation) -> Result<Cell, String> {
        let (form_factor, form) = match speaks(self.form, of.form) {
            Speaks::Of(factor) => (factor, Stands::In),
            Speaks::OfAMoreHarmfulOne => (1.0, Stands::Milder),
            Speaks::Not => {
                return Err(of.told(|_| {
                    format!(
                        "{} is for another form of fertiliser ({}, not {})",
                        self.title,
                        self.form.words(),
                        of.form.words()
                    )
                }));
            }
        };
        let (columns, texture) = self.columns_for(of)?;
        let (mut kg_per_ha, place, row) = self.at(of, &columns);
        let name = columns
            .first()
            .and_then(|column| self.columns.get(*column))
            .map_or("", String::as_str);
        let mut words_of = of.told(|_| format!("column '{name}', {place}"));
        let dry = match (of.dry, self.dry_column, self.dry_factor) {
            (false, ..) => Stands::In,
            (true, Some(column), _) => {
                // In dry soil both columns hold: the stricter one.
                let (dry_kg_per_ha, ..) = self.at(of, &[column]);
                kg_per_ha = kg_per_ha.min(dry_kg_per_ha);
                let name = self.columns.get(column).map_or("", String::as_str);
                words_of = of.told(|_| format!("column '{name}' for dry soil, {place}"));
                Stands::In
            }
            (true, None, Some(factor)) => {
                kg_per_ha *= factor;
                words_of += &of.told(|_| format!(", x {} for dry soil", number(factor, 2)));
                Stands::In
            }
            (true, None, None) => Stands::Stricter {
                why: of.told(|_| "says nothing about dry soil".to_owned()),
                factor: Some(DRY_SHARE),
            },
        };
        let by_form = self.form_factors.get(&of.form).copied().unwrap_or(1.0) * form_factor;
        if by_form != 1.0 {
            kg_per_ha *= by_form;
            words_of += &of.told(|_| format!(", x {} for {}", number(by_form, 2), of.form.words()));
        }
        let ceiling = match self.ceiling_only {
            true => Stands::Stricter {
                why: of.told(|_| "is a warning line, not a limit that was tried".to_owned()),
                factor: None,
            },
            false => Stands::In,
        };
        if form == Stands::Milder {
            words_of += &of.told(|_| {
                format!(
                    ", made for {}, which harms more: a bound on the safe side",
                    self.form.words()
                )
            });
        }
        Ok(Cell {
            kg_per_ha,
            words: words_of,
            stands: [form, texture, row, dry, ceiling],
        })
    }

    /// The columns that hold, the one of the case first: that column and all for milder soils, which are ceilings of it.
    fn columns_for(&self, of: &Situation) -> Result<(Vec<usize>, Stands), String> {
        let not_for = || {
            let crops = match self.columns_are {
                ColumnsAre::Crop => &self.columns,
                ColumnsAre::Texture | ColumnsAre::Nothing => &self.crops,
            };
            of.told(|_| {
                let crops = list(crops);
                format!("{} is for {crops}, not for '{}'", self.title, of.crop)
            })
        };
        if self.columns_are == ColumnsAre::Crop {
            let column = self
                .columns
                .iter()
                .position(|column| crop_tolerance::stands_for(column, of.crop));
            return column
                .map(|column| (vec![column], Stands::In))
                .ok_or_else(not_for);
        }
        if !self
            .crops
            .iter()
            .any(|crop| crop_tolerance::stands_for(crop, of.crop))
        {
            return Err(not_for());
        }
        if self.columns_are == ColumnsAre::Nothing {
            return Ok((vec![0], Stands::In));
        }
        let wanted = of.texture.trim();
        let unlike = |factor| Stands::Stricter {
            why: of.told(|_| match wanted.is_empty() {
                true => format!("has texture {}, and none is said", list(&self.columns)),
                false => format!("has texture {}, not '{wanted}'", list(&self.columns)),
            }),
            factor,
        };
        let all = || (0..self.columns.len()).collect::<Vec<_>>();
        let Some(texture) = Texture::of(wanted) else {
            // A word of the table's own; any other may be stricter than all of its columns.
            let own = self
                .columns
                .iter()
                .position(|column| column.eq_ignore_ascii_case(wanted));
            return Ok(match own {
                Some(column) => (vec![column], Stands::In),
                None => (all(), unlike(None)),
            });
        };
        let mut known: Vec<(Texture, usize)> = self
            .columns
            .iter()
            .enumerate()
            .filter_map(|(n, column)| Some((Texture::of(column)?, n)))
            .collect();
        known.sort_unstable();
        if known.is_empty() {
            return Ok((all(), unlike(None)));
        }
        // Of two columns that mean one texture, as 'sand' and 'sandy loam', the stricter holds: all are looked at.
        let from = known.iter().position(|(column, _)| *column >= texture);
        let milder = |from: usize| known[from..].iter().map(|(_, n)| *n).collect::<Vec<_>>();
        Ok(match from {
            Some(from) if known[from].0 == texture => (milder(from), Stands::In),
            Some(from) if from > 0 => (milder(from - 1), Stands::Milder),
            Some(from) => (milder(from), unlike(None)),
            None => (milder(known.len() - 1), Stands::Milder),
        })
    }

    /// Limit of the strictest of some columns in kg/ha, where it is from, and how the rows stand to the table.
    fn at(&self, of: &Situation, columns: &[usize]) -> (f64, String, Stands) {
        let cell = |row: &super::Row| {
            let cells = columns.iter().map(|column| row.kg_per_ha.get(*column));
            cells.fold(f64::INFINITY, |least, cell| {
                least.min(cell.copied().unwrap_or(0.0))
            })
        };
        let (kg_per_ha, words, rows) = match self.by {
            By::Nothing => {
                let limit = self.rows.first().map_or(0.0, cell);
                self.by_nothing(of, limit)
            }
            By::RowSpacing => self.by_row_spacing(of, cell),
            By::SeedbedUtilisation => {
                let utilisation =
                    |row: &super::Row| seedbed_utilisation_percent(row.spread_m, row.row_m);
                let rows = self.rows.iter();
                let mut points: Vec<(f64, f64)> =
                    rows.map(|row| (utilisation(row), cell(row))).collect();
                // Where two rows have one utilisation the stricter comes first and is found first.
                points.sort_by(|a, b| a.0.total_cmp(&b.0).then(a.1.total_cmp(&b.1)));
                // What a higher utilisation gets is a ceiling of every lower one.
                let mut least = f64::INFINITY;
                for (_, limit) in points.iter_mut().rev() {
                    least = least.min(*limit);
                    *limit = least;
                }
                between(of, &points)
            }
        };
        if of.spread_m >= self.least_spread_m * (1.0 - SLACK) {
            return (kg_per_ha, words, rows);
        }
        let narrow = of.spread_m / self.least_spread_m;
        let (why, factor) = match rows {
            Stands::Stricter { why, factor } => (format!("{why} and "), factor),
            Stands::In | Stands::Milder => (String::new(), Some(1.0)),
        };
        let stands = Stands::Stricter {
            why: of.told(|words| {
                format!(
                    "{why}is for a spread of at least {}",
                    words.amount(&RowWidth(self.least_spread_m))
                )
            }),
            factor: factor.map(|factor| factor * narrow),
        };
        (kg_per_ha, words, stands)
    }

    fn by_nothing(&self, of: &Situation, limit: f64) -> (f64, String, Stands) {
        if self.widest_row_m <= 0.0 {
            return (limit, of.told(|_| "any row spacing".to_owned()), Stands::In);
        }
        let words =
            of.told(|words| format!("rows up to {}", words.amount(&RowWidth(self.widest_row_m))));
        let stands = match of.row_m <= self.widest_row_m * (1.0 + SLACK) {
            true => Stands::In,
            false => self.wider(of, self.widest_row_m),
        };
        (limit, words, stands)
    }

    /// The next wider row of the table; what narrower rows get is a ceiling of it.
    fn by_row_spacing(
        &self,
        of: &Situation,
        cell: impl Fn(&super::Row) -> f64,
    ) -> (f64, String, Stands) {
        let widest = self.rows.iter().map(|row| row.row_m).fold(0.0, f64::max);
        let wide_enough = self
            .rows
            .iter()
            .map(|row| row.row_m)
            .filter(|row_m| of.row_m <= row_m * (1.0 + SLACK));
        let found = wide_enough.min_by(f64::total_cmp);
        let row_m = found.unwrap_or(widest);
        let limit = self
            .rows
            .iter()
            .filter(|row| row.row_m <= row_m)
            .map(&cell)
            .fold(f64::INFINITY, f64::min);
        let narrower = of.row_m < self.narrowest_row_m * (1.0 - SLACK);
        let bound = match narrower {
            true => ", narrower than the table: a bound on the safe side",
            false => "",
        };
        let words =
            of.told(|words| format!("rows up to {}{bound}", words.amount(&RowWidth(row_m))));
        let stands = match (found, narrower) {
            (None, _) => self.wider(of, widest),
            (Some(_), true) => Stands::Milder,
            (Some(_), false) => Stands::In,
        };
        (limit, words, stands)
    }

    /// Rows wider than any of the table: more fertiliser lies in a metre of each, at the same rate.
    fn wider(&self, of: &Situation, widest_m: f64) -> Stands {
        Stands::Stricter {
            why: of.told(|words| {
                format!(
                    "is for rows up to {}, and these are {} apart",
                    words.amount(&RowWidth(widest_m)),
                    words.amount(&RowWidth(of.row_m))
                )
            }),
            factor: Some(widest_m / of.row_m),
        }
    }
}

/// Limit at the utilisation of a situation, from points that ascend by it.
fn between(of: &Situation, points: &[(f64, f64)]) -> (f64, String, Stands) {
    let wanted = seedbed_utilisation_percent(of.spread_m, of.row_m);
    let same = |a: f64, b: f64| (a - b).abs() <= SLACK * b;
    let printed = of.told(|_| number(wanted, 1));
    // The stricter of all rows at this very utilisation.
    let hits = points
        .iter()
        .filter(|(at, _)| same(*at, wanted))
        .map(|(_, limit)| *limit);
    if let Some(limit) = hits.reduce(f64::min) {
        return (
            limit,
            of.told(|_| format!("seedbed utilisation {printed} %")),
            Stands::In,
        );
    }
    let below = points.iter().rfind(|(at, _)| *at < wanted);
    let above = points.iter().find(|(at, _)| *at > wanted);
    match (below, above) {
        (Some(below), Some(above)) => {
            let share = (wanted - below.0) / (above.0 - below.0);
            let text = of.told(|_| {
                format!(
                    "seedbed utilisation {printed} %, between {} and {} %",
                    number(below.0, 1),
                    number(above.0, 1)
                )
            });
            let limit = below.1 + share * (above.1 - below.1);
            (limit, text, Stands::In)
        }
        (Some(below), None) => {
            let text = of.told(|_| format!(
                "seedbed utilisation {printed} %, above the table: its last value is a bound on the safe side"
            ));
            (below.1, text, Stands::Milder)
        }
        (None, above) => {
            let (lowest, limit) = above.copied().unwrap_or((wanted, 0.0));
            let stands = Stands::Stricter {
                why: of.told(|_| {
                    format!(
                        "begins at a seedbed utilisation of {} %, and {printed} % is below any in it",
                        number(lowest, 1)
                    )
                }),
                factor: Some(wanted / lowest),
            };
            let text = of.told(|_| format!("seedbed utilisation {printed} %"));
            (limit, text, stands)
        }
    }
}
