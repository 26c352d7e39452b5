use std::path::PathBuf;

use clap::{Args, ValueEnum};
use clap_complete::Shell;

use super::Exit;
use super::failure::{Failure, Outcome};
use super::ui::Ui;

/// Prints the manual page, or completions for a shell
#[derive(Debug, Args)]
#[command(hide = true, after_help = "Example:\n  boxward manual page > boxward.1")]
pub(super) struct Arguments {
    /// What to print
    what: What,
    /// Writes a page for each command into this folder instead
    #[arg(long, value_name = "FOLDER")]
    to: Option<PathBuf>,
}

#[derive(Debug, Clone, Copy, ValueEnum)]
enum What {
    /// The manual page, in troff
    Page,
    Bash,
    Elvish,
    Fish,
    Powershell,
    Zsh,
}

pub(super) fn run(arguments: &Arguments, mut command: clap::Command, ui: &mut Ui) -> Outcome {
    if let Some(folder) = &arguments.to {
        if !matches!(arguments.what, What::Page) {
            return Err(Failure::call("completions are one text: only pages go into a folder"));
        }
        clap_mangen::generate_to(command, folder)?;
        return Ok(Exit::Done);
    }
    let mut text = Vec::new();
    let shell = match arguments.what {
        What::Page => {
            clap_mangen::Man::new(command).render(&mut text)?;
            ui.bytes(&text)?;
            return Ok(Exit::Done);
        }
        What::Bash => Shell::Bash,
        What::Elvish => Shell::Elvish,
        What::Fish => Shell::Fish,
        What::Powershell => Shell::PowerShell,
        What::Zsh => Shell::Zsh,
    };
    clap_complete::generate(shell, &mut command, "boxward", &mut text);
    ui.bytes(&text)?;
    Ok(Exit::Done)
}
