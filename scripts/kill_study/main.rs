//! Stops commands at random moments, hundreds of times, and counts what is left.
//!
//! ```text
//! scripts/kills               # a hundred stops of each command
//! scripts/kills STOPS SEED
//! ```
#![allow(
    clippy::print_stdout,
    clippy::unwrap_used,
    reason = "a study prints its tables"
)]

#[path = "../../tests/common/mod.rs"]
mod common;
#[path = "../../tests/kills/mod.rs"]
mod kills;
#[path = "../../tests/results/mod.rs"]
mod results;

use common::{RUN, Studio};
use kills::{Home, Left, SIGNALS, VICTIMS, Victim};
use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;
use std::path::{Path, PathBuf};
use std::time::Instant;

/// Moments are drawn up to this multiple of the time that a command takes undisturbed.
const LATEST: f64 = 1.2;

/// Files change hands from about this share of that time on.
const LATE: f64 = 0.8;

#[derive(Default)]
struct Counts {
    stops: usize,
    nothing: usize,
    old: usize,
    new: usize,
    wrong: Vec<String>,
}

fn main() {
    let mut words = std::env::args().skip(1);
    let gripline = PathBuf::from(
        words
            .next()
            .unwrap_or_else(|| "target/debug/gripline".into()),
    );
    let mut number = |otherwise| {
        words
            .next()
            .and_then(|word| word.parse().ok())
            .unwrap_or(otherwise)
    };
    let (stops, seed) = (number(100_u64), number(1));
    let fixtures = Path::new(env!("CARGO_MANIFEST_DIR")).join("fixtures");
    let summaries: Vec<PathBuf> = (1..=3)
        .map(|run| fixtures.join(format!("club-evening/results/run{run:02}/summary.json")))
        .collect();
    let studio = Studio::new();
    let clip = studio.make(&format!("{RUN} -c:v libx264"), "clip.mp4");
    println!(
        "| command | stops | nothing, and nothing before | old result | new result | torn, lost or left behind | s |"
    );
    println!("| --- | --- | --- | --- | --- | --- | --- |");
    let mut all_good = true;
    for victim in VICTIMS {
        let start = Instant::now();
        let home = Home::new(&gripline, &clip, &summaries);
        let counts = study(&home, victim, stops, seed);
        println!(
            "| {victim:?} | {} | {} | {} | {} | {} | {:.0} |",
            counts.stops,
            counts.nothing,
            counts.old,
            counts.new,
            counts.wrong.len(),
            start.elapsed().as_secs_f64()
        );
        for why in &counts.wrong {
            println!("\n{victim:?}: {why}");
        }
        all_good &= counts.wrong.is_empty();
    }
    assert!(all_good, "something was torn, lost or left behind");
}

fn study(home: &Home, victim: Victim, stops: u64, seed: u64) -> Counts {
    let mut random = ChaCha8Rng::seed_from_u64(seed);
    let whole = home.prepare(victim);
    let mut counts = Counts::default();
    for _ in 0..stops {
        let signal = SIGNALS[random.random_range(0..SIGNALS.len())];
        // Half of them while files change hands, which is the last that a command does.
        let earliest = if random.random() { LATE } else { 0.0 };
        let share: f64 = random.random_range(earliest..LATEST);
        let after = match victim {
            // The page waits for its reader: only the answer to the wish takes time, some milliseconds.
            Victim::Save => std::time::Duration::from_micros((share * 10_000.0) as u64),
            _ => whole.mul_f64(share),
        };
        counts.stops += 1;
        match home.stop(victim, signal, after, random.random_range(0..4) == 0) {
            Ok(Left::Nothing) => counts.nothing += 1,
            Ok(Left::Old) => counts.old += 1,
            Ok(Left::New) => counts.new += 1,
            Err(why) => counts
                .wrong
                .push(format!("{signal:?} after {after:?}: {why}")),
        }
    }
    counts
}
