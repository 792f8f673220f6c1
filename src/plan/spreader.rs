//! The plans of the spreader: a map of its own of what is left to broadcast, at its own width, in its own steps.
//! Method: docs/methods/spreader.md.
//!
//! Such a plan is a plan like any other, of a job with one product and one machine, on the land of the drill's plan: its layer is
//! what that plan leaves to broadcast. So everything that holds for files of a drill holds for those of a spreader.

use super::rated_land::RatedLand;
use super::spreader_job::{held, own_job};
use super::{Options, Plan, Prepared, decisions, rate};
use crate::agronomy::{self, SpreadRates};
use crate::coordinates::PlaneXy;
use crate::findings::{Concerns, Decision, Fault, Finding, Outcome, Place, Severity};
use crate::geometry::offset::outset;
use crate::geometry::{Ring, Shape};
use crate::job::{Accepted, Job, Product, Spreader, balance_id, is_spread};
use crate::land::{Land, widening_m};
use crate::map;
use crate::read::{DeclaredCrs, Feature, Geometry, Layer, Polygon, Value};
use crate::tally::{SpreadTally, Tally};
use crate::units::M2_PER_HA;
use crate::zones::{self, ZoneLayers};
use std::collections::BTreeSet;
use std::path::PathBuf;
use std::sync::Arc;

/// The spreader's plan for the balance of one product.
pub struct SpreaderPlan {
    /// The product that leaves the balance, by its place in the job.
    pub of: usize,
    /// Its folder in that of the drill's plan.
    pub folder: String,
    /// The plan itself.
    pub plan: Plan,
    /// Its land, where that was asked for.
    pub land: Option<Arc<Prepared>>,
}

/// Attribute of its land, and the folder of the only spreader's plan.
pub(super) const WANTED: &str = "kg_per_ha";
pub(super) const FOLDER: &str = "spreader";

/// What the drill's plan has for that of the spreader, and takes from it.
pub(super) struct OfDrill<'a> {
    /// Its id.
    pub id: &'a str,
    /// Its findings, signed.
    pub findings: &'a mut Vec<Finding>,
    /// Decisions about what is broadcast alone, as [`set_aside`] gives them.
    pub of_spread: Vec<Finding>,
    /// What is counted; what the spreader makes of each balance goes into it.
    pub tally: &'a mut Tally,
}

/// Takes the decisions that concern nothing but what is broadcast out of those of the drill's plan: they hold the spreader's files and
/// not the drill's, and are signed for in the words of the spreader's job.
pub(super) fn set_aside(findings: &mut Vec<Finding>, job: &Job) -> Vec<Finding> {
    let (aside, kept) = std::mem::take(findings).into_iter().partition(|finding| {
        let alone = match &finding.concerns {
            None | Some(Concerns::Field) => false,
            Some(Concerns::Products(ids)) => {
                !ids.is_empty() && ids.iter().all(|id| is_spread(job, id))
            }
        };
        alone && finding.severity == Severity::Decision
    });
    *findings = kept;
    aside
}

