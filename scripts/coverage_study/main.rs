//! How often the 95 % intervals hold the truth, and how often the verdict is right, over simulated runs.
//!
//! ```text
//! scripts/coverage                 # 240 runs, 200 draws each
//! scripts/coverage RUNS DRAWS
//! scripts/coverage RUNS DRAWS frames [KIND]   # frame by frame, cars that sway and hop among them
//! ```
#![allow(
    clippy::print_stdout,
    clippy::unwrap_used,
    reason = "a study prints its tables"
)]

mod frames;
mod simulated;

use gripline::findings::Key;
use gripline::verdict::Cause;
use rand::{RngExt, SeedableRng};
use rayon::prelude::*;
use simulated::causes::{KINDS, Kind, Mark, faulty, mark, names_both, severity, true_causes};
use simulated::{Case, Faults, Filming, Outcome, View, case, holds, measure};

const KEYS: [Key; 12] = [
    Key::PeakSpeedMPerS,
    Key::MaxSlip,
    Key::SpunAwayM,
    Key::GainWithoutSlipM,
    Key::FinalDeviationM,
    Key::CurvaturePerM,
    Key::AimErrorRad,
    Key::WobbleM,
    Key::ReleaseS,
    Key::DistanceM,
    Key::WheelTurns,
    Key::CoastDecelerationMPerS2,
];

/// Runs of all kinds: some clean, some with one fault or two, filmed from two sides.
fn mixed(seed: u64) -> Case {
    let mut random = rand_chacha::ChaCha8Rng::seed_from_u64(seed ^ 0x5eed);
    let mut chance = |share: f64| random.random::<f64>() < share;
    let (slips, curves, aims, yaws) = (chance(0.4), chance(0.4), chance(0.3), chance(0.3));
    let (oblique, quick) = (chance(0.5), chance(0.2));
    let mut draw = |low: f64, high: f64| random.random_range(low..high);
    let faults = Faults {
        mu: slips.then(|| draw(0.14, 0.28)),
        skew_rad: if curves { draw(-0.03, 0.03) } else { 0.0 },
        aim_rad: if aims { draw(-0.07, 0.07) } else { 0.0 },
        yaw_per_spun_m: if slips && yaws { draw(-0.2, 0.2) } else { 0.0 },
        ..Faults::default()
    };
    let filming = Filming {
        view: if oblique { View::Oblique } else { View::Side },
        fps: if quick { 120.0 } else { 60.0 },
        noise_px: draw(0.04, 0.12),
        duration_s: draw(2.2, 3.0),
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
    if what.as_deref() == Some("frames") {
        frames::study(runs, draws, std::env::args().nth(4).as_deref());
        return;
    }
    let measured: Vec<(Case, Option<Outcome>)> = (0..runs as u64)
        .into_par_iter()
        .map(|seed| {
            let case = mixed(seed);
            let outcome = measure(&case, draws);
            (case, outcome)
        })
        .collect();
    println!("{runs} runs, {draws} draws each\n");
    println!(
        "| quantity | runs | held | median half-width | median error | mean error / half-width |"
    );
    println!("| --- | --- | --- | --- | --- | --- |");
    for key in KEYS {
        row(&measured, key);
    }
    if std::env::var_os("OUT_LINES").is_some() {
        outs(&measured);
    }
    verdicts(runs, draws);
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

fn median(mut values: Vec<f64>) -> f64 {
    values.sort_by(f64::total_cmp);
    values.get(values.len() / 2).copied().unwrap_or(f64::NAN)
}

fn row(measured: &[(Case, Option<Outcome>)], key: Key) {
    let pairs: Vec<(bool, f64, f64)> = measured
        .iter()
        .filter_map(|(case, outcome)| {
            let outcome = outcome.as_ref()?;
            let held = holds(case, outcome, key)?;
            let quantity = outcome.result.get(key);
            let half = (quantity.high()? - quantity.low()?) / 2.0;
            Some((held, half, quantity.value()? - case.truth.values[&key]))
        })
        .collect();
    let n = pairs.len().max(1);
    println!(
        "| `{}` | {} | {:.1} % | {:.5} | {:.5} | {:+.2} |",
        key.as_str(),
        pairs.len(),
        100.0 * pairs.iter().filter(|p| p.0).count() as f64 / n as f64,
        median(pairs.iter().map(|p| p.1).collect()),
        median(pairs.iter().map(|p| p.2.abs()).collect()),
        pairs.iter().map(|p| p.2 / p.1.max(1e-9)).sum::<f64>() / n as f64,
    );
}

fn outs(measured: &[(Case, Option<Outcome>)]) {
    for (seed, (case, outcome)) in measured.iter().enumerate() {
        let Some(outcome) = outcome else {
            println!("{seed}: not measured");
            continue;
        };
        for key in KEYS {
            if holds(case, outcome, key) == Some(false) {
                let quantity = outcome.result.get(key);
                println!(
                    "{seed}: {} true {:.5} got {:?} costs {:?}",
                    key.as_str(),
                    case.truth.values[&key],
                    quantity,
                    case.truth.costs
                );
            }
        }
    }
}
