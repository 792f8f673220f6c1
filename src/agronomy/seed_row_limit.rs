//! Fertiliser beside the seed: what is laid in the row against the limit of each table the job names.

use super::chain::{self, Draft};
use super::class::class_key;
use super::library::{SeedSafeTable, Tables};
use super::seed_safe::{
    Answer, Form, Situation, equation, row_load_g_per_m, seedbed_utilisation_percent,
};
use super::{nutrient, text};
use crate::findings::{Decision, Extent, Fault, Finding, Outcome, Place};
use crate::job::{
    AboveLimit, FertiliserForm, Job, Kind, Nutrient, Product, SeedSafe, row_spacing_m,
};
use crate::zones::Facts;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// What one table of seed-safe limits says about the land of one row of the rate table.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct SeedSafeCheck {
    /// Title of the table.
    pub table: String,
    /// Who publishes it.
    pub source: String,
    /// Conditions that the publisher states.
    #[serde(default, skip_serializing_if = "String::is_empty")]
    pub note: String,
    /// How the rate stands to its limit.
    pub verdict: Verdict,
    /// What the table adds up: "N", "N + K2O", or "product".
    pub counts: String,
    /// Of that, what would lie with the seed before the cap, kg/ha.
    pub wanted_kg_per_ha: f64,
    /// The same as it is sown, kg/ha.
    pub placed_kg_per_ha: f64,
    /// The limit, kg/ha; none where the table does not cover the case.
    pub limit_kg_per_ha: Option<f64>,
    /// What is left to the limit, kg/ha; none where the table does not cover the case.
    pub margin_kg_per_ha: Option<f64>,
    /// The cell, in words, or why the table does not cover the case.
    pub cell: String,
    /// True where the land is outside the table on the safe side: the true limit is higher.
    pub conservative_bound: bool,
    /// Width of the row by the spacing of rows, percent.
    pub seedbed_utilisation_percent: f64,
    /// As sown, all fertiliser in the air stream: kg/ha of N, P2O5, K2O, and N + K2O.
    pub laid: Laid,
    /// As sown: g of fertiliser in a metre of row.
    pub row_load_g_per_m: f64,
}

/// Nutrients laid in the row, kg/ha.
#[derive(Debug, Clone, Copy, Default, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Laid {
    /// N.
    pub n: f64,
    /// P2O5.
    pub p2o5: f64,
    /// K2O.
    pub k2o: f64,
    /// N and K2O together.
    pub n_and_k2o: f64,
}

/// How a row stands to a limit.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum Verdict {
    Within,
    /// The rate was cut.
    Capped,
    /// More than the table allows, as the job lets it be.
    Above,
    NotCovered,
}

/// One limit on its way: the check without what is known only after rounding.
struct Open<'a> {
    check: SeedSafeCheck,
    counted: Counted,
    setting: &'a SeedSafe,
}

/// What a table adds up.
enum Counted {
    Nutrients(Vec<Nutrient>),
    Product,
}

impl Counted {
    fn kg_per_ha(&self, product: &Product, kg_per_ha: f64) -> f64 {
        match self {
            Self::Product => kg_per_ha,
            Self::Nutrients(nutrients) => {
                let grade = product.grade.unwrap_or_default();
                nutrients
                    .iter()
                    .map(|of| nutrient::supply_kg_per_ha(kg_per_ha, &grade, *of))
                    .sum()
            }
        }
    }

    fn words(&self) -> String {
        match self {
            Self::Product => "product".to_owned(),
            Self::Nutrients(nutrients) => {
                let symbols: Vec<&str> = nutrients.iter().map(|of| nutrient::symbol(*of)).collect();
                symbols.join(" + ")
            }
        }
    }
}

/// Whether a product is fertiliser that lies with the seed.
pub(super) fn is_placed(product: &Product) -> bool {
    product.kind == Kind::Fertiliser && !product.surface_applied
}

