//! `twinsow edit`: a job on a page in the browser.

mod file;
mod raster;

use super::exit::Exit;
use super::screen::Screen;
use super::{clock, guard, load, locale, new, order, stick};
use crate::edit::server::{Patience, Server};
use crate::edit::{Commands, Handed, HandedFile};
use crate::findings::{Fault, Outcome, Place};
use crate::job::{Job, Language};
use crate::plan::SharedInputs;
use clap::Args as ClapArgs;
use std::env;
use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};

/// Opens a job on a page in your browser, to look at it, change it and hand it over
///
/// Both maps, every rate with its reasons, what is open, and the files for the drill, on this machine alone: nothing goes to
/// the network. Each change is in the job file at once, and 'twinsow plan' makes the same of it. Ctrl-C stops it.
#[derive(Debug, ClapArgs)]
#[command(after_help = "Examples:
  twinsow edit job.toml
  twinsow edit farm
  twinsow edit --no-open job.toml")]
pub(super) struct Args {
    /// Job file, or a folder with jobs [default: this folder]
    #[arg(value_name = "JOB.toml | FOLDER")]
    target: Option<PathBuf>,
    /// Prints the address and opens no browser
    #[arg(long)]
    no_open: bool,
}

pub(super) fn run(args: &Args, screen: &mut Screen) -> Exit {
    match served(args, screen) {
        Ok(()) => Exit::Done,
        Err(fault) => {
            screen.fault(&fault);
            Exit::of_fault(&fault)
        }
    }
}

fn served(args: &Args, screen: &mut Screen) -> Outcome<()> {
    let target = args.target.as_deref().unwrap_or(Path::new("."));
    if !target.exists() {
        return Err(Fault::input(
            "edit.no_target",
            Place::file(target),
            "there is no such file or folder",
            "a job file, or a folder",
            "check the path; 'twinsow new' starts a job, and so does the page of a folder",
        ));
    }
    let commands = Commands {
        language: locale::language(),
        ..commands()
    };
    let server = Server::open(target, &commands, Patience::default())?;
    screen.print(&format!(
        "Open in a browser on this machine, once:\n  {}\nCtrl-C stops it. Every change is in the job file already.\n",
        server.address()
    ));
    if !args.no_open {
        open(&server.address());
    }
    server.run()
}

/// The commands that the page asks for; English where there is no job.
pub fn commands() -> Commands {
    Commands {
        text: load::text,
        plan: handed,
        plan_folder,
        describe: file::described,
        new: new::made,
        order: |files| guard::guarded(|| order::values(files)),
        fields: |job| guard::guarded(|| fields(job)),
        stick: |plans, to| guard::guarded(|| stick::make(plans, to)),
        today,
        language: Language::default(),
        guard: |work| guard::guarded(work),
    }
}

fn fields(file: &Path) -> Outcome<Vec<String>> {
    let job = Job::load(file)?;
    let Some(attribute) = &job.field.split_by else {
        return Ok(Vec::new());
    };
    let shared = SharedInputs::of(&job, attribute)?;
    Ok(shared.fields().map(str::to_owned).collect())
}

fn today() -> String {
    clock::timestamp().chars().take(10).collect()
}

fn plan_folder(job: &Path) -> PathBuf {
    super::plan::folder_of(job)
}

fn handed(job: &Path) -> Outcome<Handed> {
    let folder = plan_folder(job);
    let all = guard::guarded(|| super::plan::each(job, &folder, &clock::timestamp(), |_| Ok(())))?;
    let ready = all.iter().all(|made| !made.plan.waits());
    let files = all.into_iter().flat_map(|made| {
        // Of two plans each lies in a folder of its own below this one.
        let below = made.out.strip_prefix(&folder).unwrap_or(Path::new(""));
        let below = below.to_path_buf();
        made.written.into_iter().map(move |file| HandedFile {
            path: below.join(file.path),
            bytes: file.bytes,
            what: file.what,
        })
    });
    Ok(Handed {
        files: files.collect(),
        ready,
        folder: folder.clone(),
    })
}

/// Opens the default browser where there is a desktop. The address is printed anyway, so nothing is said where that fails.
fn open(address: &str) {
    let desktop = ["DISPLAY", "WAYLAND_DISPLAY"];
    let mut command = if cfg!(target_os = "macos") {
        Command::new("open")
    } else if cfg!(windows) {
        let mut command = Command::new("rundll32");
        command.arg("url.dll,FileProtocolHandler");
        command
    } else if desktop.iter().any(|name| env::var_os(name).is_some()) {
        Command::new("xdg-open")
    } else {
        return;
    };
    let quiet = command
        .arg(address)
        .stdin(Stdio::null())
        .stdout(Stdio::null())
        .stderr(Stdio::null());
    let _ = quiet.spawn();
}
