//! Inputs that nobody would make, for as long as one likes; counts what must never come of them.
//!
//! ```text
//! scripts/soak                   # ten minutes
//! scripts/soak MINUTES SEED      # the same seed gives the same inputs
//! scripts/soak ONLY TARGET FROM  # one target's input of that number, to see why it failed
//! ```
#![allow(
    clippy::print_stdout,
    clippy::unwrap_used,
    reason = "a study prints its tables"
)]

mod asked;
#[path = "../../tests/bounded/mod.rs"]
mod bounded;
mod change;
#[path = "../../tests/common/mod.rs"]
mod common;
mod files;
mod ground;
#[path = "../../tests/phone/mod.rs"]
mod phone;
#[path = "../../tests/results/mod.rs"]
mod results;
mod sheets;
mod staged;
mod summaries;
mod tracks;

use bounded::Never;
use ground::{Ground, TARGETS, Target, Tried};
use std::path::PathBuf;
use std::time::{Duration, Instant};

/// Each target gets its turn for this long.
const TURN: Duration = Duration::from_secs(5);
/// More memory than any input may take, KiB.
const TOO_MUCH_KIB: u64 = 1 << 20;
/// A library call that takes longer hangs; the machine may be busy.
const HANGS: Duration = Duration::from_secs(60);
/// Inputs that failed, of which the numbers are printed.
const MOST_PRINTED: usize = 12;

#[derive(Debug, Default)]
struct Counts {
    tried: u64,
    taken: u64,
    spent: Duration,
    panics: u64,
    hangs: u64,
    memory: u64,
    exits: u64,
    left_behind: u64,
    torn: u64,
    unclear: u64,
    peak_kib: u64,
    failed: Vec<String>,
}

impl Counts {
    fn add(&mut self, number: u64, tried: &Tried, took: Duration) {
        self.tried += 1;
        self.taken += u64::from(tried.taken);
        self.spent += took;
        self.peak_kib = self.peak_kib.max(tried.peak_kib);
        self.hangs += u64::from(took > HANGS);
        self.memory += u64::from(tried.peak_kib > TOO_MUCH_KIB);
        let Some(never) = &tried.never else { return };
        *match never {
            Never::Panic(_) => &mut self.panics,
            Never::TooLong(_) => &mut self.hangs,
            Never::Memory(_) => &mut self.memory,
            Never::Exit(_) => &mut self.exits,
            Never::Leftovers(_) => &mut self.left_behind,
            Never::Torn(_) => &mut self.torn,
            Never::Unclear(_) => &mut self.unclear,
        } += 1;
        if self.failed.len() < MOST_PRINTED {
            let words: String = never.to_string().chars().take(400).collect();
            self.failed.push(format!("{number}: {words}"));
        }
    }

    const fn bad(&self) -> u64 {
        self.panics
            + self.hangs
            + self.memory
            + self.exits
            + self.left_behind
            + self.torn
            + self.unclear
    }
}

fn main() {
    let words: Vec<String> = std::env::args().skip(1).collect();
    let gripline = PathBuf::from(words.first().cloned().unwrap_or_default());
    let ground = Ground::new(&gripline);
    if words.get(1).is_some_and(|word| word == "ONLY") {
        let target = TARGETS
            .into_iter()
            .find(|target| format!("{target:?}") == words[2]);
        println!(
            "{:?}",
            ground.attempt(target.unwrap(), words[3].parse().unwrap())
        );
        return;
    }
    let number = |at: usize, otherwise: u64| {
        words
            .get(at)
            .and_then(|word| word.parse().ok())
            .unwrap_or(otherwise)
    };
    let (minutes, seed) = (number(1, 10), number(2, 1));
    // What a panic says is printed once, with the input's number.
    std::panic::set_hook(Box::new(|_| {}));
    let counts = soak(&ground, Duration::from_secs(60 * minutes), seed);
    print(&counts);
    let bad: u64 = counts.iter().map(|(_, counts)| counts.bad()).sum();
    assert!(
        bad == 0,
        "{bad} inputs came to what must never come of them"
    );
}

fn soak(ground: &Ground, whole: Duration, seed: u64) -> Vec<(Target, Counts)> {
    let mut counts: Vec<(Target, Counts)> =
        TARGETS.map(|target| (target, Counts::default())).into();
    let start = Instant::now();
    while start.elapsed() < whole {
        for (target, counts) in &mut counts {
            let turn = Instant::now();
            while turn.elapsed() < TURN {
                let number = (seed << 32) + counts.tried;
                let begun = Instant::now();
                let tried = ground.attempt(*target, number);
                counts.add(number, &tried, begun.elapsed());
            }
        }
    }
    counts
}

fn print(counts: &[(Target, Counts)]) {
    println!(
        "| target | s | inputs | taken | panics | hangs | over 1 GiB | other exits | left behind | torn or no number | \
         unclear errors | most memory, MiB |"
    );
    println!("| --- | --- | --- | --- | --- | --- | --- | --- | --- | --- | --- | --- |");
    for (target, c) in counts {
        println!(
            "| {target:?} | {:.0} | {} | {} | {} | {} | {} | {} | {} | {} | {} | {} |",
            c.spent.as_secs_f64(),
            c.tried,
            c.taken,
            c.panics,
            c.hangs,
            c.memory,
            c.exits,
            c.left_behind,
            c.torn,
            c.unclear,
            c.peak_kib / 1024,
        );
    }
    for (target, counts) in counts {
        for failed in &counts.failed {
            println!("\n{target:?} {failed}");
        }
    }
}
