//! Which run belongs to which group, and which do not count.

use super::facts::SheetKey;
use super::order::natural;
use super::reading::Run;
use super::{CompareError, Question, USUAL};
use crate::findings::Key;

/// More groups than this are neither told apart by shapes nor compared by anyone.
pub const MOST_GROUPS: usize = 12;

/// Runs of one kind.
#[derive(Debug, Clone, PartialEq)]
pub struct Group {
    /// What they have in common, as the sheets say it.
    pub label: String,
    /// Their places among all runs, in order.
    pub runs: Vec<usize>,
}

/// What part a run plays.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Role {
    /// It counts in this group.
    In(usize),
    /// It is the clip of this earlier run again, and does not count.
    SameClipAs(usize),
    /// Its sheet does not say what runs are grouped by.
    NoGroup,
}

impl Role {
    /// The run's group, where it counts.
    pub const fn group(self) -> Option<usize> {
        match self {
            Self::In(group) => Some(group),
            _ => None,
        }
    }
}

/// The part of every run, and the groups: first the one that others are set against, then by first run.
pub(super) fn sort_into_groups(
    runs: &[Run],
    question: &Question,
) -> Result<(Vec<Role>, Vec<Group>), CompareError> {
    let by = question.by;
    let mut groups: Vec<Group> = Vec::new();
    let mut roles = Vec::new();
    for (place, run) in runs.iter().enumerate() {
        let twin = (runs[..place].iter()).position(|other| other.clip_sha256 == run.clip_sha256);
        let role = match (twin, run.facts.text(by)) {
            (Some(twin), _) => Role::SameClipAs(twin),
            (None, None) => Role::NoGroup,
            (None, Some(label)) => Role::In(group_of(&mut groups, label, place)),
        };
        roles.push(role);
    }
    if groups.is_empty() {
        return Err(CompareError::NoGroups {
            runs: runs.len(),
            by,
        });
    }
    if groups.len() > MOST_GROUPS {
        return Err(CompareError::TooManyGroups {
            groups: groups.len(),
            by,
        });
    }
    sort_groups(runs, &mut groups, by);
    if let Some(asked) = &question.against {
        let Some(place) = groups.iter().position(|group| group.label == asked.trim()) else {
            let known: Vec<String> = groups.iter().map(|g| format!("\"{}\"", g.label)).collect();
            return Err(CompareError::NoSuchGroup {
                by,
                asked: asked.clone(),
                known: known.join(", "),
            });
        };
        groups[..=place].rotate_right(1);
    }
    for (number, group) in groups.iter().enumerate() {
        for &run in &group.runs {
            roles[run] = Role::In(number);
        }
    }
    Ok((roles, groups))
}

fn group_of(groups: &mut Vec<Group>, label: &str, run: usize) -> usize {
    if let Some(found) = groups.iter().position(|group| group.label == label) {
        groups[found].runs.push(run);
        return found;
    }
    groups.push(Group {
        label: label.to_owned(),
        runs: vec![run],
    });
    groups.len() - 1
}

/// Groups of numbers go by number; others stay in the order of their first runs.
fn sort_groups(runs: &[Run], groups: &mut [Group], by: SheetKey) {
    let numbers = (groups.iter()).flat_map(|group| &group.runs).all(|run| {
        runs[*run]
            .facts
            .get(by)
            .is_some_and(|fact| fact.number.is_some())
    });
    if numbers {
        groups.sort_by(|a, b| natural(&a.label, &b.label));
    }
}

/// The quantities to compare.
pub(super) fn quantities(
    runs: &[Run],
    roles: &[Role],
    question: &Question,
) -> Result<Vec<Key>, CompareError> {
    let observed = |key: &Key| {
        (runs.iter().zip(roles))
            .filter(|(_, role)| role.group().is_some())
            .any(|(run, _)| run.values.get(key).is_some_and(Result::is_ok))
    };
    let wanted = if question.of.is_empty() {
        USUAL.to_vec()
    } else {
        question.of.clone()
    };
    if !wanted.iter().any(observed) {
        let reason = (runs.iter())
            .flat_map(|run| wanted.iter().filter_map(|key| run.values.get(key)))
            .find_map(|seen| seen.as_ref().err());
        return Err(CompareError::NothingObserved {
            runs: runs.len(),
            why: reason.map_or_else(
                || "no reason is given".to_owned(),
                |unseen| unseen.not_observable.clone(),
            ),
        });
    }
    // What was asked for by name is shown even where nothing was seen, with the reasons.
    let shown = |key: &Key| !question.of.is_empty() || observed(key);
    Ok(wanted.into_iter().filter(shown).collect())
}
