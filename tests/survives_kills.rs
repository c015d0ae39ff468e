//! Commands that are stopped in the middle leave the old result or the new one, whole, and nothing else once another
//! has started. Ten stops; `scripts/kill_study` makes hundreds.
#![cfg(unix)]
#![allow(clippy::unwrap_used, clippy::panic, reason = "tests fail by panicking")]

mod common;
mod kills;
mod results;

use common::{RUN, Studio};
use kills::{Home, Left, SIGNALS, Victim};
use rustix::process::Signal;
use std::path::{Path, PathBuf};

fn home() -> Home {
    let studio = Studio::new();
    let clip = studio.make(&format!("{RUN} -c:v libx264"), "clip.mp4");
    let evening = Path::new(env!("CARGO_MANIFEST_DIR")).join("fixtures/club-evening/results");
    let summaries: Vec<PathBuf> = (1..=4)
        .map(|run| evening.join(format!("run{run:02}/summary.json")))
        .collect();
    Home::new(Path::new(env!("CARGO_BIN_EXE_gripline")), &clip, &summaries)
}

/// Stops a victim at these shares of the time that it takes, by each signal in turn.
fn stops(victim: Victim, shares: &[f64]) {
    let home = home();
    let whole = home.prepare(victim);
    for (round, share) in shares.iter().enumerate() {
        let signal = SIGNALS[round % SIGNALS.len()];
        let after = whole.mul_f64(*share);
        let left = home.stop(victim, signal, after, round % 2 == 1);
        left.unwrap_or_else(|why| panic!("{victim:?} after {after:?} by {signal:?}: {why}"));
    }
}

#[test]
fn a_measurement_that_is_stopped_leaves_the_old_result_or_the_new_one() {
    stops(Victim::Measure, &[0.3, 0.7, 0.9]);
}

#[test]
fn so_does_a_batch() {
    stops(Victim::Batch, &[0.5, 0.9]);
}

#[test]
fn so_does_a_comparison() {
    stops(Victim::Compare, &[0.8, 0.95]);
}

#[test]
fn so_do_single_files() {
    stops(Victim::Kit, &[0.7, 0.9]);
    stops(Victim::Save, &[0.001]);
}

#[test]
fn what_was_not_stopped_in_time_is_new() {
    let home = home();
    let whole = home.prepare(Victim::Kit);
    let left = home.stop(Victim::Kit, Signal::KILL, whole * 50, false);
    assert_eq!(left, Ok(Left::New));
}
