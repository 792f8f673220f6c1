//! The tables that are asked about what lies with the seed, and what they say together.

mod ceilings;
mod offers;
mod said;
mod tables;

pub(super) use said::{Counted, Said};

use super::super::crop_tolerance::{Crop, Group};
use super::super::library::{SeedSafeTable, Tables};
use super::super::nutrient;
use super::super::seed_safe::strictness::Texture;
use super::super::seed_safe::{self, Answer, Table, equation};
use super::case::{Case, OfCrop, Part};
use crate::findings::Outcome;
use crate::job::{AboveLimit, FertiliserForm, Nutrient, SeedSafe};
use said::least_share;
use tables::of_ammonium_phosphate;

#[derive(Clone, Copy)]
enum Source<'a> {
    Table(&'a Table),
    Equation(&'a equation::Slopes, &'a SeedSafe),
}

/// A table that is asked, and the case it is asked about.
struct Ask<'a> {
    source: Source<'a>,
    case: Case,
    named: bool,
    above: AboveLimit,
}

impl Ask<'_> {
    /// The table; none for the equation.
    fn table(&self) -> Option<&Table> {
        match self.source {
            Source::Table(table) => Some(table),
            Source::Equation(..) => None,
        }
    }
}

/// In which case the tables are asked: this one, or one that is milder in some respect.
#[derive(Clone, Copy, PartialEq)]
struct Reading {
    /// In a moist seedbed, whatever this one is.
    moist: bool,
    /// In rows no wider than this, m.
    most_row_m: f64,
    /// With a spread no narrower than this, m.
    least_spread_m: f64,
    /// On this soil, where one is named.
    texture: Option<Texture>,
}

impl Reading {
    const AS_IT_IS: Self = Self {
        moist: false,
        most_row_m: f64::INFINITY,
        least_spread_m: 0.0,
        texture: None,
    };
}

/// What the tables say together.
pub(super) enum Verdicts<'a> {
    /// Every nutrient is held by a table that covers the case; ceilings stand among them.
    Covered(Vec<Said<'a>>),
    /// Less lies there than any published bound.
    BelowAll(Vec<Said<'a>>),
    NotCovered {
        why: String,
        /// What the tables give for milder cases.
        ceilings: Vec<Said<'a>>,
        /// The part of what is wanted that the nearest covered case, made stricter, would allow.
        stricter_share: Option<f64>,
    },
}

/// The tables for one crop of the job.
pub(super) struct Asked<'a> {
    asks: Vec<Ask<'a>>,
    parts: &'a [Part<'a>],
    crop: Option<Crop>,
    case: Case,
}

impl<'a> Asked<'a> {
    /// Those that the job names for the crop; and for each nutrient that none of them counts, or where it names none, all
    /// that are built in.
    ///
    /// # Errors
    /// A table that was not read.
    pub fn of(tables: &'a Tables, of: &'a OfCrop<'a>, parts: &'a [Part<'a>]) -> Outcome<Self> {
        let mut asks = Vec::new();
        let mut open: Vec<(&Case, AboveLimit)> = Vec::new();
        for (setting, case) in &of.settings {
            if setting.table.is_none() && setting.file.is_none() {
                open.push((case, setting.above));
                continue;
            }
            let source = match tables.limits(setting)? {
                SeedSafeTable::Limits(table) => Source::Table(table),
                SeedSafeTable::Equation(slopes) => Source::Equation(slopes, setting),
            };
            asks.push(Ask {
                source,
                case: case.clone(),
                named: true,
                above: setting.above,
            });
        }
        let all = !open.is_empty();
        if open.is_empty() {
            open.push((&of.case, AboveLimit::Cap));
        }
        let named = |wanted: Nutrient| {
            let bring = |part: &&Part| nutrient::percent_of(&part.grade, wanted) > 0.0;
            parts.iter().filter(bring).all(|part| {
                asks.iter().any(|ask| match ask.source {
                    Source::Equation(..) => true,
                    Source::Table(table) => {
                        table.counts.contains(&wanted)
                            || wanted == Nutrient::N
                                && of_ammonium_phosphate(table)
                                && part.is_ammonium_phosphate()
                    }
                })
            })
        };
        let missing: Vec<Nutrient> = nutrient::NUTRIENTS
            .into_iter()
            .filter(|wanted| all || !named(*wanted))
            .collect();
        let built_in = seed_safe::all().iter().map(|(_, table)| table);
        for table in built_in.filter(|table| table.counts.iter().any(|of| missing.contains(of))) {
            for (case, above) in &open {
                asks.push(Ask {
                    source: Source::Table(table),
                    case: (*case).clone(),
                    named: false,
                    above: *above,
                });
            }
        }
        Ok(Self {
            asks,
            parts,
            crop: of.crop(),
            case: of.case.clone(),
        })
    }

    /// What they say together. A stricter case never gets more: what a milder crop may have is a ceiling, and a crop without
    /// a table of its own gets what a tenderer one bears.
    ///
    /// # Errors
    /// A spread or row spacing that cannot be.
    pub fn together(&self) -> Outcome<Verdicts<'a>> {
        let own = self.say(None, Reading::AS_IT_IS)?;
        let why = self.unheld(&own);
        let mut holding = match why.is_empty() {
            true => Some(own.clone()),
            false => self.tenderer()?.map(|tenderer| {
                let ceilings = own.iter().filter(|said| said.most_kg_per_ha().is_some());
                ceilings.cloned().chain(tenderer).collect()
            }),
        };
        if let Some(holding) = &mut holding {
            let share = least_share(holding);
            if let Some(ceiling) = self.hardier()?.filter(|said| said.share() < share) {
                holding.push(ceiling);
            }
        }
        if holding.as_deref().is_none_or(|all| least_share(all) < 1.0)
            && !why.is_empty()
            && let Some(below) = self.below_all(
                self.crop.map_or(Group::Tender, Crop::group),
                Reading::AS_IT_IS,
            )
        {
            return Ok(Verdicts::BelowAll(below));
        }
        if let Some(holding) = holding {
            return Ok(Verdicts::Covered(holding));
        }
        let stricter_share = self.stricter_share(&own);
        let mut ceilings: Vec<Said> = own
            .into_iter()
            .filter(|said| said.most_kg_per_ha().is_some())
            .collect();
        ceilings.extend(self.hardier()?);
        let stricter_share = stricter_share.map(|share| share.min(least_share(&ceilings)));
        Ok(Verdicts::NotCovered {
            why,
            ceilings,
            stricter_share,
        })
    }

