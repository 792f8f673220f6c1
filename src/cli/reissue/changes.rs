//! What is to be changed in the job file: the options of a reissue as changes of its keys.

use super::super::{calibrate, edit, plan};
use super::Args;
use crate::edit::desk::CHANGED_OUTSIDE;
use crate::edit::key::KeyPath;
use crate::edit::many::{self, Change};
use crate::findings::{Blame, Fault, Outcome, Place};
use crate::job::{Job, Product};
use serde_json::{Value as Json, json};
use std::path::Path;

/// A change that is asked for.
pub(super) struct Asked {
    pub change: Change,
    /// What it is, for people.
    pub words: String,
    /// The option that asks for it, as it was typed.
    pub option: String,
}

/// A fault of the job as it would be changed is one of the command: the job file was sound before, and is as it was.
pub(super) fn of_command(mut fault: Box<Fault>, file: &Path, options: &[&str]) -> Box<Fault> {
    let is_own = fault.place.file.is_none() || fault.place.file == Place::file(file).file;
    if fault.blame == Blame::Input && is_own && fault.code != CHANGED_OUTSIDE {
        fault.place = Place::nowhere();
        fault.found = format!("With {} {}", options.join(" "), fault.found);
        fault.next = "Correct the command. Nothing was changed.".to_owned();
    }
    fault
}

/// A fault that the job had before the command, with its own advice.
pub(super) fn of_before(mut fault: Box<Fault>) -> Box<Fault> {
    let next = fault.next.trim_end_matches('.');
    fault.next = format!("{next}. Nothing was changed.");
    fault
}

/// Refuses what one option says twice of a product: nobody could tell which is meant.
fn once(args: &Args) -> Outcome<()> {
    for (option, texts) in [
        ("--lot", &args.lot),
        ("--grain-weight", &args.grain_weight),
        ("--seeds-per-lb", &args.seeds_per_lb),
        ("--germination", &args.germination),
        ("--density", &args.density),
        ("--caught", &args.caught),
    ] {
        let id = |text: &String| text.split('=').next().unwrap_or_default().trim().to_owned();
        let mut seen: Vec<String> = Vec::new();
        for id in texts.iter().map(id) {
            if seen.contains(&id) {
                return Err(Fault::input(
                    "reissue.twice",
                    Place::nowhere(),
                    format!("{option} names '{id}' twice"),
                    format!("{option} once for a product"),
                    "Leave one of them out. Nothing was changed.",
                ));
            }
            seen.push(id);
        }
    }
    Ok(())
}

/// Refuses a catch beside what changes the rate or the density: nobody could tell whether the drill was set by the old or the new.
pub(super) fn catch_alone(args: &Args) -> Outcome<()> {
    let others = [
        ("--grain-weight", args.grain_weight.is_empty()),
        ("--seeds-per-lb", args.seeds_per_lb.is_empty()),
        ("--germination", args.germination.is_empty()),
        ("--density", args.density.is_empty()),
        ("--sowing-date", args.sowing_date.is_none()),
    ];
    let mut given = others.iter().filter(|(_, is_absent)| !is_absent);
    let Some((option, _)) = given.next().filter(|_| !args.caught.is_empty()) else {
        return Ok(());
    };
    Err(Fault::input(
        "reissue.catch_beside",
        Place::nowhere(),
        format!(
            "--caught stands beside {option}, which changes what the test should catch or what a turn of the rotor holds"
        ),
        "--caught by itself or with --lot",
        format!(
            "Reissue with {option} first, set the drill by the new plan and test again; then reissue with what that test catches. Nothing was changed."
        ),
    ))
}

/// What is to be changed, in the order of the options.
pub(super) fn changes(args: &Args, job: &Job) -> Outcome<Vec<Asked>> {
    once(args)?;
    let mut changes = Vec::new();
    let of_product = |product: &Product, key: &str, value: Json| Change::Product {
        product: product.id.clone(),
        path: KeyPath::of(&[key]),
        value,
    };
    for text in &args.lot {
        let (product, lot) = of(job, text, "--lot")?;
        let old = product.lot.as_deref().unwrap_or("none named");
        let words = format!("{}: lot {lot}, before: {old}", product.name);
        changes.push(Asked {
            change: of_product(product, "lot", json!(lot)),
            words,
            option: format!("--lot {text}"),
        });
    }
    let numbers = [
        (
            &args.grain_weight,
            "--grain-weight",
            "thousand_grain_weight_g",
            "g per thousand seeds",
        ),
        (
            &args.seeds_per_lb,
            "--seeds-per-lb",
            "seeds_per_lb",
            "seeds per lb",
        ),
        (
            &args.germination,
            "--germination",
            "germination_percent",
            "% germination",
        ),
        (
            &args.density,
            "--density",
            "bulk_density_kg_per_l",
            "kg per litre",
        ),
    ];
    for (texts, option, key, unit) in numbers {
        for text in texts {
            let (product, typed) = of(job, text, option)?;
            in_unit_of_job(job, product, option, key)?;
            let number = number(typed).ok_or_else(|| bad(option, text))?;
            changes.push(Asked {
                change: of_product(product, key, json!(number)),
                words: format!("{}: {typed} {unit}", product.name),
                option: format!("{option} {text}"),
            });
        }
    }
    changes.extend(catches(args, job)?);
    if let Some(date) = &args.sowing_date {
        plan::check_date(date)?;
        changes.push(Asked {
            change: Change::Setting {
                path: KeyPath::of(&["sowing_date"]),
                value: json!(date),
            },
            words: format!("Sowing date {date}"),
            option: format!("--sowing-date {date}"),
        });
    }
    Ok(changes)
}

