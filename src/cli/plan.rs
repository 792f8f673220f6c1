//! `twinsow plan`: the main job.

use super::audit;
use super::batch::{self, Task, Work};
use super::exit::Exit;
use super::ordered::in_order;
use super::outputs::{OutputArgs, Outputs};
use super::screen::Screen;
use super::seedbeds;
use super::show;
use super::summary::{Failure, Summary};
use super::together::AllFields;
use super::{clock, guard, progress};
use crate::findings::{Fault, Outcome, Place};
use crate::job::{Job, day_number};
use crate::plan::{self, Disk, Options, Plan};
use crate::report;
use crate::write::{self, Form, Share, Written};
use clap::Args as ClapArgs;
use std::collections::BTreeSet;
use std::ops::ControlFlow;
use std::path::{Path, PathBuf};

/// Plans jobs and writes their rate maps
///
/// Reads each job file, makes both rate maps, prints rates, order and findings, and writes all
/// files into a folder. A bad job does not stop the others. A job with split_by is planned once for
/// each field in its boundary file, and every field gets a folder of its own. A job with seedbed = "not_known" is planned
/// twice, for a dry and for a moist seedbed, into the folders 'dry' and 'moist'.
#[derive(Debug, ClapArgs)]
#[command(after_help = "Examples:
  twinsow plan farm/long-furrow.toml
  twinsow plan fields/*/job.toml --out plans
  twinsow plan job.toml --details
  twinsow plan job.toml --json > summary.json
  twinsow plan job.toml --only task-data,tables
  twinsow plan job.toml --print-job")]
pub(super) struct Args {
    /// Job files
    #[arg(required = true, value_name = "JOB.toml")]
    jobs: Vec<PathBuf>,
    /// Folder for the files [default: <job>-plan beside the job file; several jobs get a folder each]
    #[arg(long, value_name = "DIR")]
    out: Option<PathBuf>,
    /// Sowing date, YYYY-MM-DD, instead of the job's, for rates by date
    #[arg(long, value_name = "DATE")]
    sowing_date: Option<String>,
    /// Prints all tables, not only what fits a screen
    #[arg(long, conflicts_with = "json")]
    details: bool,
    /// Prints one JSON object per job and nothing else
    #[arg(long)]
    json: bool,
    /// Prints the job with every default filled in, and plans nothing
    #[arg(long, conflicts_with = "json")]
    print_job: bool,
    #[command(flatten)]
    outputs: OutputArgs,
    /// With split_by: also writes one map and one table of totals for all fields into the folder for all
    #[arg(long)]
    together: bool,
    /// Exit code 1 for a warning, too; the files are the same
    #[arg(long)]
    strict: bool,
    /// Threads to use [default: one per processor]; the result is the same for any number
    #[arg(long, value_name = "N", value_parser = clap::value_parser!(u16).range(1..=1024))]
    threads: Option<u16>,
}

pub(super) fn run(args: &Args, screen: &mut Screen) -> Exit {
    super::use_threads(args.threads);
    if args.print_job {
        return print_jobs(args, screen);
    }
    let timestamp = clock::timestamp();
    let outputs = args.outputs.outputs();
    let folders = folders(&args.jobs, args.out.as_deref());
    let jobs = args.jobs.iter().zip(&folders);
    let tasks = jobs.flat_map(|(path, out)| batch::tasks(path, out, args.sowing_date.as_deref()));
    // Of several jobs side by side, steps would be a jumble.
    let options = match args.jobs.len() {
        1 => Options {
            tell: &progress::told,
            ..outputs.options()
        },
        _ => outputs.options(),
    };
    let make =
        |work: Work, out: &Path| all_delivered(work.plans(&options)?, out, &timestamp, &outputs);
    let mut ends = Vec::new();
    let mut all_fields = AllFields::default();
    in_order(
        tasks,
        |task| Ok(task.end(args, &outputs, make)),
        |end| {
            progress::over();
            let end = end.unwrap_or_else(|fault| End::of_defect(&fault));
            screen.complain(&end.complaint);
            screen.print(&end.text);
            for (folder, share) in &end.shares {
                all_fields.add(folder, share, screen);
            }
            ends.push((end.label, end.exit));
            // Files are wanted even where nobody reads the screen any more.
            ControlFlow::Continue(())
        },
    );
    if ends.len() > 1 && !args.json {
        screen.print(&show::ends(&ends));
    }
    let together = all_fields.end(args.json, screen);
    let worst = ends.iter().map(|(_, exit)| *exit).chain(together).max();
    worst.unwrap_or(Exit::Done)
}

/// How a field ended, ready to print.
struct End {
    label: String,
    exit: Exit,
    /// What each of its plans adds to the files for all fields, and the folder they lie in.
    shares: Vec<(PathBuf, Share)>,
    text: String,
    complaint: String,
}

impl End {
    /// A field whose task failed before it could say which field it is.
    fn of_defect(fault: &Fault) -> Self {
        Self {
            label: "(a field)".to_owned(),
            exit: Exit::of_fault(fault),
            shares: Vec::new(),
            text: String::new(),
            complaint: format!("error: {fault}\n"),
        }
    }
}

impl Task {
    /// Plans a field, writes its files (both by `make`) and says how it went. A panic becomes a fault.
    fn end(
        self,
        args: &Args,
        outputs: &Outputs,
        make: impl FnOnce(Work, &Path) -> Outcome<Vec<Made>>,
    ) -> End {
        let Self {
            path,
            out,
            field,
            work,
        } = self;
        let label = match &field {
            Some(field) => format!("{}: {}", path.display(), field.value),
            None => path.display().to_string(),
        };
        let made = guard::guarded(|| {
            let (mut text, mut shares, mut worst) = (String::new(), Vec::new(), Exit::Done);
            let all = make(work, &out)?;
            for (nth, made) in all.iter().enumerate() {
                let exit = exit_of(&made.plan, args.strict);
                let out = &made.out;
                if !text.is_empty() && !args.json {
                    text.push('\n');
                }
                text += &match (args.json, &field) {
                    (true, _) => Summary::of(&made.plan, &path, out, &made.written, exit).line(),
                    (false, None) => {
                        show::plan(&made.plan, &path, out, &made.written, args.details)
                            + outputs.said()
                    }
                    (false, Some(_)) => show::field(&made.plan, out),
                };
                let asked = field.as_ref().filter(|_| args.together);
                shares.extend(asked.map(|of| {
                    let named = seedbeds::named(&of.value, made.plan.other_seedbed.as_ref());
                    (of.all.clone(), Share::of(&made.plan, &named, nth == 0))
                }));
                worst = worst.max(exit);
            }
            if !args.json {
                text += &seedbeds::said(&all);
            }
            Ok((text, shares, worst))
        });
        let (mut text, mut complaint, mut shares) = (String::new(), String::new(), Vec::new());
        let exit = match made {
            Ok((of_plans, of_field, exit)) => {
                text = of_plans;
                shares = of_field;
                exit
            }
            Err(fault) => {
                let exit = Exit::of_fault(&fault);
                let field = field.map(|of| of.value);
                match args.json {
                    true => text = Failure::of(&fault, &path, field.as_deref(), exit).line(),
                    false => {
                        let of = field
                            .map(|field| format!("field {field}: "))
                            .unwrap_or_default();
                        complaint = format!("error: {of}{}\n", named(&fault, &path));
                    }
                }
                exit
            }
        };
        End {
            label,
            exit,
            shares,
            text,
            complaint,
        }
    }
}

/// A plan asks for a decision where its spreader's does.
pub(super) fn exit_of(plan: &Plan, strict: bool) -> Exit {
    let own = Exit::of_findings(&plan.findings, strict);
    match plan.waits() {
        true => own.max(Exit::Decide),
        false => own,
    }
}

/// A plan and what was written of it.
pub struct Made {
    /// The folder of its files.
    pub out: PathBuf,
    /// The plan.
    pub plan: Plan,
    /// The files that were written.
    pub written: Vec<Written>,
}

/// Plans one job and writes its files, read back before anything is replaced.
///
/// # Errors
/// What `twinsow plan` would say of the job; a file that does not say what the plan says is the program's own fault.
pub fn one(path: &Path, out: &Path, timestamp: &str) -> Outcome<Made> {
    let outputs = Outputs::all();
    let plan = plan::plan(&Job::load(path)?, &Disk, &outputs.options())?;
    delivered(plan, out, timestamp, &outputs)
}

/// The same for every plan of a job: two where its seedbed is not known, each in a folder of its own below `out`. `first` sees the
/// plans before anything is written.
///
/// # Errors
/// As [`one`]; those of `first`: then nothing is written.
pub(super) fn each(
    path: &Path,
    out: &Path,
    timestamp: &str,
    first: impl FnOnce(&[Plan]) -> Outcome<()>,
) -> Outcome<Vec<Made>> {
    let outputs = Outputs::all();
    let plans = plan::plans(&Job::load(path)?, &Disk, &outputs.options())?;
    first(&plans)?;
    all_delivered(plans, out, timestamp, &outputs)
}

/// Writes the files of the plans of one field: of one into `out`, of two each into a folder below it.
fn all_delivered(
    plans: Vec<Plan>,
    out: &Path,
    timestamp: &str,
    outputs: &Outputs,
) -> Outcome<Vec<Made>> {
    seedbeds::check(&plans, out)?;
    let deliver = |plan: Plan| {
        let folder = seedbeds::folder(&plan, out);
        delivered(plan, &folder, timestamp, outputs)
    };
    plans.into_iter().map(deliver).collect()
}

/// Writes the files of a plan.
fn delivered(mut plan: Plan, out: &Path, timestamp: &str, outputs: &Outputs) -> Outcome<Made> {
    write::without_folders(&mut plan, &outputs.forms);
    let written = write::folder::replace(out, &write::about(&plan), |folder| {
        let mut written = write::content(&plan, folder, timestamp, &outputs.forms)?;
        // Before anything is replaced, what was written is read back and held against the plan.
        let audit = || outputs.audit.then(|| audit::own(folder)).transpose();
        let wanted = outputs.forms.has(Form::Report);
        let page = || wanted.then(|| report::page(&plan, timestamp)).transpose();
        let (audit, page) = rayon::join(audit, page);
        if let Some(text) = audit? {
            written.push(write::extra(
                folder,
                "audit.json",
                text.as_bytes(),
                "totals worked out anew from the files alone",
            )?);
        }
        for own in write::folders_of_spreader(&plan, &outputs.forms) {
            if outputs.audit {
                let text = audit::own(&folder.join(own))?;
                written.push(write::extra(
                    folder,
                    &format!("{own}/audit.json"),
                    text.as_bytes(),
                    "for the spreader: totals worked out anew from the files alone",
                )?);
            }
        }
        if let Some(page) = page? {
            written.push(write::extra(
                folder,
                report::FILE,
                &page,
                "the field report for adviser, operator and buyer: open it in a browser",
            )?);
        }
        if outputs.pictures {
            for (path, bytes, what) in report::pictures(&plan)? {
                written.push(write::extra(folder, &path, &bytes, &what)?);
            }
        }
        Ok(written)
    })?;
    Ok(Made {
        out: out.to_path_buf(),
        plan,
        written,
    })
}

/// A job, for another sowing date if one is given.
pub(super) fn load(path: &Path, sowing_date: Option<&str>) -> Outcome<Job> {
    let mut job = Job::load(path)?;
    if let Some(date) = sowing_date {
        check_date(date)?;
        job.sowing_date = Some(date.to_owned());
    }
    Ok(job)
}

/// A sowing date as it is typed.
pub(super) fn check_date(date: &str) -> Outcome<()> {
    match day_number(date) {
        Some(_) => Ok(()),
        None => Err(Fault::input(
            "plan.sowing_date",
            Place::nowhere(),
            format!("--sowing-date is '{date}'"),
            "a date as YYYY-MM-DD, such as 2026-03-20",
            "correct the date",
        )),
    }
}

/// A fault that names no file names at least the job.
fn named(fault: &Fault, job: &Path) -> Fault {
    let mut fault = fault.clone();
    if fault.place == Place::nowhere() {
        fault.place = Place::file(job);
    }
    fault
}

fn print_jobs(args: &Args, screen: &mut Screen) -> Exit {
    let mut worst = Exit::Done;
    for path in &args.jobs {
        match guard::guarded(|| load(path, args.sowing_date.as_deref())) {
            Ok(job) => {
                if args.jobs.len() > 1 {
                    screen.print(&format!("# {}\n", path.display()));
                }
                screen.print(&job.print());
            }
            Err(fault) => {
                screen.fault(&fault);
                worst = worst.max(Exit::of_fault(&fault));
            }
        }
    }
    worst
}

/// The folder for the files of one job, where none is named.
pub(super) fn folder_of(job: &Path) -> PathBuf {
    let stem = job.file_stem().unwrap_or_default().to_string_lossy();
    job.with_file_name(format!("{stem}-plan"))
}

/// The output folder of each job. One job: `out` itself. Several: a folder in `out` for each,
/// named after the job file, and after its folder where two files have the same name.
fn folders(jobs: &[PathBuf], out: Option<&Path>) -> Vec<PathBuf> {
    let stem = |job: &Path| {
        job.file_stem()
            .unwrap_or_default()
            .to_string_lossy()
            .into_owned()
    };
    let Some(out) = out else {
        return jobs.iter().map(|job| folder_of(job)).collect();
    };
    if jobs.len() == 1 {
        return vec![out.to_path_buf()];
    }
    let mut taken = BTreeSet::new();
    let folder = |job: &PathBuf| {
        let same_name = jobs
            .iter()
            .filter(|other| stem(other).eq_ignore_ascii_case(&stem(job)))
            .count()
            > 1;
        let parent = job
            .parent()
            .and_then(Path::file_name)
            .map(|name| name.to_string_lossy());
        let name = match (same_name, parent) {
            (true, Some(parent)) => format!("{parent}-{}-plan", stem(job)),
            _ => format!("{}-plan", stem(job)),
        };
        let mut free = name.clone();
        let mut number = 2;
        // File names on some systems do not tell capitals apart.
        while !taken.insert(free.to_lowercase()) {
            free = format!("{name}-{number}");
            number += 1;
        }
        out.join(free)
    };
    jobs.iter().map(folder).collect()
}

#[cfg(test)]
mod tests {
    use super::super::{
        Command,
        batch::{Of, Task, Work},
    };
    use super::{Args, End, folders, in_order};
    use crate::cli::exit::Exit;
    use crate::cli::outputs::Outputs;
    use crate::findings::{Fault, Place};
    use crate::plan::Options;
    use clap::Parser;
    use std::ops::ControlFlow;
    use std::path::{Path, PathBuf};

    /// `twinsow plan farm.toml` with more arguments, as they are parsed.
    fn arguments(more: &[&str]) -> Args {
        let given = ["twinsow", "plan", "farm.toml"].iter().chain(more);
        match super::super::Args::parse_from(given).command {
            Command::Plan(args) => args,
            other => panic!("{other:?}"),
        }
    }

    /// Ends of five fields, of which field 2 panics; the others end with a fault of the input.
    fn ends_with_a_panic(args: &Args) -> Vec<End> {
        let made_up = || Fault::input("test.no", Place::nowhere(), "no plan", "one", "none");
        let tasks = (0..5).map(|n| Task {
            path: PathBuf::from("farm.toml"),
            out: PathBuf::from(n.to_string()),
            field: Some(Of {
                value: n.to_string(),
                all: PathBuf::new(),
            }),
            work: Work::Job(Err(made_up())),
        });
        let make = |work: Work, out: &Path| {
            assert!(out != Path::new("2"), "index 17 is out of range");
            Err(work
                .plans(&Options::rates_only())
                .err()
                .unwrap_or_else(made_up))
        };
        let mut ends = Vec::new();
        in_order(
            tasks,
            |task| Ok(task.end(args, &Outputs::all(), make)),
            |end| {
                ends.extend(end);
                ControlFlow::Continue(())
            },
        );
        ends
    }

    #[test]
    fn a_field_that_panics_stops_no_other_and_is_named_with_its_exit() {
        let ends = ends_with_a_panic(&arguments(&[]));
        let exits: Vec<Exit> = ends.iter().map(|end| end.exit).collect();
        use Exit::{Input, Machine};
        assert_eq!(exits, [Input, Input, Machine, Input, Input]);
        assert!(ends[2].complaint.starts_with("error: field 2: "));
        assert!(ends[2].complaint.contains("index 17 is out of range"));
        let summary = crate::cli::show::ends(
            &ends
                .iter()
                .map(|end| (end.label.clone(), end.exit))
                .collect::<Vec<_>>(),
        );
        assert!(summary.contains("farm.toml: 2     3"), "{summary}");
    }

    #[test]
    fn a_field_that_panics_is_a_line_of_json() {
        let ends = ends_with_a_panic(&arguments(&["--json"]));
        let line: serde_json::Value = serde_json::from_str(&ends[2].text).expect("JSON");
        assert_eq!(line["field"], "2");
        assert_eq!(line["exit"], 3);
        assert_eq!(line["fault"]["code"], "program.defect");
        assert_eq!(line["fault"]["blame"], "program");
    }

    #[test]
    fn every_job_gets_a_folder_of_its_own() {
        let jobs = |names: &[&str]| names.iter().map(PathBuf::from).collect::<Vec<_>>();
        let out = Some(Path::new("plans"));
        assert_eq!(folders(&jobs(&["a/x.toml"]), None), jobs(&["a/x-plan"]));
        assert_eq!(folders(&jobs(&["a/x.toml"]), out), jobs(&["plans"]));
        assert_eq!(
            folders(&jobs(&["x.toml", "y.toml"]), out),
            jobs(&["plans/x-plan", "plans/y-plan"])
        );
        assert_eq!(
            folders(&jobs(&["a/job.toml", "b/job.toml", "c/b/JOB.toml"]), out),
            jobs(&["plans/a-job-plan", "plans/b-job-plan", "plans/b-JOB-plan-2"])
        );
    }
}
