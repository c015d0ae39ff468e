//! How many runs do I need? From the spread that was seen.

use super::contrasts::Contrast;
use super::describe::sd_interval;
use super::power::{Design, smallest_effect, whole_runs_for};
use super::variance::Repeatability;
use super::{FEWEST_RUNS, Interval, Question};
use crate::findings::Key;

/// How many runs it takes to see differences of a quantity.
#[derive(Debug, Clone, PartialEq)]
pub struct Plan {
    /// How runs are set against each other.
    pub design: Design,
    /// Standard deviation that the plan rests on: of runs of one group, or of the pairs' differences.
    pub spread: f64,
    /// How well it is known, 95 %.
    pub spread_interval: Interval,
    /// Fewest runs in a group (or pairs) so far.
    pub runs_now: usize,
    /// The difference that so many show in 80 of 100 cases; `None` for fewer than [`FEWEST_RUNS`].
    pub shown_now: Option<f64>,
    /// For given differences.
    pub needs: Vec<Need>,
}

/// Runs for a difference.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Need {
    /// The difference, in the quantity's unit.
    pub difference: f64,
    /// Why this one.
    pub why: Why,
    /// Runs a group (or pairs) that show it in 80 of 100 cases, never fewer than [`FEWEST_RUNS`]: fewer are
    /// never called a clear difference. `None` beyond any plan.
    pub runs: Option<usize>,
    /// The same if the true spread lies at the low and at the high end of its interval.
    pub runs_if: [Option<usize>; 2],
}

/// Why a difference is planned for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Why {
    /// Someone asked for it.
    Asked,
    /// It is the largest one seen.
    Seen,
    /// Half of that.
    HalfSeen,
}

pub(super) fn plan(
    key: Key,
    repeatability: Option<&Repeatability>,
    contrasts: &[Contrast],
    values: &[Vec<f64>],
    question: &Question,
) -> Option<Plan> {
    let (design, spread, df) = if question.pair_by.is_some() {
        let (spread, df) = spread_of_pairs(contrasts)?;
        (Design::Pairs, spread, df)
    } else {
        let repeatability = repeatability?;
        (Design::Groups, repeatability.sd, repeatability.df)
    };
    if spread <= 0.0 {
        return None;
    }
    let spread_interval = sd_interval(spread, df)?;
    let runs_now = match design {
        // A run that is alone of its kind is in no test, and in no plan.
        Design::Groups => values.iter().map(Vec::len).filter(|n| *n > 1).min()?,
        Design::Pairs => contrasts.iter().map(|contrast| contrast.n[0]).min()?,
    };
    let largest = (contrasts.iter())
        .filter(|contrast| contrast.test.is_some())
        .map(|contrast| contrast.difference.abs())
        .fold(0.0, f64::max);
    let wanted = [
        (question.detect.get(&key).copied(), Why::Asked),
        ((largest > 0.0).then_some(largest), Why::Seen),
        ((largest > 0.0).then_some(largest / 2.0), Why::HalfSeen),
    ];
    let needs = (wanted.into_iter())
        .filter_map(|(difference, why)| {
            let difference = difference?;
            let runs = |spread: f64| {
                whole_runs_for(design, difference / spread).map(|n| n.max(FEWEST_RUNS))
            };
            Some(Need {
                difference,
                why,
                runs: runs(spread),
                runs_if: [runs(spread_interval.low), runs(spread_interval.high)],
            })
        })
        .collect();
    Some(Plan {
        design,
        spread,
        spread_interval,
        runs_now,
        shown_now: (runs_now >= FEWEST_RUNS)
            .then(|| smallest_effect(design, runs_now))
            .flatten()
            .map(|effect| effect * spread),
        needs,
    })
}

/// Pooled standard deviation of the pairs' differences, and its degrees of freedom.
fn spread_of_pairs(contrasts: &[Contrast]) -> Option<(f64, f64)> {
    let (mut squares, mut df) = (0.0, 0.0);
    for contrast in contrasts {
        if let Some(sd) = contrast.pair_sd {
            let free = contrast.n[0] as f64 - 1.0;
            squares += free * sd * sd;
            df += free;
        }
    }
    (df > 0.0).then(|| ((squares / df).sqrt(), df))
}
