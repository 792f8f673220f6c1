//! `twinsow man`: manual pages, made from what `--help` says.

use super::exit::Exit;
use super::frame;
use super::screen::Screen;
use super::targets::{self, Known};
use crate::findings::{Fault, Outcome, Place};
use clap::{Args as ClapArgs, Command, CommandFactory};
use clap_mangen::Man;
use std::io::Error;
use std::path::{Path, PathBuf};

/// Writes the manual pages, one per command
///
/// Put them where man looks for pages of section 1. They say what --help says.
#[derive(Debug, ClapArgs)]
#[command(after_help = "Examples:
  twinsow man --to ~/.local/share/man/man1
  man twinsow-plan")]
pub(super) struct Args {
    /// Folder for the pages; pages of twinsow that are there are replaced
    #[arg(long, value_name = "DIR")]
    to: PathBuf,
}

pub(super) fn run(args: &Args, screen: &mut Screen) -> Exit {
    frame::run(screen, || written(&args.to))
}

fn written(folder: &Path) -> Outcome<String> {
    let pages = pages().map_err(|error| unwritable(folder, &error))?;
    let files = pages.into_iter();
    let files: Vec<_> = files
        .map(|(name, page)| (folder.join(name), page))
        .collect();
    let own = Known::Text(".ie \\n(.g", ".TH twinsow");
    targets::check(files.iter().map(|(file, _)| (file.as_path(), own)))?;
    targets::make_folder(folder)?;
    targets::put(&files)?;
    Ok(format!(
        "{} manual pages are in {}\n",
        files.len(),
        folder.display()
    ))
}

/// Name of the file and the page, for the program and each of its commands.
fn pages() -> Result<Vec<(String, Vec<u8>)>, Error> {
    let mut program = super::Args::command().disable_help_subcommand(true);
    program.build();
    let mut pages = vec![page(program.clone())?];
    for command in program.get_subcommands() {
        pages.push(page(command.clone())?);
    }
    Ok(pages)
}

fn page(command: Command) -> Result<(String, Vec<u8>), Error> {
    let page = Man::new(command)
        .source(concat!("twinsow ", env!("CARGO_PKG_VERSION")))
        .manual("twinsow");
    let mut bytes = Vec::new();
    page.render(&mut bytes)?;
    Ok((page.get_filename(), bytes))
}

fn unwritable(path: &Path, error: &Error) -> Box<Fault> {
    Fault::machine(
        "man.unwritable",
        Place::file(path),
        format!("this cannot be written: {error}"),
        "a folder you may write to, with room on the disk",
        "give another folder with --to",
    )
}
