//! Manual pages and shell completions of the command, from the same definitions as its help:
//!
//! ```text
//! cargo run --release --example package_texts -- FOLDER
//! ```
//!
//! `FOLDER/man/` gets one page for `gripline` and one for each command, `FOLDER/completions/` one file for each shell.
#![allow(
    clippy::unwrap_used,
    reason = "it stops where a file cannot be written"
)]

use clap_complete::Shell;
use std::fs;
use std::path::PathBuf;

fn main() {
    let folder = PathBuf::from(std::env::args_os().nth(1).unwrap());
    let (man, completions) = (folder.join("man"), folder.join("completions"));
    fs::create_dir_all(&man).unwrap();
    fs::create_dir_all(&completions).unwrap();
    clap_mangen::generate_to(gripline::cli::command(), &man).unwrap();
    for shell in [Shell::Bash, Shell::Zsh, Shell::Fish, Shell::PowerShell] {
        clap_complete::generate_to(
            shell,
            &mut gripline::cli::command(),
            "gripline",
            &completions,
        )
        .unwrap();
    }
}
