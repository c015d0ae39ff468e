//! What should make a reader careful. Each is a fact about the runs, with its numbers; the words are made
//! in `comparison/`.

use super::alike::{Condition, Differing, Tie, differing};
use super::drift::Drift;
use super::facts::SheetKey;
use super::groups::Role;
use super::{Comparison, SIGNIFICANT};
use crate::findings::Key;
use std::collections::BTreeMap;

/// Fewer runs than this in a group say next to nothing about its spread: common practice.
pub const FEWEST_RUNS: usize = 3;
/// Where measuring makes up more than this share of a group's variance, more runs help less than a better
/// view does.
const MUCH: f64 = 0.5;

/// Something to be careful about.
#[derive(Debug, Clone, PartialEq)]
pub enum Warning {
    /// The same clip is among the results again: it is one run, and was counted once.
    SameClip {
        /// The run that was left out.
        run: usize,
        /// The run that counts.
        counted: usize,
    },
    /// Runs whose sheets do not say what runs are grouped by.
    NoGroup {
        /// The runs.
        runs: Vec<usize>,
    },
    /// Groups with fewer than three runs.
    FewRuns {
        /// The groups.
        groups: Vec<usize>,
    },
    /// Something else differs as the groups do, so that it and the treatment cannot be told apart.
    GoesWithGroups {
        /// All that does.
        what: Vec<Differing>,
    },
    /// Something else is not shared out evenly among the groups.
    Uneven {
        /// All that is not.
        what: Vec<Differing>,
    },
    /// Runs were not filmed alike, though the groups had their shares.
    Unlike {
        /// In what.
        what: Vec<Differing>,
    },
    /// Runs that do not show a quantity were left out.
    LeftOut {
        /// The quantity.
        key: Key,
        /// How many of each group.
        by_group: Vec<usize>,
        /// The first reason.
        why: String,
    },
    /// Runs without a verdict.
    Undetermined {
        /// The runs.
        runs: Vec<usize>,
    },
    /// A quantity drifts over the order of the runs.
    Drifts {
        /// The quantity.
        key: Key,
        /// The drift.
        drift: Drift,
    },
    /// Each group was run in one block, so a drift looks like a treatment.
    Blocks,
    /// So many questions were asked that some look different by chance.
    ManyQuestions {
        /// Questions tested.
        tested: usize,
        /// Quantities with a difference that does not stand among so many.
        fallen: Vec<Key>,
    },
    /// So few runs that no shuffle could be rare.
    FewShuffles {
        /// Smallest chance that could have come out.
        smallest_p: f64,
        /// Whether runs are paired.
        paired: bool,
    },
    /// Most of the spread is measuring.
    MostlyMeasuring {
        /// The quantities.
        keys: Vec<Key>,
    },
    /// Runs without a partner.
    Unpaired {
        /// The runs.
        runs: Vec<usize>,
    },
    /// Runs measured by several versions of the tool.
    SeveralTools {
        /// The versions.
        tools: Vec<String>,
    },
}

pub(super) fn warnings(of: &Comparison) -> Vec<Warning> {
    let mut out = Vec::new();
    for (run, role) in of.roles.iter().enumerate() {
        if let Role::SameClipAs(counted) = *role {
            out.push(Warning::SameClip { run, counted });
        }
    }
    let places = |keep: &dyn Fn(usize) -> bool| -> Vec<usize> {
        (0..of.runs.len()).filter(|&place| keep(place)).collect()
    };
    let some = |runs: Vec<usize>| (!runs.is_empty()).then_some(runs);
    let no_group = some(places(&|place| of.roles[place] == Role::NoGroup));
    out.extend(no_group.map(|runs| Warning::NoGroup { runs }));
    let few = (0..of.groups.len()).filter(|&g| of.groups[g].runs.len() < FEWEST_RUNS);
    let few = some(few.collect());
    out.extend(few.map(|groups| Warning::FewRuns { groups }));
    out.extend(unlike(of));
    out.extend(left_out(of));
    let undetermined = some(places(&|place| {
        of.roles[place].group().is_some() && of.runs[place].cause == "undetermined"
    }));
    out.extend(undetermined.map(|runs| Warning::Undetermined { runs }));
    out.extend(drifts(of));
    out.extend(blocks(of));
    out.extend(many(of));
    out.extend(few_shuffles(of));
    out.extend(mostly_measuring(of));
    out.extend(unpaired(of));
    out.extend(tools(of));
    out
}

/// At most one warning of each kind, however many conditions move together.
fn unlike(of: &Comparison) -> Vec<Warning> {
    let (mut tied, mut uneven, mut even) = (Vec::new(), Vec::new(), Vec::new());
    for (found, tie) in differing(of) {
        match tie {
            Tie::Tied => tied.push(found),
            Tie::Uneven => uneven.push(found),
            // What a sheet says or a day does is then in the runs' own spread. Camera and floor may bend what is
            // measured.
            Tie::Even => match &found.what {
                Condition::Day => {}
                Condition::Sheet(key) if *key != SheetKey::FLOOR.to_string() => {}
                _ => even.push(found),
            },
        }
    }
    let mut out = Vec::new();
    if !tied.is_empty() {
        out.push(Warning::GoesWithGroups { what: tied });
    }
    if !uneven.is_empty() {
        out.push(Warning::Uneven { what: uneven });
    }
    if !even.is_empty() {
        out.push(Warning::Unlike { what: even });
    }
    out
}

