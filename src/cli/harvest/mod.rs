//! `twinsow harvest`: yield points read, cleaned, and held against the plots of a trial.

mod args;
mod by_log;
mod by_zone;
mod in_ledger;
mod input;
mod plots;
mod told;

pub(super) use args::Args;

use super::exit::Exit;
use super::frame;
use super::ledger::Entry;
use super::screen::Screen;
use super::show::number::grouped;
use super::targets::{self, Known};
use crate::compare::PlanMap;
use crate::findings::{Fault, Finding, Outcome, Place};
use crate::harvest::{self, Cleaned, Plots, Readings, Scale, Weighed, Zones};
use crate::ledger::What;
use args::{Straw, at_least, check_moisture, check_treatments, money, option, settings, weight};
use std::path::PathBuf;
use told::Told;

pub(super) fn run(args: &Args, screen: &mut Screen) -> Exit {
    frame::run(screen, || harvested(args))
}

fn harvested(args: &Args) -> Outcome<(String, Exit)> {
    let settings = settings(args)?;
    let money = money(args)?;
    let weighed: Vec<Weighed> = args
        .weighed
        .iter()
        .map(|text| weight(text))
        .collect::<Outcome<_>>()?;
    let ends_m = args
        .ends
        .map(|ends| at_least(ends, "--ends", 0.0))
        .transpose()?;
    let plan = PlanMap::read(&args.plan)?;
    let zones = Zones::of(plan.land().collect());
    let (mut readings, columns) = input::readings(args, &plan)?;
    check_moisture(args, &columns, &settings)?;
    zones.mark(&mut readings);
    let of = std::mem::take(&mut readings.of);
    let came = Came {
        readings: of.len(),
        outside: of.iter().filter(|reading| reading.outside).count(),
        without: readings.without,
    };
    let mut cleaned = harvest::clean(of, readings.is_flow, &settings);
    if cleaned.counting().next().is_none() {
        return Err(none_left(&came, &cleaned, &plan.id));
    }
    let scale = harvest::scale(&mut cleaned, &readings, &weighed)?;
    let (plots, by_log) = plots::plots(args, &plan, &zones, &cleaned, &readings, &columns, ends_m)?;
    check_treatments(args, plots.is_some())?;
    let answer = match &plots {
        Some(plots) => Some(harvest::answer(
            &cleaned,
            plots,
            args.base.as_deref(),
            &money,
        )?),
        None => None,
    };
    let gains = match (&plots, plots::trial_of_plan(args, &plan, &columns)?) {
        (Some(plots), Some(trial)) => {
            by_zone::gains(&plan, &zones, trial, &cleaned, plots, &money)?
        }
        _ => Vec::new(),
    };
    let mut findings = findings_of(&readings, &scale, plots.as_ref());
    findings.extend(by_log.iter().flat_map(|plots| by_log::findings(plots)));
    let told = Told {
        args,
        plan: &plan,
        zones: &zones,
        readings: &readings,
        cleaned: &cleaned,
        scale: &scale,
        plots: plots.as_ref(),
        by_log: by_log.as_deref(),
        earlier: input::earlier(args, &plan)?,
        trial: plots::trial_of_plan(args, &plan, &columns)?,
        gains: &gains,
        answer: answer.as_ref(),
        settings: &settings,
    };
    let in_ledger = in_ledger::asked(args, &plan)?;
    let in_ledger = in_ledger.map(|asked| asked.entry(&plan, &zones.yields(&cleaned), &settings));
    let day = in_ledger
        .as_ref()
        .map(|entry| entry.check_day(What::Harvested, &args.plan));
    findings.extend(day.transpose()?.flatten());
    let (json, files) = told.files(&findings)?;
    let of_ledger = in_ledger.as_ref().map_or(Ok(Vec::new()), Entry::files)?;
    let own = files.iter().map(|(file, _)| (file, told::known(file)));
    let all = own.chain(of_ledger.iter().map(|(file, _)| (file, Known::Read)));
    targets::check(all.map(|(file, known)| (file.as_path(), known)))?;
    let written = files.iter().chain(&of_ledger);
    let written: Vec<PathBuf> = written.map(|(file, _)| file.clone()).collect();
    targets::make_folders(written.iter().map(PathBuf::as_path))?;
    targets::put(&files)?;
    // The ledger last: what it says is what the page shows.
    if let Some(entry) = &in_ledger {
        entry.put()?;
    }
    let text = match args.json {
        true => frame::json_lines(&json)?,
        false => told.text(&findings, &written),
    };
    Ok((text, Exit::of_findings(&findings, false)))
}

/// What the files hold, before anything is left out.
struct Came {
    /// Readings with a yield and a place.
    readings: usize,
    /// Of these outside the land of the plan.
    outside: usize,
    /// Readings without a yield or a place.
    without: usize,
}

fn none_left(came: &Came, cleaned: &Cleaned, plan: &str) -> Box<Fault> {
    let number = |count: usize| grouped(count as f64, 0);
    let most = cleaned.steps.iter().filter(|step| step.readings > 0);
    let most = most.max_by_key(|step| step.readings);
    let (found, next) = if came.readings == 0 {
        let found = match came.without {
            0 => "The files hold no reading".to_owned(),
            all => format!(
                "None of all {} readings has a yield and a place",
                number(all)
            ),
        };
        (
            found,
            "Check --column: the column of the yields may be another one.",
        )
    } else if came.outside == came.readings {
        (
            format!(
                "All {} readings lie outside the land of plan {plan}",
                number(came.readings)
            ),
            "Check that plan and yield files are of one field, and --crs.",
        )
    } else {
        let what = most.map_or(String::new(), |step| {
            format!("; most of them: {}", step.step.words())
        });
        (
            format!("None of {} readings counts{what}", number(came.readings)),
            match came.outside > came.readings / 2 {
                true => "Check that plan and yield files are of one field, and --crs.",
                false => "Check --column and its units.",
            },
        )
    };
    Fault::input(
        "harvest.nothing",
        Place::nowhere(),
        found,
        "readings on the land of the plan",
        next,
    )
}

fn findings_of(readings: &Readings, scale: &Scale, plots: Option<&Plots>) -> Vec<Finding> {
    let mut findings = readings.findings.clone();
    if !scale.is_whole() {
        let message = match scale.groups.is_empty() {
            true => "No load was weighed, so the yields are an indication: monitor and scale have disagreed on the conclusion before.".to_owned(),
            false => format!("{} readings are of loads that were not weighed, so the yields are an indication.", scale.without),
        };
        findings.push(Finding::warning(
            "harvest.indication",
            Place::nowhere(),
            message,
        ));
    }
    for short in plots.iter().flat_map(|plots| &plots.short) {
        let cut = match short.left_out {
            true => "too little of it is left between its ends, and it was left out",
            false => "the plots beside it in its block count over the same stretch",
        };
        let message = format!(
            "The plot '{}' of block '{}' was cut over {:.0} of {:.0} m: {cut}.",
            short.treatment, short.block, short.cut_m, short.length_m
        );
        findings.push(Finding::warning(
            "harvest.cut_short",
            Place::nowhere(),
            message,
        ));
    }
    for [treatment, block] in plots.iter().flat_map(|plots| &plots.empty) {
        let message = format!(
            "The plot '{treatment}' of block '{block}' has no reading that counts and was left out: it may be shorter than twice --ends."
        );
        findings.push(Finding::warning(
            "harvest.empty_plot",
            Place::nowhere(),
            message,
        ));
    }
    findings
}
