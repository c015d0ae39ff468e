//! How many runs do I need? From the spread that was seen.

use super::describe::sd_interval;
use super::of_quantity::Contrast;
use super::power::{Design, smallest_effect, whole_runs_for};
use super::variance::Repeatability;
use super::{Interval, Question};
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
    /// The difference that so many show in 80 of 100 cases.
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
    /// Runs a group (or pairs) that show it in 80 of 100 cases; `None` beyond any plan.
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
        Design::Groups => values.iter().map(Vec::len).filter(|n| *n > 0).min()?,
        Design::Pairs => contrasts.iter().map(|contrast| contrast.n[0]).min()?,
    };
    let largest = (contrasts.iter())
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
            let runs = |spread: f64| whole_runs_for(design, difference / spread);
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
        shown_now: smallest_effect(design, runs_now).map(|effect| effect * spread),
        needs,
    })
}

/// Pooled standard deviation of the pairs' differences, and its degrees of freedom.
fn spread_of_pairs(contrasts: &[Contrast]) -> Option<(f64, f64)> {
    let (mut squares, mut df) = (0.0, 0.0);
    for contrast in contrasts {
        let Some(test) = contrast.test else { continue };
        // From the statistic back to the pairs' own spread: t = mean / root(sd² / n + what is apart).
        if test.t != 0.0 {
            let n = contrast.n[0] as f64;
            let whole = (test.difference / test.t).powi(2);
            let own = (whole - contrast.apart_uncertainty.powi(2)).max(0.0) * n;
            squares += (n - 1.0) * own;
            df += n - 1.0;
        }
    }
    (df > 0.0).then(|| ((squares / df).sqrt(), df))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::treatments::describe::describe;
    use crate::treatments::welch::paired_t;

    #[test]
    fn the_spread_of_pairs_is_that_of_their_differences() {
        let differences = [0.3, 0.5, 0.1, 0.4];
        let contrast = Contrast {
            groups: [0, 1],
            n: [4, 4],
            paired: true,
            difference: 0.325,
            test: paired_t(&differences),
            p_holm: None,
            shuffles: None,
            size: None,
            apart_uncertainty: 0.0,
        };
        let (spread, df) = spread_of_pairs(&[contrast]).unwrap();
        let plain = describe(&differences).unwrap().sd.unwrap();
        assert!((spread - plain).abs() < 1e-12 && df == 3.0);
    }
}
