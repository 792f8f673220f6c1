//! The tables that are asked about what lies with the seed, and what they say together.

use super::super::crop_tolerance::{self, Crop, Group};
use super::super::library::{SeedSafeTable, Tables};
use super::super::seed_safe::{
    self, Answer, Form, Limit, Situation, Table, Uncovered, equation, lowest_kg_per_ha,
};
use super::super::{nutrient, text};
use super::case::{Case, OfCrop, Part};
use crate::findings::Outcome;
use crate::job::{AboveLimit, FertiliserForm, Nutrient, SeedSafe};

/// What a table adds up.
#[derive(Debug, Clone, PartialEq)]
pub(super) enum Counted {
    Nutrients(Vec<Nutrient>),
    Product,
}

impl Counted {
    /// What a part brings of it, kg/ha.
    pub fn of(&self, part: &Part) -> f64 {
        match self {
            Self::Product => part.kg_per_ha,
            Self::Nutrients(nutrients) => part.brings(nutrients),
        }
    }

    pub fn words(&self) -> String {
        match self {
            Self::Product => "product".to_owned(),
            Self::Nutrients(nutrients) => {
                let symbols: Vec<&str> = nutrients.iter().map(|of| nutrient::symbol(*of)).collect();
                symbols.join(" + ")
            }
        }
    }
}

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

/// What a table says about everything that lies with the seed.
#[derive(Clone)]
pub(super) struct Said {
    pub title: String,
    pub source: String,
    pub note: String,
    /// The job names the table; else it is one of all that are built in.
    pub named: bool,
    pub above: AboveLimit,
    pub counted: Counted,
    /// Of that, what would lie with the seed, kg/ha.
    pub wanted_kg_per_ha: f64,
    pub spread_m: f64,
    pub answer: Answer,
    /// The table is made for an ammonium phosphate, whose N its limit holds as well.
    of_ammonium_phosphate: bool,
}

impl Said {
    /// The most of what is counted, kg/ha: the limit, or the ceiling of a milder case.
    pub fn most_kg_per_ha(&self) -> Option<f64> {
        match &self.answer {
            Answer::Limit(limit) => Some(limit.kg_per_ha),
            Answer::NotCovered(of) => of.ceiling_kg_per_ha,
        }
    }

    /// The part of what is wanted that this allows; infinite where it says nothing.
    fn share(&self) -> f64 {
        match self.most_kg_per_ha() {
            Some(most) if self.wanted_kg_per_ha > 0.0 => most / self.wanted_kg_per_ha,
            _ => f64::INFINITY,
        }
    }

    fn covers(&self) -> bool {
        matches!(self.answer, Answer::Limit(_))
    }

    /// Whether it holds what a part brings of a nutrient.
    fn holds(&self, part: &Part, of: Nutrient) -> bool {
        match &self.counted {
            Counted::Product => true,
            Counted::Nutrients(counts) => {
                counts.contains(&of)
                    || of == Nutrient::N
                        && self.of_ammonium_phosphate
                        && part.is_ammonium_phosphate()
            }
        }
    }

    /// The same with a remark in the words of its cell.
    fn remarked(mut self, remark: &str) -> Self {
        match &mut self.answer {
            Answer::Limit(limit) => limit.cell.push_str(remark),
            Answer::NotCovered(of) => of.why.push_str(remark),
        }
        self
    }
}

