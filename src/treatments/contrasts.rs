//! The groups against each other: every pair, and all of them together.

use super::describe::describe;
use super::effect_size::{EffectSize, hedges_g, hedges_g_of_pairs};
use super::facts::SheetKey;
use super::holm::holm;
use super::pairs::pairs;
use super::reading::Run;
use super::shared::{Seen, apart_variance};
use super::shuffles::{Shuffles, shuffle_groups, shuffle_signs};
use super::variance::welch_anova;
use super::welch::{TTest, paired_t_apart, welch_t_apart};
use super::{FEWEST_RUNS, SIGNIFICANT, Sample};
use crate::findings::Key;

/// Whether the groups differ at all: of those with two runs or more. One run has no spread to be set against.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Overall {
    /// Welch's t squared or Welch's F; `None` where only the pairwise tests can be had.
    pub f: Option<f64>,
    /// Degrees of freedom.
    pub df: Option<[f64; 2]>,
    /// Chance of as much where they do not differ. Without `f`: the smallest of the pairwise tests', adjusted.
    pub p: f64,
    /// The same, adjusted for the number of questions asked (Holm).
    pub p_among_questions: f64,
    /// Shuffles among all these groups.
    pub shuffles: Option<Shuffles>,
}

/// One group against another.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Contrast {
    /// From which group to which.
    pub groups: [usize; 2],
    /// Runs of each, or pairs.
    pub n: [usize; 2],
    /// Whether runs are paired.
    pub paired: bool,
    /// Second mean less first.
    pub difference: f64,
    /// Standard deviation of the pairs' differences; `None` where runs are not paired, or there is one pair.
    pub pair_sd: Option<f64>,
    /// The test and the difference's interval; `None` for too few runs.
    pub test: Option<TTest>,
    /// Its p, adjusted for the number of pairs of groups that can be tested (Holm).
    pub p_holm: Option<f64>,
    /// Shuffles of these two groups.
    pub shuffles: Option<Shuffles>,
    /// The difference beside the runs' spread.
    pub size: Option<EffectSize>,
    /// Standard uncertainty of the difference from errors of measuring that do not cancel (other cars, other
    /// floor marks, a phone that moved); it is in the test and its interval.
    pub apart_uncertainty: f64,
}

impl Contrast {
    /// Whether the difference is more than chance, with all pairs of groups and all questions looked at. Two
    /// runs of a kind make nothing clear: their spread is a guess, whatever a formula makes of it.
    pub fn is_clear(&self, overall: Option<&Overall>) -> bool {
        let among = overall.is_some_and(|overall| overall.p_among_questions < SIGNIFICANT);
        let enough = self.n.iter().all(|n| *n >= FEWEST_RUNS);
        enough && among && self.p_holm.is_some_and(|p| p < SIGNIFICANT)
    }
}

/// Every pair of groups that both show the quantity, with Holm's adjustment among them.
pub(super) fn contrasts(
    key: Key,
    runs: &[Run],
    grouped: &[Vec<Seen>],
    pair_by: Option<SheetKey>,
) -> Vec<Contrast> {
    let mut out = Vec::new();
    for second in 1..grouped.len() {
        for first in 0..second {
            let pair = [grouped[first].as_slice(), grouped[second].as_slice()];
            let apart = apart_variance(runs, pair, key);
            let found = match pair_by {
                None => unpaired([first, second], pair, apart),
                Some(by) => paired([first, second], pair, runs, by, apart),
            };
            out.extend(found);
        }
    }
    // Those against the first group come first, whatever the number of groups.
    out.sort_by_key(|contrast| contrast.groups);
    let tested: Vec<usize> = (0..out.len()).filter(|&i| out[i].test.is_some()).collect();
    let p: Vec<f64> = (tested.iter())
        .filter_map(|&index| out[index].test.map(|test| test.p))
        .collect();
    for (index, adjusted) in tested.into_iter().zip(holm(&p)) {
        out[index].p_holm = Some(adjusted);
    }
    out
}

fn values_of(seen: &[Seen]) -> Vec<f64> {
    seen.iter().map(|one| one.value.value).collect()
}

fn unpaired(groups: [usize; 2], seen: [&[Seen]; 2], apart: f64) -> Option<Contrast> {
    let values = seen.map(values_of);
    let (first, second) = (describe(&values[0])?, describe(&values[1])?);
    Some(Contrast {
        groups,
        n: [first.n, second.n],
        paired: false,
        difference: second.mean - first.mean,
        pair_sd: None,
        test: welch_t_apart(&first, &second, apart),
        apart_uncertainty: apart.sqrt(),
        p_holm: None,
        shuffles: shuffle_groups(&values).filter(|shuffles| shuffles.of > 2),
        size: hedges_g(&first, &second),
    })
}

fn paired(
    groups: [usize; 2],
    seen: [&[Seen]; 2],
    runs: &[Run],
    by: SheetKey,
    apart: f64,
) -> Option<Contrast> {
    let [first, second] = seen.map(|seen| {
        let placed = seen.iter();
        placed.map(|p| (p.run, p.value.value)).collect::<Vec<_>>()
    });
    let found = pairs(runs, by, &first, &second).differences;
    let sample = describe(&found)?;
    Some(Contrast {
        groups,
        n: [found.len(); 2],
        paired: true,
        difference: sample.mean,
        pair_sd: sample.sd,
        test: paired_t_apart(&found, apart),
        apart_uncertainty: apart.sqrt(),
        p_holm: None,
        shuffles: shuffle_signs(&found).filter(|shuffles| shuffles.of > 2),
        size: hedges_g_of_pairs(&sample),
    })
}

/// All groups together; `None` where no two of them can be tested.
pub(super) fn overall(values: &[Vec<f64>], contrasts: &[Contrast]) -> Option<Overall> {
    let tested: Vec<&Contrast> = (contrasts.iter())
        .filter(|contrast| contrast.test.is_some())
        .collect();
    if let [one] = tested.as_slice() {
        let test = one.test?;
        return Some(Overall {
            f: Some(test.t * test.t),
            df: Some([1.0, test.df]),
            p: test.p,
            p_among_questions: test.p,
            shuffles: one.shuffles,
        });
    }
    let paired = contrasts.iter().any(|contrast| contrast.paired);
    let enough: Vec<Vec<f64>> = (values.iter())
        .filter(|group| group.len() > 1)
        .cloned()
        .collect();
    let samples: Vec<Sample> = enough.iter().filter_map(|group| describe(group)).collect();
    let test = if paired { None } else { welch_anova(&samples) };
    // Where runs are paired, or the runs of a group are all alike, the pairwise tests stand for it.
    let smallest = || (tested.iter().filter_map(|one| one.p_holm)).min_by(f64::total_cmp);
    let p = test.map(|test| test.p).or_else(smallest)?;
    Some(Overall {
        f: test.map(|test| test.f),
        df: test.map(|test| test.df),
        p,
        p_among_questions: p,
        shuffles: if paired {
            None
        } else {
            shuffle_groups(&enough)
        },
    })
}
