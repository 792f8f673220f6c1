//! What one field needs: from a job that is planned here, or from a plan made earlier.

use crate::findings::{Fault, Finding, Outcome, Place, Severity};
use crate::job::{Job, Kind};
use crate::plan;
use crate::tally::orders::{Article, FieldKg, Need, Wanted};
use serde::{Deserialize, Serialize};
use std::fs;
use std::path::{Path, PathBuf};

/// The layout of plan.json that is understood.
const VERSION: u64 = 1;

/// A plan is large, but not that large.
const MOST_BYTES: u64 = 500_000_000;

/// Where the needs of a field come from.
#[derive(Debug, Serialize)]
pub(in crate::cli) struct Source {
    pub file: String,
    pub plan: String,
    pub field: String,
    pub farm: String,
    pub mapped_ha: f64,
    /// Findings that need a decision.
    pub to_decide: usize,
}

#[derive(Deserialize)]
struct Head {
    format: String,
    version: u64,
}

#[derive(Deserialize)]
struct PlanFile {
    id: String,
    job: Job,
    tally: TallyPart,
    findings: Vec<FindingPart>,
}

#[derive(Deserialize)]
struct TallyPart {
    mapped_m2: f64,
    products: Vec<ProductPart>,
}

#[derive(Deserialize)]
struct ProductPart {
    id: String,
    steps: Vec<StepPart>,
}

#[derive(Deserialize)]
struct StepPart {
    step: String,
    kg: f64,
}

#[derive(Deserialize)]
struct FindingPart {
    severity: String,
}

/// The needs of a field, by product.
pub(super) fn of(path: &Path) -> Outcome<(Source, Vec<Wanted>)> {
    let inside = path.join("plan.json");
    if path.is_dir() && inside.is_file() {
        return from_plan(&inside);
    }
    let ending = path.extension().unwrap_or_default();
    if ending.eq_ignore_ascii_case("json") {
        return from_plan(path);
    }
    from_job(path)
}

fn from_job(path: &Path) -> Outcome<(Source, Vec<Wanted>)> {
    let plan = plan::run(&Job::load(path)?)?;
    let products = plan.tally.products.iter().map(|product| ProductPart {
        id: product.id.clone(),
        steps: product
            .steps
            .iter()
            .map(|step| StepPart {
                step: step.step.to_owned(),
                kg: step.kg,
            })
            .collect(),
    });
    let products: Vec<ProductPart> = products.collect();
    let decision = |finding: &&Finding| finding.severity == Severity::Decision;
    let to_decide = plan.findings.iter().filter(decision).count();
    let mapped_m2 = plan.tally.mapped_m2;
    Ok(needs(
        path,
        plan.id,
        &plan.job,
        (mapped_m2, &products),
        to_decide,
    ))
}

fn from_plan(path: &Path) -> Outcome<(Source, Vec<Wanted>)> {
    let text = read(path)?;
    let head: Head = serde_json::from_str(&text).map_err(|error| no_plan(path, &error))?;
    if head.format != "twinsow-plan" || head.version != VERSION {
        return Err(Fault::input(
            "order.no_plan",
            Place::file(path),
            format!("this is '{}' version {}", head.format, head.version),
            format!("'twinsow-plan' version {VERSION}"),
            "plan the job again with this program, or name the job file",
        ));
    }
    let plan: PlanFile = serde_json::from_str(&text).map_err(|error| no_plan(path, &error))?;
    let decisions = plan.findings.iter().filter(|f| f.severity == "decision");
    let to_decide = decisions.count();
    Ok(needs(
        path,
        plan.id,
        &plan.job,
        (plan.tally.mapped_m2, &plan.tally.products),
        to_decide,
    ))
}

fn needs(
    path: &Path,
    plan: String,
    job: &Job,
    (mapped_m2, products): (f64, &[ProductPart]),
    to_decide: usize,
) -> (Source, Vec<Wanted>) {
    let mut wanted = Vec::new();
    for part in products {
        let Some(product) = job.products.iter().find(|known| known.id == part.id) else {
            continue;
        };
        let mut kg = FieldKg::default();
        for step in &part.steps {
            match step.step.as_str() {
                "reserve" => kg.reserve += step.kg,
                "residue" => kg.residue += step.kg,
                // The list rounds to packs itself.
                "packs" => {}
                _ => kg.sown += step.kg,
            }
        }
        wanted.push(Wanted {
            article: Article {
                product: product.name.clone(),
                kind: match product.kind {
                    Kind::Seed => "seed".to_owned(),
                    Kind::Fertiliser => "fertiliser".to_owned(),
                },
                lot: product.lot.clone(),
                dressing: product.dressing.clone(),
                pack_kg: product.pack_kg,
            },
            need: Need {
                field: job.field.name.clone(),
                kg,
            },
            price_per_t: product.price_per_t,
            place: Place::file(path),
        });
    }
    let source = Source {
        file: path.display().to_string(),
        plan,
        field: job.field.name.clone(),
        farm: job.field.farm.clone(),
        mapped_ha: mapped_m2 / 10_000.0,
        to_decide,
    };
    (source, wanted)
}

fn read(path: &Path) -> Outcome<String> {
    let unreadable = |error: std::io::Error| {
        Fault::input(
            "order.unreadable",
            Place::file(path),
            format!("the plan cannot be read: {error}"),
            "a plan.json that you may read",
            "check the path and its permissions",
        )
    };
    let bytes = fs::metadata(path).map_err(unreadable)?.len();
    if bytes > MOST_BYTES {
        return Err(Fault::input(
            "order.too_large",
            Place::file(path),
            format!("the file has {bytes} bytes"),
            format!("a plan.json of up to {MOST_BYTES} bytes"),
            "name the plan.json of a plan, or its job file",
        ));
    }
    fs::read_to_string(PathBuf::from(path)).map_err(unreadable)
}

fn no_plan(path: &Path, error: &serde_json::Error) -> Box<Fault> {
    Fault::input(
        "order.no_plan",
        Place::file(path).line(error.line().max(1)),
        format!("this is no plan: {error}"),
        "the plan.json of a plan",
        "name the folder of the plan, or its job file",
    )
}
