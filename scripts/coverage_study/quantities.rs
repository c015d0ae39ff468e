//! One row for each quantity and each fault's effect: how often its interval holds the truth. Half-widths and
//! errors are those of the runs in which there was anything to find.

use crate::simulated::{Case, Outcome};
use gripline::findings::{Effect, Key};
use gripline::uncertainty::{COVERAGE_FACTOR, Quantity};

/// A simulated run and what the tool made of it.
pub(crate) type Measured = (Case, Option<Outcome>);

/// A truth smaller than this is nothing but rounding, in any unit.
const NOTHING: f64 = 1e-9;

/// What a row shows.
#[derive(Clone, Copy)]
enum Row {
    Of(Key),
    Did(Effect),
}

impl Row {
    fn name(self) -> String {
        match self {
            Self::Of(key) => format!("`{}`", key.as_str()),
            Self::Did(effect) => format!("effect {effect:?}"),
        }
    }

    fn truth(self, case: &Case) -> Option<f64> {
        match self {
            Self::Of(key) => case.truth.values.get(&key).copied(),
            Self::Did(effect) => case.truth.effects.get(&effect).copied(),
        }
    }

    fn found(self, outcome: &Outcome) -> Quantity {
        match self {
            Self::Of(key) => outcome.result.get(key),
            Self::Did(effect) => outcome.result.effect(effect),
        }
    }

    /// Why the simulation has no truth for it.
    const fn without_truth(self) -> Option<&'static str> {
        match self {
            Self::Did(Effect::DragLost | Effect::DragLostInAll) => {
                Some("compares with what such cars lose on average, which no single run has")
            }
            Self::Did(Effect::DriveLostAtMost) => {
                Some("a bound, which the truth may lie far below")
            }
            _ => None,
        }
    }
}

fn rows() -> impl Iterator<Item = Row> {
    let effects = Effect::ALL.into_iter().map(Row::Did);
    Key::ALL.into_iter().map(Row::Of).chain(effects)
}

/// One run's number against its truth.
struct Pair {
    /// Whether there was anything to find: many runs have no sway at all.
    any: bool,
    held: bool,
    half_width: f64,
    error: f64,
}

fn pair(row: Row, case: &Case, outcome: &Outcome) -> Option<Pair> {
    let (truth, found) = (row.truth(case)?, row.found(outcome));
    let (value, low, high) = (found.value()?, found.low()?, found.high()?);
    Some(Pair {
        any: truth.abs() > NOTHING,
        held: low <= truth && truth <= high,
        half_width: (high - low) / 2.0,
        error: value - truth,
    })
}

/// Prints the table.
pub(crate) fn print(measured: &[Measured]) {
    println!(
        "| quantity | runs | held | of runs where it is not 0 | median half-width | median error | mean error / half-width | root mean square of error / standard uncertainty |"
    );
    println!("| --- | --- | --- | --- | --- | --- | --- | --- |");
    for row in rows() {
        match row.without_truth() {
            Some(why) => println!("| {} | no truth: {why} | | | | | | |", row.name()),
            None => print_row(measured, row),
        }
    }
}

fn print_row(measured: &[Measured], row: Row) {
    let pairs: Vec<Pair> = measured
        .iter()
        .filter_map(|(case, outcome)| pair(row, case, outcome.as_ref()?))
        .collect();
    if pairs.is_empty() {
        println!(
            "| {} | 0 | never stated in these runs | | | | | |",
            row.name()
        );
        return;
    }
    let n = pairs.len() as f64;
    let held = pairs.iter().filter(|p| p.held).count() as f64;
    let there: Vec<&Pair> = pairs.iter().filter(|p| p.any).collect();
    let held_there = there.iter().filter(|p| p.held).count();
    let of_these = |of: fn(&Pair) -> f64| median(there.iter().map(|p| of(p)).collect());
    let off = there.iter().map(|p| p.error / p.half_width.max(NOTHING));
    let in_units = |p: &Pair| COVERAGE_FACTOR * p.error / p.half_width.max(NOTHING);
    let squares: f64 = pairs.iter().map(|p| in_units(p).powi(2)).sum();
    println!(
        "| {} | {} | {:.1} % | {held_there} of {} | {:.5} | {:.5} | {:+.2} | {:.2} |",
        row.name(),
        pairs.len(),
        100.0 * held / n,
        there.len(),
        of_these(|p| p.half_width),
        of_these(|p| p.error.abs()),
        off.sum::<f64>() / there.len().max(1) as f64,
        (squares / n).sqrt(),
    );
}

fn median(mut values: Vec<f64>) -> f64 {
    values.sort_by(f64::total_cmp);
    values.get(values.len() / 2).copied().unwrap_or(f64::NAN)
}

/// Prints every number whose interval misses the truth.
pub(crate) fn print_misses(measured: &[Measured]) {
    for (seed, (case, outcome)) in measured.iter().enumerate() {
        let Some(outcome) = outcome else {
            println!("{seed}: not measured");
            continue;
        };
        for row in rows().filter(|row| row.without_truth().is_none()) {
            if let Some(pair) = pair(row, case, outcome).filter(|p| !p.held) {
                println!(
                    "{seed}: {} true {:.5} off {:+.5} half-width {:.5}; costs {:?}",
                    row.name(),
                    row.truth(case).unwrap_or(f64::NAN),
                    pair.error,
                    pair.half_width,
                    case.truth.costs
                );
            }
        }
    }
}
