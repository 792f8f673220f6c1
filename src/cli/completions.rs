//! `twinsow completions`: what a shell needs to complete commands and options.

use super::exit::Exit;
use super::screen::Screen;
use clap::{Args as ClapArgs, CommandFactory};
use clap_complete::Shell;

/// Prints a script that completes commands and options in a shell
///
/// Save it where the shell looks for such scripts, or load it at the start of the shell.
#[derive(Debug, ClapArgs)]
#[command(after_help = "Examples:
  source <(twinsow completions bash)
  twinsow completions zsh > ~/.zfunc/_twinsow
  twinsow completions fish > ~/.config/fish/completions/twinsow.fish
  twinsow completions powershell | Out-String | Invoke-Expression")]
pub(super) struct Args {
    /// The shell
    #[arg(value_name = "SHELL")]
    shell: Shell,
}

pub(super) fn run(args: &Args, screen: &mut Screen) -> Exit {
    let mut script = Vec::new();
    let mut command = super::Args::command();
    clap_complete::generate(args.shell, &mut command, "twinsow", &mut script);
    screen.print(&String::from_utf8_lossy(&script));
    Exit::Done
}