/// A plan for the spreader for each product that leaves something, where the job names a spreader.
///
/// # Errors
/// A job with a spreader and nothing that could be left to broadcast; limits that leave no rate; what [`rate`] refuses.
pub(super) fn plans(
    land: &RatedLand,
    job: &Job,
    options: &Options,
    drill: &mut OfDrill,
) -> Outcome<Vec<SpreaderPlan>> {
    let Some(spreader) = &job.spreader else {
        return Ok(Vec::new());
    };
    let leaving = job.products.iter().enumerate();
    let leaving = leaving.filter(|(_, product)| agronomy::has_balance(job, product));
    let leaving: Vec<usize> = leaving.map(|(nth, _)| nth).collect();
    if leaving.is_empty() {
        return Err(nothing_to_spread(job));
    }
    let mut plans: Vec<SpreaderPlan> = Vec::new();
    let OfDrill {
        id,
        findings,
        of_spread,
        tally,
    } = drill;
    for &of in &leaving {
        let Some(product) = job.products.get(of) else {
            continue;
        };
        let rates = SpreadRates::of(job, spreader, product)?;
        let wanted = Wanted::of(land, of);
        if wanted.classes.iter().all(|class| class.kg_per_ha == 0.0) {
            findings.push(Finding::note(
                "spreader.nothing_left",
                Place::file(&job.file),
                format!(
                    "nothing of '{}' is left to broadcast: the spreader has no map of it",
                    product.id
                ),
            ));
            continue;
        }
        let mut own_job = own_job(job, spreader, of, &wanted, &rates);
        let id_of_balance = balance_id(product);
        own_job.accepted = accepted(job, &id_of_balance, findings);
        let (mut prepared, found) = prepared(land, job, product, &own_job, &wanted)?;
        let about_it = of_spread
            .iter()
            .filter_map(|of| inherited(of, &product.id, &id_of_balance));
        prepared.findings.extend(about_it);
        let quiet = Options {
            drawing: false,
            tell: &super::progress::quiet,
            ..*options
        };
        let mut plan = rate(&prepared, &own_job, &quiet)?;
        let of_drill = findings.iter();
        let of_drill = of_drill.filter_map(|of| inherited(of, &product.id, &id_of_balance));
        let of_drill: Vec<Finding> = of_drill.collect();
        // What is asked of the field or of the product once is not asked again.
        plan.findings
            .retain(|own| !of_drill.iter().any(|of| covers(of, own, product)));
        plan.of_drill = decisions::cases(&of_drill);
        plan.spreader_of = Some((*id).to_owned());
        plan.findings
            .splice(0..0, found.into_iter().chain(of_drill));
        let folder = match leaving.len() {
            1 => FOLDER.to_owned(),
            _ => format!("{FOLDER}-{}", product.id),
        };
        let steps_kg = wanted.changed_kg(land, of, &rates);
        told(&plan, product.id.as_str(), steps_kg, findings);
        if let Some(at) = tally.balances.iter().position(|own| own.of == product.id) {
            let own = tally.balances.remove(at);
            let spread = spread_tally(&plan, &folder, spreader);
            tally
                .balances
                .insert(at, own.with_spreader(spread, steps_kg, product, job));
        }
        plans.push(SpreaderPlan {
            of,
            folder,
            plan,
            land: options.spreader_land.then(|| Arc::new(prepared)),
        });
    }
    let spread = |id: &String| {
        let mut all = plans.iter().filter_map(|own| own.plan.job.products.first());
        all.any(|product| product.id == *id)
    };
    findings.extend(unspread(of_spread, &spread));
    findings.extend(decisions::for_nothing_spread(job, &spread));
    Ok(plans)
}

/// Decisions about what is broadcast where nothing of it is: there is nothing to decide, and what was found stays worth a look.
fn unspread(of_spread: &[Finding], spread: &dyn Fn(&String) -> bool) -> Vec<Finding> {
    let without = of_spread.iter().filter(|finding| match &finding.concerns {
        Some(Concerns::Products(ids)) => !ids.iter().any(spread),
        None | Some(Concerns::Field) => true,
    });
    let told = without.map(|finding| Finding {
        severity: Severity::Warning,
        ..finding.clone()
    });
    told.collect()
}

/// A wanted rate, and the land that has it.
pub(super) struct Class {
    pub(super) name: String,
    pub(super) kg_per_ha: f64,
    shapes: Vec<Shape>,
}

/// What is left to broadcast of one product, by rates.
pub(super) struct Wanted {
    pub(super) classes: Vec<Class>,
}

impl Wanted {
    fn of(land: &RatedLand, of: usize) -> Self {
        let units = land.units();
        let names: Vec<String> = wanted(land, of).map(name_of).collect();
        let all: BTreeSet<&str> = names.iter().map(String::as_str).collect();
        let all: Vec<&str> = all.into_iter().collect();
        let number = |row: u32| {
            let name = names.get(row as usize)?;
            let at = all.binary_search(&name.as_str()).ok()?;
            u32::try_from(at).ok()
        };
        let group: Vec<Option<u32>> = units
            .row_of_face
            .iter()
            .map(|row| number((*row)?))
            .collect();
        let mut classes: Vec<Class> = all
            .iter()
            .map(|name| Class {
                name: (*name).to_owned(),
                kg_per_ha: name.parse().unwrap_or(0.0),
                shapes: Vec::new(),
            })
            .collect();
        for (at, shape) in units.arrangement.dissolve(&group) {
            if let Some(class) = classes.get_mut(at as usize) {
                class.shapes.push(shape);
            }
        }
        Self { classes }
    }