fn left_out(of: &Comparison) -> Vec<Warning> {
    // A quantity that no run shows has nothing to be off; its own section says why.
    let shown = of.quantities.iter().filter(|one| !one.points.is_empty());
    let told = shown.filter_map(|quantity| {
        let (_, why) = quantity.left_out.first()?;
        let mut by_group = vec![0; of.groups.len()];
        for (run, _) in &quantity.left_out {
            if let Some(group) = of.roles[*run].group() {
                by_group[group] += 1;
            }
        }
        Some(Warning::LeftOut {
            key: quantity.key,
            by_group,
            why: why.clone(),
        })
    });
    told.collect()
}

fn drifts(of: &Comparison) -> Vec<Warning> {
    let sure = (of.quantities.iter()).filter_map(|quantity| {
        let drift = quantity.drift.filter(|drift| drift.p < SIGNIFICANT)?;
        Some(Warning::Drifts {
            key: quantity.key,
            drift,
        })
    });
    sure.collect()
}

/// Groups of two runs or more that follow one another without ever taking turns.
fn blocks(of: &Comparison) -> Option<Warning> {
    let order: Vec<usize> = of.roles.iter().filter_map(|role| role.group()).collect();
    let switches = order.windows(2).filter(|pair| pair[0] != pair[1]).count();
    let groups = of.groups.len();
    (groups > 1 && order.len() >= 2 * groups && switches == groups - 1).then_some(Warning::Blocks)
}

fn many(of: &Comparison) -> Option<Warning> {
    let tests: Vec<(Key, f64, f64)> = (of.quantities.iter())
        .flat_map(|quantity| {
            let straightness = quantity.straightness.as_ref();
            let off_line = straightness.and_then(|found| found.overall);
            let overall = [quantity.overall, off_line].into_iter().flatten();
            let means = overall.map(|test| (test.p, test.p_among_questions));
            let spreads = straightness.and_then(|found| found.spreads.as_ref());
            let spreads = spreads.map(|found| (found.overall.p, found.p_among_questions));
            means
                .chain(spreads)
                .map(|(p, among)| (quantity.key, p, among))
        })
        .collect();
    let mut fallen: Vec<Key> = (tests.iter())
        .filter(|(_, p, among)| *p < SIGNIFICANT && *among >= SIGNIFICANT)
        .map(|(key, ..)| *key)
        .collect();
    fallen.dedup();
    // A warning is due where it changes something, or where so many were asked for that it likely will.
    let many = of.quantities.len() > super::USUAL.len();
    (many || !fallen.is_empty()).then_some(Warning::ManyQuestions {
        tested: tests.len(),
        fallen,
    })
}

fn few_shuffles(of: &Comparison) -> Option<Warning> {
    let coarse = (of.quantities.iter())
        .flat_map(|quantity| &quantity.contrasts)
        .filter(|contrast| contrast.test.is_some())
        .filter_map(|contrast| Some((contrast.shuffles?.smallest_p(), contrast.paired)))
        .filter(|(p, _)| *p > SIGNIFICANT)
        .max_by(|a, b| a.0.total_cmp(&b.0));
    coarse.map(|(smallest_p, paired)| Warning::FewShuffles { smallest_p, paired })
}

fn mostly_measuring(of: &Comparison) -> Option<Warning> {
    let mostly = |quantity: &&super::OfQuantity| {
        let spreads: Vec<_> = (quantity.groups.iter().flatten())
            .filter_map(|group| Some((group.spread?, group.sample.sd?)))
            .collect();
        let measuring: f64 = spreads.iter().map(|(s, _)| s.measuring_sd.powi(2)).sum();
        let seen: f64 = spreads.iter().map(|(_, sd)| sd * sd).sum();
        !spreads.is_empty() && measuring > MUCH * seen
    };
    let keys: Vec<Key> = (of.quantities.iter().filter(mostly))
        .map(|q| q.key)
        .collect();
    (!keys.is_empty()).then_some(Warning::MostlyMeasuring { keys })
}

fn unpaired(of: &Comparison) -> Option<Warning> {
    let by = of.question.pair_by?;
    let mut groups_of: BTreeMap<&str, Vec<usize>> = BTreeMap::new();
    for (run, role) in of.runs.iter().zip(&of.roles) {
        if let (Some(group), Some(label)) = (role.group(), run.facts.text(by)) {
            groups_of.entry(label).or_default().push(group);
        }
    }
    let alone = |place: &usize| {
        let label = of.runs[*place].facts.text(by);
        let kinds = label.and_then(|label| groups_of.get(label));
        of.roles[*place].group().is_some()
            && kinds.is_none_or(|kinds| kinds.iter().all(|kind| *kind == kinds[0]))
    };
    let runs: Vec<usize> = (0..of.runs.len()).filter(alone).collect();
    (!runs.is_empty()).then_some(Warning::Unpaired { runs })
}

fn tools(of: &Comparison) -> Option<Warning> {
    let mut tools: Vec<String> = of.runs.iter().map(|run| run.tool.clone()).collect();
    tools.sort();
    tools.dedup();
    (tools.len() > 1).then_some(Warning::SeveralTools { tools })
}
