//! How often the 95 % intervals hold the truth, and how often the verdict is right, over simulated runs.
//!
//! ```text
//! scripts/coverage                 # 240 runs, 200 draws each
//! scripts/coverage RUNS DRAWS
//! NO_VERDICTS=1 scripts/coverage RUNS DRAWS   # the intervals alone
//! scripts/coverage RUNS DRAWS sharpened       # marks whose errors last for several frames
//! scripts/coverage RUNS DRAWS frames [KIND]   # frame by frame, cars that sway and hop among them
//! ```
#![allow(
    clippy::print_stdout,
    clippy::unwrap_used,
    reason = "a study prints its tables"
)]

mod dump;
mod frames;
mod quantities;
mod simulated;

use gripline::verdict::Cause;
use rand::{RngExt, SeedableRng};
use rayon::prelude::*;
use simulated::causes::{KINDS, Kind, Mark, faulty, mark, names_both, severity, true_causes};
use simulated::{Case, Faults, Filming, Outcome, View, case, measure};

/// Runs of all kinds: some clean, some with one fault or more, filmed from two sides; strings that slip, loose
/// wheels and sways among them, so that every quantity is asked for. `sharpened`: the marks' places have errors
/// that last for several frames besides.
fn mixed(seed: u64, sharpened: bool) -> Case {
    let mut random = rand_chacha::ChaCha8Rng::seed_from_u64(seed ^ 0x5eed);
    let mut chance = |share: f64| random.random::<f64>() < share;
    let (slips, curves, aims, yaws) = (chance(0.4), chance(0.4), chance(0.3), chance(0.3));
    let (oblique, quick) = (chance(0.5), chance(0.2));
    let (sways, axle_mark, loose, string_slips) =
        (chance(0.3), chance(0.3), chance(0.6), chance(0.25));
    let (thickness_on_sheet, coasts_long) = (chance(0.5), chance(0.6));
    let mut draw = |low: f64, high: f64| random.random_range(low..high);
    let faults = Faults {
        mu: slips.then(|| draw(0.14, 0.28)),
        skew_rad: if curves { draw(-0.03, 0.03) } else { 0.0 },
        aim_rad: if aims { draw(-0.07, 0.07) } else { 0.0 },
        yaw_per_spun_m: if slips && yaws { draw(-0.2, 0.2) } else { 0.0 },
        sway_m: if sways { draw(0.001, 0.006) } else { 0.0 },
        sway_rate: if sways { 1.0 } else { 0.0 },
        wheel_loose: if axle_mark && loose {
            draw(0.02, 0.3)
        } else {
            0.0
        },
        string_slip: if string_slips { draw(0.02, 0.3) } else { 0.0 },
        free_wheels: draw(0.03, 0.08),
        ..Faults::default()
    };
    let filming = Filming {
        view: if oblique { View::Oblique } else { View::Side },
        fps: if quick { 120.0 } else { 60.0 },
        noise_px: draw(0.04, 0.12),
        likeness: draw(0.2, 0.7),
        slow_px: if sharpened { draw(0.03, 0.10) } else { 0.0 },
        axle_mark,
        thickness_on_sheet,
        duration_s: if coasts_long {
            draw(2.2, 3.0)
        } else {
            draw(1.8, 2.2)
        },
        ..Filming::default()
    };
    case(seed, &faults, &filming)
}

fn main() {
    let mut words = std::env::args().skip(1);
    let mut number = |otherwise: usize| {
        words
            .next()
            .and_then(|word| word.parse().ok())
            .unwrap_or(otherwise)
    };
    let (runs, draws) = (number(240), number(200));
    let what = std::env::args().nth(3);
    if what.as_deref() == Some("clips") {
        let folders: Vec<String> = std::env::args().skip(4).collect();
        dump::clips(&folders, draws);
        return;
    }
    if what.as_deref() == Some("dump") {
        dump::dump(runs, draws);
        return;
    }
    if what.as_deref() == Some("frames") {
        frames::study(runs, draws, std::env::args().nth(4).as_deref());
        return;
    }
    let sharpened = what.as_deref() == Some("sharpened");
    let measured: Vec<(Case, Option<Outcome>)> = (0..runs as u64)
        .into_par_iter()
        .map(|seed| {
            let case = mixed(seed, sharpened);
            let outcome = measure(&case, draws);
            (case, outcome)
        })
        .collect();
    println!("{runs} runs, {draws} draws each\n");
    quantities::print(&measured);
    if std::env::var_os("OUT_LINES").is_some() {
        quantities::print_misses(&measured);
    }
    if std::env::var_os("NO_VERDICTS").is_none() {
        verdicts(runs, draws);
    }
}