    /// What least, most and step change on all land with a balance, kg.
    fn changed_kg(&self, land: &RatedLand, of: usize, rates: &SpreadRates) -> f64 {
        let areas = land.rates.rows.iter().map(|row| row.area_m2);
        let each = wanted(land, of).zip(areas);
        let each = each.map(|(wanted, m2)| {
            let known: f64 = name_of(wanted).parse().unwrap_or(0.0);
            (rates.rate(known) - wanted) * m2 / M2_PER_HA
        });
        each.sum()
    }

    /// The land by wanted rates as a zone layer in the field's plane. Its points are those of the drill's land, to the unit.
    fn layer(&self, file: PathBuf) -> Layer<PlaneXy> {
        let ring = |ring: &Ring| -> Vec<PlaneXy> {
            let points = ring.iter().chain(ring.first());
            points.map(|point| point.place()).collect()
        };
        let polygon = |shape: &Shape| Polygon {
            exterior: ring(&shape.exterior),
            holes: shape.holes.iter().map(ring).collect(),
        };
        let features = self.classes.iter().map(|class| Feature {
            name: class.name.clone(),
            geometry: Geometry::Polygons(class.shapes.iter().map(polygon).collect()),
            values: vec![Value::Text(class.name.clone())],
        });
        Layer {
            file,
            format: "the drill's plan",
            table: None,
            crs: DeclaredCrs::None,
            attributes: vec![WANTED.to_owned()],
            features: features.collect(),
            findings: Vec::new(),
        }
    }
}

/// Per row of the drill's rate table what is left of a product, kg/ha.
fn wanted<'a>(land: &'a RatedLand, of: usize) -> impl Iterator<Item = f64> + 'a {
    let rows = land.rates.rows.iter();
    rows.map(move |row| {
        let balance = row.rates.get(of).and_then(|rate| rate.balance.as_ref());
        balance.map_or(0.0, |balance| balance.kg_per_ha)
    })
}

/// A wanted rate in words, down to 0.0001 kg/ha, so that no class says more than is wanted.
fn name_of(kg_per_ha: f64) -> String {
    let steps = (kg_per_ha * 1e4 + 1e-6).floor();
    format!("{:.4}", steps / 1e4)
}

/// The geometry of the spreader's plan, from that of the drill's: the same field, setbacks at the spreader's reach.
fn prepared(
    land: &RatedLand,
    job: &Job,
    placed: &Product,
    own: &Job,
    wanted: &Wanted,
) -> Outcome<(Prepared, Vec<Finding>)> {
    let of_drill = land.prepared;
    let frame = &of_drill.frame;
    let reach_m = widening_m(&own.drill);
    let mut findings = Vec::new();
    let (mut setbacks, mut to_keep) = (Vec::new(), Vec::new());
    for nth in held(job, &placed.id, &balance_id(placed)) {
        let (Some(kept), Some(setback)) = (of_drill.land.to_keep.get(nth), job.setbacks.get(nth))
        else {
            continue;
        };
        setbacks.push(outset(kept, &[], &[], reach_m));
        to_keep.push(kept.clone());
        findings.push(Finding::note(
            "spreader.setback",
            Place::file(&job.file),
            format!(
                "setback '{}': the spreader is off within {} ({} to keep + {} that it throws, its position error and its run-on)",
                setback.name,
                own.report.units.given_length(setback.distance_m + reach_m),
                own.report.units.given_length(setback.distance_m),
                own.report.units.given_length(reach_m)
            ),
        ));
    }
    let own_land = Land {
        headland_m: 0.0,
        interior: of_drill.land.field.clone(),
        setbacks,
        to_keep,
        guide: None,
        ..of_drill.land.clone()
    };
    let layer = wanted.layer(job.file.clone());
    let layers = ZoneLayers {
        zones: std::slice::from_ref(&layer),
        special_areas: &[],
    };
    let (units, found) = zones::overlay(&own_land, &layers, own, frame)?;
    findings.extend(found);
    let cells = map::cells(&units, &own_land, own, frame)?;
    let prepared = Prepared {
        frame: frame.clone(),
        land: own_land,
        units,
        cells,
        drive: None,
        cleaned: vec![Vec::new()],
        zonal: Vec::new(),
        surfaces: Vec::new(),
        tramlines: None,
        bouts: Vec::new(),
        spread_ways: Vec::new(),
        at_tender: Vec::new(),
        trial_areas: Vec::new(),
        tables: of_drill.tables.clone(),
        on_terminal: Default::default(),
        inputs: of_drill.inputs.clone(),
        findings: Vec::new(),
    };
    Ok((prepared, findings))
}