/// Holds the drafts of all products (job order) against the job's limits: gives those that lay too much a
/// cap, finishes all limits of rates, and writes the outcome to the fertilisers.
///
/// # Errors
/// A class without a texture, a table that was not read, limits that cannot be.
pub(super) fn settle(
    job: &Job,
    tables: &Tables,
    facts: &Facts,
    drafts: &mut [Draft],
    findings: &mut Vec<Finding>,
) -> Outcome<()> {
    let mut open = Vec::new();
    let lies = drafts
        .iter()
        .any(|draft| is_placed(draft.product) && draft.expected() > 0.0);
    if lies {
        for setting in &job.seed_safe {
            open.push(ask(job, tables, setting, facts, drafts)?);
        }
    }
    cap(&open, drafts);
    for draft in drafts.iter_mut() {
        chain::limit(draft)
            .map_err(|fault| chain::blame(job, draft.product, Some(facts), *fault))?;
    }
    for open in open {
        let check = close(job, open, drafts);
        say(job, &check, drafts, findings);
        for draft in drafts.iter_mut().filter(|draft| is_placed(draft.product)) {
            chain::checked(&check, draft)?;
        }
    }
    Ok(())
}

/// What a table says about the land, with the rates as they would be without a cap.
fn ask<'a>(
    job: &Job,
    tables: &Tables,
    setting: &'a SeedSafe,
    facts: &Facts,
    drafts: &[Draft],
) -> Outcome<Open<'a>> {
    // The job's rules ask for the row spacing.
    let row_m = row_spacing_m(job).unwrap_or(0.0);
    let texture = texture(job, setting, facts)?;
    let laid = || {
        drafts
            .iter()
            .filter(|draft| is_placed(draft.product) && draft.expected() > 0.0)
    };
    let mut forms: Vec<FertiliserForm> = Vec::new();
    for form in laid().filter_map(|draft| draft.product.form) {
        if !forms.contains(&form) {
            forms.push(form);
        }
    }
    let (title, source, note, counted, answer) = match tables.limits(setting)? {
        SeedSafeTable::Limits(table) => {
            let mut answer = Answer::NotCovered("no form of fertiliser is given".to_owned());
            for form in &forms {
                answer = table.limit(&Situation {
                    crop: &setting.crop,
                    texture: &texture,
                    dry: setting.dry,
                    row_m,
                    spread_m: setting.at_opener_m(),
                    form: Form::from(*form),
                })?;
                // One form that the table is not for leaves the whole row of it uncovered.
                if matches!(answer, Answer::NotCovered(_)) {
                    break;
                }
            }
            let source = format!("{}, {}: {}", table.publisher, table.title, table.source);
            let counted = Counted::Nutrients(table.counts.clone());
            (
                table.title.clone(),
                source,
                table.note.clone(),
                counted,
                answer,
            )
        }
        SeedSafeTable::Equation(slopes) => {
            let source = format!("{}, {}", slopes.publisher, slopes.title);
            let answer = by_equation(slopes, setting, row_m, &forms)?;
            (
                slopes.title.clone(),
                source,
                slopes.note.clone(),
                Counted::Product,
                answer,
            )
        }
    };
    let wanted = laid()
        .map(|draft| counted.kg_per_ha(draft.product, draft.expected()))
        .sum();
    let (limit, cell, conservative_bound) = match answer {
        Answer::Limit(limit) => (Some(limit.kg_per_ha), limit.cell, limit.conservative_bound),
        Answer::NotCovered(why) => (None, why, false),
    };
    Ok(Open {
        check: SeedSafeCheck {
            table: title,
            source,
            note,
            verdict: Verdict::NotCovered,
            counts: counted.words(),
            wanted_kg_per_ha: wanted,
            placed_kg_per_ha: wanted,
            limit_kg_per_ha: limit,
            margin_kg_per_ha: None,
            cell,
            conservative_bound,
            seedbed_utilisation_percent: seedbed_utilisation_percent(setting.at_opener_m(), row_m),
            laid: Laid::default(),
            row_load_g_per_m: 0.0,
        },
        counted,
        setting,
    })
}