/// How often the verdict is right, by kind of fault and by its size.
fn verdicts(runs: usize, draws: usize) {
    let marked: Vec<(Kind, Case, Outcome)> = (0..runs as u64)
        .into_par_iter()
        .filter_map(|seed| {
            let kind = KINDS[seed as usize % KINDS.len()];
            let case = faulty(kind, 1000 + seed);
            let outcome = measure(&case, draws)?;
            Some((kind, case, outcome))
        })
        .collect();
    println!("\n| fault | runs | right | withheld | missed | wrong | second cause named |");
    println!("| --- | --- | --- | --- | --- | --- | --- |");
    for kind in KINDS {
        let of = |wanted: Mark| {
            marked
                .iter()
                .filter(|(k, case, outcome)| *k == kind && mark(case, outcome) == wanted)
                .count()
        };
        let both: Vec<bool> = marked
            .iter()
            .filter(|(k, _, _)| *k == kind)
            .filter_map(|(_, case, outcome)| names_both(case, outcome))
            .collect();
        println!(
            "| {kind:?} | {} | {} | {} | {} | {} | {} of {} |",
            marked.iter().filter(|(k, _, _)| *k == kind).count(),
            of(Mark::Right),
            of(Mark::Withheld),
            of(Mark::Missed),
            of(Mark::Wrong),
            both.iter().filter(|b| **b).count(),
            both.len(),
        );
    }
    severities(&marked);
    if std::env::var_os("OUT_LINES").is_some() {
        for (index, (kind, case, outcome)) in marked.iter().enumerate() {
            let marks = mark(case, outcome);
            if matches!(marks, Mark::Wrong | Mark::Missed)
                || names_both(case, outcome) == Some(false)
            {
                println!(
                    "{index} {kind:?}: {marks:?}, said {:?} {:?}; true {:?}; {:?}",
                    outcome.verdict.cause,
                    outcome.verdict.also,
                    true_causes(case),
                    outcome.result.effects,
                );
            }
        }
    }
}

/// How dear the dearest fault was, in multiples of what does not count.
const SEVERITIES: [(f64, f64, &str); 6] = [
    (0.0, 1.0, "none that counts"),
    (1.0, 1.5, "1 to 1.5"),
    (1.5, 2.0, "1.5 to 2"),
    (2.0, 4.0, "2 to 4"),
    (4.0, 8.0, "4 to 8"),
    (8.0, f64::INFINITY, "8 or more"),
];

/// Verdicts by the size of what was wrong.
fn severities(marked: &[(Kind, Case, Outcome)]) {
    println!("\n| dearest fault over what counts | runs | right | withheld | missed | wrong |");
    println!("| --- | --- | --- | --- | --- | --- |");
    for (low, high, words) in SEVERITIES {
        let part: Vec<Mark> = marked
            .iter()
            .filter(|(kind, case, _)| {
                *kind != Kind::Unseen && (low..high).contains(&severity(case))
            })
            .map(|(_, case, outcome)| mark(case, outcome))
            .collect();
        let of = |wanted: Mark| part.iter().filter(|m| **m == wanted).count();
        println!(
            "| {words} | {} | {} | {} | {} | {} |",
            part.len(),
            of(Mark::Right),
            of(Mark::Withheld),
            of(Mark::Missed),
            of(Mark::Wrong),
        );
    }
    let decided = |m: &&(Kind, Case, Outcome)| m.2.verdict.cause != Cause::Undetermined;
    let named: Vec<Mark> = marked
        .iter()
        .filter(decided)
        .map(|(_, case, outcome)| mark(case, outcome))
        .collect();
    let wrong = named.iter().filter(|m| **m == Mark::Wrong).count();
    println!(
        "\n{} runs of {} got a verdict other than undetermined, {wrong} of them a wrong one",
        named.len(),
        marked.len()
    );
}