/// Signatures of the job for decisions about what is broadcast that only the spreader's plan has.
fn accepted(job: &Job, id: &str, of_drill: &[Finding]) -> Vec<Accepted> {
    let of_drill = decisions::cases(of_drill);
    let own = job.accepted.iter().filter(|entry| {
        let about_it = entry.products.len() == 1 && entry.products.iter().all(|of| of == id);
        about_it && !of_drill.iter().any(|case| case.is_of_entry(entry))
    });
    own.cloned().collect()
}

/// Whether an inherited decision is what the spreader's plan asks again: of the whole field, or of a product that is also what is
/// broadcast.
fn covers(of_drill: &Finding, own: &Finding, placed: &Product) -> bool {
    let of_field = matches!(own.concerns, None | Some(Concerns::Field));
    own.severity == Severity::Decision
        && (of_field || placed.balance.is_none())
        && decisions::same_decision(of_drill, own)
        && own.area_m2.unwrap_or(0.0) <= of_drill.area_m2.unwrap_or(0.0)
        && own.extent.is_none()
}

/// A decision of the drill's plan that concerns what is broadcast, open or signed: it holds the spreader's files as well.
fn inherited(finding: &Finding, placed: &str, id: &str) -> Option<Finding> {
    if finding.severity != Severity::Decision {
        return None;
    }
    // Its own plan holds closed periods against the day of spreading, and asks for it where there is none.
    if Decision::of_code(&finding.code) == Some(Decision::ClosedPeriodWithoutDate) {
        return None;
    }
    let concerns = match &finding.concerns {
        None | Some(Concerns::Field) => finding.concerns.clone(),
        Some(Concerns::Products(ids)) => {
            let meant = ids.iter().any(|known| known == placed || known == id);
            Some(Concerns::Products(vec![id.to_owned()]))
                .filter(|_| meant)?
                .into()
        }
    };
    Some(Finding {
        concerns,
        ..finding.clone()
    })
}

/// What the drill's plan says of the spreader's.
fn told(plan: &Plan, placed: &str, steps_kg: f64, findings: &mut Vec<Finding>) {
    let place = || Place::file(&plan.job.file);
    let map_kg = plan
        .tally
        .planned
        .products
        .first()
        .map_or(0.0, |own| own.map_kg());
    findings.push(Finding::note(
        "spreader.map",
        place(),
        format!(
            "what is left of '{placed}' has a map of its own for the spreader, plan {}: {}, of which least, most and step make {}",
            plan.id,
            plan.job.report.units.mass(map_kg, 1),
            plan.job.report.units.more_mass(steps_kg, 1)
        ),
    ));
    let own: Vec<&str> = plan
        .findings
        .iter()
        .filter(|of| of.is_open())
        .map(|of| of.code.as_ref())
        .collect();
    if !own.is_empty() {
        findings.push(Finding::warning(
            "spreader.not_ready",
            place(),
            format!(
                "the spreader's map of what is left of '{placed}' is held back until it is decided: {}",
                own.join(", ")
            ),
        ));
    }
}

fn spread_tally(plan: &Plan, folder: &str, spreader: &Spreader) -> SpreadTally {
    let own = plan.tally.planned.products.first();
    SpreadTally {
        plan: plan.id.clone(),
        folder: folder.to_owned(),
        machine: spreader.name.clone(),
        spread_m2: own.map_or(0.0, |own| own.sown_m2),
        lowest_kg_per_ha: own.map_or(0.0, |own| own.lowest_kg_per_ha),
        highest_kg_per_ha: own.map_or(0.0, |own| own.highest_kg_per_ha),
        map_kg: own.map_or(0.0, |own| own.map_kg()),
        held_back: plan.holds_any_back(),
    }
}

fn nothing_to_spread(job: &Job) -> Box<Fault> {
    Fault::input(
        "spreader.nothing_to_spread",
        Place::file(&job.file),
        "the job has [spreader], and no product of it can leave anything to broadcast",
        "a fertiliser placed with the seed that is capped, or has placed_percent or [product.balance]",
        "remove [spreader], or say under the fertiliser what of it is broadcast",
    )
}