/// Refuses a grain weight in another unit than the job has it in.
fn in_unit_of_job(job: &Job, product: &Product, option: &str, key: &str) -> Outcome<()> {
    let weights = [
        ("thousand_grain_weight_g", "--grain-weight"),
        ("seeds_per_lb", "--seeds-per-lb"),
    ];
    let is_weight = weights.iter().any(|(own, _)| *own == key);
    let Some((own, its)) = weights.iter().find(|(own, _)| is_weight && *own != key) else {
        return Ok(());
    };
    let text = (edit::commands().text)(&job.file)?;
    match many::product_has(&text, &job.file, &product.id, own)? {
        false => Ok(()),
        true => Err(Fault::input(
            "reissue.other_unit",
            Place::nowhere(),
            format!(
                "'{}' has {own} in the job, and {option} gives {key}",
                product.id
            ),
            format!("{its}, as the job has it"),
            format!(
                "Give it as {its} {}=NUMBER. Nothing was changed.",
                product.id
            ),
        )),
    }
}

/// What catches change: the share of its volume that a rotor fills.
fn catches(args: &Args, job: &Job) -> Outcome<Vec<Asked>> {
    let mut caught = Vec::new();
    for text in &args.caught {
        let (product, typed) = of(job, text, "--caught")?;
        let kg = number(typed).filter(|kg| *kg > 0.0);
        caught.push((product.id.clone(), kg.ok_or_else(|| bad("--caught", text))?));
    }
    let mut changes = Vec::new();
    if caught.is_empty() {
        return Ok(changes);
    }
    // The job is planned for it as it is.
    let corrections = calibrate::corrections(job, &caught).map_err(of_before)?;
    let each = corrections.iter().zip(&caught).zip(&args.caught);
    for ((correction, (id, _)), text) in each {
        let hoppers = job.drill.hoppers.iter().enumerate();
        let rotor = hoppers
            .filter(|(_, hopper)| hopper.name == correction.hopper)
            .find_map(|(n, hopper)| {
                let mut rotors = hopper.rotors.iter().enumerate();
                let (m, rotor) =
                    rotors.find(|(_, own)| Some(&own.name) == correction.rotor.as_ref())?;
                Some((n, m, rotor))
            });
        let Some((n, m, rotor)) = rotor else {
            return Err(Fault::input(
                "reissue.no_rotor",
                Place::file(&args.job),
                format!(
                    "Hopper '{}' of '{id}' has no rotor in the job, so a catch corrects nothing there",
                    correction.hopper
                ),
                "rotors under [[drill.hopper.rotor]]",
                "Set the drill by its manual and the catch; the map stays as it is.",
            ));
        };
        let filling = (rotor.filling_percent * correction.factor * 1000.0).round() / 1000.0;
        if let Some(file) = &job.machine_file {
            return Err(Fault::input(
                "reissue.machine_file",
                Place::file(file),
                format!(
                    "The rotor '{}' stands in this machine file, which other jobs may share",
                    rotor.name
                ),
                "rotors in the job file itself",
                format!(
                    "Set filling_percent = {filling} there by hand, and plan the jobs that use it."
                ),
            ));
        }
        let [n, m] = [n, m].map(|nth| nth.to_string());
        let change = Change::Setting {
            path: KeyPath::of(&["drill", "hopper", &n, "rotor", &m, "filling_percent"]),
            value: json!(filling),
        };
        let words = format!(
            "Rotor {} of hopper '{}' fills {filling} % of its volume, before: {} %; the catch was {:.3} of what was expected",
            rotor.name, correction.hopper, rotor.filling_percent, correction.factor
        );
        changes.push(Asked {
            change,
            words,
            option: format!("--caught {text}"),
        });
    }
    Ok(changes)
}

/// A product of the job and what is said of it.
fn of<'a, 'b>(job: &'a Job, text: &'b str, option: &str) -> Outcome<(&'a Product, &'b str)> {
    let parts = text
        .split_once('=')
        .map(|(id, said)| (id.trim(), said.trim()));
    let Some((id, said)) = parts.filter(|(id, said)| !id.is_empty() && !said.is_empty()) else {
        return Err(bad(option, text));
    };
    let Some(product) = job.products.iter().find(|own| own.id == id) else {
        let ids: Vec<&str> = job.products.iter().map(|own| own.id.as_str()).collect();
        return Err(Fault::input(
            "reissue.product",
            Place::nowhere(),
            format!(
                "{option} names '{id}', and {} has no such product",
                job.file.display()
            ),
            format!("one of: {}", ids.join(", ")),
            "Correct the id in the command. Nothing was changed.",
        ));
    };
    match product.each_lot().is_empty() {
        true => Ok((product, said)),
        false => Err(Fault::input(
            "reissue.several_lots",
            Place::file(&job.file),
            format!("'{id}' has several lots in this field"),
            "a product with one lot",
            "Change its [[product.lots.lot]] in the job file, and plan it.",
        )),
    }
}

fn number(text: &str) -> Option<f64> {
    text.parse::<f64>().ok().filter(|number| number.is_finite())
}

fn bad(option: &str, text: &str) -> Box<Fault> {
    Fault::input(
        "reissue.option",
        Place::nowhere(),
        format!("{option} is given as '{text}'"),
        format!("{option} PRODUCT=VALUE, such as {option} barley=46.5"),
        "Correct the command.",
    )
}