    /// What each table says that counts something of what lies there; for another crop than the job's where one is given.
    fn say(&self, instead: Option<Crop>, reading: Reading) -> Outcome<Vec<Said<'a>>> {
        self.ask(instead, reading, true)
    }

    /// The same; its numbers alone where no words are wanted, which costs a fraction of it.
    fn ask(
        &self,
        instead: Option<Crop>,
        reading: Reading,
        in_words: bool,
    ) -> Outcome<Vec<Said<'a>>> {
        let mut all = Vec::new();
        for ask in &self.asks {
            if let (Some(crop), Source::Table(table)) = (instead, ask.source)
                && table.standing(crop).is_none()
            {
                continue;
            }
            if !self.counts(ask) {
                continue;
            }
            let mut case = ask.case.clone();
            if let Some(crop) = instead {
                case.crop = crop.name().to_owned();
            }
            if !in_words {
                case.words = None;
            }
            case.dry &= !reading.moist;
            case.row_m = case.row_m.min(reading.most_row_m);
            case.spread_m = case.spread_m.max(reading.least_spread_m);
            if let Some(texture) = reading.texture {
                case.texture = texture.word().to_owned();
            }
            let said = match ask.source {
                Source::Table(table) => self.table(table, ask, &case)?,
                Source::Equation(slopes, setting) => {
                    Some(self.equation(slopes, setting, ask, &case)?)
                }
            };
            all.extend(said);
        }
        Ok(all)
    }

    /// Whether something of what a table counts lies there.
    fn counts(&self, ask: &Ask) -> bool {
        match ask.source {
            Source::Table(table) => self
                .parts
                .iter()
                .any(|part| part.brings(&table.counts) > 0.0),
            Source::Equation(..) => true,
        }
    }

    /// Whether all that lies there is held by a table: then [`Self::unheld`] has nothing to say.
    fn holds_all(&self, said: &[Said]) -> bool {
        self.parts.iter().all(|part| {
            let brings = |of: &Nutrient| nutrient::percent_of(&part.grade, *of) > 0.0;
            let mut brings = nutrient::NUTRIENTS.into_iter().filter(brings).peekable();
            let held = |of| {
                said.iter()
                    .any(|said| said.covers() && said.holds(part, of))
            };
            brings.peek().is_some() && brings.all(held)
        })
    }

    /// Why something of what lies there is held by no table; empty where all of it is.
    fn unheld(&self, said: &[Said]) -> String {
        // Each reason once, with the nutrients that it is about.
        let mut whys: Vec<(Vec<&str>, String)> = Vec::new();
        for part in self.parts {
            let brings = nutrient::NUTRIENTS
                .into_iter()
                .filter(|of| nutrient::percent_of(&part.grade, *of) > 0.0);
            let mut none = true;
            for of in brings {
                none = false;
                let held = |said: &&Said| said.covers() && said.holds(part, of);
                if said.iter().any(|said| held(&said)) {
                    continue;
                }
                let (symbol, why) = (nutrient::symbol(of), self.why_not(said, part, of));
                match whys.iter_mut().find(|(_, known)| *known == why) {
                    Some((symbols, _)) if symbols.contains(&symbol) => {}
                    Some((symbols, _)) => symbols.push(symbol),
                    None => whys.push((vec![symbol], why)),
                }
            }
            if none {
                let why = format!(
                    "'{}' brings no N, P2O5 or K2O by its grade, and tables count these only",
                    part.product.id
                );
                whys.push((Vec::new(), why));
            }
        }
        let said = whys.iter().map(|(symbols, why)| match symbols.is_empty() {
            true => why.clone(),
            false => format!("{}: {why}", symbols.join(" and ")),
        });
        said.collect::<Vec<_>>().join("; ")
    }

    fn why_not(&self, said: &[Said], part: &Part, of: Nutrient) -> String {
        let about = |said: &&Said| match &said.answer {
            Answer::NotCovered(_) => said.holds(part, of),
            Answer::Limit(_) => false,
        };
        let why = |said: &Said| match &said.answer {
            Answer::NotCovered(of) => of.why.clone(),
            Answer::Limit(_) => String::new(),
        };
        // The nearest case first: a table that has a ceiling is for crop and form.
        let near = said
            .iter()
            .filter(|said| about(said))
            .filter(|said| said.named || said.most_kg_per_ha().is_some());
        let near: Vec<String> = near.take(2).map(why).collect();
        match near.is_empty() {
            true => format!(
                "no table for {} beside '{}'",
                part.form.map_or("this form", FertiliserForm::words),
                self.case.crop
            ),
            false => near.join("; "),
        }
    }
}
