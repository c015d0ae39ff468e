//! A verdict in words: what shows it, what the view could not show, and what to try.

use super::advice::advice;
use super::reasons::because;
use crate::findings::Key;
use crate::uncertainty::{Quantity, Result95};
use crate::verdict::{Cause, Open, Verdict, Weighed};

/// What is said of a verdict.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct VerdictWords {
    /// The numbers that show it, most telling first.
    pub because: Vec<String>,
    /// What this view could not show, and why.
    pub not_seen: Vec<String>,
    /// What to try, best first.
    pub try_next: Vec<String>,
}

/// Puts a verdict into words; `result` is what it was judged from.
pub fn verdict_words(verdict: &Verdict, result: &Result95) -> VerdictWords {
    VerdictWords {
        because: because(verdict, result),
        not_seen: not_seen(verdict, result),
        try_next: advice(verdict, result),
    }
}

/// Causes that nobody asked about: "no fault found" says nothing of them.
pub(super) fn not_asked(verdict: &Verdict) -> impl Iterator<Item = String> {
    let not_asked = |w: &Weighed| Some(format!("{} ({})", w.cause.as_str(), w.not_asked()?));
    verdict.weighed.iter().filter_map(not_asked)
}

fn open(weighed: &Weighed) -> Option<String> {
    let cause = weighed.cause.as_str();
    Some(match weighed.open()? {
        Open::EndUnseen { at_most_m } => format!(
            "{cause}: the end of the pull was not seen; by the turns until then up to {:.0} mm may have been lost",
            1000.0 * at_most_m
        ),
        Open::Hidden { at_most_m } => format!(
            "{cause}: no sign of it, but up to {:.0} mm could hide in this view",
            1000.0 * at_most_m
        ),
    })
}

fn not_seen(verdict: &Verdict, result: &Result95) -> Vec<String> {
    let unseen = Key::ALL
        .into_iter()
        .filter_map(|key| match result.get(key) {
            Quantity::NotObservable { reason } => Some(format!("{}: {reason}", key.as_str())),
            Quantity::Stated { .. } => None,
        });
    let skewed = verdict
        .weighed
        .iter()
        .find(|w| w.cause == Cause::Alignment && w.another_may())
        .map(|_| {
            "alignment: the path curves, but this view cannot tell axles that are askew from a wheel that lets \
             go before the other; a mark on the driven wheel in view, or more of the coast, would decide"
                .to_owned()
        });
    skewed
        .into_iter()
        .chain(verdict.weighed.iter().filter_map(open))
        .chain(not_asked(verdict).map(|what| format!("not judged: {what}")))
        .chain(unseen)
        .collect()
}
