//! `gripline texts`: manual pages and shell completions, from the same definitions as the help; for whoever packages it.

use super::{complain, say};
use crate::outputs::printable_path;
use clap::Args;
use clap_complete::Shell;
use std::fs;
use std::io;
use std::path::{Path, PathBuf};

#[derive(Debug, Args)]
pub(super) struct TextsArguments {
    /// Folder for `man/`, a page for each command, and `completions/`, a file for each shell
    #[arg(value_name = "FOLDER")]
    out: PathBuf,
}

/// Writes them; false where they could not be written.
pub(super) fn run(arguments: &TextsArguments, command: &mut clap::Command) -> bool {
    match write(&arguments.out, command) {
        Ok(()) => {
            say(&format!("Texts: {}\n", printable_path(&arguments.out)));
            true
        }
        Err(error) => {
            complain(&error, "name a folder that you may write to");
            false
        }
    }
}

fn write(out: &Path, command: &mut clap::Command) -> io::Result<()> {
    let (man, completions) = (out.join("man"), out.join("completions"));
    fs::create_dir_all(&man)?;
    fs::create_dir_all(&completions)?;
    clap_mangen::generate_to(command.clone(), &man)?;
    for shell in [Shell::Bash, Shell::Zsh, Shell::Fish, Shell::PowerShell] {
        clap_complete::generate_to(shell, command, "gripline", &completions)?;
    }
    Ok(())
}
