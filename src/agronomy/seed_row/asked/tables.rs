//! One table or equation, asked about everything that lies with the seed.

use super::said::{Counted, Said};
use super::{Ask, Asked};
use crate::agronomy::seed_row::case::{Case, Part};
use crate::agronomy::seed_safe::{
    self, Answer, Form, Limit, Situation, Table, Uncovered, equation,
};
use crate::agronomy::{crop_tolerance, text};
use crate::findings::Outcome;
use crate::job::{FertiliserForm, SeedSafe};

impl<'a> Asked<'a> {
    pub(super) fn table(
        &self,
        table: &Table,
        ask: &Ask<'a>,
        case: &Case,
    ) -> Outcome<Option<Said<'a>>> {
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
            source: ask.source,
            named: ask.named,
            above: ask.above,
            counted,
            wanted_kg_per_ha: wanted,
            spread_m: case.spread_m,
            answer: twice(strictest(answers), case.twice),
            of_ammonium_phosphate: of_ammonium_phosphate(table),
        }))
    }

    pub(super) fn equation(
        &self,
        slopes: &equation::Slopes,
        setting: &SeedSafe,
        ask: &Ask<'a>,
        case: &Case,
    ) -> Outcome<Said<'a>> {
        Ok(Said {
            source: ask.source,
            named: ask.named,
            above: ask.above,
            counted: Counted::Product,
            wanted_kg_per_ha: self.parts.iter().map(|part| part.kg_per_ha).sum(),
            spread_m: case.spread_m,
            answer: twice(by_equation(slopes, setting, case, self.parts)?, case.twice),
            of_ammonium_phosphate: false,
        })
    }
}

pub(super) fn of_ammonium_phosphate(table: &Table) -> bool {
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
        words: case.words,
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