fn by_equation(
    slopes: &equation::Slopes,
    setting: &SeedSafe,
    row_m: f64,
    forms: &[FertiliserForm],
) -> Outcome<Answer> {
    let name = match forms {
        [FertiliserForm::Urea] => "urea",
        [FertiliserForm::UreaWithInhibitor] => "urea with inhibitor",
        [FertiliserForm::UreaAmmoniumNitrate] => "urea ammonium nitrate 28",
        _ => {
            let known = text::list(slopes.materials.iter().map(|material| &material.name));
            return Ok(Answer::NotCovered(format!(
                "{} has slopes for one of {known} alone",
                slopes.title
            )));
        }
    };
    let material = slopes.material(name)?;
    if !material.slopes.contains_key(&setting.crop) {
        let known = text::list(material.slopes.keys());
        return Ok(Answer::NotCovered(format!(
            "{} has slopes of {name} for {known}, not for '{}'",
            slopes.title, setting.crop
        )));
    }
    let loss = setting.stand_loss_percent.unwrap_or(0.0);
    let factor = setting.moisture_texture_factor.unwrap_or(1.0);
    if setting.dry && setting.moisture_texture_factor.is_none() {
        return Ok(Answer::NotCovered(format!(
            "{} needs moisture_texture_factor for a dry seedbed",
            slopes.title
        )));
    }
    let kg_per_ha =
        material.kg_per_ha(&setting.crop, setting.at_opener_m(), row_m, loss, factor)?;
    Ok(Answer::Limit(super::seed_safe::Limit {
        kg_per_ha,
        cell: format!(
            "{}: {name}, {}, {} % of the stand lost, factor {}",
            slopes.title,
            setting.crop,
            text::given(loss),
            text::given(factor)
        ),
        conservative_bound: false,
    }))
}

/// The texture that a table is asked about.
fn texture(job: &Job, setting: &SeedSafe, facts: &Facts) -> Outcome<String> {
    let Some(words) = &setting.texture_by_class else {
        return Ok(setting.texture.clone().unwrap_or_default());
    };
    let place = job
        .layers
        .iter()
        .position(|layer| layer.name == words.layer);
    let class = place.and_then(|place| facts.classes.get(place));
    let class = class.map_or(String::new(), |class| class_key(class));
    let found = words
        .by_class
        .iter()
        .find(|(known, _)| class_key(known) == class)
        .map(|(_, word)| word)
        .or(words.otherwise.as_ref());
    found.cloned().ok_or_else(|| {
        let known = words.by_class.keys().map(String::as_str);
        let meant = text::nearest(&class, known.clone())
            .map_or(String::new(), |near| format!("; did you mean '{near}'?"));
        Fault::input(
            "agronomy.class_without_value",
            chain::job_file(job),
            format!(
                "seed_safe.texture_by_class has no texture for class '{class}' of layer '{}'",
                words.layer
            ),
            format!("the classes it knows: {}{meant}", text::list(known)),
            "Add the class to 'by_class', or set 'otherwise' for all classes not named.",
        )
    })
}

/// Cuts all fertilisers in the stream by the strictest limit that caps.
fn cap(open: &[Open], drafts: &mut [Draft]) {
    for one in open {
        let (Some(limit), AboveLimit::Cap) = (one.check.limit_kg_per_ha, one.setting.above) else {
            continue;
        };
        if one.check.wanted_kg_per_ha <= limit * (1.0 + 1e-12) {
            continue;
        }
        let share = limit / one.check.wanted_kg_per_ha;
        for draft in drafts.iter_mut().filter(|draft| is_placed(draft.product)) {
            let counted = one.counted.kg_per_ha(draft.product, 1.0);
            // A product with nothing of what is counted harms nobody by this table.
            if counted > 0.0 {
                let cap = draft.expected() * share;
                if draft.cap.as_ref().is_none_or(|known| cap < known.kg_per_ha) {
                    draft.cap = Some(chain::Cap {
                        kg_per_ha: cap,
                        limit_kg_per_ha: limit,
                        wanted_kg_per_ha: one.check.wanted_kg_per_ha,
                        counts: one.check.counts.clone(),
                        cell: one.check.cell.clone(),
                        source: one.check.source.clone(),
                    });
                }
            }
        }
    }
}

