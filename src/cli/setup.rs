//! `gripline setup`: starts the set-up page.

use super::{complain, recovered, say};
use crate::setup_page::{SetUp, serve};
use clap::Args;
use std::path::PathBuf;

#[derive(Debug, Args)]
#[command(after_long_help = include_str!("help/setup.txt"))]
pub(super) struct SetupArguments {
    /// A clip of a run (MP4 or MOV, as phones make them)
    #[arg(value_name = "CLIP")]
    clip: PathBuf,
    /// A second phone's clip of the same run, from behind the start line or from above
    #[arg(long, value_name = "CLIP")]
    end_view: Option<PathBuf>,
    /// The run sheet to write; where it is there already, it is changed and its comments are kept
    #[arg(long, value_name = "RUN.TOML", default_value = "run.toml")]
    sheet: PathBuf,
    /// Folder for the results, one folder in it for each clip
    #[arg(long, value_name = "FOLDER", default_value = "results")]
    out: PathBuf,
    /// Print the address and open no browser
    #[arg(long)]
    no_browser: bool,
}

/// Serves the page until it is done; false where it could not be shown.
pub(super) fn run(arguments: &SetupArguments) -> bool {
    let what = SetUp {
        clip: arguments.clip.clone(),
        end_clip: arguments.end_view.clone(),
        sheet: arguments.sheet.clone(),
        out: arguments.out.clone(),
    };
    recovered(arguments.sheet.parent());
    recovered(Some(&arguments.out));
    let ready = |address: &str| {
        say(&format!(
            "The set-up page, on this computer only (the address opens it once):\n{address}\n\
             Its last button ends it, or Ctrl-C here.\n"
        ));
        if !arguments.no_browser {
            // Without a browser to open there is still the address.
            open::that_detached(address).ok();
        }
    };
    match serve(&what, &ready) {
        Ok(()) => true,
        Err(error) => {
            complain(&error, &error.hint());
            false
        }
    }
}
