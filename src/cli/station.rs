//! `gripline station`: the class's phones send clips, and verdicts come back.

use super::{complain, say};
use crate::outputs::printable_path;
use crate::station::{Ready, Settings, run as run_station};
use clap::Args;
use std::net::IpAddr;
use std::path::PathBuf;

/// Bytes of a megabyte.
const MEGABYTE: u64 = 1_000_000;
/// Threads that a clip is measured with at most: more does not make it quicker by much.
const MOST_THREADS: usize = 4;

#[derive(Debug, Args)]
#[command(after_long_help = include_str!("help/station.txt"))]
pub(super) struct StationArguments {
    /// Folder of the class: teams, clips, results; one that is there goes on where it stood
    #[arg(long, value_name = "FOLDER", default_value = "class")]
    out: PathBuf,
    /// This computer's address in the local network, for phones [default: found by itself]
    #[arg(long, value_name = "ADDRESS")]
    address: Option<IpAddr>,
    /// Port for phones; 0 takes any that is free
    #[arg(long, value_name = "PORT", default_value_t = 8017)]
    port: u16,
    /// Clips measured at the same time [default: half as many as the computer has cores]
    #[arg(long, value_name = "N",
          value_parser = clap::builder::RangedU64ValueParser::<usize>::new().range(1..=32))]
    at_once: Option<usize>,
    /// Largest clip that is taken, megabytes
    #[arg(long, value_name = "MB", default_value_t = 600,
          value_parser = clap::value_parser!(u64).range(1..=8000))]
    most_mb: u64,
    /// Make no annotated clips: results come sooner
    #[arg(long)]
    no_overlay: bool,
    /// Print the coach's address and open no browser
    #[arg(long)]
    no_browser: bool,
}

/// Runs the station until Ctrl-C; false where there is none.
pub(super) fn run(arguments: &StationArguments) -> bool {
    let cores = std::thread::available_parallelism().map_or(1, usize::from);
    let at_once = arguments.at_once.unwrap_or((cores / 2).max(1));
    let settings = Settings {
        root: arguments.out.clone(),
        address: arguments.address,
        port: arguments.port,
        at_once,
        threads: (cores / at_once).clamp(1, MOST_THREADS),
        most_clip_bytes: arguments.most_mb * MEGABYTE,
        no_overlay: arguments.no_overlay,
    };
    let ready = |ready: &Ready| {
        say(&words(ready, &arguments.out));
        if !arguments.no_browser {
            // Without a browser to open there is still the address.
            open::that_detached(&ready.coach).ok();
        }
    };
    match run_station(&settings, &ready) {
        Ok(()) => {
            say(&format!(
                "Stopped. Everything that was sent is in {}\n",
                printable_path(&arguments.out)
            ));
            true
        }
        Err(error) => {
            complain(&error, error.hint());
            false
        }
    }
}

fn words(ready: &Ready, out: &std::path::Path) -> String {
    format!(
        "{}\n\
         Phones in the same wifi scan this, or open {}\n\
         Code to join: {}\n\
         Coach's page, on this computer only (the address opens it once):\n{}\n\
         Plain HTTP: whoever is in this wifi can read along. The class is kept in {}; Ctrl-C ends the station, and it goes on \
         from there.\n",
        ready.square,
        ready.pupils,
        ready.code,
        ready.coach,
        printable_path(out)
    )
}