/// Fills in what is known once the rates are final.
fn close(job: &Job, open: Open, drafts: &[Draft]) -> SeedSafeCheck {
    let mut check = open.check;
    let placed = || drafts.iter().filter(|draft| is_placed(draft.product));
    check.placed_kg_per_ha = placed()
        .map(|draft| open.counted.kg_per_ha(draft.product, draft.sown()))
        .sum();
    let laid = |of: Nutrient| -> f64 {
        placed()
            .map(|draft| {
                let grade = draft.product.grade.unwrap_or_default();
                nutrient::supply_kg_per_ha(draft.sown(), &grade, of)
            })
            .sum()
    };
    let (n, p2o5, k2o) = (laid(Nutrient::N), laid(Nutrient::P2o5), laid(Nutrient::K2o));
    check.laid = Laid {
        n,
        p2o5,
        k2o,
        n_and_k2o: n + k2o,
    };
    let kg_per_ha = placed().map(Draft::sown).sum();
    check.row_load_g_per_m = row_load_g_per_m(kg_per_ha, row_spacing_m(job).unwrap_or(0.0));
    if let Some(limit) = check.limit_kg_per_ha {
        check.margin_kg_per_ha = Some(limit - check.placed_kg_per_ha);
        check.verdict = if check.placed_kg_per_ha > limit * (1.0 + 1e-9) {
            Verdict::Above
        } else if check.wanted_kg_per_ha > limit * (1.0 + 1e-12) {
            Verdict::Capped
        } else {
            Verdict::Within
        };
    }
    check
}

/// Tells what somebody should look at.
fn say(job: &Job, check: &SeedSafeCheck, drafts: &[Draft], findings: &mut Vec<Finding>) {
    let placed = drafts
        .iter()
        .filter(|draft| is_placed(draft.product) && draft.expected() > 0.0);
    let ids = || placed.clone().map(|draft| draft.product.id.as_str());
    let kg_per_ha = placed.clone().map(Draft::sown).sum();
    let who = text::list(ids());
    let place: Place = chain::job_file(job);
    match (check.verdict, check.limit_kg_per_ha) {
        (Verdict::NotCovered, _) => findings.push(Finding::decision(
            Decision::SeedRowNotCovered,
            place,
            format!(
                "{who} with the seed: {}; no limit was applied. Take another table, or decide by the label and local advice",
                check.cell
            ),
        )
        .of_products(ids())
        .extent(Extent::KgPerHa(kg_per_ha))),
        (Verdict::Above, Some(limit)) => findings.push(Finding::warning(
            "seed_safe.above",
            place,
            format!(
                "{who}: {} kg/ha {} with the seed is more than {} kg/ha ({}); the job lets it be, and the stand is at risk",
                text::rate(check.placed_kg_per_ha),
                check.counts,
                text::rate(limit),
                check.cell
            ),
        )),
        (Verdict::Capped, Some(limit)) => findings.push(Finding::warning(
            "seed_safe.capped",
            place,
            format!(
                "{who}: {} kg/ha {} wanted with the seed, at most {} ({}); cut to {}, the rest is the balance to broadcast",
                text::rate(check.wanted_kg_per_ha),
                check.counts,
                text::rate(limit),
                check.cell,
                text::rate(check.placed_kg_per_ha)
            ),
        )),
        _ => {}
    }
}