/// What the tables say together.
pub(super) enum Verdicts {
    /// Every nutrient is held by a table that covers the case; ceilings stand among them.
    Covered(Vec<Said>),
    /// Less lies there than any published bound.
    BelowAll(Vec<Said>),
    NotCovered {
        why: String,
        /// What the tables give for milder cases.
        ceilings: Vec<Said>,
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
    pub fn together(&self) -> Outcome<Verdicts> {
        let own = self.say(None)?;
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
            && let Some(below) = self.below_all()
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
        Ok(Verdicts::NotCovered {
            why,
            ceilings,
            stricter_share,
        })
    }

    /// What each table says that counts something of what lies there; for another crop than the job's where one is given.
    fn say(&self, instead: Option<Crop>) -> Outcome<Vec<Said>> {
        let mut all = Vec::new();
        for ask in &self.asks {
            if let (Some(crop), Source::Table(table)) = (instead, ask.source)
                && !table.known_crops.contains(&crop)
            {
                continue;
            }
            let mut case = ask.case.clone();
            if let Some(crop) = instead {
                case.crop = crop.name().to_owned();
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

    fn table(&self, table: &Table, ask: &Ask, case: &Case) -> Outcome<Option<Said>> {
        let counted = Counted::Nutrients(table.counts.clone());
        let wanted: f64 = self.parts.iter().map(|part| counted.of(part)).sum();
        if wanted <= 0.0 {
            return Ok(None);
        }
        let mut answers = Vec::new();
        for part in self.parts.iter().filter(|part| counted.of(part) > 0.0) {
            answers.push(match part.form {
                Some(form) => table.limit(&situation(case, form))?,
                None => uncovered(format!("the form of '{}' is not said", part.product.id)),
            });
        }
        Ok(Some(Said {
            title: table.title.clone(),
            source: format!("{}, {}: {}", table.publisher, table.title, table.source),
            note: table.note.clone(),
            named: ask.named,
            above: ask.above,
            counted,
            wanted_kg_per_ha: wanted,
            spread_m: case.spread_m,
            answer: twice(strictest(answers), case.twice),
            of_ammonium_phosphate: of_ammonium_phosphate(table),
        }))
    }

    fn equation(
        &self,
        slopes: &equation::Slopes,
        setting: &SeedSafe,
        ask: &Ask,
        case: &Case,
    ) -> Outcome<Said> {
        Ok(Said {
            title: slopes.title.clone(),
            source: format!("{}, {}", slopes.publisher, slopes.title),
            note: slopes.note.clone(),
            named: ask.named,
            above: ask.above,
            counted: Counted::Product,
            wanted_kg_per_ha: self.parts.iter().map(|part| part.kg_per_ha).sum(),
            spread_m: case.spread_m,
            answer: twice(by_equation(slopes, setting, case, self.parts)?, case.twice),
            of_ammonium_phosphate: false,
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

    /// What the tenderer crop that bears most may have, where its tables hold everything.
    fn tenderer(&self) -> Outcome<Option<Vec<Said>>> {
        let Some(own) = self.crop else {
            return Ok(None);
        };
        let mut best: Option<Vec<Said>> = None;
        for crop in crop_tolerance::all().filter(|crop| crop.bears_less_than(own)) {
            let said = self.say(Some(crop))?;
            let better = best
                .as_deref()
                .is_none_or(|known| least_share(known) < least_share(&said));
            if !said.is_empty() && better && self.unheld(&said).is_empty() {
                let remark = format!(
                    ", for {}, which bears less: a bound on the safe side",
                    crop.name()
                );
                best = Some(said.into_iter().map(|one| one.remarked(&remark)).collect());
            }
        }
        Ok(best)
    }

    /// The strictest of what hardier crops may have.
    fn hardier(&self) -> Outcome<Option<Said>> {
        let Some(own) = self.crop else {
            return Ok(None);
        };
        let mut least: Option<Said> = None;
        for crop in crop_tolerance::all().filter(|crop| own.bears_less_than(*crop)) {
            for said in self.say(Some(crop))? {
                let lower = least
                    .as_ref()
                    .is_none_or(|known| said.share() < known.share());
                if said.most_kg_per_ha().is_some() && lower {
                    let remark =
                        format!(", for {}, which bears more: no more than that", crop.name());
                    least = Some(said.remarked(&remark));
                }
            }
        }
        Ok(least)
    }

    /// Whether less lies there than every published bound for such crops, in dry soil and in the wider rows.
    fn below_all(&self) -> Option<Vec<Said>> {
        let group = self.crop.map_or(Group::Tender, Crop::group);
        let own = self.asks.iter().filter_map(|ask| match ask.source {
            Source::Table(table) if ask.named => Some(table),
            _ => None,
        });
        let tables: Vec<&Table> = own
            .chain(seed_safe::all().iter().map(|(_, table)| table))
            .filter(|table| !table.ceiling_only)
            .collect();
        let mut found: Vec<Said> = Vec::new();
        for table in tables {
            let counted = Counted::Nutrients(table.counts.clone());
            let bound = |part: &Part| {
                let Case {
                    row_m, spread_m, ..
                } = self.case;
                lowest_kg_per_ha(table, group, part.form?, row_m, spread_m)
            };
            let counting = self.parts.iter().filter(|part| counted.of(part) > 0.0);
            // A form that the table is not for leaves the whole row without its bound.
            let bounds: Option<Vec<f64>> = counting.map(bound).collect();
            let Some(bound) = bounds.and_then(|all| all.into_iter().reduce(f64::min)) else {
                continue;
            };
            let bound = if self.case.twice { bound / 2.0 } else { bound };
            let wanted: f64 = self.parts.iter().map(|part| counted.of(part)).sum();
            if wanted > bound {
                return None;
            }
            let of_ammonium_phosphate = of_ammonium_phosphate(table);
            let known = found.iter_mut().find(|known| {
                known.counted == counted && known.of_ammonium_phosphate == of_ammonium_phosphate
            });
            let lower = known
                .as_ref()
                .is_none_or(|known| known.most_kg_per_ha().is_some_and(|most| bound < most));
            if !lower {
                continue;
            }
            let said = Said {
                title: table.title.clone(),
                source: format!("{}, {}: {}", table.publisher, table.title, table.source),
                note: table.note.clone(),
                named: false,
                above: AboveLimit::Cap,
                counted,
                wanted_kg_per_ha: wanted,
                spread_m: self.case.spread_m,
                answer: Answer::Limit(Limit {
                    kg_per_ha: bound,
                    cell: format!(
                        "{}: not covered, but below the strictest bound that is published for such crops",
                        table.title
                    ),
                    conservative_bound: true,
                }),
                of_ammonium_phosphate,
            };
            match known {
                Some(known) => *known = said,
                None => found.push(said),
            }
        }
        self.unheld(&found).is_empty().then_some(found)
    }

    /// The part of what is wanted that the covered cases next to this one, made stricter, would allow; none where they do not
    /// hold everything.
    fn stricter_share(&self, own: &[Said]) -> Option<f64> {
        let made: Vec<Said> = own
            .iter()
            .filter_map(|said| {
                let mut said = said.clone();
                if let Answer::NotCovered(of) = &said.answer {
                    let kg_per_ha = of.stricter_kg_per_ha?;
                    said.answer = Answer::Limit(Limit {
                        kg_per_ha,
                        cell: String::new(),
                        conservative_bound: false,
                    });
                }
                Some(said)
            })
            .collect();
        let holds = self.unheld(&made).is_empty();
        holds.then(|| least_share(&made).min(least_share(own)).min(1.0))
    }
}

/// The strictest share of several.
pub(super) fn least_share(all: &[Said]) -> f64 {
    all.iter().map(Said::share).fold(f64::INFINITY, f64::min)
}

fn of_ammonium_phosphate(table: &Table) -> bool {
    matches!(
        table.form,
        Form::Only(FertiliserForm::MonoammoniumPhosphate | FertiliserForm::DiammoniumPhosphate)
    )
}

fn situation(case: &Case, form: FertiliserForm) -> Situation<'_> {
    Situation {
        crop: &case.crop,
        texture: &case.texture,
        dry: case.dry,
        row_m: case.row_m,
        spread_m: case.spread_m,
        form,
    }
}

fn uncovered(why: String) -> Answer {
    Answer::NotCovered(Uncovered {
        why,
        ceiling_kg_per_ha: None,
        stricter_kg_per_ha: None,
    })
}

/// The strictest of what a table says for the forms that lie together; one that it does not cover leaves all uncovered.
fn strictest(answers: Vec<Answer>) -> Answer {
    let mut answers = answers.into_iter();
    let Some(first) = answers.next() else {
        return uncovered("nothing lies there".to_owned());
    };
    answers.fold(first, |one, other| match (one, other) {
        (Answer::Limit(one), Answer::Limit(other)) => {
            Answer::Limit(if other.kg_per_ha < one.kg_per_ha {
                other
            } else {
                one
            })
        }
        (Answer::Limit(limit), Answer::NotCovered(of))
        | (Answer::NotCovered(of), Answer::Limit(limit)) => {
            let least =
                |value: Option<f64>| Some(value.unwrap_or(f64::INFINITY).min(limit.kg_per_ha));
            Answer::NotCovered(Uncovered {
                ceiling_kg_per_ha: least(of.ceiling_kg_per_ha),
                stricter_kg_per_ha: of
                    .stricter_kg_per_ha
                    .map(|stricter| stricter.min(limit.kg_per_ha)),
                why: of.why,
            })
        }
        (Answer::NotCovered(one), Answer::NotCovered(other)) => Answer::NotCovered(Uncovered {
            ceiling_kg_per_ha: [one.ceiling_kg_per_ha, other.ceiling_kg_per_ha]
                .into_iter()
                .flatten()
                .reduce(f64::min),
            stricter_kg_per_ha: one
                .stricter_kg_per_ha
                .zip(other.stricter_kg_per_ha)
                .map(|(one, other)| one.min(other)),
            why: one.why,
        }),
    })
}

/// Half of everything where the land is sown twice: both times it lies in the same soil.
fn twice(answer: Answer, twice: bool) -> Answer {
    if !twice {
        return answer;
    }
    let half = |value: Option<f64>| value.map(|value| value / 2.0);
    match answer {
        Answer::Limit(limit) => Answer::Limit(Limit {
            kg_per_ha: limit.kg_per_ha / 2.0,
            cell: format!("{}, halved where the headland is sown twice", limit.cell),
            ..limit
        }),
        Answer::NotCovered(of) => Answer::NotCovered(Uncovered {
            ceiling_kg_per_ha: half(of.ceiling_kg_per_ha),
            stricter_kg_per_ha: half(of.stricter_kg_per_ha),
            ..of
        }),
    }
}

fn by_equation(
    slopes: &equation::Slopes,
    setting: &SeedSafe,
    case: &Case,
    parts: &[Part],
) -> Outcome<Answer> {
    let mut forms: Vec<Option<FertiliserForm>> = parts.iter().map(|part| part.form).collect();
    forms.dedup();
    let name = match forms.as_slice() {
        [Some(FertiliserForm::Urea)] => "urea",
        [Some(FertiliserForm::UreaWithInhibitor)] => "urea with inhibitor",
        [Some(FertiliserForm::UreaAmmoniumNitrate)] => "urea ammonium nitrate 28",
        _ => {
            let known = text::list(slopes.materials.iter().map(|material| &material.name));
            return Ok(uncovered(format!(
                "{} has slopes for one of {known} alone",
                slopes.title
            )));
        }
    };
    let material = slopes.material(name)?;
    let known = material
        .slopes
        .keys()
        .find(|known| crop_tolerance::stands_for(known, &case.crop));
    let Some(crop) = known else {
        let known = text::list(material.slopes.keys());
        return Ok(uncovered(format!(
            "{} has slopes of {name} for {known}, not for '{}'",
            slopes.title, case.crop
        )));
    };
    let loss = setting.stand_loss_percent.unwrap_or(0.0);
    let factor = setting.moisture_texture_factor.unwrap_or(1.0);
    let kg_per_ha = material.kg_per_ha(crop, case.spread_m, case.row_m, loss, factor)?;
    // In dry soil the factor is above 1, and only the user knows by how much.
    if case.dry
        && !setting
            .moisture_texture_factor
            .is_some_and(|given| given > 1.0)
    {
        return Ok(Answer::NotCovered(Uncovered {
            why: format!(
                "{} needs moisture_texture_factor, above 1, for a dry seedbed",
                slopes.title
            ),
            ceiling_kg_per_ha: Some(kg_per_ha),
            stricter_kg_per_ha: Some(kg_per_ha * seed_safe::DRY_SHARE),
        }));
    }
    Ok(Answer::Limit(Limit {
        kg_per_ha,
        cell: format!(
            "{}: {name}, {crop}, {} % of the stand lost, factor {}",
            slopes.title,
            text::given(loss),
            text::given(factor)
        ),
        conservative_bound: false,
    }))
}
