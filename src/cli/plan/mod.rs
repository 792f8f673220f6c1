//! `twinsow plan`: the main job.

mod args;
mod delivery;

pub(super) use args::{Args, folder_of};
pub(super) use delivery::each;
pub use delivery::{Made, one};

use super::batch::{self, Task, Work};
use super::exit::Exit;
use super::ordered::in_order;
use super::outputs::Outputs;
use super::screen::Screen;
use super::seedbeds;
use super::show;
use super::summary::{Failure, Summary};
use super::together::AllFields;
use super::{clock, frame, guard, progress};
use crate::findings::{Fault, Outcome, Place};
use crate::job::{Job, day_number};
use crate::plan::{Options, Plan};
use crate::write::Share;
use args::folders;
use delivery::all_delivered;
use std::ops::ControlFlow;
use std::path::{Path, PathBuf};

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
                    (true, _) => Summary::of(&made.plan, &path, out, &made.written, exit).line()?,
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
        let exit = frame::run(screen, || {
            let text = load(path, args.sowing_date.as_deref())?.print()?;
            Ok(match args.jobs.len() {
                1 => text,
                _ => format!("# {}\n{text}", path.display()),
            })
        });
        worst = worst.max(exit);
    }
    worst
}

#[cfg(test)]
mod tests {
    use super::super::{
        Command,
        batch::{Of, Task, Work},
    };
    use super::{Args, End, in_order};
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
}
